"""Modbus devices on TCP or as RTU on a serial line: framing, functions 03, 04, 06, 08 and 16."""

from __future__ import annotations

import struct
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

ILLEGAL_FUNCTION, ILLEGAL_ADDRESS, ILLEGAL_VALUE, NOBODY_THERE = 1, 2, 3, 11
MOST_READ, MOST_WRITTEN = 125, 123
LONGEST_PDU = 253
BROKEN_OFF_S = 0.1
"""A frame whose rest does not come in so many wall seconds was broken off."""


@dataclass(slots=True)
class Device:
    """Registers of one device: how each is read, and how each is written."""

    holding: Mapping[int, Callable[[], int]] = field(default_factory=dict)
    inputs: Mapping[int, Callable[[], int]] = field(default_factory=dict)
    write: Mapping[int, Callable[[int], None]] = field(default_factory=dict)
    heard: Callable[[], None] = lambda: None
    """Called for each message that is meant for it."""


class Refused(Exception):
    """An exception answer with its code."""

    def __init__(self, code: int) -> None:
        super().__init__(code)
        self.code = code


def answer(pdu: bytes, device: Device) -> bytes:
    """The answer to a request, without addressing."""
    device.heard()
    function = pdu[0]
    try:
        return _answer(function, pdu[1:], device)
    except Refused as refused:
        return bytes([function | 0x80, refused.code])
    except struct.error:
        return bytes([function | 0x80, ILLEGAL_VALUE])


def _answer(function: int, body: bytes, device: Device) -> bytes:
    match function:
        case 3:
            return bytes([3]) + _registers(device.holding, body)
        case 4:
            return bytes([4]) + _registers(device.inputs, body)
        case 6:
            address, value = struct.unpack(">HH", body)
            _write(device, address, [value])
            return bytes([6]) + body
        case 16:
            return bytes([16]) + _write_several(device, body)
        case 8 if body[:2] == b"\0\0":
            return bytes([8]) + body
    raise Refused(ILLEGAL_FUNCTION)


def _registers(table: Mapping[int, Callable[[], int]], body: bytes) -> bytes:
    address, count = struct.unpack(">HH", body)
    if not 1 <= count <= MOST_READ:
        raise Refused(ILLEGAL_VALUE)
    wanted = range(address, address + count)
    if any(one not in table for one in wanted):
        raise Refused(ILLEGAL_ADDRESS)
    return struct.pack(f">B{count}H", 2 * count, *(table[one]() for one in wanted))


def _write_several(device: Device, body: bytes) -> bytes:
    address, count, size = struct.unpack(">HHB", body[:5])
    if not 1 <= count <= MOST_WRITTEN or size != 2 * count:
        raise Refused(ILLEGAL_VALUE)
    _write(device, address, list(struct.unpack(f">{count}H", body[5:])))
    return body[:4]


def _write(device: Device, address: int, values: list[int]) -> None:
    if any(address + n not in device.write for n in range(len(values))):
        raise Refused(ILLEGAL_ADDRESS)
    for n, value in enumerate(values):
        device.write[address + n](value)


class TcpModbus:
    """Frames with the TCP header."""

    def __init__(self, devices: Mapping[int, Device]) -> None:
        self._devices = devices
        self._held = b""

    def speak(self, now_s: float) -> list[bytes]:
        """It speaks only when asked."""
        del now_s
        return []

    def hear(self, data: bytes, now_s: float) -> list[bytes]:
        """Answers to every whole frame; a header that is none empties the line."""
        del now_s
        self._held += data
        answers: list[bytes] = []
        while len(self._held) >= 8:
            transaction, protocol, length = struct.unpack(">HHH", self._held[:6])
            if protocol != 0 or not 2 <= length <= LONGEST_PDU + 1:
                self._held = b""
                break
            if len(self._held) < 6 + length:
                break
            frame, self._held = self._held[: 6 + length], self._held[6 + length :]
            pdu = self._answer(frame[6], frame[7:])
            answers.append(struct.pack(">HHHB", transaction, 0, len(pdu) + 1, frame[6]) + pdu)
        return answers

    def _answer(self, number: int, pdu: bytes) -> bytes:
        device = self._devices.get(number)
        if device is None:
            return bytes([pdu[0] | 0x80, NOBODY_THERE])
        return answer(pdu, device)


class RtuModbus:
    """Frames with a CRC; a request is known whole by its length."""

    def __init__(
        self, devices: Mapping[int, Device], wall_s: Callable[[], float] = time.monotonic
    ) -> None:
        self._devices = devices
        self._held = b""
        self._wall_s = wall_s
        self._heard_s = wall_s()

    def speak(self, now_s: float) -> list[bytes]:
        """It speaks only when asked."""
        del now_s
        return []

    def hear(self, data: bytes, now_s: float) -> list[bytes]:
        """The answer to a whole frame; what does not add up is dropped byte by byte."""
        del now_s
        wall_s = self._wall_s()
        if wall_s - self._heard_s > BROKEN_OFF_S:
            self._held = b""
        self._heard_s = wall_s
        self._held = (self._held + data)[-512:]
        answers: list[bytes] = []
        while (frame := self._next_frame()) is not None:
            device = self._devices.get(frame[0])
            if device is not None:  # on a bus the others keep silent
                body = frame[:1] + answer(frame[1:-2], device)
                answers.append(body + crc16(body))
        return answers

    def _next_frame(self) -> bytes | None:
        while len(self._held) >= 4:
            length = _request_length(self._held)
            if len(self._held) < length:
                return None
            frame = self._held[:length]
            if crc16(frame[:-2]) == frame[-2:]:
                self._held = self._held[length:]
                return frame
            self._held = self._held[1:]
        return None


def _request_length(held: bytes) -> int:
    if held[1] == 16:
        return 9 + held[6] if len(held) > 6 else 9
    return 8


def crc16(data: bytes) -> bytes:
    """CRC of Modbus RTU, low byte first: start FFFF, polynomial A001 (serial line guide V1.02).

    Reckoned bit by bit, without the driver's table: a fault in one of the two shows.
    """
    crc = 0xFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ 0xA001 if crc & 1 else crc >> 1
    return struct.pack("<H", crc)
