"""Small instruments at the level of bytes, with faults; they share no code with the drivers.

Each tells the time in its value: `base + seconds`, so a value that belongs to another question
gives itself away. A device answers one question after the other, as real ones do: while it is
slow, the next questions wait.
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from tests.drivers.virtual import Device

QUICK_S = 0.004


@dataclass(frozen=True)
class Fault:
    """What happens to one answer."""

    late_s: float = 0.0
    """Comes so much later."""
    silent: bool = False
    """Never comes."""
    before: bytes = b""
    """Noise in front of it."""
    flip: int | None = None
    """Byte (modulo length) of which one bit is turned."""
    pieces: int = 1
    """Comes in so many pieces, 20 ms apart."""
    cut: int | None = None
    """Only so many bytes come."""
    twice: bool = False

    def arrivals(self, answer: bytes, at_s: float) -> Iterable[tuple[float, bytes]]:
        if self.silent:
            return
        data = answer
        if self.flip is not None:
            place = self.flip % len(data)
            data = data[:place] + bytes([data[place] ^ 0x04]) + data[place + 1 :]
        data = self.before + (data if self.cut is None else data[: self.cut])
        if self.twice:
            data += data
        size = max(len(data) // self.pieces, 1)
        for number, start in enumerate(range(0, len(data), size)):
            yield at_s + 0.02 * number, data[start : start + size]


class FaultyDevice(Device):
    """Answers in order; `faults` says what happens to which answer (by its number)."""

    def __init__(self, faults: dict[int, Fault] | None = None) -> None:
        self.faults = faults or {}
        self.answered = 0
        self.hurt = 0
        """Answers that a fault changed."""
        self._busy_until_s = 0.0

    def reply(self, answer: bytes) -> None:
        fault = self.faults.get(self.answered, Fault())
        self.answered += 1
        self.hurt += fault != Fault()
        at_s = max(self.time.now_s(), self._busy_until_s) + QUICK_S + fault.late_s
        self._busy_until_s = at_s
        for when_s, data in fault.arrivals(answer, at_s):
            self._busy_until_s = when_s
            self.say(data, when_s)


class ScpiDevice(FaultyDevice):
    """Two readings, common commands; `number` writes a value as this instrument does."""

    def __init__(
        self,
        faults: dict[int, Fault] | None = None,
        number: Callable[[float], str] = lambda value: f"{value:+.6E}",
    ) -> None:
        super().__init__(faults)
        self._number = number
        self._kept = b""
        self._ese = 0
        self.heard_lines: list[str] = []

    def heard(self, data: bytes) -> None:
        *lines, self._kept = (self._kept + data).split(b"\n")
        for line in lines:
            self._line(line.decode("latin-1"))

    def _line(self, line: str) -> None:
        self.heard_lines.append(line)
        replies = []
        for part in line.split(";"):
            if part.startswith("*ESE "):
                self._ese = int(part[5:])
            elif part == "*ESE?":
                replies.append(str(self._ese))
            elif part == "A?":
                replies.append(self._number(1000.0 + self.time.now_s()))
            elif part == "B?":
                replies.append(self._number(5000.0 + self.time.now_s()))
            elif part == "SYST:ERR?":
                replies.append('0,"No error"')
        if replies:
            self.reply(";".join(replies).encode("latin-1") + b"\n")


def crc_bitwise(data: bytes) -> bytes:
    """CRC of Modbus by its definition, bit by bit, low byte first."""
    crc = 0xFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            odd = crc & 1
            crc >>= 1
            if odd:
                crc ^= 0xA001
    return bytes([crc & 0xFF, crc >> 8])


@dataclass
class RtuDevice(FaultyDevice):
    """Modbus RTU slaves; registers 0 and 2 hold the time as f32, others what was written."""

    faults: dict[int, Fault] = field(default_factory=dict)
    numbers: tuple[int, ...] = (1,)
    echoes: bool = True
    """False: refuses function 08 with an exception, as many do."""
    registers: dict[int, int] = field(default_factory=dict)
    deaf: set[int] = field(default_factory=set)
    """Devices that do not answer at all."""
    answered: int = 0
    hurt: int = 0

    def __post_init__(self) -> None:
        self._busy_until_s = 0.0
        self.written: list[tuple[float, int, int]] = []

    def heard(self, data: bytes) -> None:
        body, crc = data[:-2], data[-2:]
        if len(data) < 4 or crc_bitwise(body) != crc or body[0] not in self.numbers:
            return
        if body[0] in self.deaf:
            return
        answer = bytes([body[0]]) + self._pdu(body[1:])
        self.reply(answer + crc_bitwise(answer))

    def _pdu(self, pdu: bytes) -> bytes:
        function, register, count = struct.unpack(">BHH", pdu[:5])
        if function == 8:
            return pdu if self.echoes else b"\x88\x01"
        if function == 3:
            words = b"".join(self._word(register + place) for place in range(count))
            return bytes([3, 2 * count]) + words
        if function == 6:
            self.registers[register] = count
            self.written.append((self.time.now_s(), register, count))
            return pdu
        return bytes([function | 0x80, 1])

    def _word(self, register: int) -> bytes:
        if register < 4:
            base = 1000.0 if register < 2 else 5000.0
            value = struct.pack(">f", base + self.time.now_s())
            return value[2 * (register % 2) :][:2]
        return struct.pack(">H", self.registers.get(register, 0))


class TcpDevice(RtuDevice):
    """The same behind the header of Modbus TCP."""

    def heard(self, data: bytes) -> None:
        transaction, _, _, number = struct.unpack(">HHHB", data[:7])
        if number in self.deaf:
            return
        pdu = self._pdu(data[7:])
        self.reply(struct.pack(">HHHB", transaction, 0, len(pdu) + 1, number) + pdu)


def xor_sum(body: bytes) -> bytes:
    total = 0
    for byte in body:
        total ^= byte
    return b"%02X" % total


class AskedLineDevice(FaultyDevice):
    """One line for each question."""

    def heard(self, data: bytes) -> None:
        for question in data.split(b"\n")[:-1]:
            base = 1000.0 if question.strip() == b"A" else 5000.0
            body = b"%s=%.3f" % (question.strip(), base + self.time.now_s())
            self.reply(body + b"*" + xor_sum(body) + b"\r\n")


SAMPLES = 64
"""Samples of a burst: up and down by the value, so that the AC rms is the value."""


def burst_text(value: float) -> str:
    """A burst as text."""
    return ",".join(f"{value if n % 2 else -value:+.6E}" for n in range(SAMPLES))


def burst_block(value: float) -> str:
    """A burst as a block of doubles, lowest byte first; one character a byte."""
    body = struct.pack(f"<{SAMPLES}d", *(value if n % 2 else -value for n in range(SAMPLES)))
    return f"#3{len(body)}{body.decode('latin-1')}"


class AskedBurstDevice(FaultyDevice):
    """A line with a burst and its checksum for each question."""

    def heard(self, data: bytes) -> None:
        for question in data.split(b"\n")[:-1]:
            base = 1000.0 if question.strip() == b"A" else 5000.0
            body = question.strip() + b"=" + burst_text(base + self.time.now_s()).encode()
            self.reply(body + b"*" + xor_sum(body) + b"\r\n")


class TalkingDevice(FaultyDevice):
    """Sends a line by itself every 50 ms."""

    def __init__(
        self, line: Callable[[float], bytes], faults: dict[int, Fault] | None = None
    ) -> None:
        super().__init__(faults)
        self._line = line
        self.mute = False
        self.told: set[float] = set()
        """Values it has sent."""
        self._talking = False

    def plugged(self) -> None:
        if not self._talking:
            self._talking = True
            self._talk()

    def _talk(self) -> None:
        if not self.mute:
            self.told.add(round(1000.0 + self.time.now_s(), 3))
            self.reply(self._line(self.time.now_s()))
        self.time.at(self.time.now_s() + 0.05, self._talk)


def rpm_line(now_s: float) -> bytes:
    body = b"A=%.3f" % (1000.0 + now_s)
    return body + b"*" + xor_sum(body) + b"\r\n"


def rpm_sentence(now_s: float) -> bytes:
    body = b"IIRPM,E,1,%.3f,10.5,A" % (1000.0 + now_s)
    return b"$" + body + b"*" + xor_sum(body) + b"\r\n"
