"""What `--json` promises: the names that scripts of others read, on the runs that come along."""

from __future__ import annotations

import csv
import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from acquire.cli.main import run

RUNS = Path(__file__).parent.parent.parent / "sample_runs"
VAN, DIGGER = RUNS / "pass-van-alternator", RUNS / "undecided-digger"
BEFORE, AFTER = RUNS / "warranty-before-open-diode", RUNS / "warranty-after-rebuild"
JUDGED = {"outcome", "reason", "acceptance", "decision", "points", "p_all", "checks", "findings"}
POINT = {
    "shaft_rpm", "amps", "u_amps", "settled", "rated_amps", "limit_amps", "margin_amps",
    "p_conform", "outcome",
}  # fmt: skip
MEASURED = (
    "step", "set_rpm", "shaft_rpm", "u_shaft_rpm", "amps", "u_amps", "volts", "u_volts", "case_c",
    "settled", "settle_s", "readings",
)  # fmt: skip
SEALED = {"sealed", "complete", "changed", "signature", "key", "known"}
AT_SPEED = {"engine_rpm", "shaft_rpm", "amps", "low", "high"}


def said(capsys: pytest.CaptureFixture[str], *words: object, code: int = 0) -> Any:
    """The one document on standard output."""
    assert run(["--json", *map(str, words)]) == code
    return json.loads(capsys.readouterr().out)


@pytest.mark.parametrize(("of", "outcome", "code"), [(VAN, "pass", 0), (DIGGER, "undecided", 3)])
def test_a_judgement_has_the_names_that_were_promised(
    capsys: pytest.CaptureFixture[str], of: Path, outcome: str, code: int
) -> None:
    told = said(capsys, "judge", of, code=code)
    assert told.keys() >= JUDGED | {"run"}
    assert told["outcome"] == outcome
    assert told["points"]
    assert all(point.keys() >= POINT for point in told["points"])


def test_a_fit_has_the_names_that_were_promised(capsys: pytest.CaptureFixture[str]) -> None:
    told = said(capsys, "fit", VAN, "--at", "1500,2000")
    promised = {"model", "parameters", "residual_sd_amps", "cut_in_rpm", "at", "warnings"}
    assert told.keys() >= promised
    assert told["parameters"].keys() >= {"i_max_amps", "n0_rpm"}
    assert all(one.keys() >= {"value", "u"} for one in told["parameters"].values())
    for one in told["at"]:
        assert one.keys() >= {"shaft_rpm", "amps", "low", "high", "extrapolated"}
        assert one["low"] <= one["amps"] <= one["high"]


def test_a_match_has_the_names_that_were_promised(capsys: pytest.CaptureFixture[str]) -> None:
    engine = ("--ratio", "2.5", "--idle", "800", "--cruise", "1800..2600", "--top", "3600")
    told = said(capsys, "match", VAN, *engine, "--need-amps", "40")
    assert told.keys() >= {"ratio", "candidates", "ranking"}
    (one,) = told["candidates"]
    assert one.keys() >= {"title", "idle", "cruise", "top", "needed_ratio", "warnings"}
    assert [place["engine_rpm"] for place in one["cruise"]] == [1800, 2200, 2600]
    assert all(place.keys() >= AT_SPEED for place in [one["idle"], one["top"], *one["cruise"]])
    assert told["ranking"] == [one["title"]]


def test_a_comparison_has_the_names_that_were_promised(capsys: pytest.CaptureFixture[str]) -> None:
    told = said(capsys, "compare", BEFORE, AFTER)
    promised = {
        "shaft_rpm", "before_amps", "after_amps", "change_amps", "u_change_amps", "significant",
    }  # fmt: skip
    assert told["points"]
    assert all(point.keys() >= promised for point in told["points"])


def test_a_comparison_of_two_units_says_that_they_are_two(
    capsys: pytest.CaptureFixture[str],
) -> None:
    serials = [json.loads((of / "run.json").read_bytes())["serial"] for of in (VAN, DIGGER)]
    words = f"The two runs are of different units: {serials[0]} and {serials[1]}."
    assert words in said(capsys, "compare", VAN, DIGGER)["cautions"]
    one_unit = said(capsys, "compare", BEFORE, AFTER)["cautions"]
    assert one_unit
    assert not any("different units" in caution for caution in one_unit)


def test_one_verified_run_is_one_object_and_several_are_a_list(
    capsys: pytest.CaptureFixture[str],
) -> None:
    told = said(capsys, "verify", VAN)
    assert told.keys() >= SEALED
    assert (told["sealed"], told["complete"], told["changed"]) == (True, True, [])
    assert told["signature"] in ("valid", "invalid", "none")
    several = said(capsys, "verify", VAN, DIGGER)
    assert [one.keys() >= SEALED for one in several] == [True, True]


def test_of_several_what_is_no_run_is_named_and_the_others_are_verified(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    no_run = tmp_path / "notes.txt"
    no_run.write_text("no run", encoding="utf-8")
    none, whole = said(capsys, "verify", no_run, VAN, code=2)
    assert none.keys() >= SEALED | {"error"}
    assert (none["run"], none["sealed"], whole["sealed"]) == (str(no_run), False, True)
    copy = Path(shutil.copytree(VAN, tmp_path / "copy"))
    (copy / "samples.csv").unlink()
    several = said(capsys, "verify", no_run, copy, VAN, code=1)
    assert [one["sealed"] for one in several] == [False, False, True]


def test_a_changed_byte_is_told_by_the_name_of_its_file(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    copy = Path(shutil.copytree(VAN, tmp_path / "copy"))
    with (copy / "curve.csv").open("ab") as file:
        file.write(b"\r\n")
    told = said(capsys, "verify", copy, code=1)
    assert (told["sealed"], told["changed"]) == (False, ["curve.csv"])


def test_a_replay_says_whether_it_is_identical(capsys: pytest.CaptureFixture[str]) -> None:
    told = said(capsys, "replay", VAN)
    assert told["identical"] is True
    assert len(told["points"]) == len(said(capsys, "judge", VAN)["points"])
    with (VAN / "curve.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    for point, row in zip(told["points"], rows, strict=True):
        assert set(point) - {"text"} == set(MEASURED)
        assert point["settled"] == row["settled"]
        figures = [name for name in MEASURED if name != "settled"]
        assert {name: point[name] for name in figures} == {
            name: float(row[name]) if row[name] else None for name in figures
        }
        assert point["text"] == ",".join(row[name] for name in MEASURED)


def test_a_seal_that_cannot_be_read_is_told_by_the_promised_words(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    copy = Path(shutil.copytree(VAN, tmp_path / "copy"))
    whole = (copy / "seal.json").read_bytes()
    (copy / "seal.json").write_bytes(b"\xff" + whole[1:])
    told = said(capsys, "verify", copy, code=1)
    assert (told["sealed"], told["changed"]) == (False, ["seal.json"])
    assert told["signature"] == "invalid"
