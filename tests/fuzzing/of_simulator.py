"""Targets: what the simulated instruments are asked; they must live through anything."""

from __future__ import annotations

import random
import struct

from drivers.simulated.faults import read_faults
from drivers.simulated.rig_model import RigModel
from drivers.simulated.sensors import SENSORS
from drivers.simulated.servers.modbus_devices import devices_of
from drivers.simulated.servers.modbus_server import RtuModbus, TcpModbus
from drivers.simulated.servers.scpi_server import FieldSupply, HoldingLoad, Multimeter
from tests.drivers.devices import crc_bitwise
from tests.fuzzing.target import NotTaken, Target, claim

REQUESTS = [
    b"\x03\0\0\0\2", b"\x03\0\x0a\0\1", b"\x04\0\0\0\2", b"\x06\0\0\0\1", b"\x06\0\1\x03\xe8",
    b"\x08\0\0\x12\x34", b"\x10\0\0\0\2\4\0\1\x03\xe8", b"\x10\0\x14\0\1\2\0\x14",
    b"\x06\0\x14\0\0", b"\x2b\x0e\1\0",
]  # fmt: skip
SCPI = [
    b"*IDN?\n", b"*ESE 17;*ESE?\n", b"MEAS:VOLT:DC?\n", b"MODE:VOLT\nVOLT 13.5\nINP ON\nINP?\n",
    b"SYST:ERR?\n", b"*RST;*CLS\n", b"VOLT nan\nVOLT?\n", b":MEAS:CURR?;VOLT?\n",
    b"OUTP ON\nOUTP?\n", b"MODE?;MODE:RES;MODE?\n",
]  # fmt: skip
FAULTS = [
    b"open-diode",
    b"worn-brush@30",
    b"late-answers-volts@20,belt slip",
    b"Weak Field @ 3.5",
    b"frozen-value-case-c@1e3",
]


def rtu(device: int, pdu: bytes) -> bytes:
    """A request with its CRC."""
    return bytes([device]) + pdu + crc_bitwise(bytes([device]) + pdu)


def tcp(device: int, pdu: bytes) -> bytes:
    """A request with its header."""
    return struct.pack(">HHHB", 0x1234, 0, len(pdu) + 1, device) + pdu


def rtu_requests(rng: random.Random) -> bytes:
    """Requests for one device or another, most of them whole."""
    frames = []
    for _ in range(rng.randint(1, 3)):
        pdu = rng.choice(REQUESTS)
        if rng.random() < 0.4:
            at = rng.randrange(len(pdu))
            pdu = pdu[:at] + bytes([rng.randrange(256)]) + pdu[at + 1 :]
        frames.append(rtu(rng.choice((1, 1, 2, 3, 4, 0, 9)), pdu))
    return b"".join(frames)


class Simulated:
    """A simulated rig, asked at will."""

    def __init__(self) -> None:
        self._model = RigModel()
        self._devices = devices_of(self._model)

    def feed_rtu(self, data: bytes) -> None:
        """Every answer is a whole frame of the device that was asked."""
        server = RtuModbus(self._devices, wall_s=lambda: 0.0)
        answers = server.hear(data[: len(data) // 2], 0.0) + server.hear(
            data[len(data) // 2 :], 0.0
        )
        for answer in answers:
            claim(
                answer[-2:] == crc_bitwise(answer[:-2]) and 5 <= len(answer) <= 256,
                "no whole frame",
            )
            claim(answer[0] in self._devices and answer[:1] in data, "nobody was asked")
        claim(len(server._held) <= 512, "it keeps too much")
        self._sound()
        if not answers:
            raise NotTaken("no answer")

    def feed_tcp(self, data: bytes) -> None:
        """Every answer is a whole frame with the number of its question."""
        server = TcpModbus(self._devices)
        answers = server.hear(data, 0.0)
        for answer in answers:
            claim(int.from_bytes(answer[4:6], "big") == len(answer) - 6 <= 254, "a wrong length")
            claim(answer[2:4] == b"\0\0" and answer[:2] in data, "a wrong header")
        self._sound()
        if not answers:
            raise NotTaken("no answer")

    def feed_scpi(self, data: bytes) -> None:
        """Load, meter and field supply answer in lines; their settings stay inside their limits."""
        answered = 0
        for instrument in (
            HoldingLoad(self._model),
            Multimeter(self._model, channel="volts"),
            FieldSupply(self._model),
        ):
            for answer in instrument.hear(data, 0.0):
                answered += 1
                claim(
                    answer.endswith(b"\n") and answer.count(b"\n") == 1, "an answer is not one line"
                )
            claim(
                len(instrument._errors) <= 20 and len(instrument._held) <= 4096, "it keeps too much"
            )
            if isinstance(instrument, HoldingLoad):
                claim(
                    0.0 <= instrument._volts <= instrument.most_volts,
                    f"set to {instrument._volts} V",
                )
        self._sound()
        if not answered:
            raise NotTaken("no answer")

    def _sound(self) -> None:
        motor = self._model.motor
        claim(0.0 <= motor.set_rpm <= motor.fastest_rpm, f"the motor is told {motor.set_rpm} rpm")


def feed_faults(data: bytes) -> None:
    """`--fault`: known names, times that can be."""
    for fault in read_faults(data.decode("utf-8", "surrogateescape")):
        claim(0.0 <= fault.at_s < 1e9, f"a fault at {fault.at_s} s")
        claim(not fault.channel or fault.channel in SENSORS, "a channel that is not there")


def targets() -> list[Target]:
    """All targets of the simulator; nothing but a fault's name is ever refused by an error."""
    rig = Simulated()
    nothing: tuple[type[Exception], ...] = ()
    asked = [rtu(1, pdu) for pdu in REQUESTS] + [rtu(4, REQUESTS[2]), rtu(2, REQUESTS[3])]
    return [
        Target(
            "simulator: Modbus RTU request",
            asked,
            rig.feed_rtu,
            shape="bytes",
            family=nothing,
            grammar=rtu_requests,
            longest=5000,
        ),
        Target(
            "simulator: Modbus TCP request",
            [tcp(1, pdu) for pdu in REQUESTS] + [tcp(9, REQUESTS[0])],
            rig.feed_tcp,
            shape="bytes",
            family=nothing,
        ),
        Target(
            "simulator: SCPI lines",
            SCPI,
            rig.feed_scpi,
            shape="lines",
            family=nothing,
            tokens=(b"*ESE ", b"VOLT ", b"INP ", b"?", b";", b"\n"),
        ),
        Target("--fault", FAULTS, feed_faults, names=("fault",)),
    ]
