"""The same unit tested twice on one day at the same stage is told, and keeps nobody."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest

from acquire.cli import plain_run
from acquire.cli.main import run
from acquire.errors import OrderError
from acquire.screens.choices import Choices
from acquire.screens.memory import Memory
from acquire.shelf.same_day import told_by_shelf
from acquire.shelf.shelf import open_shelf
from tests.shelf.shelves import FIRST_DAY, Told, put, run_id_of

LATER = FIRST_DAY + timedelta(hours=3)


def asked(shelf: Path, *, stage: str | None, now: datetime = LATER, serial: str = "A-17") -> str:
    return told_by_shelf(shelf, serial, stage=stage, simulated=False, now=now)


@pytest.mark.parametrize("stage", ["after", None])
def test_a_second_test_on_one_day_is_told_with_time_outcome_and_folder(
    tmp_path: Path, stage: str | None
) -> None:
    told = Told("aaaa", serial="A-17", stage=stage)
    put(tmp_path, told)
    said = asked(tmp_path, stage=stage, serial="a 17")
    as_stage = " as after" if stage else ""
    assert said.startswith(f"A-17 was tested today already{as_stage}, at 08:00 (pass): ")
    assert run_id_of(told) in said
    assert ("A stage (before, after) tells them apart." in said) == (stage is None)


@pytest.mark.parametrize(
    ("stage", "now"),
    [
        ("before", LATER),
        (None, LATER),
        ("after", FIRST_DAY + timedelta(days=1)),
        ("after", (FIRST_DAY + timedelta(hours=17)).astimezone(timezone(timedelta(hours=9)))),
    ],
    ids=["other stage", "no stage", "next day", "next day where the bench stands"],
)
def test_another_stage_or_another_day_is_not_told(
    tmp_path: Path, stage: str | None, now: datetime
) -> None:
    put(tmp_path, Told("aaaa", serial="A-17", stage="after"))
    assert asked(tmp_path, stage=stage, now=now) == ""


def test_a_reference_unit_runs_as_often_as_one_likes(tmp_path: Path) -> None:
    put(tmp_path, Told("aaaa", serial="A-17", stage="reference"))
    assert asked(tmp_path, stage="reference") == ""


def test_a_shelf_that_is_not_there_yet_tells_nothing(tmp_path: Path) -> None:
    assert asked(tmp_path / "none", stage="after") == ""


def test_the_plain_sweep_tells_it_before_anything_turns(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def nobody(_run: plain_run.PlainRun) -> dict[str, object]:
        raise OrderError("Nobody confirms.")

    monkeypatch.setattr(plain_run.PlainRun, "_cautions", nobody)
    now = datetime.now(UTC)
    put(tmp_path, Told("aaaa", now, serial="A-17", stage="after", simulated=True))
    sweep = ["sweep", "--rig", "simulated", "--rated", "small-frame-14v-90a", "--serial", "A-17"]
    assert run(["--shelf", str(tmp_path), *sweep, "--stage", "after"]) == 2
    assert "A-17 was tested today already as after" in capsys.readouterr().err
    assert run(["--shelf", str(tmp_path), *sweep, "--stage", "before"]) == 2
    assert "already" not in capsys.readouterr().err


def test_the_ready_page_tells_it(tmp_path: Path) -> None:
    now = datetime.now(UTC)
    put(tmp_path, Told("aaaa", now, serial="A-17", stage="after"))
    choices = Choices()
    choices.serial, choices.stage = "A-17", "after"
    memory = Memory(tmp_path, lambda: choices)
    with open_shelf(tmp_path) as shelf:
        memory.earlier = shelf.last_of("A-17", simulated=False)
    assert memory.earlier_words.startswith("A-17 was tested today already as after")
    choices.stage = "before"
    assert memory.earlier_words.startswith("Earlier run of A-17: ")
