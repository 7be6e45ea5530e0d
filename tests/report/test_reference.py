"""What a report says of the bench's reference unit: what the run itself kept at its start."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import pytest

from acquire.report.material import material_of
from acquire.report.papers import report_paper, sheet_paper
from acquire.study.reference_watch import watch_of
from tests.report.runs import Order, make_run, settings
from tests.report.shown import shown
from tests.study.made_runs import made_run
from tests.study.reference_shelf import STEADY


def _kept(*last: float, today: date = date(2026, 3, 15)) -> dict[str, Any]:
    runs = [
        made_run(number, {1500.0: 50.0 + 0.5 * off, 6000.0: 90.0 + 0.9 * off})
        for number, off in enumerate([*STEADY, *last], 1)
    ]
    return watch_of(runs, serial="REF-1", today=today, every_days=7.0).to_data()


def _text(tmp_path: Path, reference: dict[str, Any] | None, language: str = "en") -> str:
    run = make_run(tmp_path, Order(reference=reference))
    return shown(report_paper(material_of(run, settings(language=language))))


def test_a_run_on_a_bench_as_before_says_so_and_warns_of_nothing(tmp_path: Path) -> None:
    text = _text(tmp_path, _kept(0.05))
    assert "Reference unit: REF-1: as before" in text
    assert (
        "Bench as its reference unit had it before | gives what it gave | "
        "REF-1: gives what it gave, run 11 of 2026-03-11 | met =" in text
    )
    assert "The bench was in doubt" not in text


@pytest.mark.parametrize(
    ("language", "warning"),
    [
        (
            "en",
            "The bench was in doubt: its reference unit REF-1 last gave 2.1 % below what it gave"
            " (run 11 of 2026-03-11), outside the limits. Test this unit again when the bench has"
            " been looked at.",
        ),
        (
            "de",
            "Der Prüfstand war in Zweifel: Sein Vergleichsgerät REF-1 gab zuletzt 2,1 % weniger"
            " als bisher (Prüflauf 11 vom 11.03.2026), außerhalb der Grenzen.",
        ),
    ],
)
def test_a_run_on_a_bench_out_of_control_warns_under_its_verdict(
    tmp_path: Path, language: str, warning: str
) -> None:
    text = _text(tmp_path, _kept(-2.1), language)
    verdict, _, rest = text.partition("[curve.svg")
    assert warning in verdict
    assert ("| not met !" if language == "en" else "| nicht eingehalten !") in rest


def test_the_sheet_to_be_signed_warns_too(tmp_path: Path) -> None:
    run = make_run(tmp_path, Order(reference=_kept(-2.1)))
    assert "The bench was in doubt" in shown(sheet_paper(material_of(run, settings())))


def test_a_row_on_one_side_and_an_old_run_are_said_in_words(tmp_path: Path) -> None:
    drift = _text(tmp_path / "row", _kept(-0.05, *([0.06] * 8)))
    assert "8 runs in a row on that side" in drift
    old = _text(tmp_path / "old", _kept(0.05, today=date(2026, 4, 1)))
    assert "its last run, of 2026-03-11, was 21 days old (every 7 asked for)" in old
    assert "| met =" in old


@pytest.mark.parametrize("reference", [None, {"problem": "the index cannot be used"}])
def test_a_run_that_kept_nothing_says_nothing(
    tmp_path: Path, reference: dict[str, Any] | None
) -> None:
    assert "eference unit" not in _text(tmp_path, reference)
