"""Names of faults as people type them, and what they do to readings without wires."""

from __future__ import annotations

import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.readings import Quality
from drivers.simulated.faults import (
    RIG_FAULTS,
    UNIT_FAULTS,
    WIRE_FAULTS,
    TimedFault,
    fault_names,
    read_faults,
)
from drivers.simulated.rig_model import RigModel
from profiles.errors import ProfileError
from tests.in_process_rig import InProcessRig


@pytest.mark.parametrize(
    "text", ["open-diode@20", "open diode@20", "Open_Diode @ 20", " open-diode@2e1"]
)
def test_spaces_hyphens_and_capitals_do_not_matter(text: str) -> None:
    assert read_faults(text) == (TimedFault("open-diode", 20.0),)


def test_several_faults_are_parted_by_commas_and_none_is_none() -> None:
    assert read_faults(None) == read_faults("") == ()
    assert read_faults("worn-brush, frozen-value-case-c@7") == (
        TimedFault("worn-brush", 0.0),
        TimedFault("frozen-value", 7.0, "case_c"),
    )


def test_a_fault_of_a_wire_may_name_its_channel_and_has_one_of_its_own() -> None:
    assert read_faults("late-answers")[0].channel == "volts"
    assert read_faults("late-answer-shaft-rpm")[0] == TimedFault("late-answer", 0.0, "shaft_rpm")
    assert read_faults("sensor-unplugged-drive-rpm")[0].channel == "drive_rpm"


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("open-diode@2,5", "with a point, as in NAME@2.5"),
        ("open-doide", "Did you mean 'open-diode'"),
        ("qqq", "Known: "),
        ("open-diode@soon", "'soon' is not a number of seconds"),
        ("open-diode@-1", "not a number of seconds"),
        ("open-diode@nan", "not a number of seconds"),
        ("frozen-value-of-nothing", "no simulated fault"),
    ],
)
def test_what_is_not_a_fault_is_refused_and_says_what_is(text: str, what: str) -> None:
    with pytest.raises(ProfileError, match=what):
        read_faults(text)


@given(st.text(max_size=40))
def test_any_text_is_faults_or_one_clear_error(text: str) -> None:
    with contextlib.suppress(ProfileError):
        faults = read_faults(text)
        assert all(one.name in fault_names() and one.at_s >= 0.0 for one in faults)


@pytest.mark.parametrize("name", sorted(UNIT_FAULTS | RIG_FAULTS))
def test_every_fault_of_unit_and_rig_changes_something_on_the_rig(name: str) -> None:
    def after(fault: str | None) -> list[float]:
        rig = RigModel(fault=fault)
        rig.load_hold(13.5)
        rig.load_switch(on=True)
        rig.set_motor_rpm(2000.0 / rig.ratio)
        rig.set_run(on=True)
        rig.advance(8.0)
        rig.set_run(on=False)
        rig.advance(12.0)
        channels = ("amps", "shaft_rpm", "volts", "field_amps", "battery_volts")
        return [round(rig.truth(channel), 3) for channel in channels] + [rig.sense("amps")]

    assert after(name) != after(None)


@pytest.mark.parametrize("name", sorted(WIRE_FAULTS))
def test_every_fault_of_a_wire_is_kept_for_the_wire_of_its_channel(name: str) -> None:
    rig = RigModel(fault=f"{name}-volts@2")
    assert rig.wire_faults == {}
    rig.advance(2.1)
    assert rig.wire_faults == {"volts": name}


@pytest.mark.parametrize(
    ("fault", "quality"),
    [
        ("sensor-unplugged-amps@1", Quality.LINK_LOST),
        ("garbage-amps@1", Quality.BAD),
        ("late-answers-amps@1", Quality.TIMEOUT),
    ],
)
def test_without_wires_a_bad_wire_gives_readings_that_are_not_ok(
    fault: str, quality: Quality
) -> None:
    rig = InProcessRig(fault=fault)
    readings = rig.advance(3.0)
    amps = [one for one in readings if one.channel == "amps"]
    assert [one.quality for one in amps if one.t_s < 0.95] == [Quality.OK] * 9
    bad = [one for one in amps if one.t_s > 1.05]
    assert bad
    assert all(one.quality is quality and one.value is None and one.note for one in bad)
    assert all(one.usable for one in readings if one.channel != "amps")


def test_one_late_answer_is_one_bad_reading() -> None:
    readings = InProcessRig(fault="late-answer-volts@1").advance(3.0)
    bad = [one for one in readings if not one.usable]
    assert [one.channel for one in bad] == ["volts"]


def test_readings_come_in_order_at_the_rate_asked_for() -> None:
    rig = InProcessRig(every_s={"amps": 0.05, "torque_nm": 0.5})
    readings = [one for _ in range(20) for one in rig.advance(0.1)]
    times = [one.t_s for one in readings]
    assert times == sorted(times)
    assert sum(one.channel == "amps" for one in readings) == 40
    assert sum(one.channel == "torque_nm" for one in readings) == 4
    assert rig.clock.monotonic_s() == pytest.approx(2.0)
