"""Bursts: only exactly what was described is a reading; the AC rms is numpy's."""

from __future__ import annotations

import struct
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.burst import (
    Form,
    ac_rms,
    block_finder,
    samples_in_block,
    samples_in_text,
)
from drivers.errors import Unreadable
from drivers.lines import AskedLinesDriver
from drivers.load import HoldingLoad
from drivers.pending import Pending
from drivers.port_driver import PortDriver
from drivers.readings import Quality, Reading
from drivers.scpi import ScpiDriver, ScpiSetting
from profiles.drive import LoadHolds
from profiles.instrument import LinesChannel, ScpiChannel
from tests.drivers.devices import Fault, FaultyDevice
from tests.drivers.virtual import Ran, make_port, run_port

COUNT = 32
FINITE = st.floats(-1e6, 1e6, allow_nan=False, width=32)
BURSTS = st.lists(FINITE, min_size=COUNT, max_size=COUNT)


# ---- pure ----------------------------------------------------------------------------------


@given(BURSTS)
def test_the_ac_rms_is_the_population_standard_deviation_of_numpy(samples: list[float]) -> None:
    scale = max(map(abs, samples), default=0.0)
    assert ac_rms(samples) == pytest.approx(float(np.std(samples)), rel=1e-9, abs=1e-9 * scale)


def test_the_ac_rms_of_a_sine_is_its_peak_over_the_root_of_two() -> None:
    # IEC 60050-103: root-mean-square value of a sinusoidal quantity.
    turns = 2 * np.pi * np.arange(1000) / 100
    assert ac_rms(list(14.0 + 0.3 * np.sin(turns))) == pytest.approx(0.3 / 2**0.5, rel=1e-12)


@given(BURSTS)
def test_a_list_in_text_comes_back_whole(samples: list[float]) -> None:
    text = ", ".join(f"{one:+.9E}" for one in samples)
    assert samples_in_text(text, COUNT) == pytest.approx(samples, rel=1e-8, abs=1e-30)


@given(BURSTS, st.sampled_from(["f32", "f64"]), st.booleans())
def test_a_block_comes_back_whole_whatever_bytes_it_holds(
    samples: list[float], form: Form, swapped: bool
) -> None:
    answer = block(samples, form=form, swapped=swapped)
    body = COUNT * (4 if form == "f32" else 8)
    found = block_finder(body, b"\n")(answer)
    assert found is not None
    assert found[1] == len(answer)
    assert samples_in_block(found[0], COUNT, form=form, swapped=swapped) == samples


@given(BURSTS, st.integers(0, 150))
def test_a_block_is_not_taken_before_it_is_whole(samples: list[float], came: int) -> None:
    answer = block(samples)
    assert block_finder(4 * COUNT, b"\n")(answer[: min(came, len(answer) - 1)]) is None


@given(st.binary(max_size=300))
def test_any_bytes_are_a_block_or_unreadable_or_not_whole(data: bytes) -> None:
    try:
        found = block_finder(8, b"\n")(data)
    except Unreadable:
        return
    assert found is None or (len(found[0]) == 8 and data.lstrip().startswith(b"#"))


@given(st.text(max_size=80))
def test_any_text_is_a_burst_or_unreadable(text: str) -> None:
    try:
        samples = samples_in_text(text, 3)
    except Unreadable:
        return
    assert len(samples) == 3
    assert all(np.isfinite(samples))


def block(samples: list[float], form: Form = "f32", *, swapped: bool = False) -> bytes:
    order, letter = "<" if swapped else ">", "f" if form == "f32" else "d"
    body = struct.pack(f"{order}{len(samples)}{letter}", *samples)
    length = str(len(body)).encode()
    return b"#%d%s%s\n" % (len(length), length, body)


# ---- through a port ------------------------------------------------------------------------


class BurstDevice(FaultyDevice):
    """Answers R? with what `answer` makes of the number of the question."""

    def __init__(
        self, answer: Callable[[int], bytes], faults: dict[int, Fault] | None = None
    ) -> None:
        super().__init__(faults)
        self._answer = answer
        self._asked = 0
        self._ese = b"0"

    def heard(self, data: bytes) -> None:
        for line in data.split(b"\n")[:-1]:
            for part in line.split(b";"):
                if part == b"R?":
                    self.reply(self._answer(self._asked))
                    self._asked += 1
                elif part.startswith(b"*ESE "):
                    self._ese = part[5:]
                elif part == b"*ESE?":
                    at_s = max(self.time.now_s(), self._busy_until_s) + 0.004
                    self._busy_until_s = at_s
                    self.say(self._ese + b"\n", at_s)


def wave(number: int, peak: float = 0.5) -> list[float]:
    """Another burst for each question, all of the same AC rms."""
    return [14.0 + (peak if (n + number) % 3 == 0 else -peak / 2) for n in range(COUNT - 2)] + [
        14.0,
        14.0 + 1e-4 * number,
    ]


def text(samples: list[float]) -> bytes:
    return ",".join(f"{one:+.6E}" for one in samples).encode() + b"\n"


KEYS = {
    "port": "COM1",
    "query": "R?",
    "timeout_s": 0.3,
    "burst_samples": COUNT,
    "burst_sample_s": 1e-4,
    "plausible": [0.0, 5.0],
}


def driver(kind: str, **more: object) -> PortDriver:
    if kind == "lines":
        line = {"driver": "lines", "pattern": r"(?P<value>[-+.,\dEeNnAa]*)", **KEYS, **more}
        asked = {"ripple_volts": LinesChannel.model_validate(line)}
        return AskedLinesDriver(asked, 0.0, "\n")
    form = {} if kind == "text" else {"burst_form": "f32"}
    channel = ScpiChannel.model_validate({"driver": "scpi", **KEYS, **form, **more})
    return ScpiDriver({"ripple_volts": channel}, ScpiSetting())


def ran(
    kind: str, answer: Callable[[int], bytes], faults: dict[int, Fault] | None = None
) -> tuple[Ran, list[Reading]]:
    done = run_port(make_port(driver(kind), BurstDevice(answer, faults)), 3.0)
    assert done.port.statistics.faults == 0
    return done, done.readings


FORMS: dict[str, Callable[[list[float]], bytes]] = {"text": text, "lines": text, "block": block}


@pytest.mark.parametrize("kind", FORMS)
def test_a_good_burst_is_its_ac_rms_and_is_kept(kind: str) -> None:
    done, readings = ran(kind, lambda number: FORMS[kind](wave(number)))
    assert len(readings) >= 28
    assert all(reading.usable for reading in readings)
    assert readings[0].value == pytest.approx(float(np.std(wave(0))), rel=1e-5)
    burst = done.port.driver.burst("ripple_volts")
    assert burst is not None
    assert burst.samples == pytest.approx(wave(len(readings) - 1), rel=1e-6)
    assert burst.sample_s == 1e-4
    assert burst.t_s == pytest.approx(readings[-1].t_s, abs=0.01)
    assert done.port.driver.burst("volts") is None


BAD: dict[str, Callable[[list[float]], list[float]]] = {
    "one too few": lambda samples: samples[:-1],
    "one too many": lambda samples: [*samples, 14.0],
    "not a number": lambda samples: [*samples[:-1], float("nan")],
    "endless": lambda samples: [*samples[:-1], float("inf")],
    "IEEE 488.2 not a number": lambda samples: [*samples[:-1], 9.91e37],
    "not plausible": lambda samples: [20.0 * one for one in samples],
}


@pytest.mark.parametrize("kind", FORMS)
@pytest.mark.parametrize("bad", BAD)
def test_a_wrong_burst_is_never_a_reading(kind: str, bad: str) -> None:
    done, readings = ran(kind, lambda number: FORMS[kind](BAD[bad](wave(number))))
    assert readings
    assert {reading.quality for reading in readings} <= {Quality.BAD, Quality.TIMEOUT}
    assert readings[0].quality is Quality.BAD or (kind, bad) == ("block", "one too few")
    assert done.port.driver.burst("ripple_volts") is None


@pytest.mark.parametrize("kind", ["text", "block"])
def test_one_overload_in_a_burst_makes_it_an_overload(kind: str) -> None:
    _, readings = ran(kind, lambda number: FORMS[kind]([*wave(number)[:-1], 9.9e37]))
    assert {reading.quality for reading in readings} == {Quality.OVERLOAD}


@pytest.mark.parametrize(
    "answer",
    [
        b"#0" + bytes(4 * COUNT) + b"\n",
        b"#3127" + bytes(127) + b"\n",
        b"#3128" + bytes(127) + b"\n",
        b"#3128" + bytes(129) + b"\n",
        b"#2128" + bytes(128) + b"\n",
        b"#A128" + bytes(128) + b"\n",
        b"#31 8" + bytes(128) + b"\n",
        b"3128" + bytes(128) + b"\n",
        bytes(128) + b"\n",
        b"+1.40000E+01\n",
        b"\n",
        text([14.0] * COUNT),
    ],
    ids=lambda answer: repr(answer[:6]),
)
def test_a_wrong_header_is_never_a_reading(answer: bytes) -> None:
    _, readings = ran("block", lambda _number: answer)
    assert readings
    assert not [reading for reading in readings if reading.usable]


@pytest.mark.parametrize(
    "answer",
    [b",".join([b"1.0"] * (COUNT - 1)) + b",\n", b"1,5;" * 8 + b"\n", b"," * (COUNT - 1) + b"\n"],
    ids=["an empty last", "decimal commas", "all empty"],
)
@pytest.mark.parametrize("kind", ["text", "lines"])
def test_a_list_with_holes_is_never_a_reading(kind: str, answer: bytes) -> None:
    _, readings = ran(kind, lambda _number: answer)
    assert readings
    assert {reading.quality for reading in readings} == {Quality.BAD}


@pytest.mark.parametrize("kind", FORMS)
def test_a_late_burst_is_thrown_away_and_never_taken_for_the_next(kind: str) -> None:
    done, readings = ran(kind, lambda number: FORMS[kind](wave(number)), {5: Fault(late_s=0.8)})
    assert [reading.quality for reading in readings].count(Quality.TIMEOUT) == 1
    assert readings[5].quality is Quality.TIMEOUT
    assert done.port.statistics.late >= 1
    last = done.port.driver.burst("ripple_volts")
    assert last is not None
    assert readings[-1].usable


@pytest.mark.parametrize("kind", FORMS)
def test_a_burst_that_comes_over_again_is_refused_and_says_what_to_do(kind: str) -> None:
    _, readings = ran(kind, lambda _number: FORMS[kind](wave(1)))
    assert readings[0].usable
    assert {reading.quality for reading in readings[1:]} == {Quality.BAD}
    assert "must begin a new measurement" in readings[1].note


def test_a_steady_voltage_without_ripple_is_no_repetition() -> None:
    _, readings = ran("text", lambda _number: text([14.0] * COUNT))
    assert [reading.value for reading in readings] == [0.0] * len(readings)


def test_scale_and_unit_of_measure_hold_for_each_sample() -> None:
    keys = {**KEYS, "scale": 2.0, "offset": 3.0, "in": "mV"}
    channel = ScpiChannel.model_validate({"driver": "scpi", **keys})
    scpi = ScpiDriver({"ripple_volts": channel}, ScpiSetting())
    done = run_port(make_port(scpi, BurstDevice(lambda number: text(wave(number)))), 1.0)
    assert done.readings[0].value == pytest.approx(2e-3 * float(np.std(wave(0))), rel=1e-5)
    burst = scpi.burst("ripple_volts")
    assert burst is not None
    assert burst.samples[0] == pytest.approx(1e-3 * (2.0 * 13.75 + 3.0), rel=0.05)


def test_a_long_burst_comes_whole_over_a_slow_line() -> None:
    count = 5000
    channel = ScpiChannel.model_validate(
        {"driver": "scpi", **KEYS, "burst_samples": count, "timeout_s": 2.0}
    )
    scpi = ScpiDriver({"ripple_volts": channel}, ScpiSetting())
    answer = lambda number: text([14.0 + 0.1 * ((n + number) % 2) for n in range(count)])  # noqa: E731
    device = BurstDevice(answer, {n: Fault(pieces=50) for n in range(20)})
    done = run_port(make_port(scpi, device), 4.0)
    assert [reading.value for reading in done.readings][:2] == pytest.approx([0.05, 0.05])


class LoadWithBursts(BurstDevice):
    """A load and a slow fast meter behind one plug."""

    def __init__(self, answer: Callable[[int], bytes], faults: dict[int, Fault]) -> None:
        super().__init__(answer, faults)
        self.off_s: list[float] = []

    def heard(self, data: bytes) -> None:
        super().heard(data)
        if b"INP OFF\n" in data:
            self.off_s.append(self.time.now_s())
        for _ in range(data.count(b"SYST:ERR?\n")):
            at_s = self._busy_until_s = max(self.time.now_s(), self._busy_until_s) + 0.004
            self.say(b'0,"No error"\n', at_s)


@pytest.mark.parametrize("kind", ["text", "block"])
@pytest.mark.parametrize("into_s", [0.002, 0.1, 0.5, 0.9])
def test_a_burst_under_way_does_not_keep_a_load_on_when_it_must_go_off(
    kind: str, into_s: float
) -> None:
    scpi = driver(kind, timeout_s=2.0)
    assert isinstance(scpi, ScpiDriver)
    keys = {"driver": "scpi", "port": "COM1", "set": "VOLT {value}", "on": "INP ON"}
    load = HoldingLoad(LoadHolds.model_validate({**keys, "off": "INP OFF"}), scpi, 16.0)
    device = LoadWithBursts(
        lambda number: FORMS[kind](wave(number)), {n: Fault(pieces=50) for n in range(100)}
    )
    done = make_port(scpi, device)
    load.attach(done.port)
    asked: list[Pending[None]] = []
    done.time.at(1.05 + into_s, lambda: asked.append(load.begin_off(5.0)))
    run_port(done, 8.0)
    assert device.off_s[0] - (1.05 + into_s) <= 0.02
    (pending,) = asked
    assert pending.done
    assert pending.error is None
    assert done.good()[-1].t_s > 6.0, "readings go on afterwards"
    assert all(one.value == pytest.approx(done.good()[0].value, rel=1e-3) for one in done.good())
