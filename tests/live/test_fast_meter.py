"""A meter that answers with bursts, over real sockets: an uneven phase is named by the lines."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from acquire.findings.seen import seen_in
from acquire.judging import judge_run, warm_up_in
from acquire.record.read_run import read_run
from acquire.replay import replay_points
from acquire.snapshots import snapshots_of
from profiles.catalogue import shipped_folder
from tests.live.commands import Said, runs_on, steadyamps

UNIT = "small-frame-14v-90a"


def rig_file(folder: Path, *changes: tuple[str, str]) -> Path:
    """The shipped rig with its fast meter, at three times its pace."""
    text = (shipped_folder("rigs") / "simulated-ripple.toml").read_text(encoding="utf-8")
    for old, new in (("pace = 8.0", "pace = 24.0"), *changes):
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    path = folder / "rig.toml"
    path.write_text(text, encoding="utf-8")
    return path


def swept(folder: Path, *more: str, rig: Path | None = None) -> tuple[Said, Path]:
    shelf = folder / "shelf"
    said = steadyamps(
        "--json", "sweep", "--rig", str(rig or rig_file(folder)), "--rated", UNIT,
        "--method", "quick", "--yes", *more, shelf=shelf,
    )  # fmt: skip
    (run,) = runs_on(shelf)
    return said, run


def named(findings: list[dict[str, Any]]) -> list[str]:
    return [one["name"] for one in findings]


def replayed(folder: Path, *, with_lines: bool) -> list[str]:
    """What is found when the points are worked out again from samples and journal."""
    run = read_run(folder)
    seen = seen_in(run.journal)
    judgement = judge_run(
        snapshots_of(run.header),
        points=[point for point, _ in replay_points(run)],
        warm_up=warm_up_in(run.journal),
        seen=seen if with_lines else replace(seen, ripple_lines={}),
    )
    return [finding.name for finding in judgement.findings]


def test_an_uneven_phase_is_named_and_named_again_in_a_replay(tmp_path: Path) -> None:
    said, run = swept(tmp_path, "--fault", "uneven-phase")
    assert named(said.document["findings"]) == ["uneven phase"]
    assert replayed(run, with_lines=True) == ["uneven phase"]
    assert "uneven phase" not in replayed(run, with_lines=False), "only the lines tell it"
    assert steadyamps("verify", str(run), shelf=tmp_path / "shelf").code == 0
    kinds = [entry.kind for entry in read_run(run).journal]
    assert kinds.count("ripple lines") == kinds.count("steady point") == 4
    header = (run / "samples.csv").read_text(encoding="utf-8").splitlines()
    assert max(len(line) for line in header) < 200, "no burst in the samples"


def test_a_healthy_unit_is_not_accused(tmp_path: Path) -> None:
    said, run = swept(tmp_path)
    assert said.code == 0, said.err
    assert said.document["outcome"] == "pass"
    assert named(said.document["findings"]) == []
    assert replayed(run, with_lines=True) == []
    assert len(seen_in(read_run(run).journal).ripple_lines) == 4


def test_bursts_too_short_for_the_lines_are_said_once_with_what_they_would_need(
    tmp_path: Path,
) -> None:
    short = (
        'port = "simulated:burst meter"',
        'port = "simulated:burst meter"\nburst_samples = 200\n'
        'setup = ["SAMP:COUN 200", "SAMP:TIM 50E-6", "FORM REAL,32"]',
    )
    said, run = swept(
        tmp_path, "--steps", "1500,3000", "--fault", "uneven-phase", rig=rig_file(tmp_path, short)
    )
    assert said.err.count("The lines of the ripple cannot be told") == 1
    assert "are needed: let it take 10" in said.err
    journal = read_run(run).journal
    assert [e.kind for e in journal if e.kind.startswith("ripple")] == ["ripple lines not told"] * 2
    assert "uneven phase" not in named(said.document["findings"])
    assert all(step.mean("ripple_volts") for step in seen_in(journal).steps.values())


@pytest.mark.parametrize("keys", ["burst_samples = 1999", 'burst_form = "f64"'])
def test_a_burst_of_another_size_than_described_opens_no_rig(tmp_path: Path, keys: str) -> None:
    wrong = ('port = "simulated:burst meter"', f'port = "simulated:burst meter"\n{keys}')
    shelf = tmp_path / "shelf"
    said = steadyamps(
        "sweep", "--rig", str(rig_file(tmp_path, wrong)), "--rated", UNIT, "--yes", shelf=shelf
    )
    assert said.code == 5
    assert "ripple_volts" in said.err
    assert runs_on(shelf) == []
