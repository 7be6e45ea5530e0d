"""A look at the bytes themselves: what an instrument sends, before anything is made of it.

For setting up an instrument: one question, the raw answer, and for 32-bit registers the value in
every word order.
"""

from __future__ import annotations

import time
from dataclasses import dataclass

from drivers.errors import Unreadable, visible
from drivers.links import Link
from drivers.modbus_frame import (
    READ_HOLDING,
    READ_INPUT,
    read_request,
    rtu_frame,
    tcp_frame,
    value_of,
    word_count,
)
from drivers.port_address import is_modbus_tcp, link_for, port_of
from profiles.instrument import (
    AnyChannel,
    LinesChannel,
    ModbusChannel,
    NmeaChannel,
    ScpiChannel,
)

LISTEN_S = 1.5
"""An instrument that speaks unasked does so at least once a second [s]."""
QUIET_S = 0.15
"""After so long without a byte an answer is taken to be over [s]."""
ORDERS = ("ABCD", "CDAB", "BADC", "DCBA")


@dataclass(frozen=True, slots=True)
class RawLook:
    """What was sent and what came back."""

    channel: str
    where: str
    sent: bytes
    came: bytes
    meanings: tuple[str, ...] = ()
    """For a register: the value in each word order."""

    def lines(self) -> list[str]:
        """Ready to be shown: control characters visible."""
        sent = f"  sent  {visible(self.sent, 80)}" if self.sent else "  listens only"
        came = visible(self.came, 160) if self.came else "nothing"
        return [
            f"{self.channel} at {self.where}",
            sent,
            f"  came  {came}",
            *(f"        {one}" for one in self.meanings),
        ]


def look_at(name: str, channel: AnyChannel) -> RawLook | None:
    """Open the channel's port, ask once, close; None for a channel that is typed or in code.

    Raises:
        InstrumentError: If the port cannot be opened.
    """
    if not isinstance(channel, LinesChannel | NmeaChannel | ScpiChannel | ModbusChannel):
        return None
    address = port_of(channel)
    link = link_for(address, channel, name)
    link.open()
    try:
        return _look(name, channel, address, link)
    finally:
        link.close()


def _look(
    name: str,
    channel: LinesChannel | NmeaChannel | ScpiChannel | ModbusChannel,
    address: str,
    link: Link,
) -> RawLook:
    if isinstance(channel, ModbusChannel):
        return _registers(name, channel, address, link)
    sent = b""
    if not isinstance(channel, NmeaChannel) and channel.query:
        sent = f"{channel.query}{channel.terminator}".encode("latin-1")
    if sent:
        link.send(sent)
    wait_s = channel.timeout_s if sent else LISTEN_S
    return RawLook(name, link.where, sent, _collect(link, wait_s, until_quiet=bool(sent)))


def _registers(name: str, channel: ModbusChannel, address: str, link: Link) -> RawLook:
    function = READ_HOLDING if channel.table == "holding" else READ_INPUT
    count = max(word_count(channel.type), 2)
    pdu = read_request(function, channel.register_, count)
    tcp = is_modbus_tcp(address)
    sent = tcp_frame(1, channel.device, pdu) if tcp else rtu_frame(channel.device, pdu)
    link.send(sent)
    came = _collect(link, channel.timeout_s, until_quiet=True)
    body = came[9:] if tcp else came[3:-2]
    words = tuple(int.from_bytes(body[n : n + 2], "big") for n in range(0, len(body) - 1, 2))
    return RawLook(name, link.where, sent, came, tuple(_meanings(channel, words)))


def _meanings(channel: ModbusChannel, words: tuple[int, ...]) -> list[str]:
    wanted = word_count(channel.type)
    if len(words) < wanted:
        return []
    shown = " ".join(f"{word:04X}" for word in words)
    if wanted == 1:
        value = value_of(words[:1], channel.type) * channel.scale + channel.offset
        return [f"registers {shown}; as {channel.type}: {value:g}"]
    lines = [f"registers {shown}"]
    for order in ORDERS:
        mark = "  <- as the file says" if order == channel.order else ""
        lines.append(f"{order} as {channel.type}: {_in_order(channel, words, order)}{mark}")
    return lines


def _in_order(channel: ModbusChannel, words: tuple[int, ...], order: str) -> str:
    try:
        value = value_of(words[:2], channel.type, order)
    except Unreadable as error:
        return str(error)
    return f"{value * channel.scale + channel.offset:g}"


def _collect(link: Link, wait_s: float, *, until_quiet: bool) -> bytes:
    """Bytes that come within `wait_s`; an answer is over when the line falls quiet."""
    deadline_s = time.monotonic() + wait_s
    came = b""
    while (left_s := deadline_s - time.monotonic()) > 0:
        more = link.receive(min(left_s, QUIET_S if came and until_quiet else 0.05))
        if not more and came and until_quiet:
            break
        came += more
    return came
