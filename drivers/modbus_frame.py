"""Modbus frames, register values and exceptions; pure functions of bytes, no I/O.

RTU frames end in CRC-16 (start FFFF, polynomial A001 reflected, low byte first; MODBUS over
Serial Line V1.02, p. 40); TCP frames begin with the MBAP header (MODBUS Messaging on TCP/IP
Implementation Guide; layout from memory, checked against another implementation in the tests).
Registers are addresses on the wire, counted from 0.
"""

from __future__ import annotations

import math
import struct
from dataclasses import dataclass

from drivers.errors import Unreadable

READ_HOLDING, READ_INPUT, WRITE_ONE, DIAGNOSTICS, WRITE_MANY = 3, 4, 6, 8, 16
EXCEPTION = 0x80

_FORMATS: dict[str, str] = {"u16": ">H", "s16": ">h", "u32": ">I", "s32": ">i", "f32": ">f"}
_ORDERS: dict[str, tuple[int, int, int, int]] = {
    "ABCD": (0, 1, 2, 3),
    "CDAB": (2, 3, 0, 1),
    "BADC": (1, 0, 3, 2),
    "DCBA": (3, 2, 1, 0),
}
_EXCEPTIONS = {
    1: "it does not know this function",
    2: "it has no such register",
    3: "it does not accept this value",
    4: "it failed while doing it",
    5: "it needs more time",
    6: "it is busy",
    8: "its memory has a parity error",
    10: "the gateway has no path to it",
    11: "it does not answer the gateway",
}


def exception_words(code: int) -> str:
    """What exception `code` means (MODBUS Application Protocol; from memory)."""
    return _EXCEPTIONS.get(code, f"it gives exception {code}")


def _table() -> tuple[int, ...]:
    entries = []
    for entry in range(256):
        for _ in range(8):
            entry = (entry >> 1) ^ 0xA001 if entry & 1 else entry >> 1
        entries.append(entry)
    return tuple(entries)


_CRC_TABLE = _table()


def crc16(data: bytes) -> int:
    """CRC-16 of Modbus RTU: start FFFF, polynomial A001 (serial line guide V1.02, 6.2.2)."""
    crc = 0xFFFF
    for byte in data:
        crc = (crc >> 8) ^ _CRC_TABLE[(crc ^ byte) & 0xFF]
    return crc


def rtu_frame(device: int, pdu: bytes) -> bytes:
    """A whole RTU frame."""
    body = bytes([device]) + pdu
    return body + struct.pack("<H", crc16(body))


def tcp_frame(transaction: int, device: int, pdu: bytes) -> bytes:
    """A whole TCP frame."""
    return struct.pack(">HHHB", transaction, 0, len(pdu) + 1, device) + pdu


def silence_s(baud: int) -> float:
    """Silence that ends an RTU frame: 3.5 characters of 11 bits, 1.75 ms above 19200 Bd [s]."""
    return 0.00175 if baud > 19_200 else 3.5 * 11 / baud


def read_request(function: int, register: int, count: int) -> bytes:
    """PDU that reads `count` registers."""
    return struct.pack(">BHH", function, register, count)


def write_request(register: int, words: tuple[int, ...]) -> bytes:
    """PDU that writes one register (function 06) or more (function 16)."""
    if len(words) == 1:
        return struct.pack(">BHH", WRITE_ONE, register, words[0])
    head = struct.pack(">BHHB", WRITE_MANY, register, len(words), 2 * len(words))
    return head + struct.pack(f">{len(words)}H", *words)


@dataclass(frozen=True, slots=True)
class Expected:
    """What the answer to one request looks like."""

    device: int
    function: int
    pdu_length: int
    """Bytes of a good answer's PDU, function code included."""
    begins: bytes
    """How its PDU begins: byte count of a read, register and value that a write echoes."""

    def fits(self, device: int, pdu: bytes) -> bool:
        """True for the answer that was asked for, or its exception."""
        if device != self.device or not pdu:
            return False
        if pdu[0] == self.function | EXCEPTION:
            return len(pdu) == 2
        return len(pdu) == self.pdu_length and pdu.startswith(self.begins)


def expected(device: int, request: bytes) -> Expected:
    """What a good answer to the PDU `request` looks like."""
    function = request[0]
    if function in (READ_HOLDING, READ_INPUT):
        count = 2 * int.from_bytes(request[3:5], "big")
        return Expected(device, function, 2 + count, bytes([function, count]))
    return Expected(device, function, 5, request[:5])


@dataclass(frozen=True, slots=True)
class FoundFrame:
    """A frame found in a run of bytes."""

    pdu: bytes
    end: int
    """Bytes up to its end."""
    before: int
    """Bytes in front of it that belong to something else."""


def find_rtu(buffer: bytes, wanted: Expected) -> FoundFrame | None:
    """The first frame in `buffer` that `wanted` fits and whose CRC is right; None if not yet.

    Its length is known from the request, so a late or foreign frame in front of it, or noise,
    is passed over rather than taken for it.
    """
    for start in range(max(len(buffer) - 4, 0)):
        if buffer[start] != wanted.device:
            continue
        exception = buffer[start + 1] == wanted.function | EXCEPTION
        end = start + (2 if exception else wanted.pdu_length) + 3
        frame = buffer[start:end]
        if len(frame) == end - start and wanted.fits(frame[0], frame[1:-2]) and _whole(frame):
            return FoundFrame(frame[1:-2], end, start)
    return None


def _whole(frame: bytes) -> bool:
    return int.from_bytes(frame[-2:], "little") == crc16(frame[:-2])


def has_rtu_damage(buffer: bytes, wanted: Expected) -> bool:
    """True when an answer of the right head and length is there but its CRC is wrong."""
    head = bytes([wanted.device, wanted.function])
    start = buffer.find(head)
    return start >= 0 and len(buffer) >= start + wanted.pdu_length + 3


@dataclass(frozen=True, slots=True)
class TcpFrame:
    """One frame of Modbus TCP."""

    transaction: int
    device: int
    pdu: bytes


def cut_tcp(buffer: bytes) -> tuple[TcpFrame, int] | None:
    """The first frame in `buffer` and its length in bytes; None when it is not whole yet.

    Raises:
        Unreadable: These are not Modbus TCP frames; the connection has lost its place.
    """
    if len(buffer) < 8:
        return None
    transaction, protocol, length, device = struct.unpack(">HHHB", buffer[:7])
    if protocol != 0 or not 2 <= length <= 254:
        raise Unreadable("not a Modbus TCP frame", buffer[:16])
    if len(buffer) < 6 + length:
        return None
    return TcpFrame(transaction, device, buffer[7 : 6 + length]), 6 + length


def words_in(pdu: bytes) -> tuple[int, ...]:
    """Registers in the answer to a read."""
    return struct.unpack(f">{(len(pdu) - 2) // 2}H", pdu[2:])


def word_count(value_type: str) -> int:
    """Registers that a value of this type fills."""
    return struct.calcsize(_FORMATS[value_type]) // 2


def value_of(words: tuple[int, ...], value_type: str, order: str = "ABCD") -> float:
    """The value in `words`; `order` as bytes come on the wire, A = most significant.

    Raises:
        Unreadable: The number of registers does not fit the type, or the value is not finite.
    """
    raw = struct.pack(f">{len(words)}H", *words)
    if len(words) != word_count(value_type):
        raise Unreadable(f"{len(words)} registers are no {value_type}", raw)
    value = float(struct.unpack(_FORMATS[value_type], _ordered(raw, order))[0])
    if not math.isfinite(value):
        raise Unreadable("the registers hold 'not a number'", raw)
    return value


def words_of(value: float, value_type: str, order: str = "ABCD") -> tuple[int, ...]:
    """The registers that hold `value`, rounded to a whole number but for f32.

    Raises:
        ValueError: If it does not fit the type.
    """
    try:
        raw = struct.pack(_FORMATS[value_type], value if value_type == "f32" else round(value))
    except (struct.error, OverflowError, ValueError) as error:
        raise ValueError(f"{value:g} does not fit into {value_type}") from error
    return struct.unpack(f">{len(raw) // 2}H", _ordered(raw, order))


def _ordered(raw: bytes, order: str) -> bytes:
    if len(raw) == 2:
        return raw if order in ("ABCD", "CDAB") else raw[::-1]
    return bytes(raw[place] for place in _ORDERS[order])
