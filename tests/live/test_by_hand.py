"""A test with meters that do not talk: every reading typed, twice."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.live.commands import runs_on, steadyamps

RATED = "45/90A 13.5V @1500/6000"


def typed(*steps: tuple[float, float, float]) -> str:
    return "".join(f"{rpm}\n{amps}\n{volts}\n" * 2 for rpm, amps, volts in steps)


def test_typed_readings_lead_to_a_verdict_and_a_run_folder(tmp_path: Path) -> None:
    shelf = tmp_path / "shelf"
    said = steadyamps(
        "--json", "sweep", "--rig", "by-hand", "--rated", RATED, "--serial", "A-17", "--yes",
        shelf=shelf, typed=typed((1500, 52.0, 13.5), (6000, 96.0, 13.5)),
    )  # fmt: skip
    assert said.code == 0, said.err
    document = said.document
    assert document["outcome"] == "pass"
    assert [point["amps"] for point in document["points"]] == [
        pytest.approx(52.0, abs=0.1),
        pytest.approx(96.0, abs=0.1),
    ]
    assert document["run"] == str(runs_on(shelf)[0])


def test_a_word_instead_of_a_number_is_asked_again_and_never_taken(tmp_path: Path) -> None:
    answers = "1500\n5o\n52,0\n52.0\n13.5\n1500\n52.0\n13.5\n"
    said = steadyamps(
        "--json", "sweep", "--rig", "by-hand", "--rated", RATED, "--steps", "1500", "--yes",
        shelf=tmp_path, typed=answers,
    )  # fmt: skip
    assert "'5o' is not a number" in said.err
    assert "52.0" in said.err, "says how decimals are written"
    assert said.document["points"][0]["amps"] == pytest.approx(52.0)
    assert said.code == 3, "the speed that was not measured keeps it undecided"


def test_when_nobody_types_any_more_the_run_is_kept_as_stopped(tmp_path: Path) -> None:
    said = steadyamps(
        "sweep", "--rig", "by-hand", "--rated", RATED, "--yes",
        shelf=tmp_path, typed=typed((1500, 52.0, 13.5)) + "6000\n",
    )  # fmt: skip
    assert said.code == 4
    (folder,) = runs_on(tmp_path)
    assert (folder / "seal.json").is_file()
    assert '"state": "stopped"' in (folder / "run.json").read_text()
    done = steadyamps("resume", str(folder), "--yes", shelf=tmp_path, typed=typed((6000, 96, 13.5)))
    assert done.code == 0, done.err
    assert runs_on(tmp_path) == [folder]
    again = steadyamps("resume", str(folder), "--yes", shelf=tmp_path)
    assert again.code == 2
    assert "complete" in again.err


def test_cautions_must_be_confirmed_by_somebody(tmp_path: Path) -> None:
    said = steadyamps("sweep", "--rig", "by-hand", "--rated", RATED, shelf=tmp_path)
    assert said.code == 2
    assert "--yes" in said.err
    assert runs_on(tmp_path) == []
