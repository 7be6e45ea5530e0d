"""Units on an engine: amps where it runs, ratio needed, warnings, ranking, hours of charging."""

from __future__ import annotations

import json
from typing import Any

import pytest

from acquire.curve.fit import CurvePoint, fit_curve
from acquire.match.candidate import Candidate, RatedLine
from acquire.match.charge import charge_time
from acquire.match.matching import Bank, EngineSpeeds, Match, match
from acquire.match.pulley import BeltDrive
from profiles.errors import BenchError

ENGINE = EngineSpeeds(idle_rpm=700, cruise_rpm=(1600, 2200), top_rpm=3600)
DRIVE = BeltDrive(2.5, slip_percent=0.0)
RATED = RatedLine(((1500, 45.0), (2000, 60.0), (3000, 77.0), (6000, 90.0)))


def unit(title: str = "A", *points: tuple[float, float], **more: Any) -> Candidate:
    return Candidate(title, RatedLine(points) if points else RATED, **more)


def on_engine(*units: Candidate, need_amps: float | None = None) -> Match:
    return match(units, drive=DRIVE, engine=ENGINE, need_amps=need_amps)


def test_a_range_of_cruising_speeds_gives_both_ends_and_the_middle() -> None:
    found = on_engine(unit()).candidates[0]
    assert [speed.engine_rpm for speed in found.cruise] == [1600, 1900, 2200]
    assert [speed.given.shaft_rpm for speed in found.cruise] == [4000, 4750, 5500]
    assert found.cruise[0].given.amps == pytest.approx(77 + 13 / 3)
    assert found.idle.given.shaft_rpm == 1750
    assert found.idle.given.amps == pytest.approx(52.5)
    assert found.top.given.amps == 90


def test_one_cruising_speed_is_given_once() -> None:
    engine = EngineSpeeds(idle_rpm=700, cruise_rpm=(1600, 1600), top_rpm=3600)
    found = match([unit()], drive=DRIVE, engine=engine)
    assert len(found.candidates[0].cruise) == 1


def test_the_unit_that_gives_more_where_the_engine_runs_comes_first() -> None:
    strong_at_the_top = unit("top", (1500, 20), (5000, 60), (9000, 130), max_shaft_rpm=15000)
    strong_below = unit("below", (1500, 50), (4000, 80), (9000, 95), max_shaft_rpm=15000)
    too_slow = unit("overspeeds", (1500, 90), (4000, 140), (6000, 150), max_shaft_rpm=8000)
    found = on_engine(strong_at_the_top, too_slow, strong_below)
    assert found.ranking == ("below", "top", "overspeeds")
    assert any("Too fast" in words for words in found.candidates[1].warnings)


def test_equal_when_cruising_the_one_better_at_idle_comes_first() -> None:
    same = ((4000, 80), (9000, 95))
    found = on_engine(unit("slow", (1500, 30), *same), unit("quick", (1500, 50), *same))
    assert found.ranking == ("quick", "slow")


def test_full_output_at_4000_on_an_engine_cruising_at_1000_needs_at_least_four_to_one() -> None:
    # Common practice, no source.
    engine = EngineSpeeds(idle_rpm=600, cruise_rpm=(1000, 1000), top_rpm=1800)
    candidate = unit("A", (1500, 40), (4000, 100), max_shaft_rpm=10_000)
    found = match([candidate], drive=BeltDrive(2.0), engine=engine, need_amps=100)
    needed = found.candidates[0].needed_ratio
    assert needed is not None
    assert 4.0 <= needed <= 4.1


def test_the_needed_ratio_gives_the_amps_and_no_smaller_one_does() -> None:
    curve = fit_curve([CurvePoint(rpm, amps, 0.3) for rpm, amps in RATED.points])
    found = match([Candidate("A", curve, 15_000)], drive=DRIVE, engine=ENGINE, need_amps=70)
    needed = found.candidates[0].needed_ratio
    assert needed is not None
    assert curve.at([needed * 1600])[0].amps == pytest.approx(70, abs=0.01)
    assert curve.at([0.99 * needed * 1600])[0].amps < 70


def test_no_ratio_is_given_where_none_will_do() -> None:
    assert on_engine(unit()).candidates[0].needed_ratio is None
    beyond = on_engine(unit(), need_amps=95).candidates[0]
    assert beyond.needed_ratio is None
    assert any("more than this unit gives" in words for words in beyond.warnings)
    too_fast = on_engine(unit(max_shaft_rpm=8000), need_amps=85).candidates[0]
    assert too_fast.needed_ratio is None
    assert any("more than the unit bears" in words for words in too_fast.warnings)


def test_an_unstated_ceiling_is_not_assumed() -> None:
    assert any("not stated" in words for words in on_engine(unit()).candidates[0].warnings)
    bears = on_engine(unit(max_shaft_rpm=15_000)).candidates[0]
    assert not any("not stated" in words for words in bears.warnings)


def test_a_measured_curve_brings_its_band() -> None:
    curve = fit_curve([CurvePoint(rpm, amps, 0.5) for rpm, amps in RATED.points])
    found = match([Candidate("A", curve, 15_000)], drive=DRIVE, engine=ENGINE).candidates[0]
    assert found.cruise[1].given.low < found.cruise[1].given.amps < found.cruise[1].given.high


def test_below_the_first_rated_speed_the_current_falls_and_the_band_reaches_down() -> None:
    lower, at = RATED.at([1300, 1500])
    assert lower.extrapolated
    assert lower.low == 0
    assert 25 < lower.amps < 45
    assert lower.high == 45
    assert not at.extrapolated
    assert RATED.at([9000])[0].extrapolated
    speed = RATED.speed_for(lower.amps)
    assert speed == pytest.approx(1300, abs=1)
    assert RATED.speed_for(90.0) == 6000
    single = RatedLine(((6000, 90.0),))
    assert single.at([3000])[0].amps == 0
    assert single.at([3000])[0].high == 90


def test_the_document_has_the_agreed_keys() -> None:
    bank = Bank(bank_ah=200, used_ah=80)
    found = match([unit("A", volts=14.0)], drive=DRIVE, engine=ENGINE, need_amps=50, bank=bank)
    document = json.loads(json.dumps(found.as_json(), allow_nan=False))
    assert document["ratio"] == 2.5
    assert document["ranking"] == ["A"]
    candidate = document["candidates"][0]
    assert {"title", "idle", "cruise", "top", "needed_ratio", "warnings"} <= set(candidate)
    assert set(candidate["idle"]) == {"engine_rpm", "shaft_rpm", "amps", "low", "high"}
    assert candidate["charge"]["hours"] > 0
    assert any("kW at the shaft" in words for words in candidate["warnings"])


def test_speeds_that_do_not_rise_are_refused() -> None:
    with pytest.raises(BenchError, match="rise from idle"):
        EngineSpeeds(idle_rpm=700, cruise_rpm=(2200, 1600), top_rpm=3600)
    with pytest.raises(BenchError):
        EngineSpeeds(idle_rpm=0, cruise_rpm=(1600, 1600), top_rpm=3600)
    with pytest.raises(BenchError):
        RatedLine(((1500, 45.0), (1500, 60.0)))


def hours(amps: float, *, bank_ah: float = 200, used_ah: float = 80) -> float:
    found = charge_time(
        bank_ah=bank_ah, used_ah=used_ah, amps=amps, low_amps=amps, high_amps=amps
    ).hours
    assert found is not None
    return found


def test_charging_agrees_with_adding_it_up_minute_by_minute() -> None:
    for amps in (10.0, 25.0, 40.0, 90.0):
        missing, spent = 80.0, 0.0
        while missing > 0.02 * 200:
            accepted = min(amps, 0.2 * 200, 0.2 * 200 * missing / (0.2 * 200))
            missing -= accepted / 600
            spent += 1 / 600
        assert hours(amps) == pytest.approx(1.15 * spent, rel=0.01)


def test_a_bigger_alternator_does_not_hurry_a_full_battery() -> None:
    assert hours(90) == hours(400)
    assert hours(20) > hours(90)
    assert hours(90, used_ah=4) == pytest.approx(0.0, abs=0.12)


def test_no_current_and_impossible_ampere_hours_are_told() -> None:
    nothing = charge_time(bank_ah=200, used_ah=80, amps=0, low_amps=0, high_amps=20)
    assert nothing.hours is None
    assert nothing.low_hours is not None
    with pytest.raises(BenchError, match="cannot be"):
        charge_time(bank_ah=100, used_ah=120, amps=50, low_amps=45, high_amps=55)


def test_candidates_of_one_title_are_told_apart_and_each_keeps_its_own_figures() -> None:
    weak = Candidate("7741", RatedLine(((1500, 0.9), (6000, 30.0))), origin="before 2026-11-20")
    strong = Candidate("7741", RATED, origin="after 2026-11-24")
    found = on_engine(weak, strong, unit("other", (1500, 40.0), (6000, 80.0)))
    before, after, other = found.candidates
    assert (before.title, after.title) == ("7741 (before 2026-11-20)", "7741 (after 2026-11-24)")
    assert other.title == "other"
    assert found.ranking == (after.title, "other", before.title)
    assert before.cruise[0].given.amps < after.cruise[0].given.amps


def test_where_nothing_else_tells_them_apart_they_are_numbered() -> None:
    found = on_engine(unit("p"), unit("p"), unit("q"))
    assert [one.title for one in found.candidates] == ["p (1)", "p (2)", "q"]
