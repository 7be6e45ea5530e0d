from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from acquire.findings.case import Case
from acquire.findings.curve_causes import _TEXTS, _Text
from acquire.findings.find import advice, find
from acquire.findings.finding import Finding
from acquire.findings.seen import ChannelSeen, Seen, Warming
from acquire.judge.checks import CheckResult
from acquire.judge.speed_result import SpeedResult
from acquire.judge.verdict import Verdict
from acquire.judge.verdict_words import LOOK_AT_FINDINGS, RUN_WARM
from acquire.judging import advised
from acquire.rejudging import judge_csv
from profiles.catalogue import load_rated, load_rig
from tests.findings.cases import SMALL, case, rating

SOUND = {1500.0: 45.0, 2000.0: 63.0, 3000.0: 79.0, 6000.0: 90.0}
OPEN = {1500.0: 28.0, 2000.0: 45.0, 3000.0: 66.0, 6000.0: 89.0}
HINT = "open diode not ruled out"

# Published output tables: speed -> amps.
WESTERBEKE_HOT = ((1300.0, 16.0), (2500.0, 41.0), (5000.0, 48.0))
WESTERBEKE_COLD = {1300.0: 24.0, 2500.0: 50.0}
"""Westerbeke 33A technical manual, p. 83: the same unit hot and cold, 13.5 V."""
MERCURY = ((1000.0, 37.0), (1500.0, 44.0), (2000.0, 48.0), (3000.0, 51.0), (4000.0, 52.0))
"""Mercury 150 EFI service manual 90-883728, p. 2B-17 (engine speed; about a ratio of 2)."""
SARAFIANOS = ((2000.0, 120.0), (4000.0, 170.0), (6000.0, 180.0))
"""Sarafianos et al. 2015, 13.5 V, 25 °C."""


def names(of: Case) -> list[str]:
    return [finding.name for finding in find(of)]


def the(of: Case, name: str) -> Finding:
    return next(finding for finding in find(of) if finding.name == name)


def accused(of: Case) -> list[str]:
    return [finding.name for finding in find(of) if finding.accuses]


@pytest.mark.parametrize("share", [0.95, 1.0, 1.08])
@pytest.mark.parametrize("table", [WESTERBEKE_HOT, MERCURY, SARAFIANOS])
def test_a_unit_that_gives_what_is_published_is_not_accused(
    table: tuple[tuple[float, float], ...], share: float
) -> None:
    points = tuple((rpm * (2 if table is MERCURY else 1), amps) for rpm, amps in table)
    unit = {rpm: share * amps for rpm, amps in points}
    assert accused(case(unit, rated=rating(points))) == []


def test_a_unit_read_cold_against_its_hot_rating_is_not_accused() -> None:
    cold = case(WESTERBEKE_COLD, rated=rating(WESTERBEKE_HOT), state="cold")
    assert accused(cold) == []


def test_low_at_low_speed_and_healthy_at_the_top_is_an_open_diode() -> None:
    found = the(case(OPEN), "open diode")
    assert "28.0 A" in found.evidence[0]
    assert "89.0 A" in found.evidence[0]
    assert found.probability is not None
    assert found.probability > 0.9
    assert advice([found], outcome="fail") == "An open diode does this: check the ripple."
    assert advice([found], outcome="undecided") == ""


def test_rated_amps_at_6000_rpm_alone_say_that_an_open_diode_is_not_ruled_out() -> None:
    hint = the(case({6000.0: 90.0}), HINT)
    assert not hint.accuses
    assert "6000 rpm only, without ripple" in hint.evidence[0]
    assert "low speed" in hint.what_would_settle
    assert names(case(SOUND)) == []


PLATE = ((1500.0, 45.0), (6000.0, 90.0))
AT_LOW = {1500.0: 44.1, 1800.0: 55.0, 3000.0: 74.8, 6000.0: 88.2}


def test_no_low_speed_is_asked_for_where_one_was_measured() -> None:
    """Two rated points say too little of the curve between to rule an open diode out."""
    hint = the(case(AT_LOW, rated=rating(PLATE)), HINT)
    assert hint.evidence[0].startswith("At 1500 rpm it gives 98 % of what a sound unit")
    assert "so few rated points" in hint.evidence[0]
    assert "low speed" not in f"{hint.what_would_settle} {hint.rests_on}"
    assert hint.what_would_settle.startswith("Measure AC volts from B+")
    assert names(case(AT_LOW)) == []


def test_before_a_warm_run_an_uneven_phase_is_looked_for() -> None:
    found = _with_an_uneven_phase()
    assert found[0].sure in ("certain", "likely")
    asked = _undecided(RUN_WARM, found)
    assert asked == (
        "Before it runs warm look for the uneven phase: measure between the three stator leads."
    )


def test_other_advice_of_an_undecided_verdict_stays() -> None:
    found = _with_an_uneven_phase()
    for words in ("Zero the clamp at standstill and read again.", "Measure it and judge again."):
        assert _undecided(words, found) == words
    assert _undecided(RUN_WARM, find(case(SOUND))) == RUN_WARM
    unsure = [replace(one, sure="possible") for one in found]
    assert _undecided(RUN_WARM, unsure) == RUN_WARM


def _with_an_uneven_phase() -> list[Finding]:
    seen = Seen(ripple_lines={n: {1: 0.1, 2: 3.6, 3: 0.1, 6: 5.7} for n in (1, 2, 3, 4)})
    return find(case(SOUND, seen=seen))


def _undecided(what_next: str, found: list[Finding]) -> str:
    verdict = Verdict("undecided", "Undecided.", what_next)
    return advised(verdict, found).what_next


@pytest.mark.parametrize("cause", _TEXTS.values(), ids=lambda cause: cause.name)
def test_a_fault_that_forbids_a_long_run_says_what_comes_before_it(cause: _Text) -> None:
    assert bool(cause.before_warm) == ("do not run it" in cause.caution.lower())


def test_the_ripple_settles_it_at_6000_rpm() -> None:
    quiet = case({6000.0: 90.0}, channels=[{"ripple_volts": 0.03}])
    rough = case({6000.0: 90.0}, channels=[{"ripple_volts": 0.42}])
    assert names(quiet) == []
    assert names(rough) == ["open diode"]
    assert "0.420 V AC" in " ".join(find(rough)[0].evidence)


def test_a_check_of_the_ripple_counts_as_evidence() -> None:
    def with_check(volts: float) -> Case:
        check = CheckResult("ripple", "number", "fail", volts, "V")
        return case({6000.0: 90.0}, checks=(check,))

    assert names(with_check(0.02)) == []
    assert names(with_check(0.30)) == ["open diode"]


def test_the_rotor_resistance_tells_shorted_turns_from_a_weak_field() -> None:
    low = {1500.0: 21.0, 2000.0: 44.0, 3000.0: 63.8, 6000.0: 76.0}

    def with_check(ohm: float) -> list[str]:
        check = CheckResult("rotor resistance", "number", "noted", ohm, "ohm")
        return accused(case(low, checks=(check,)))

    assert with_check(1.8)[0] == "shorted turns"
    assert with_check(4.8)[0] == "weak field"
    assert set(accused(case(low))) == {"shorted turns", "weak field"}


def test_half_of_the_current_everywhere_is_an_open_phase() -> None:
    half = {1500.0: 13.0, 2000.0: 26.0, 3000.0: 41.0, 6000.0: 49.0}
    assert accused(case(half))[0] == "open phase"


def test_the_lines_of_a_burst_show_an_uneven_phase() -> None:
    seen = Seen(ripple_lines={n: {1: 0.1, 2: 3.6, 3: 0.1, 6: 5.7} for n in (1, 2, 3, 4)})
    found = the(case(SOUND, seen=seen), "uneven phase")
    assert any("1 : 53 : 85" in sentence for sentence in found.evidence)


def test_nothing_at_any_speed_asks_whether_it_was_excited() -> None:
    nothing = dict.fromkeys(SOUND, 0.0)
    seen = Seen(rest_volts=12.7)
    found = find(case(nothing, volts=12.7, seen=seen))[0]
    assert found.words == "No output at any speed: not excited, or dead?"
    assert "lamp" in found.what_would_settle
    unfed = case(nothing, volts=12.7, channels=[{"field_amps": 0.0}] * 4)
    fed = case(nothing, volts=12.5, channels=[{"field_amps": 4.1}] * 4)
    assert names(unfed)[0] == "not excited"
    assert names(fed)[0] == "dead"


def test_a_bus_held_below_the_test_voltage_is_the_regulators_doing() -> None:
    rig = load_rig("simulated").profile
    few = dict.fromkeys(SOUND, 1.2)
    held = case(few, volts=12.93, seen=Seen(rest_volts=12.7), rig=rig)
    assert names(held) == ["regulator low or regulating"]
    assert "12.93 V" in find(held)[0].words


def test_hardly_a_current_on_a_bus_fed_up_to_the_test_voltage_is_the_ammeters_doing() -> None:
    rig, rest = load_rig("simulated").profile, Seen(rest_volts=12.7)
    kiloamps = {rpm: amps / 1000.0 for rpm, amps in SOUND.items()}
    found = the(case(kiloamps, volts=13.5, seen=rest, rig=rig), "current hardly read")
    assert (found.sure, found.about) == ("likely", "readings")
    assert "A thousand times these currents" in found.evidence[-1]
    assert "`scale`" in found.advice
    by_hand = case(dict.fromkeys(SOUND, 0.3), volts=13.5, seen=rest)
    assert the(by_hand, "current hardly read").sure == "possible"
    excited = case(kiloamps, volts=13.5, seen=rest, channels=[{"field_amps": 4.1}] * 4)
    assert "it is excited" in " ".join(the(excited, "current hardly read").evidence)


@pytest.mark.parametrize("volts", [12.7, 12.93, 13.4])
def test_hardly_a_current_below_the_test_voltage_is_not_the_ammeters_doing(volts: float) -> None:
    rig, rest = load_rig("simulated").profile, Seen(rest_volts=12.7)
    few = dict.fromkeys(SOUND, 0.3)
    assert "current hardly read" not in names(case(few, volts=volts, seen=rest, rig=rig))
    shut = [{"field_volts": 2.0, "field_amps": 0.5}] * 4
    held = case(few, volts=13.5, seen=rest, rig=rig, channels=shut)
    assert names(held) == ["regulator low or regulating"]


def test_who_fails_is_sent_to_the_findings_only_where_there_are_any() -> None:
    verdict = Verdict(
        "fail", "Fails.", LOOK_AT_FINDINGS, points=(SpeedResult(1.0, outcome="fail"),)
    )
    told = advised(verdict, []).what_next
    assert told.startswith("These readings do not show the cause: check the ammeter")
    hint = the(case({6000.0: 90.0}), HINT)
    assert advised(verdict, [hint]).what_next == LOOK_AT_FINDINGS


def test_a_load_by_hand_that_is_too_heavy_is_not_the_regulators_doing() -> None:
    heavy = case({6000.0: 88.0}, volts=13.0, seen=Seen(rest_volts=12.7))
    assert "regulator low or regulating" not in names(heavy)


def brushed(*, field_unsteady: bool | None) -> Case:
    amps = ChannelSeen(60.0, 6.0, unsteady=True)
    channels: dict[str, float | ChannelSeen] = {"amps": amps, "shaft_rpm": 1500.0}
    if field_unsteady is not None:
        channels["field_amps"] = ChannelSeen(3.5, 0.1, unsteady=field_unsteady)
    made = case(SOUND, channels=[channels] * 4)
    for point in made.points:
        object.__setattr__(point, "u_amps", 5.0)
    return made


def test_bursts_of_low_current_are_a_brush_or_a_loose_joint_by_the_field() -> None:
    assert the(brushed(field_unsteady=None), "worn brush").sure == "likely"
    assert "drops out with it" in the(brushed(field_unsteady=True), "worn brush").evidence[2]
    loose = the(brushed(field_unsteady=False), "worn brush")
    assert loose.sure == "possible"
    assert "loose joint" in loose.words


def test_slip_that_comes_and_goes_is_the_belt_and_constant_slip_the_pulley() -> None:
    rig = load_rig("simulated").profile
    speeds = list(SOUND)

    def with_slip(*shares: float) -> Case:
        drive = [
            {"drive_rpm": rpm / rig.ratio / (1 - s)} for rpm, s in zip(speeds, shares, strict=True)
        ]
        return case(SOUND, channels=drive, rig=rig)

    assert names(with_slip(0.01, 0.012, 0.009, 0.004)) == []
    belt = the(with_slip(0.09, 0.14, 0.05, 0.01), "belt slip")
    assert "14.0 % behind at 2000 rpm" in belt.evidence[0]
    assert belt.about == "rig"
    ratio = the(with_slip(0.06, 0.062, 0.06, 0.058), "wrong pulley ratio or pole count")
    assert "1.692" in ratio.evidence[0]
    assert (
        "faster"
        in the(with_slip(-0.05, -0.05, -0.05, -0.05), "wrong pulley ratio or pole count").evidence[
            0
        ]
    )


def test_without_a_read_back_the_told_speed_shows_slip_less_surely() -> None:
    told = [1500 / 0.9, 2000 / 0.86, 3000 / 0.95, 6000 / 0.99]
    assert the(case(SOUND, told_rpm=told), "belt slip").sure == "possible"


def test_a_run_the_guard_stopped_for_slip_names_the_belt() -> None:
    seen = Seen(trip={"kind": "slip", "value": 14.2})
    assert "14.2 %" in the(case({1500.0: 45.0}, seen=seen), "belt slip").evidence[0]


def test_frequency_over_speed_gives_the_number_of_pole_pairs() -> None:
    w_hz = [{"w_hz": rpm * 8 / 60} for rpm in SOUND]
    found = the(case(SOUND, channels=w_hz), "wrong pulley ratio or pole count")
    assert "8.00 pole pairs" in found.evidence[0]
    assert names(case(SOUND, channels=[{"w_hz": rpm / 10} for rpm in SOUND])) == []


def test_speed_read_from_w_with_the_wrong_poles_shifts_the_whole_curve() -> None:
    shifted = {rpm * 8 / 6: amps for rpm, amps in SOUND.items()}
    found = accused(case(shifted, speed_source="w_hz"))
    assert set(found) == {"wrong pulley ratio or pole count", "open diode"}  # alike without ripple
    quiet = [{"ripple_volts": 0.0003 * amps} for amps in SOUND.values()]
    settled = accused(case(shifted, speed_source="w_hz", channels=quiet))
    assert settled == ["wrong pulley ratio or pole count"]


def test_the_drop_in_the_cable_is_judged_by_the_published_limits() -> None:
    def dropping(ohm: float) -> Case:
        return case(SOUND, channels=[{"battery_volts": 13.5 - ohm * a} for a in SOUND.values()])

    assert names(dropping(0.004)) == []  # 0.36 V at 90 A: SAE J56-1999 allows 0.5 V
    found = the(dropping(0.007), "cable drop")
    assert "0.63 V" in found.evidence[0]
    assert "7.0 mohm" in found.evidence[0]


def test_a_clamp_within_its_data_sheet_is_left_in_peace() -> None:
    rig = load_rig("simulated").profile
    assert names(case(SOUND, seen=Seen(zero_amps=0.2), rig=rig)) == []
    found = the(case(SOUND, seen=Seen(zero_amps=-2.5), rig=rig), "clamp zero off")
    assert "-2.50 A" in found.evidence[0]
    assert found.about == "readings"
    assert found.advice == ""


def test_heat_may_take_what_copper_explains_and_no_more() -> None:
    copper = Seen(warming=Warming(90.0, 90.0 * 0.92, 1800.0))
    joint = Seen(warming=Warming(90.0, 63.0, 1800.0))
    assert "hot fade" not in names(case(SOUND, seen=copper))
    assert "90.0 to 63.0 A" in the(case(SOUND, seen=joint), "hot fade").evidence[0]


def test_without_a_rating_the_late_bend_or_the_ripple_still_speaks() -> None:
    late = {1200.0: 9.7, 1500.0: 26.4, 2100.0: 51.0, 3000.0: 68.4, 4000.0: 78.5, 6000.0: 88.8}
    assert the(case(late, no_rating=True), "open diode").sure == "possible"
    rough = case({6000.0: 90.0, 5000.0: 87.0}, no_rating=True, channels=[{"ripple_volts": 0.4}] * 2)
    assert names(rough) == ["open diode or phase"]
    assert names(case(SOUND, no_rating=True)) == []


def test_points_from_elsewhere_are_looked_at_too(tmp_path: Path) -> None:
    rows = "\n".join(f"{rpm:.0f},{amps}" for rpm, amps in OPEN.items())
    file = tmp_path / "points.csv"
    file.write_text(f"shaft_rpm,amps\n{rows}\n", encoding="utf-8")
    judgement, _ = judge_csv(file, load_rated(SMALL).profile, None)
    assert judgement.document["findings"][0]["name"] == "open diode"
    assert judgement.verdict.reason.endswith("An open diode does this: check the ripple.")


def test_a_unit_that_was_loaded_too_lightly_is_accused_of_nothing() -> None:
    """A small bank: the unit regulates at 14.37 V and gives what the bank and the battery take."""
    light = case({2000.0: 52.0, 3000.0: 52.0, 6000.0: 51.9}, volts=14.37)
    assert accused(light) == []
    assert accused(case({2000.0: 52.0, 3000.0: 52.0, 6000.0: 51.9}, volts=13.5))


def test_of_a_frozen_meter_nothing_but_the_meter_is_said() -> None:
    (found,) = find(
        case(dict.fromkeys(SOUND, 0.0), seen=Seen(current_not_seen="0.00 A throughout"))
    )
    assert (found.name, found.about) == ("current not measured", "readings")
    assert found.advice


def test_a_shaft_faster_than_its_drive_is_no_slipping_belt() -> None:
    seen = Seen(trip={"kind": "slip", "value": -78.5})
    found = the(case({1500.0: 45.0}, seen=seen), "wrong pulley ratio or pole count")
    assert "no belt does that" in found.words
    assert "Tighten" not in found.what_would_settle
    assert "belt slip" not in names(case({1500.0: 45.0}, seen=seen))
