"""What `replay` says where it does not come out as the record has it."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest

import sample_runs
from acquire.cli.exit_codes import Exit
from acquire.cli.main import run
from acquire.replay import PROGRAM, Difference

SAMPLE = Path(next(iter(sample_runs.__path__))) / "pass-van-alternator"


@pytest.fixture
def altered(tmp_path: Path) -> Path:
    """A run whose first row is not what its samples give."""
    folder = tmp_path / "altered"
    shutil.copytree(SAMPLE, folder)
    lines = (folder / "curve.csv").read_bytes().decode().split("\n")
    names, cells = lines[0].strip().split(","), lines[1].split(",")
    amps = names.index("amps")
    cells[amps] = repr(float(cells[amps]) + 0.5)
    lines[1] = ",".join(cells)
    (folder / "curve.csv").write_bytes("\n".join(lines).encode())
    return folder


def test_a_replay_names_the_columns_that_differ_with_short_figures(
    altered: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["replay", str(altered)]) == Exit.FAIL
    said = capsys.readouterr().out
    assert said.startswith("Different: ")
    told = [line for line in said.splitlines() if line.startswith("  step 1, amps:")]
    assert len(told) == 1, said
    assert re.fullmatch(r"  step 1, amps: recorded [\d.]{3,6}, replayed [\d.]{3,6}", told[0])
    assert "Recorded by" not in said


def test_a_replay_says_when_another_version_made_the_record(
    altered: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    header = json.loads((altered / "run.json").read_text(encoding="utf-8"))
    header["program"] = "steadyamps 0.0.9"
    (altered / "run.json").write_text(json.dumps(header), encoding="utf-8")
    assert run(["replay", str(altered)]) == Exit.FAIL
    said = " ".join(capsys.readouterr().out.split())
    assert f"Recorded by steadyamps 0.0.9, replayed by {PROGRAM}: a difference may" in said
    assert "the readings themselves are sealed (see `steadyamps verify`)" in said


def test_a_replay_names_the_damaged_file_and_its_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "damaged"
    shutil.copytree(SAMPLE, folder)
    rows = (folder / "samples.csv").read_bytes().split(b"\n")
    rows[100] = rows[100].replace(b",", b";", 1)
    (folder / "samples.csv").write_bytes(b"\n".join(rows))
    assert run(["replay", str(folder)]) == Exit.FAIL
    said = capsys.readouterr().out
    assert "  ! samples.csv is damaged at line 101: nothing was read from there on." in said
    assert run(["--json", "replay", str(folder)]) == Exit.FAIL
    document = json.loads(capsys.readouterr().out)
    assert document["damaged"] == [{"file": "samples.csv", "line": 101}]
    assert document["identical"] is False


def test_a_replay_names_the_file_whose_figures_are_not_those_that_were_sealed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "exchanged"
    shutil.copytree(SAMPLE, folder)
    whole = (folder / "samples.csv").read_bytes()
    other = re.sub(rb"(\r\n[0-9.]+,amps,)([1-9])", rb"\g<1>9", whole)
    assert len(other) == len(whole)
    assert other != whole
    (folder / "samples.csv").write_bytes(other)
    assert run(["replay", str(folder)]) == Exit.FAIL
    said = capsys.readouterr().out
    assert "  ! samples.csv: changed: its content is not what was sealed." in said
    assert "damaged at line" not in said


def test_the_last_line_of_a_broken_off_run_may_be_cut(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "running"
    shutil.copytree(SAMPLE, folder)
    header = json.loads((folder / "run.json").read_text(encoding="utf-8"))
    header |= {"state": "running", "ended_utc": None}
    (folder / "run.json").write_text(json.dumps(header), encoding="utf-8")
    with (folder / "samples.csv").open("ab") as samples:
        samples.write(b"99.5,amps,4")
    assert run(["replay", str(folder)]) == Exit.OK
    assert "damaged" not in capsys.readouterr().out


CELLS = ["1", "1500", "1500.1", "2", "44.123456789", "0.1", "13.5", "0.01", "60", "yes", "9", "8"]


@pytest.mark.parametrize(
    ("column", "now", "words"),
    [
        (4, "44.173456789", "amps: recorded 44.12, replayed 44.17"),
        (4, "44.123956789", "amps: recorded 44.1235, replayed 44.124"),
        (4, "44.1234567890001", "amps: recorded 44.1235, replayed the same but beyond the ninth"),
        (4, "", "amps: recorded 44.12, replayed nothing"),
        (9, "no", "settled: recorded yes, replayed no"),
    ],
)
def test_two_figures_are_given_as_long_as_tells_them_apart(
    column: int, now: str, words: str
) -> None:
    other = [now if place == column else cell for place, cell in enumerate(CELLS)]
    (told,) = Difference(1, ",".join(CELLS), ",".join(other)).words
    assert told.startswith(words)


def test_a_step_on_one_side_only_is_said_in_words() -> None:
    assert Difference(3, None, "3,1500").words == ("not in the record, but the replay takes it",)
    assert Difference(3, "3,1500", None).words == (
        "in the record, but the replay takes no such step",
    )
