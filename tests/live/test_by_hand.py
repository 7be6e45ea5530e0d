"""A test with meters that do not talk: every reading typed, twice."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests.live.commands import command_line, environment, runs_on, steadyamps

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


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
def test_a_speed_that_cannot_be_right_is_questioned_at_once(tmp_path: Path) -> None:
    """A figure lost, one too many, and one that is so: only that one is typed twice."""
    from tests.live.typist import Typist

    arguments = command_line(
        "--shelf", str(tmp_path), "sweep", "--rig", "by-hand", "--rated", RATED,
        "--steps", "1500", "--yes",
    )  # fmt: skip
    with Typist(arguments, environment()) as desk:
        for speed, question in ((150, "At 1500 rpm, shaft speed"), (15000, "is so.")):
            desk.expect(question).answer(f"{speed}")
            desk.expect(f"{speed} rpm is far from the 1500 rpm to be expected here.")
        desk.expect("Enter once more if it is so.").answer("1500")
        desk.expect("output current [A]").answer("52")
        desk.expect("output voltage [V]").answer("10.5")
        desk.expect("10.5 V is far from the 13.5 V").answer("10.5")
        desk.expect("shaft speed [rpm]").answer("stop")
        desk.expect("Run folder")
    (folder,) = runs_on(tmp_path)
    samples = (folder / "samples.csv").read_text(encoding="utf-8")
    rows = [line.split(",")[1:3] for line in samples.splitlines()[1:]]
    assert rows == [["shaft_rpm", "1500.0"], ["amps", "52.0"], ["volts", "10.5"]]


def test_from_a_pipe_a_speed_that_cannot_be_right_is_told_and_taken(tmp_path: Path) -> None:
    """Nobody is there who could type it once more; the next line answers the next question."""
    said = steadyamps(
        "--json", "sweep", "--rig", "by-hand", "--rated", RATED, "--steps", "1500", "--yes",
        shelf=tmp_path, typed=typed((150, 52.0, 13.5)),
    )  # fmt: skip
    assert "150 rpm is far from the 1500 rpm" in said.err
    assert "once more" not in said.err
