"""A port's life: schedule, several devices on a bus, faults in a driver, what is reported."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

import pytest

from drivers.errors import CommandRefused, InstrumentError, NoAnswer
from drivers.exchange import Exchange
from drivers.lines import stream_driver
from drivers.modbus import ModbusDriver
from drivers.pending import Pending
from drivers.poll_times import PollTimes
from drivers.port_driver import Poll, PortDriver
from drivers.readings import Quality
from drivers.scpi import ScpiDriver, ScpiSetting
from drivers.statistics import PortStatistics
from profiles.instrument import Identify, LinesChannel, ModbusChannel, ScpiChannel
from tests.drivers.devices import (
    Fault,
    FaultyDevice,
    RtuDevice,
    ScpiDevice,
    TalkingDevice,
    rpm_line,
    xor_sum,
)
from tests.drivers.virtual import Device, make_port, run_port


class AskingDriver(PortDriver):
    """Asks whatever a test wants."""

    def __init__(self, ask: Callable[[Exchange], float], every_s: float = 0.1) -> None:
        self._polls = [Poll("amps", every_s, ask)]

    @property
    def polls(self) -> Sequence[Poll]:
        return self._polls


def test_missed_ticks_are_counted_and_never_caught_up_in_a_burst() -> None:
    times: list[float] = []

    def ask(exchange: Exchange) -> float:
        times.append(exchange.wall.now_s())
        exchange.pause(0.35 if len(times) == 3 else 0.01)
        return 1.0

    ran = run_port(make_port(AskingDriver(ask), Device()), 2.0)
    gaps = [later - earlier for earlier, later in pairwise(times)]
    assert ran.port.statistics.skipped == 2  # those of 0.3 and 0.4 s
    assert min(gaps) > 0.04
    assert [round(t_s, 6) for t_s in times[:5]] == [0.0, 0.1, 0.2, 0.55, 0.6]


def test_a_clock_that_runs_faster_is_asked_as_much_oftener() -> None:
    statistics = PortStatistics()
    times = PollTimes(AskingDriver(lambda exchange: 1.0).polls, pace=8.0)
    times.restart(0.0)
    times.take(0.0, statistics)
    assert times.wait_s(0.0) == pytest.approx(0.0125)


def test_a_fault_in_a_driver_is_a_bad_reading_and_the_thread_lives_on() -> None:
    calls: list[int] = []

    def ask(exchange: Exchange) -> float:
        calls.append(1)
        if len(calls) == 3:
            raise KeyError("oops")
        return 1.0

    ran = run_port(make_port(AskingDriver(ask), Device()), 0.95)
    bad = [reading for reading in ran.readings if not reading.usable]
    assert [reading.quality for reading in bad] == [Quality.BAD]
    assert "a fault in the program: KeyError" in bad[0].note
    assert len(ran.good()) == 9
    assert ran.port.statistics.faults == 1
    assert [event.kind for event in ran.events] == ["opened", "fault", "closed"]


def test_a_port_that_is_asked_nothing_is_not_read_and_its_pulled_plug_is_noticed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A VISA session that is read while nothing was asked waits for its whole time-out."""
    ran = make_port(PortDriver(), Device())
    read_s: list[float] = []

    def receive(_wait_s: float) -> bytes:
        read_s.append(ran.time.now_s())
        return b""

    monkeypatch.setattr(ran.link, "receive", receive)
    ran.time.at(3.5, lambda: setattr(ran.link, "gone", True))
    run_port(ran, 6.0)
    assert read_s == []
    (lost,) = [event for event in ran.events if event.kind == "lost"]
    assert 3.5 < lost.t_s <= 4.6


def test_a_fault_while_opening_is_reported_and_tried_again() -> None:
    class Broken(AskingDriver):
        tries = 0

        def opened(self, exchange: Exchange) -> None:
            Broken.tries += 1
            if Broken.tries == 1:
                raise ZeroDivisionError("oops")

    ran = run_port(make_port(Broken(lambda exchange: 1.0), Device()), 2.0)
    assert [event.kind for event in ran.events][:2] == ["fault", "opened"]
    assert ran.good()


def test_a_command_that_fails_tells_whoever_gave_it_and_nothing_else_suffers() -> None:
    ran = make_port(AskingDriver(lambda exchange: 1.0), Device())
    pendings: list[Pending[float]] = []

    def refuse(exchange: Exchange) -> float:
        raise CommandRefused("load", "no.")

    def give() -> None:
        pendings.append(ran.port.call("load", "a", lambda exchange: 1 / 0))
        pendings.append(ran.port.call("load", "b", refuse))
        pendings.append(ran.port.call("load", "c", lambda exchange: 42.0))

    ran.time.at(0.5, give)
    run_port(ran, 0.95)
    assert "ZeroDivisionError" in str(pendings[0].error)
    assert isinstance(pendings[1].error, CommandRefused)
    assert pendings[2].wait(0.0) == 42.0
    assert len(ran.good()) == 10


def test_commands_that_come_thick_and_fast_do_not_starve_the_questions() -> None:
    """As on a slow line, where a ramp's next speed is there before the last has been read back."""

    def ask(exchange: Exchange) -> float:
        exchange.pause(0.01)
        return 1.0

    ran = make_port(AskingDriver(ask), Device())

    served: list[float] = []

    def slow(exchange: Exchange) -> None:
        give()
        exchange.pause(0.05)
        served.append(exchange.wall.now_s())

    def give() -> None:
        ran.port.call("drive", "speed", slow)

    ran.time.at(0.5, give)
    run_port(ran, 3.0)
    times = [reading.t_s for reading in ran.good()]
    assert len(served) > 15
    assert times[-1] > 2.8
    assert max(later - earlier for earlier, later in pairwise(times)) < 0.2


def modbus_channel(device: int, register: int = 0) -> ModbusChannel:
    return ModbusChannel.model_validate(
        {
            "driver": "modbus",
            "port": "COM1",
            "device": device,
            "register": register,
            "type": "f32",
            "timeout_s": 0.3,
        }
    )


def test_a_dead_device_on_a_bus_does_not_silence_the_others() -> None:
    driver = ModbusDriver(tcp=False, gap_s=0.00175)
    driver.add_channel("shaft_rpm", modbus_channel(1))
    driver.add_channel("engine_rpm", modbus_channel(2, 2))
    device = RtuDevice(numbers=(1, 2))
    ran = make_port(driver, device)
    ran.time.at(1.0, lambda: device.deaf.add(2))
    ran.time.at(15.0, lambda: device.deaf.clear())
    run_port(ran, 25.0)
    alive = [reading.t_s for reading in ran.good("shaft_rpm")]
    assert max(later - earlier for earlier, later in pairwise(alive)) < 1.5
    assert Quality.LINK_LOST not in {reading.quality for reading in ran.readings}
    dead = [each for each in ran.readings if each.channel == "engine_rpm" and not each.usable]
    assert {reading.quality for reading in dead} == {Quality.TIMEOUT}
    assert 15.0 < min(each.t_s for each in ran.good("engine_rpm") if each.t_s > 2.0) < 18.5


def scpi(**keys: object) -> ScpiChannel:
    return ScpiChannel.model_validate(
        {"driver": "scpi", "port": "COM1", "query": "A?", "timeout_s": 0.3, **keys}
    )


def run_scpi(number: Callable[[float], str], for_s: float = 2.0, **keys: object) -> list[Quality]:
    driver = ScpiDriver({"amps": scpi(**keys)}, ScpiSetting())
    ran = run_port(make_port(driver, ScpiDevice(number=number)), for_s)
    return [reading.quality for reading in ran.readings]


def test_the_sign_of_overload_is_an_overload_reading_without_a_value() -> None:
    assert set(run_scpi(lambda value: "+9.90000000E+37")) == {Quality.OVERLOAD}


def test_the_sign_of_no_number_is_a_bad_reading() -> None:
    assert set(run_scpi(lambda value: "+9.91000000E+37")) == {Quality.BAD}


def test_values_outside_what_is_plausible_are_bad_readings() -> None:
    assert set(run_scpi(lambda value: "12.0", plausible=[0.0, 10.0])) == {Quality.BAD}
    assert set(run_scpi(lambda value: "12.0", plausible=[0.0, 13.0])) == {Quality.OK}


def test_another_instrument_than_expected_is_not_read() -> None:
    class Named(ScpiDevice):
        def _line(self, line: str) -> None:
            if line == "*IDN?":
                self.reply(b"INVENTED,LOAD 9\n")
            else:
                super()._line(line)

    identify = Identify.model_validate({"send": "*IDN?", "match": "METER"})
    setting = ScpiSetting(identify={"amps": identify})
    ran = run_port(make_port(ScpiDriver({"amps": scpi()}, setting), Named()), 3.0)
    assert ran.good() == []
    assert "another instrument than expected" in str(ran.port.trouble)
    assert "INVENTED,LOAD 9" in str(ran.port.trouble)


def test_a_settling_instrument_is_left_alone_after_opening() -> None:
    driver = ScpiDriver({"amps": scpi()}, ScpiSetting(settle_s=2.0))
    ran = run_port(make_port(driver, ScpiDevice()), 3.0)
    assert ran.link.sent[0][0] >= 2.0
    assert ran.good()


def lines_channel(pattern: str, **keys: object) -> LinesChannel:
    return LinesChannel.model_validate(
        {"driver": "lines", "port": "COM1", "pattern": pattern, "timeout_s": 0.3, **keys}
    )


def test_a_stream_that_falls_silent_gives_stale_readings_and_is_opened_anew() -> None:
    device = TalkingDevice(rpm_line)
    pattern = r"A=(?P<value>\d+\.\d{3})\*(?P<xor>[0-9A-F]{2})"
    ran = make_port(stream_driver({"shaft_rpm": lines_channel(pattern)}, 0.0, "\n"), device)
    ran.time.at(2.0, lambda: setattr(device, "mute", True))
    ran.time.at(20.0, lambda: setattr(device, "mute", False))
    run_port(ran, 25.0)
    stale = [reading.t_s for reading in ran.readings if reading.quality is Quality.STALE]
    assert 2.2 < stale[0] < 2.5
    assert stale[1] - stale[0] < 0.4
    assert ran.link.opened >= 2
    assert ran.good()[-1].t_s > 24.0


def test_an_instrument_that_talks_seldom_is_not_called_stale_between_its_lines() -> None:
    class Slow(Device):
        def plugged(self) -> None:
            for tick in range(1, 11):
                self.say(b"64.5\n", 1.0 * tick)

    driver = stream_driver({"case_c": lines_channel(r"(?P<value>\d+\.\d)")}, 0.0, "\n")
    ran = run_port(make_port(driver, Slow()), 14.0)
    stale = [reading.t_s for reading in ran.readings if reading.quality is Quality.STALE]
    assert len(ran.good()) == 9  # the first line may have been cut
    assert not [t_s for t_s in stale if 3.0 < t_s < 11.0]
    assert [t_s for t_s in stale if 11.0 < t_s < 12.0]


def test_a_repeated_count_is_a_stale_reading() -> None:
    """The instrument's own counter tells a repeated reading from an equal one."""

    def line(now_s: float) -> bytes:
        body = b"%d,1800.0" % int(now_s / 0.5)
        return body + b"*" + xor_sum(body) + b"\n"

    pattern = r"(?P<count>\d+),(?P<value>\d+\.\d)\*(?P<xor>[0-9A-F]{2})"
    driver = stream_driver({"shaft_rpm": lines_channel(pattern)}, 0.0, "\n")
    ran = run_port(make_port(driver, TalkingDevice(line)), 3.0)
    assert 5 <= len(ran.good()) <= 7
    assert {reading.quality for reading in ran.readings} == {Quality.OK, Quality.STALE}


def test_noise_at_full_speed_does_not_fill_the_record() -> None:
    class Noise(Device):
        def plugged(self) -> None:
            for tick in range(2000):
                self.say(b"\xff\n\x80\n" * 20, 0.001 * tick)

    driver = stream_driver({"shaft_rpm": lines_channel(r"(?P<value>\d+)")}, 0.0, "\n")
    ran = run_port(make_port(driver, Noise()), 2.0)
    bad = [reading for reading in ran.readings if reading.quality is Quality.BAD]
    assert 10 < len(bad) < 60
    assert ran.port.statistics.bad > 10_000
    assert bad[1].raw in (b"\xff", b"\x80")
    assert "\\x" in bad[1].note


def test_lines_of_two_instruments_on_one_port_go_to_their_channels() -> None:
    def line(now_s: float) -> bytes:
        return b"R1800.0\n" if int(now_s / 0.05) % 2 else b"T64.5\n"

    channels = {
        "shaft_rpm": lines_channel(r"R(?P<value>\d+\.\d)"),
        "case_c": lines_channel(r"T(?P<value>\d+\.\d)"),
    }
    ran = run_port(make_port(stream_driver(channels, 0.0, "\n"), TalkingDevice(line)), 2.0)
    assert {reading.value for reading in ran.good("shaft_rpm")} == {1800.0}
    assert {reading.value for reading in ran.good("case_c")} == {64.5}
    assert len(ran.good()) == len(ran.readings)


def test_the_time_of_a_polled_reading_is_the_middle_of_its_exchange() -> None:
    device = ScpiDevice(faults={number: Fault(late_s=0.2) for number in range(2, 50)})
    driver = ScpiDriver({"shaft_rpm": scpi(every_s=0.5)}, ScpiSetting())
    ran = run_port(make_port(driver, device), 3.0)
    reading = ran.good()[-1]
    assert reading.span_s == pytest.approx(0.204, abs=0.002)
    assert reading.value == pytest.approx(1000.0 + reading.t_s - 0.102, abs=0.005)


def test_a_late_answer_is_counted() -> None:
    ran = make_port(
        ScpiDriver({"shaft_rpm": scpi()}, ScpiSetting()), ScpiDevice({5: Fault(late_s=0.5)})
    )
    statistics = run_port(ran, 3.0).port.statistics
    assert (statistics.timeouts, statistics.late, statistics.bad) == (1, 1, 0)
    assert statistics.proofs == 2  # at the opening and after the time-out


def test_waiting_for_a_command_that_is_still_queued_takes_it_back() -> None:
    ran = make_port(AskingDriver(lambda exchange: 1.0), Device())
    done: list[str] = []

    def give() -> None:
        pending = ran.port.call("drive", "run", lambda exchange: done.append("sent"))
        with pytest.raises(InstrumentError, match="was not sent in time"):
            pending.wait(0.01)

    ran.time.at(0.5, give)
    run_port(ran, 1.0)
    assert done == []
    assert ran.port.statistics.dropped == 1


def test_an_endless_answer_is_a_bad_one() -> None:
    class Babbler(FaultyDevice):
        def heard(self, data: bytes) -> None:
            self.say(b"9" * 5000, self.time.now_s() + 0.001)

    def ask(exchange: Exchange) -> float:
        exchange.send(b"?")
        return exchange.collect(lambda buffer: None, 1.0, asked="?")

    ran = run_port(make_port(AskingDriver(ask), Babbler()), 0.5)
    assert {reading.quality for reading in ran.readings} == {Quality.BAD}
    assert "there is no end to what comes" in ran.readings[0].note
    assert len(ran.readings[0].note) < 400


def test_no_answer_tells_what_to_check() -> None:
    error = NoAnswer("amps", "no answer.", what_to_do="Check the cable.")
    assert isinstance(error, TimeoutError)
    assert str(error) == "amps: no answer. Check the cable."
