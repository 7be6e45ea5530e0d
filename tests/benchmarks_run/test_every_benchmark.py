"""Every benchmark still runs, on a tiny size; what it measures here means nothing."""

from __future__ import annotations

import math
import os
from pathlib import Path

import pytest

from tests.benchmarks.__main__ import BENCHMARKS, figures_of

NEED_A_TERMINAL = ("throughput", "screens")
RIGHT_WHATEVER_THE_SIZE = {"one_hour": "dropped", "replay": "not the same"}
"""Figures that must be right however small the size and slow the machine."""
RUN_SMALL_ELSEWHERE = ("endurance", "fuzzing", "record_crash")
"""Theirs are long tests of the program itself: `tests/endurance`, `fuzzing`, `record` try them."""
MODULES = Path(__file__).parent.parent / "benchmarks"


@pytest.mark.parametrize("name", [n for n in BENCHMARKS if n not in RUN_SMALL_ELSEWHERE])
def test_a_benchmark_runs_and_gives_figures(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    if name in NEED_A_TERMINAL and not hasattr(os, "openpty"):
        pytest.skip("this system has no pseudo-terminals")
    monkeypatch.setenv("STEADYAMPS_CONFIG", str(tmp_path))
    found = figures_of(name, "tiny")
    assert found
    assert all(figure.what and math.isfinite(figure.value) for figure in found)
    if name in RIGHT_WHATEVER_THE_SIZE:
        told = [figure for figure in found if RIGHT_WHATEVER_THE_SIZE[name] in figure.what]
        assert told
        assert all(figure.met for figure in told), told


def test_every_module_that_measures_is_among_those_that_are_run() -> None:
    measuring = {
        path.stem
        for path in MODULES.glob("*.py")
        if "\ndef figures(" in path.read_text(encoding="utf-8")
    }
    assert measuring == set(BENCHMARKS)


@pytest.mark.parametrize("name", BENCHMARKS)
def test_a_benchmark_says_at_its_head_how_it_is_run(name: str) -> None:
    head = (MODULES / f"{name}.py").read_text(encoding="utf-8").partition('"""\n\nfrom ')[0]
    assert f"\n    python -m tests.benchmarks.{name}" in head
