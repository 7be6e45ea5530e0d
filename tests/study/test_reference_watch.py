"""The reference unit of a rig, found on the shelf: how many runs count, and what they say."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from acquire.study import reference_runs
from acquire.study.reference_text import reference_document, reference_item, watch_lines
from acquire.study.reference_watch import (
    ReferenceWatch,
    kept_by_a_run,
    reference_watch,
    warned_of,
    watch_of,
)
from tests.study.made_runs import made_run
from tests.study.reference_shelf import STEADY, ReferenceShelf, bench

TODAY = date(2026, 3, 15)


@pytest.fixture
def shelf(tmp_path: Path) -> ReferenceShelf:
    return ReferenceShelf(tmp_path / "shelf")


def watched(shelf: ReferenceShelf, **reference: object) -> ReferenceWatch:
    found = reference_watch(bench(**reference), shelf.folder, today=TODAY)  # type: ignore[arg-type]
    assert found is not None
    return found


def test_a_rig_that_names_no_reference_unit_is_not_watched(shelf: ReferenceShelf) -> None:
    rig = bench().model_copy(update={"reference": None})
    assert reference_watch(rig, shelf.folder) is None
    assert kept_by_a_run(rig, shelf.folder, TODAY) is None


def test_without_runs_it_asks_for_some_and_a_missing_shelf_is_an_empty_one(
    shelf: ReferenceShelf, tmp_path: Path
) -> None:
    for folder in (shelf.folder, tmp_path / "not there"):
        found = reference_watch(bench(), folder, today=TODAY)
        assert found is not None
        assert (found.state, found.runs, found.in_control) == ("no runs", 0, None)
        assert found.words == "Reference unit REF-1: no run on this rig yet"
        assert reference_item(found).state == "look"


def test_two_runs_are_too_few_and_three_make_a_provisional_chart(shelf: ReferenceShelf) -> None:
    shelf.put_all(STEADY[:2])
    few = watched(shelf)
    assert (few.state, few.in_control, few.study) == ("few runs", None, None)
    assert few.words == "Reference unit REF-1: 2 runs so far, 3 make a chart"
    shelf.put()
    three = watched(shelf)
    assert (three.state, three.in_control, three.provisional) == ("in control", True, True)
    assert three.words == (
        "Reference unit REF-1, run 3 of 2026-03-04: gives what it gave, limits provisional"
    )
    assert reference_item(three).state == "good"


def test_a_bench_that_gives_two_percent_less_is_warned_of_in_figures(
    shelf: ReferenceShelf,
) -> None:
    shelf.put_all([*STEADY, 0.05, -0.05, -2.1])
    found = watched(shelf)
    assert (found.state, found.in_control, found.warns) == ("out of control", False, True)
    assert found.change_percent == pytest.approx(-2.1, abs=0.05)
    assert found.words == (
        "Reference unit REF-1, run 13 of 2026-03-14: 2.1 % below what it gave, outside the limits"
    )
    assert "zero the clamp" in found.what_to_do
    item = reference_item(found)
    assert (item.state, item.name) == ("bad", "reference unit REF-1, run 13 of 2026-03-14")
    chart = reference_document(found)["chart"]
    assert chart["in_control"] is False
    assert len(chart["runs"]) == 13


def test_a_slow_drift_is_warned_of_by_its_row(shelf: ReferenceShelf) -> None:
    shelf.put_all([*STEADY, -0.05, *([0.06] * 8)])
    found = watched(shelf)
    assert found.in_a_row == 8
    assert found.words.endswith("0.1 % above what it gave, 8 runs in a row above")


def test_the_limits_stay_those_of_the_first_ten(shelf: ReferenceShelf) -> None:
    shelf.put_all([*STEADY, 3.0, 0.0])
    found = watched(shelf)
    assert found.state == "in control", "an odd run of before has not moved the limits"
    assert found.study is not None
    assert found.study.together.base == 10
    assert found.study.together.high < 1.005


def test_an_old_last_run_is_said_to_be_old_where_the_rig_asks_for_it(
    shelf: ReferenceShelf,
) -> None:
    shelf.put_all(STEADY[:4])
    assert watched(shelf).state == "in control"
    old = watched(shelf, every_days=7.0)
    assert (old.state, old.days_ago, old.in_control, old.warns) == ("old", 10, True, False)
    assert "10 days old (every 7 asked for)" in old.words
    assert reference_item(old).state == "look"
    assert watched(shelf, every_days=10.0).state == "in control"


def test_only_sealed_finished_runs_of_this_unit_on_this_rig_count(shelf: ReferenceShelf) -> None:
    counted = shelf.put(serial="ref 1")  # the same serial, typed otherwise
    shelf.put(serial="REF-10")
    shelf.put(rig="Bench 2")
    shelf.put(simulated=True)
    shelf.put(state="stopped")
    shelf.put(state="running", ended_utc=None)
    shelf.put(seal=False)
    changed = shelf.put()
    text = (changed / "verdict.json").read_text()
    (changed / "verdict.json").write_text(text.replace('"outcome": "pass"', '"outcome": "fail"'))
    resealed = shelf.put()
    seal = (resealed / "seal.json").read_text()
    (resealed / "seal.json").write_text(seal.replace(resealed.name, counted.name))
    (shelf.folder / "notes.txt").write_text("not a run")
    (shelf.folder / "empty").mkdir()
    broken = shelf.put()
    (broken / "run.json").write_text("{")
    found = watched(shelf)
    assert (found.runs, found.last_run) == (1, counted.name)


def test_runs_before_the_day_of_a_change_do_not_count(shelf: ReferenceShelf) -> None:
    shelf.put_all([*STEADY, 2.0, 2.05, 1.95])
    assert watched(shelf).warns
    anew = watched(shelf, since=date(2026, 3, 12))
    assert (anew.runs, anew.state) == (3, "in control")


def test_runs_by_other_methods_or_at_other_speeds_make_charts_of_their_own(
    shelf: ReferenceShelf,
) -> None:
    shelf.put_all(STEADY[:5])
    shelf.put_all([9.0, 9.0], method="Fine sweep")
    shelf.put(5.0, steps=[1500.0, 2000.0])
    found = watched(shelf)
    assert (found.runs, found.method) == (5, "Quick sweep, cold")
    shelf.put(9.1, method="Fine sweep")
    found = watched(shelf)
    assert (found.runs, found.method) == (3, "Fine sweep"), "the one last used, with enough runs"


def test_a_large_shelf_is_asked_through_its_index_and_says_the_same(
    shelf: ReferenceShelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf.put_all(STEADY)
    shelf.put_all([0.0] * 3, serial="SA-1")
    directly = watched(shelf)
    monkeypatch.setattr(reference_runs, "DIRECTLY", 5)
    assert watched(shelf) == directly


def test_where_one_speed_alone_warns_its_own_chart_is_drawn() -> None:
    """Five percent at one of two speeds; at the other as much the other way."""
    flat = [{1500.0: 50.0 + off, 3000.0: 80.0 - off} for off in (*STEADY, 0.0)]
    odd = {1500.0: 47.5, 3000.0: 84.0}
    runs = [made_run(k, readings) for k, readings in enumerate([*flat, odd], 1)]
    watch = watch_of(runs, serial="REF-1", today=TODAY)
    assert watch.warns
    assert watch.at_rpm is not None
    drawn = watch_lines(watch)
    title = drawn.index(f"{watch.at_rpm:.0f} rpm, A")
    newest = odd[watch.at_rpm]
    assert any(line.split()[:1] == [f"{newest:g}"] and "X" in line for line in drawn[title:])


def test_without_a_chart_there_are_no_lines_of_it(shelf: ReferenceShelf) -> None:
    assert watch_lines(watched(shelf)) == []
    shelf.put_all(STEADY[:2])
    assert watch_lines(watched(shelf)) == []


def test_what_a_run_keeps_reads_back_the_same(shelf: ReferenceShelf) -> None:
    shelf.put_all([*STEADY, -2.0])
    found = watched(shelf)
    kept = kept_by_a_run(bench(), shelf.folder, TODAY)
    assert kept == found.to_data()
    again = ReferenceWatch.from_data(kept)
    assert again is not None
    assert again.to_data() == kept
    assert (again.in_control, again.study) == (False, None)
    assert ReferenceWatch.from_data({"problem": "no index"}) is None
    for wrong in ({"state": "of a later program"}, {"runs": "many"}, {"runs": None}, {"side": 1}):
        assert ReferenceWatch.from_data({**kept, **wrong}) is None


def test_a_run_is_not_kept_from_beginning_by_a_broken_index(
    shelf: ReferenceShelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise OSError("disk gone")

    monkeypatch.setattr(reference_runs, "_found", broken)
    assert kept_by_a_run(bench(), shelf.folder, TODAY) == {"problem": "disk gone"}


def test_the_operator_is_told_what_a_run_keeps_only_where_it_concerns_him(tmp_path: Path) -> None:
    shelf = ReferenceShelf(tmp_path / "shelf")
    shelf.put_all(STEADY)
    day = date(2026, 3, 12)
    assert warned_of(kept_by_a_run(bench(), shelf.folder, day) or {}) == ""
    old = warned_of(kept_by_a_run(bench(every_days=30), shelf.folder, date(2026, 6, 1)) or {})
    assert "days old" in old
    assert old.endswith("Run the reference unit again.")
    shelf.put(-8.0)
    told = warned_of(kept_by_a_run(bench(), shelf.folder, day) or {})
    assert "8.0 % below what it gave" in told
    assert warned_of({"problem": "disk gone"}).endswith("is not known: disk gone")
    assert warned_of({}) == ""
