"""Before and after find each other."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

from acquire.shelf.pairs import Partners, partners_among
from acquire.shelf.shelf import open_shelf
from tests.shelf.shelves import FIRST_DAY, Told, put

A_DAY = timedelta(days=1)


def pairs_of(folder: Path, *runs: Told) -> set[str]:
    """`before-after` for every pair that is found, seen from both of its ends."""
    for told in runs:
        put(folder, told)
    with open_shelf(folder) as shelf:
        found = shelf.partners(shelf.every())
        ids = {one.run_id[-1]: one.run_id for one in shelf.every()}
    pairs = set()
    for letter, run_id in ids.items():
        partners = found.get(run_id, Partners())
        if partners.before:
            pairs.add(f"{partners.before.run_id[-1]}<{letter}")
        if partners.after:
            pairs.add(f"{letter}>{partners.after.run_id[-1]}")
    return pairs


def told(letter: str, day: int, stage: str | None, **more: object) -> Told:
    defaults: dict[str, object] = {"serial": "SN 1"}
    return Told(letter * 4, FIRST_DAY + day * A_DAY, stage=stage, **{**defaults, **more})  # type: ignore[arg-type]


def test_before_and_after_of_one_serial_are_a_pair(tmp_path: Path) -> None:
    runs = (told("a", 0, "before"), told("b", 3, "After", serial="sn-1"))
    assert pairs_of(tmp_path, *runs) == {"a<b", "a>b"}


def test_a_unit_that_comes_back_makes_a_pair_of_its_own(tmp_path: Path) -> None:
    runs = (told("a", 0, "before"), told("b", 1, "after"), told("c", 700, "incoming"),
            told("d", 701, "after"))  # fmt: skip
    assert pairs_of(tmp_path, *runs) == {"a<b", "a>b", "c<d", "c>d"}


def test_a_second_try_after_belongs_to_the_same_before(tmp_path: Path) -> None:
    runs = (told("a", 0, "before"), told("b", 1, "after", outcome="fail"), told("c", 2, "after"))
    assert pairs_of(tmp_path, *runs) == {"a<b", "a<c", "a>c"}


def test_what_does_not_belong_together_is_no_pair(tmp_path: Path) -> None:
    runs = (
        told("a", 5, "before"),
        told("b", 1, "after"),  # ahead of it
        told("c", 6, "after", serial="SN 2"),
        told("d", 6, "after", simulated=True),
        told("e", 6, "after", state="stopped", outcome="stopped"),
        told("f", 6, "reference"),
        told("g", 7, "after", serial=None),
    )
    assert pairs_of(tmp_path, *runs) == set()


def test_two_different_jobs_are_no_pair_and_one_without_a_number_is(tmp_path: Path) -> None:
    runs = (told("a", 0, "before", job="J-1"), told("b", 1, "before", job="J-2"),
            told("c", 2, "after", job="j1"), told("d", 3, "after"))  # fmt: skip
    assert pairs_of(tmp_path, *runs) == {"a<c", "a>c", "b<d", "b>d"}


def test_without_a_serial_job_and_unit_together_tell_the_unit(tmp_path: Path) -> None:
    runs = (
        told("a", 0, "before", serial=None, job="J-1", unit="14 V, ferry"),
        told("b", 1, "after", serial=None, job="J-1", unit="14V ferry"),
        told("c", 2, "after", serial=None, job="J-1", unit="another"),
        told("d", 3, "after", serial=None, unit="14 V, ferry"),
    )
    assert pairs_of(tmp_path, *runs) == {"a<b", "a>b"}


def test_no_runs_make_no_pairs() -> None:
    assert partners_among([]) == {}
