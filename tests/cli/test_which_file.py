"""The program says which file a name meant: the user's own, or the one that came with it."""

from __future__ import annotations

from pathlib import Path

import pytest

from acquire.cli.main import run
from acquire.cli.orders import order_from
from acquire.cli.plain_run import PlainRun
from acquire.cli.voice import Voice
from acquire.record.run_header import Job
from profiles.folders import Kind, shipped_folder

UNIT, HIDES = "small-frame-14v-90a", "instead of the shipped one of that name"
ENGINE = ("--ratio", "2.5", "--idle", "700", "--cruise", "1400", "--top", "3600")


@pytest.fixture
def points(tmp_path: Path) -> str:
    path = tmp_path / "points.csv"
    path.write_text("shaft_rpm,amps\n1500,48\n2000,64\n3000,80\n6000,93\n")
    return str(path)


def own(folder: Path, kind: Kind, name: str, *, as_name: str | None = None) -> Path:
    """The user's copy of a shipped profile."""
    path = folder / kind / f"{as_name or name}.toml"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes((shipped_folder(kind) / f"{name}.toml").read_bytes())
    return path


def opening(**names: str | None) -> list[str]:
    """What a sweep says before it opens the rig."""
    given: dict[str, str | None] = {"rated": UNIT, "method": "quick", "rule": None, **names}
    order = order_from(
        rig="simulated", rated=given["rated"], method=given["method"] or "", rule=given["rule"],
        job=Job(), serial=None, unit=None, stage=None, operator=None, steps=None, fault=None,
        ask=False,
    )  # fmt: skip
    return PlainRun(Voice(), order, confirmed=True).opening().splitlines()


def test_a_sweep_names_the_file_of_all_its_profiles(nobody_elses_settings: Path) -> None:
    rig, rated, method, rule = opening(rule="on-or-above")
    assert "(shipped)" in rig
    assert rated.startswith("Rated curve: ")
    assert all(line.endswith("(shipped).") for line in (rated, method, rule))
    files = [
        own(nobody_elses_settings, "alternators", UNIT),
        own(nobody_elses_settings, "methods", "quick"),
        own(nobody_elses_settings, "rules", "on-or-above", as_name="house-rule"),
    ]
    _rig, *told = opening(rule="house-rule")
    for line, path in zip(told, files, strict=True):
        assert f"(yours: {path}" in line
    assert HIDES in told[0]
    assert HIDES in told[1]
    assert HIDES not in told[2]


def test_a_method_without_a_rule_is_judged_by_one_that_is_named(tmp_path: Path) -> None:
    method = tmp_path / "bare.toml"
    method.write_text("title = 'Bare'\n[sweep]\nrpm = [3000]\n")
    _rig, rated, bare, rule = opening(rated="45/90A 13.5V @1500/6000", method=str(method))
    assert rated.endswith("(plate).")
    assert bare == f"Method: Bare (file: {method})."
    assert rule.startswith("Acceptance rule: ")
    assert rule.endswith("(shipped).")


def test_judge_names_the_files_it_judges_by(
    points: str, nobody_elses_settings: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(["judge", points, "--rated", UNIT])
    said = capsys.readouterr().err
    assert said.count("(shipped).") == 2
    hidden = own(nobody_elses_settings, "rules", "within-10-percent")
    curve = own(nobody_elses_settings, "alternators", UNIT, as_name="mine")
    run(["judge", points, "--rated", "mine"])
    said = capsys.readouterr().err
    assert f"(yours: {hidden}, {HIDES})." in said
    assert f"(yours: {curve})." in said


def test_match_names_the_file_of_each_rated_curve(
    points: str, nobody_elses_settings: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    curve = own(nobody_elses_settings, "alternators", UNIT)
    assert run(["match", UNIT, "slow-frame-14v-150a", points, *ENGINE]) == 0
    said = capsys.readouterr().err
    assert f"(yours: {curve}, {HIDES})." in said
    assert said.count("(shipped).") == 1
