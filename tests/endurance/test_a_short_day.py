"""A few sweeps of the day on the bench, with their faults, in the world of computed time."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.endurance.day import run_day
from tests.endurance.planned import planned_sweep
from tests.endurance.sweep_run import Happened, SweepRun

SEED = 77
NUMBERS = [n for n in range(60) if planned_sweep(SEED, n).method.startswith("quick,")]
"""Sweeps of one speed: half a second each."""


def test_sweeps_with_faults_keep_every_promise(tmp_path: Path) -> None:
    said: list[str] = []
    day = run_day(
        SEED, hours=24.0, folder=tmp_path, say=said.append, with_real=False, numbers=NUMBERS
    )
    assert day.breaches == []
    assert not [line for line in said if "BREACH" in line]
    # The figures, so that a change of the faults cannot hollow the test out.
    assert day.sweeps == len(NUMBERS) >= 6
    assert sum(day.faults.values()) >= 5
    assert day.accepted > 3000
    assert day.announced >= 4
    assert len(day.ends) >= 2


def test_the_same_seed_gives_the_same_sweep(tmp_path: Path) -> None:
    number = next(n for n in NUMBERS if planned_sweep(SEED, n).faults)

    def again(name: str) -> Happened:
        (tmp_path / name).mkdir()
        return SweepRun(planned_sweep(SEED, number), tmp_path / name).run()

    first, second = again("first"), again("second")
    assert first.begun_faults == second.begun_faults
    assert first.accepted == second.accepted
    assert first.lasted_s == pytest.approx(second.lasted_s, abs=1e-9)
    assert [part.announced for part in first.parts] == [part.announced for part in second.parts]
