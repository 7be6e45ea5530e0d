"""Modbus devices: a motor drive and a bank of resistors, on TCP or as RTU on a serial line."""

from __future__ import annotations

import struct
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from drivers.simulated.servers.answering import SharedRig

ILLEGAL_FUNCTION, ILLEGAL_ADDRESS, ILLEGAL_VALUE = 1, 2, 3
HUNDREDTH_HZ_PER_RPM = 100.0 / 30.0
"""A four-pole motor: 30 rpm for one hertz, registers in hundredths of a hertz."""


@dataclass(slots=True)
class Device:
    """Registers of one device: how each is read, and how each is written."""

    read: Mapping[int, Callable[[], int]]
    write: Mapping[int, Callable[[int], None]] = field(default_factory=dict)
    heard: Callable[[], None] = lambda: None
    """Called for each message that is meant for it."""


class Refused(Exception):
    """An exception answer with its code."""

    def __init__(self, code: int) -> None:
        super().__init__(code)
        self.code = code


def drive_device(rig: SharedRig) -> Device:
    """Register 0 run, 1 set speed, 10 output (0.01 Hz), 20 communication time-out (0.1 s)."""

    def hundredths(motor_rpm: float) -> int:
        return min(max(round(motor_rpm * HUNDREDTH_HZ_PER_RPM), 0), 65535)

    def run(value: int) -> None:
        if value not in (0, 1):
            raise Refused(ILLEGAL_VALUE)
        rig.tell(lambda model: model.set_run(value == 1))

    def speed(value: int) -> None:
        rig.tell(lambda model: model.set_motor_rpm(value / HUNDREDTH_HZ_PER_RPM))

    def timeout(value: int) -> None:
        rig.tell(lambda model: model.set_comm_timeout(value / 10.0))

    return Device(
        read={
            0: lambda: int(rig.ask(lambda m: float(m.motor.run))),
            1: lambda: hundredths(rig.ask(lambda m: m.motor.set_rpm)),
            10: lambda: hundredths(rig.ask(lambda m: m.sense("drive_rpm"))),
            20: lambda: round(rig.ask(lambda m: m.motor.comm_timeout_s) * 10),
        },
        write={0: run, 1: speed, 20: timeout},
        heard=lambda: rig.tell(lambda model: model.hear()),
    )


def bank_device(rig: SharedRig, steps: int) -> Device:
    """Register 0: one bit for each resistor."""
    held = [0]

    def switch(value: int) -> None:
        held[0] = value
        rig.tell(lambda model: model.bank([bool(value >> n & 1) for n in range(steps)]))

    return Device(read={0: lambda: held[0]}, write={0: switch})


def answer(pdu: bytes, device: Device) -> bytes:
    """The answer to a request, without addressing."""
    device.heard()
    function = pdu[0]
    try:
        return _answer(function, pdu[1:], device)
    except Refused as refused:
        return bytes([function | 0x80, refused.code])
    except (struct.error, IndexError):
        return bytes([function | 0x80, ILLEGAL_VALUE])


def _answer(function: int, body: bytes, device: Device) -> bytes:
    if function in (3, 4):
        address, count = struct.unpack(">HH", body)
        values = [_read(device, address + n) for n in range(count)]
        return struct.pack(f">BB{count}H", function, 2 * count, *values)
    if function == 6:
        address, value = struct.unpack(">HH", body)
        _write(device, address, value)
        return bytes([6]) + body
    if function == 16:
        address, count = struct.unpack(">HH", body[:4])
        for n, value in enumerate(struct.unpack(f">{count}H", body[5:])):
            _write(device, address + n, value)
        return bytes([16]) + body[:4]
    if function == 8 and body[:2] == b"\0\0":
        return bytes([8]) + body
    raise Refused(ILLEGAL_FUNCTION)


def _read(device: Device, address: int) -> int:
    if address not in device.read:
        raise Refused(ILLEGAL_ADDRESS)
    return device.read[address]()


def _write(device: Device, address: int, value: int) -> None:
    if address not in device.write:
        raise Refused(ILLEGAL_ADDRESS)
    device.write[address](value)


class TcpModbus:
    """Frames with the TCP header."""

    def __init__(self, devices: Mapping[int, Device]) -> None:
        self._devices = devices
        self._held = b""

    def speak(self, now_s: float) -> list[bytes]:
        """It speaks only when asked."""
        return []

    def hear(self, data: bytes) -> list[bytes]:
        """Answers to every whole frame."""
        self._held += data
        answers: list[bytes] = []
        while len(self._held) >= 8:
            transaction, protocol, length = struct.unpack(">HHH", self._held[:6])
            if len(self._held) < 6 + length:
                break
            frame, self._held = self._held[: 6 + length], self._held[6 + length :]
            device = self._devices.get(frame[6])
            if protocol == 0 and device is not None:
                pdu = answer(frame[7:], device)
                header = struct.pack(">HHHB", transaction, 0, len(pdu) + 1, frame[6])
                answers.append(header + pdu)
        return answers


class RtuModbus:
    """Frames with a CRC; a request is known whole by its length."""

    def __init__(self, devices: Mapping[int, Device]) -> None:
        self._devices = devices
        self._held = b""

    def speak(self, now_s: float) -> list[bytes]:
        """It speaks only when asked."""
        return []

    def hear(self, data: bytes) -> list[bytes]:
        """The answer to a whole frame; what does not add up is dropped byte by byte."""
        self._held = (self._held + data)[-512:]
        answers: list[bytes] = []
        while len(self._held) >= 4:
            length = _request_length(self._held)
            if len(self._held) < length:
                break
            frame = self._held[:length]
            if crc16(frame[:-2]) != struct.unpack("<H", frame[-2:])[0]:
                self._held = self._held[1:]
                continue
            self._held = self._held[length:]
            device = self._devices.get(frame[0])
            if device is not None:
                body = frame[:1] + answer(frame[1:-2], device)
                answers.append(body + struct.pack("<H", crc16(body)))
        return answers


def _request_length(held: bytes) -> int:
    if held[1] == 16:
        return 9 + held[6] if len(held) > 6 else 9
    return 8


def crc16(data: bytes) -> int:
    """CRC of Modbus RTU: start FFFF, polynomial A001 (Modbus over serial line V1.02)."""
    crc = 0xFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ 0xA001 if crc & 1 else crc >> 1
    return crc
