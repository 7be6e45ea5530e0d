"""Targets: whole drivers, asked over a virtual link whose far end answers with the input."""

from __future__ import annotations

import math
import random
import re
import statistics
import struct
from collections.abc import Callable

from drivers.errors import InstrumentError, Unreadable
from drivers.exchange import Exchange
from drivers.lines import AskedLinesDriver, line_reader, stream_driver
from drivers.modbus import ModbusDriver
from drivers.nmea0183 import nmea_driver
from drivers.port_driver import PortDriver
from drivers.readings import Quality, Reading
from drivers.scpi import ScpiDriver, ScpiSetting
from drivers.statistics import PortStatistics
from profiles.instrument import LinesChannel, ModbusChannel, NmeaChannel, ScpiChannel
from tests.drivers.devices import crc_bitwise
from tests.drivers.virtual import Device, VirtualLink, VirtualTime
from tests.fuzzing.of_formats import (
    ANSWERS,
    LINES,
    NUMBER,
    RTU_FRAMES,
    SENTENCES,
    TCP_FRAMES,
    XOR_PATTERN,
    checksum_right,
    f32,
    rtu_from_nothing,
    sentence_from_nothing,
    xor_right,
)
from tests.fuzzing.target import NotTaken, Shape, Target, claim


class _Answering(Device):
    """Proves synchrony as it should, and answers the question itself with the input."""

    def __init__(
        self, answer: bytes, is_question: Callable[[bytes], bool], proof: Callable[[bytes], bytes]
    ) -> None:
        self._answer, self._is_question, self._proof = answer, is_question, proof

    def heard(self, data: bytes) -> None:
        answer = self._answer if self._is_question(data) else self._proof(data)
        for start in range(0, len(answer), 3000):
            self.say(answer[start : start + 3000], self.time.now_s() + 0.001 * (1 + start / 3000))


def _exchange(device: Device) -> Exchange:
    time = VirtualTime()
    link = VirtualLink(time, device)
    link.open()
    exchange = Exchange(
        link, clock=time, wall=time, statistics=PortStatistics(), slice_s=0.05, cut=lambda: False
    )
    exchange.instrument = "amps"
    return exchange


def _asked(driver: PortDriver, device: Device) -> float:
    exchange = _exchange(device)
    driver.opened(exchange)
    return driver.polls[0].ask(exchange)


SCPI_CHANNEL = ScpiChannel.model_validate(
    {
        "driver": "scpi",
        "port": "socket://h:1",
        "query": "MEAS?",
        "scale": 2.0,
        "offset": 1.0,
        "plausible": (-10.0, 500.0),
    }
)


def feed_scpi_driver(data: bytes) -> None:
    """A whole SCPI driver: one line, one number, inside what is plausible."""

    def proof(sent: bytes) -> bytes:
        token = re.match(rb"\*ESE (\d+);", sent)
        return token[1] + b"\n" if token else b""

    device = _Answering(data, lambda sent: sent.startswith(b"MEAS?"), proof)
    value = _asked(ScpiDriver({"amps": SCPI_CHANNEL}, ScpiSetting()), device)
    claim(-10.0 <= value <= 500.0, f"{value} is not plausible")
    lines = [line for line in data.split(b"\n") if line.strip()]
    claim(len(lines) == 1, "one of several lines was taken")
    claim(
        any(abs(float(n) * 2 + 1 - value) < 1e-9 for n in NUMBER.findall(lines[0])),
        "a value that was not sent",
    )


MODBUS_CHANNEL = ModbusChannel.model_validate(
    {
        "driver": "modbus",
        "port": "tcp://h:1",
        "device": 7,
        "register": 1,
        "type": "f32",
        "plausible": (-10.0, 500.0),
    }
)


def _modbus(data: bytes, *, tcp: bool) -> float:
    driver = ModbusDriver(tcp=tcp, gap_s=0.0)
    driver.add_channel("amps", MODBUS_CHANNEL)
    if not tcp:
        return _asked(driver, _Answering(data, lambda sent: sent[1] == 3, lambda sent: sent))
    return _asked(driver, _Numbered(data))


class _Numbered(Device):
    """Puts the number of the question into the first answer, so that it is not simply late."""

    def __init__(self, answer: bytes) -> None:
        self._answer = answer

    def heard(self, data: bytes) -> None:
        answer = data[:2] + self._answer[2:] if self._answer[:2] == b"\x12\x34" else self._answer
        self.say(answer, self.time.now_s() + 0.001)


def feed_rtu_driver(data: bytes) -> None:
    """A whole Modbus RTU driver."""
    value = _modbus(data, tcp=False)
    claim(-10.0 <= value <= 500.0, f"{value} is not plausible")
    frames = (data[at : at + 9] for at in range(len(data) - 8))
    whole = [f for f in frames if f[:3] == b"\x07\x03\x04" and f[-2:] == crc_bitwise(f[:-2])]
    claim(any(f32(frame[3:7]) == value for frame in whole), "a value without a whole frame")


def feed_tcp_driver(data: bytes) -> None:
    """A whole Modbus TCP driver."""
    value = _modbus(data, tcp=True)
    claim(-10.0 <= value <= 500.0, f"{value} is not plausible")
    claim(b"\x07\x03\x04" in data, "a value without a frame")


ASKED_CHANNEL = LinesChannel.model_validate(
    {
        "driver": "lines",
        "port": "COM1",
        "query": "R?",
        "pattern": XOR_PATTERN,
        "plausible": (0.0, 9000.0),
    }
)
TOLD_CHANNEL = LinesChannel.model_validate(
    {"driver": "lines", "port": "COM1", "pattern": XOR_PATTERN, "plausible": (0.0, 9000.0)}
)


def feed_asked_lines(data: bytes) -> None:
    """A whole driver that asks for lines."""
    device = _Answering(data, lambda sent: sent.startswith(b"R?"), lambda _: b"")
    value = _asked(AskedLinesDriver({"shaft_rpm": ASKED_CHANNEL}, 0.0, "\n"), device)
    claim(0.0 <= value <= 9000.0, f"{value} is not plausible")
    lines = [line.strip(b"\r") for line in data.split(b"\n") if line.strip(b"\r")]
    claim(
        any(checksum_right(line, XOR_PATTERN) for line in lines if b"*" in line),
        "a wrong checksum",
    )


def feed_stream(data: bytes) -> None:
    """A whole driver that listens to lines; and the reader of one channel by itself."""
    driver = stream_driver({"shaft_rpm": TOLD_CHANNEL}, 0.0, "\r\n")
    taken = _heard(driver, b"\r\n" + data + b"\r\n")
    lines = re.split(rb"[\r\n]+", data)
    good = [line for line in lines if b"*" in line and xor_right(line)]
    claim(len(taken) <= len(good), "more readings than lines with a right checksum")
    for reading in taken:
        claim(reading.value is not None and 0.0 <= reading.value <= 9000.0, "not plausible")
    read = line_reader("shaft_rpm", TOLD_CHANNEL)
    for line in good[:3]:
        try:
            read(line)
        except (Unreadable, InstrumentError):
            continue
    if not taken:
        raise NotTaken("no reading")


def _heard(driver: PortDriver, data: bytes) -> list[Reading]:
    exchange = _exchange(Device())
    driver.opened(exchange)
    found: list[Reading] = []
    for start in range(0, len(data), 100):
        found += driver.heard(exchange, data[start : start + 100])
    for reading in found:
        claim(
            (reading.quality is Quality.OK) == (reading.value is not None),
            "quality and value disagree",
        )
    return [reading for reading in found if reading.quality is Quality.OK]


NMEA_CHANNEL = NmeaChannel.model_validate(
    {
        "driver": "nmea0183",
        "port": "udp://0.0.0.0:1",
        "sentence": "RPM",
        "field": 3,
        "where": {"1": "E"},
        "plausible": (0.0, 9000.0),
    }
)


def feed_nmea_driver(data: bytes) -> None:
    """A whole NMEA driver: never more readings than sentences with a right checksum."""
    taken = _heard(nmea_driver({"engine_rpm": NMEA_CHANNEL}, 0.0), b"\r\n" + data + b"\r\n")
    whole = [
        line for line in re.split(rb"[\r\n]+", data) if line[:1] == b"$" and xor_right(line[1:])
    ]
    claim(len(taken) <= len(whole), "more readings than whole sentences")
    claim(all(0.0 <= (reading.value or 0.0) <= 9000.0 for reading in taken), "not plausible")
    if not taken:
        raise NotTaken("no reading")


# ---- bursts ----------------------------------------------------------------------------------

SAMPLES = 16


def _burst_channel(**keys: object) -> ScpiChannel:
    given = {"driver": "scpi", "port": "socket://h:1", "query": "MEAS?", "plausible": (0.0, 50.0)}
    return ScpiChannel.model_validate(
        {**given, "burst_samples": SAMPLES, "burst_sample_s": 1e-4, **keys}
    )


def _block(values: list[float], code: str = ">f") -> bytes:
    body = b"".join(struct.pack(code, value) for value in values)
    return b"#3%03d" % len(body) + body + b"\n"


def feed_burst_text(data: bytes) -> None:
    """A burst in text: so many samples and no other number, its AC rms by the standard library."""
    value = _burst(data, _burst_channel())
    line = next(line for line in data.split(b"\n") if line.strip())
    samples = [float(part) for part in line.decode("latin-1").split(",")]
    claim(len(samples) == SAMPLES, f"{len(samples)} samples were taken")
    claim(
        math.isclose(value, statistics.pstdev(samples), rel_tol=1e-9, abs_tol=1e-9), "another rms"
    )


def feed_burst_block(data: bytes) -> None:
    """A burst as a block of IEEE 488.2: the length told, the bytes there, and finite samples."""
    value = _burst(data, _burst_channel(burst_form="f32"))
    body = data.lstrip()[5 : 5 + 4 * SAMPLES]
    claim(
        re.match(rb"\s*#(?:2|30|400|5000|60000|700000|8000000|90000000)64", data) is not None,
        "another length",
    )
    claim(data.lstrip()[:2] != b"#3" or len(body) == 4 * SAMPLES, "bytes are missing")
    if data.lstrip()[:2] == b"#3":
        samples = [f32(body[at : at + 4]) for at in range(0, len(body), 4)]
        claim(
            math.isclose(value, statistics.pstdev(samples), rel_tol=1e-6, abs_tol=1e-9),
            "another rms",
        )


def _burst(data: bytes, channel: ScpiChannel) -> float:
    def proof(sent: bytes) -> bytes:
        token = re.match(rb"\*ESE (\d+);", sent)
        return token[1] + b"\n" if token else b""

    device = _Answering(data, lambda sent: sent.startswith(b"MEAS?"), proof)
    value = _asked(ScpiDriver({"ripple_volts": channel}, ScpiSetting()), device)
    claim(0.0 <= value <= 50.0, f"{value} is not plausible")
    return value


def targets() -> list[Target]:
    """All targets of whole drivers."""
    wave = [13.5 + 0.4 * math.sin(number) for number in range(SAMPLES)]
    in_text = [
        ",".join(f"{value:+.4E}" for value in wave).encode() + b"\n",
        b",".join([b"0"] * SAMPLES) + b"\n",
    ]
    blocks = [_block(wave), _block([0.0] * SAMPLES), _block(wave, "<f"), b"#0" + _block(wave)[5:]]
    ends = [answer + b"\n" for answer in ANSWERS]
    asked = [line + b"\n" for line in LINES]
    told = [*asked, *(line * 2 for line in asked)]
    sentences = [sentence + b"\r\n" for sentence in SENTENCES]
    return [
        _target("lines: driver that asks", asked, feed_asked_lines),
        _target("lines: driver that listens", told, feed_stream, shape="lines"),
        _target("SCPI: driver", ends, feed_scpi_driver, shape="text"),
        _target("burst in text: driver", in_text, feed_burst_text, shape="csv"),
        _target("burst in a block: driver", blocks, feed_burst_block),
        _target("Modbus RTU: driver", RTU_FRAMES, feed_rtu_driver, grammar=rtu_from_nothing),
        _target("Modbus TCP: driver", TCP_FRAMES, feed_tcp_driver),
        _target("NMEA 0183: driver", sentences, feed_nmea_driver, grammar=sentence_from_nothing),
    ]


def _target(
    name: str,
    samples: list[bytes],
    feed: Callable[[bytes], None],
    *,
    shape: Shape = "bytes",
    grammar: Callable[[random.Random], bytes] | None = None,
) -> Target:
    return Target(
        name, samples, feed, shape, (InstrumentError,), grammar=grammar, share=0.3, longest=70_000
    )
