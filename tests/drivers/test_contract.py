"""One contract, every driver: whatever happens on the wire, no wrong reading is accepted.

Each device tells the time in its value, so a reading is right only when its value belongs to the
moment it claims, within the length of its own exchange. The counts are printed at the end of the
run (see conftest.py).
"""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.lines import AskedLinesDriver, stream_driver
from drivers.modbus import ModbusDriver
from drivers.nmea0183 import nmea_driver
from drivers.port_driver import PortDriver
from drivers.readings import Quality
from drivers.scpi import ScpiDriver, ScpiSetting
from profiles.instrument import LinesChannel, ModbusChannel, NmeaChannel, ScpiChannel
from tests.drivers.devices import (
    SAMPLES,
    AskedBurstDevice,
    AskedLineDevice,
    Fault,
    FaultyDevice,
    RtuDevice,
    ScpiDevice,
    TalkingDevice,
    TcpDevice,
    burst_block,
    burst_text,
    rpm_line,
    rpm_sentence,
)
from tests.drivers.tally import tally
from tests.drivers.virtual import Ran, make_port, run_port

TIMEOUT_S = 0.3
SLACK_S = 0.03
"""Between a device's looking at its clock and its answer's arrival [s]."""
EXAMPLES = int(os.environ.get("STEADYAMPS_EXAMPLES", "40"))
"""Mixtures of faults tried for each driver; 1000 and more are drawn anew at each run."""
BASES = {"shaft_rpm": 1000.0, "engine_rpm": 5000.0}


def scpi() -> PortDriver:
    channels = {
        name: ScpiChannel.model_validate(
            {"driver": "scpi", "port": "COM1", "query": query, "timeout_s": TIMEOUT_S}
        )
        for name, query in (("shaft_rpm", "A?"), ("engine_rpm", "B?"))
    }
    return ScpiDriver(channels, ScpiSetting())


def scpi_bursts(**form: str) -> PortDriver:
    """Bursts whose AC rms is the value, from two questions on one port."""
    burst = {"burst_samples": SAMPLES, "burst_sample_s": 1e-4, **form}
    channels = {
        name: ScpiChannel.model_validate(
            {"driver": "scpi", "port": "COM1", "query": query, "timeout_s": TIMEOUT_S, **burst}
        )
        for name, query in (("shaft_rpm", "A?"), ("engine_rpm", "B?"))
    }
    return ScpiDriver(channels, ScpiSetting())


def asked_bursts() -> PortDriver:
    keys = {
        "driver": "lines",
        "port": "COM1",
        "query": "A",
        "pattern": r"A=(?P<value>[-+.,\dE]*)\*(?P<xor>[0-9A-F]{2})",
        "burst_samples": SAMPLES,
        "burst_sample_s": 1e-4,
        "timeout_s": TIMEOUT_S,
    }
    return AskedLinesDriver({"shaft_rpm": LinesChannel.model_validate(keys)}, 0.0, "\n")


def modbus(*, tcp: bool) -> PortDriver:
    driver = ModbusDriver(tcp=tcp, gap_s=0.0 if tcp else 0.00175)
    for name, register in (("shaft_rpm", 0), ("engine_rpm", 2)):
        channel = {"driver": "modbus", "port": "COM1", "register": register, "type": "f32"}
        described = ModbusChannel.model_validate({**channel, "timeout_s": TIMEOUT_S})
        driver.add_channel(name, described)
    return driver


PATTERN = r"%s=(?P<value>\d+\.\d{3})\*(?P<xor>[0-9A-F]{2})"


def lines(query: str | None, letter: str) -> LinesChannel:
    keys = {"driver": "lines", "port": "COM1", "pattern": PATTERN % letter}
    asked = {} if query is None else {"query": query}
    return LinesChannel.model_validate({**keys, **asked, "timeout_s": TIMEOUT_S})


def asked_lines() -> PortDriver:
    channels = {"shaft_rpm": lines("A", "A"), "engine_rpm": lines("B", "B")}
    return AskedLinesDriver(channels, 0.0, "\n")


def one_question() -> PortDriver:
    """The hardest: the late answer of the only question looks like the next one's."""
    return AskedLinesDriver({"shaft_rpm": lines("A", "A")}, 0.0, "\n")


def streamed_lines() -> PortDriver:
    return stream_driver({"shaft_rpm": lines(None, "A")}, 0.0, "\n")


def nmea() -> PortDriver:
    keys = {"driver": "nmea0183", "port": "COM1", "sentence": "RPM", "field": 3}
    return nmea_driver({"shaft_rpm": NmeaChannel.model_validate(keys)}, 0.0)


@dataclass(frozen=True)
class Case:
    """A driver and the device it speaks to."""

    driver: Callable[[], PortDriver]
    device: Callable[[dict[int, Fault]], FaultyDevice]
    talks: bool = False
    keeps_late: bool = True
    checksum: bool = True

    def run(self, faults: dict[int, Fault], for_s: float = 12.0) -> Ran:
        device = self.device(faults)
        ran = make_port(self.driver(), device, keeps_late=self.keeps_late)
        run_port(ran, for_s)
        tally.faulty_exchanges += device.hurt
        wrong = wrong_readings(ran)
        tally.wrong_readings += len(wrong)
        assert not wrong, f"{len(wrong)} wrong, first {wrong[0]}"
        return ran


CASES = {
    "scpi": Case(scpi, lambda faults: ScpiDevice(faults), checksum=False),
    "scpi, whole numbers": Case(
        scpi, lambda faults: ScpiDevice(faults, lambda value: f"{value:.3f}"), checksum=False
    ),
    "scpi, bursts in text": Case(
        scpi_bursts, lambda faults: ScpiDevice(faults, burst_text), checksum=False
    ),
    "scpi, bursts in blocks": Case(
        lambda: scpi_bursts(burst_form="f64", burst_order="swapped"),
        lambda faults: ScpiDevice(faults, burst_block),
        checksum=False,
    ),
    "asked lines, bursts": Case(asked_bursts, lambda faults: AskedBurstDevice(faults)),
    "modbus rtu": Case(lambda: modbus(tcp=False), lambda faults: RtuDevice(faults)),
    "modbus rtu, function 8 refused": Case(
        lambda: modbus(tcp=False), lambda faults: RtuDevice(faults, echoes=False)
    ),
    "modbus tcp": Case(
        lambda: modbus(tcp=True), lambda faults: TcpDevice(faults), keeps_late=False, checksum=False
    ),
    "asked lines": Case(asked_lines, lambda faults: AskedLineDevice(faults)),
    "asked lines, one question": Case(one_question, lambda faults: AskedLineDevice(faults)),
    "lines": Case(streamed_lines, lambda faults: TalkingDevice(rpm_line, faults), talks=True),
    "nmea 0183": Case(nmea, lambda faults: TalkingDevice(rpm_sentence, faults), talks=True),
}
ASKED = {name: case for name, case in CASES.items() if not case.talks}


def wrong_readings(ran: Ran) -> list[str]:
    """Readings whose value does not belong to the moment they claim, or was never told."""
    device = ran.link.device
    wrong = []
    for reading in ran.good():
        assert reading.value is not None
        if isinstance(device, TalkingDevice):
            right = round(reading.value, 3) in device.told
        else:
            true = BASES[reading.channel] + reading.t_s
            right = abs(reading.value - true) <= reading.span_s / 2 + SLACK_S
        if not right:
            wrong.append(f"{reading.channel} {reading.value} at {reading.t_s:.3f} s")
    return wrong


@pytest.fixture(params=CASES, ids=str)
def case(request: pytest.FixtureRequest) -> Case:
    return CASES[request.param]


@pytest.fixture(params=ASKED, ids=str)
def asked(request: pytest.FixtureRequest) -> Case:
    return ASKED[request.param]


def test_without_faults_each_question_gives_a_reading(case: Case) -> None:
    ran = case.run({}, 3.0)
    assert len(ran.good("shaft_rpm")) >= 28
    assert len(ran.good()) == len(ran.readings)
    assert ran.port.statistics.faults == 0


@pytest.mark.parametrize("late_s", [0.4, 0.7, 1.5, 3.0])
@pytest.mark.parametrize("number", [5, 6, 7])
def test_one_late_answer_is_never_taken_for_the_next(
    asked: Case, late_s: float, number: int
) -> None:
    ran = asked.run({number: Fault(late_s=late_s)})
    assert Quality.TIMEOUT in {reading.quality for reading in ran.readings}
    assert ran.good("shaft_rpm")[-1].t_s > 11.0


@pytest.mark.parametrize("late_s", [0.4, 0.7, 1.5, 3.0])
def test_late_answers_again_and_again_are_never_taken_for_the_next(
    asked: Case, late_s: float
) -> None:
    ran = asked.run({number: Fault(late_s=late_s) for number in range(4, 60, 3)}, 40.0)
    assert ran.port.statistics.timeouts > 0


def test_an_instrument_that_stays_slow_gives_nothing_rather_than_old_values(asked: Case) -> None:
    ran = asked.run({number: Fault(late_s=0.7) for number in range(4, 2000)}, 20.0)
    late = [reading for reading in ran.good() if reading.t_s > 1.0]
    assert late == []


NOISE = b"\x1b[2J\x1b]0;own\x07\xff\x00\x80"


@pytest.mark.parametrize(
    "fault",
    [
        Fault(before=b"\x00"),
        Fault(before=NOISE),
        Fault(before=b"\r\n\r\n"),
        Fault(before=b"77\n"),
        Fault(flip=2),
        Fault(flip=4),
        Fault(flip=-3),
        Fault(pieces=3),
        Fault(cut=4),
        Fault(cut=0),
        Fault(silent=True),
        Fault(twice=True),
        Fault(twice=True, late_s=0.7),
    ],
    ids=str,
)
def test_damaged_answers_give_no_wrong_reading_and_it_recovers(case: Case, fault: Fault) -> None:
    if fault.flip is not None and not case.checksum:
        pytest.skip("these answers carry no checksum of their own: a changed digit cannot be seen")
    ran = case.run(dict.fromkeys(range(5, 45, 4), fault), 70.0)
    assert ran.good("shaft_rpm")[-1].t_s > 69.0
    assert ran.port.statistics.faults == 0


def test_a_pulled_plug_is_seen_and_a_new_plug_is_taken(case: Case) -> None:
    ran = make_port(case.driver(), case.device({}), keeps_late=case.keeps_late)
    link = ran.link
    ran.time.at(1.005, lambda: setattr(link, "gone", True))
    ran.time.at(4.0, lambda: setattr(link, "gone", False))
    run_port(ran, 10.0)
    lost = [reading for reading in ran.readings if reading.quality is Quality.LINK_LOST]
    assert 1.0 <= lost[0].t_s < 1.2
    back = [reading.t_s for reading in ran.good() if reading.t_s > 1.2]
    assert 4.0 <= back[0] < 7.5
    assert not wrong_readings(ran)
    assert [event.kind for event in ran.events if event.kind in ("opened", "lost")] == [
        "opened",
        "lost",
        "opened",
    ]


def test_a_silent_instrument_never_gives_a_reading(case: Case) -> None:
    ran = case.run({number: Fault(silent=True) for number in range(10_000)}, 15.0)
    assert ran.good() == []
    assert {reading.quality for reading in ran.readings} & {
        Quality.TIMEOUT,
        Quality.STALE,
        Quality.LINK_LOST,
    }


def test_closing_twice_is_harmless_and_a_command_after_it_is_refused(case: Case) -> None:
    ran = case.run({}, 1.0)
    assert ran.port.close()
    assert ran.port.close()
    pending = ran.port.call("drive", "run", lambda exchange: None)
    assert pending.done
    assert type(pending.error).__name__ == "InstrumentClosed"


class Lookalike(ScpiDevice):
    """Late with an answer that happens to be the very token by which synchrony is proved."""

    def __init__(self) -> None:
        super().__init__(number=lambda value: f"{value:.3f}")
        self._owing = False

    def _line(self, line: str) -> None:
        asked = [text for text in self.heard_lines if text in ("A?", "B?")]
        if line in ("A?", "B?") and len(asked) == 5 and not self._owing:
            self._owing = True
            self.heard_lines.append(line)
        elif self._owing and line.startswith("*ESE "):
            self._owing = False
            self.reply(line.partition(";")[0][5:].encode() + b"\n")
            super()._line(line)
        else:
            super()._line(line)


def test_a_late_answer_that_looks_like_the_token_proves_nothing() -> None:
    ran = run_port(make_port(scpi(), Lookalike()), 5.0)
    assert Quality.TIMEOUT in {reading.quality for reading in ran.readings}
    assert wrong_readings(ran) == []
    assert ran.good()[-1].t_s > 4.8


class Interrupting(ScpiDevice):
    """Half a line that nobody asked for, and the other half in front of the next answer."""

    def plugged(self) -> None:
        self.say(b"12", 1.05)
        self.say(b"34.5\n", 1.109)  # a question is asked at 1.108 s, and answered 4 ms later


def test_half_a_line_unasked_makes_the_next_question_wait_for_a_proof() -> None:
    ran = run_port(make_port(scpi(), Interrupting()), 3.0)
    assert wrong_readings(ran) == []
    assert ran.port.statistics.proofs == 2


class Stammering(AskedLineDevice):
    """Answers one question with nonsense first and the answer a moment later."""

    def heard(self, data: bytes) -> None:
        if self.answered == 5:
            self.say(b"A=?\n", self.time.now_s() + 0.002)
            self.faults[5] = Fault(late_s=0.5)
        super().heard(data)


def test_an_answer_behind_nonsense_is_not_taken_for_the_next() -> None:
    ran = run_port(make_port(one_question(), Stammering()), 5.0)
    assert Quality.BAD in {reading.quality for reading in ran.readings}
    assert wrong_readings(ran) == []
    assert ran.good()[-1].t_s > 4.8


FAULTS = st.builds(
    Fault,
    late_s=st.sampled_from([0.0, 0.0, 0.2, 0.35, 0.4, 0.7, 1.5, 3.0]),
    silent=st.booleans(),
    before=st.sampled_from([b"", b"", b"\x00\xff", b"\n", b"\x1b[31m", b"7x\n"]),
    pieces=st.integers(1, 4),
    cut=st.sampled_from([None, None, 0, 1, 5]),
) | st.just(Fault(twice=True))
"""An answer sent twice comes at once: a second copy that came later would look like an answer."""


@pytest.mark.parametrize("name", CASES)
@settings(max_examples=EXAMPLES, deadline=None, derandomize=EXAMPLES < 1000)
@given(faults=st.dictionaries(st.integers(2, 40), FAULTS, max_size=12))
def test_no_mixture_of_faults_gives_a_wrong_reading(name: str, faults: dict[int, Fault]) -> None:
    assert CASES[name].run(faults, 25.0).readings
