"""Milliamps or kiloamps taken for amps: refused in a file, never a pass in a run."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from acquire.cli.main import run
from acquire.judge.circumstances import Circumstances
from acquire.judge.far_off import far_above, like_kiloamps
from acquire.judge.verdict import Verdict, judge
from acquire.record.read_run import read_run
from acquire.rejudging import judge_folder
from acquire.report.language import language
from acquire.report.recorded_words import in_language
from acquire.snapshots import snapshots_of
from tests.judge.benchwork import RATED_POINTS, rated_curve, read, within

CHECKOUT = Path(__file__).parent.parent.parent
PLATE = "45/90A 13.5V @1500/6000"
GOOD = {1500: 44.1, 3000: 74.8, 6000: 88.2}


def told(folder: Path, factor: float, capsys: pytest.CaptureFixture[str]) -> tuple[int, str]:
    """Exit code of `judge` on the points times this factor, and the error or the reason."""
    file = folder / "points.csv"
    rows = "".join(f"{rpm},{factor * amps:.6g}\n" for rpm, amps in GOOD.items())
    file.write_text(f"shaft_rpm,amps\n{rows}", encoding="utf-8")
    code = run(["--json", "judge", str(file), "--rated", PLATE])
    document = json.loads(capsys.readouterr().out)
    error = document.get("error")
    return int(code), f"{error['message']} {error['what_to_do']}" if error else document["reason"]


def test_milliamps_in_a_file_are_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, words = told(tmp_path, 1000.0, capsys)
    assert code == 2
    assert "points.csv: column amps: 88200 A at 6000 rpm is 980 times" in words
    assert "is it in mA? Give amps (divide by 1000)" in words


def test_kiloamps_in_a_file_are_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, words = told(tmp_path, 0.001, capsys)
    assert code == 2
    assert "is it in kA? Give amps (multiply by 1000)" in words


def test_a_current_that_no_unit_gives_is_refused_without_guessing_milliamps(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, words = told(tmp_path, 6.0, capsys)
    assert code == 2
    assert "no unit gives that" in words
    assert "mA" not in words


def test_a_strong_unit_is_judged_and_a_weak_one_is_too(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert told(tmp_path, 4.9, capsys)[0] == 0
    assert told(tmp_path, 1.0, capsys)[0] == 0
    assert told(tmp_path, 0.02, capsys)[0] == 1


def test_a_dead_unit_is_not_taken_for_kiloamps() -> None:
    dead = [read(number, rpm, 0.1) for number, (rpm, _) in enumerate(RATED_POINTS, 1)]
    assert not like_kiloamps(dead, rated_curve())
    assert not like_kiloamps([read(1, 6000.0, 0.09)], rated_curve())
    assert not like_kiloamps([], rated_curve())
    assert far_above(dead, rated_curve()) is None


def judged(factor: float) -> Verdict:
    points = [read(k, rpm, factor * amps) for k, (rpm, amps) in enumerate(RATED_POINTS, 1)]
    warm = Circumstances(state="warm")
    return judge(points, rated=rated_curve(), accept=within(), circumstances=warm)


def test_a_run_read_in_milliamps_never_passes_and_says_why() -> None:
    verdict = judged(1000.0)
    assert verdict.outcome == "undecided"
    far = "90000 A at 6000 rpm is 1000 times the highest rated current (90 A)"
    assert verdict.sentence == f"Undecided. {far}."
    assert verdict.what_next.startswith("Look whether it was read in mA")
    assert verdict.cautions[0].startswith(f"{far}: its scale")


def test_a_run_as_rated_knows_nothing_of_milliamps() -> None:
    verdict = judged(1.05)
    assert verdict.outcome == "pass"
    assert not any("times the highest" in caution for caution in verdict.cautions)


def test_what_is_said_of_milliamps_is_said_in_german() -> None:
    german = language("de")
    verdict = judged(1000.0)
    for words in (verdict.reason, verdict.cautions[0]):
        assert not in_language(german, words).lang, words
    said = in_language(german, verdict.reason).text
    assert "das 1000-fache des höchsten Nennstroms (90 A)" in said


TWICE = (
    "It gives 2.0 times its rated current at 6000 rpm: check the shunt and `scale` of the ammeter"
)


def test_twice_the_rated_current_passes_with_the_caution_in_its_sentence() -> None:
    verdict = judged(2.0)
    assert verdict.outcome == "pass"
    assert f" {TWICE}, or whether this is its rated curve." in verdict.sentence
    assert verdict.cautions[0].startswith(TWICE)
    assert not in_language(language("de"), verdict.reason).lang
    assert (
        "das 2,0-fache seines Nennstroms" in in_language(language("de"), verdict.cautions[0]).text
    )


@pytest.mark.parametrize("factor", [1.0, 1.25, 1.34])
def test_a_strong_cold_unit_is_told_nothing_of_its_shunt(factor: float) -> None:
    verdict = judged(factor)
    assert "shunt" not in " ".join((verdict.reason, *verdict.cautions))


def test_only_the_end_of_the_curve_says_that_a_unit_gives_too_much() -> None:
    """Low on the curve a little more field, or a colder unit, gives much more."""
    points = [read(1, 1500.0, 2.0 * 45.0), read(2, 6000.0, 90.0)]
    verdict = judge(points, rated=rated_curve(), accept=within())
    assert "shunt" not in " ".join((verdict.reason, *verdict.cautions))


def test_where_the_end_was_not_measured_every_judged_speed_must_be_too_high() -> None:
    factors = {1500.0: 2.0, 2000.0: 2.0}
    for low, told_so in ((2.0, True), (1.2, False)):
        factors[1500.0] = low
        rows = [(rpm, amps) for rpm, amps in RATED_POINTS if rpm in factors]
        points = [read(k, rpm, factors[rpm] * amps) for k, (rpm, amps) in enumerate(rows, 1)]
        verdict = judge(points, rated=rated_curve(), accept=within())
        assert any("2.0 times its rated" in caution for caution in verdict.cautions) is told_so


def test_a_unit_that_fails_low_on_the_curve_and_gives_too_much_at_its_end_is_told_both() -> None:
    points = [read(1, 1500.0, 20.0), read(2, 6000.0, 180.0)]
    verdict = judge(points, rated=rated_curve(), accept=within())
    assert verdict.outcome == "fail"
    assert TWICE in verdict.sentence


@pytest.mark.parametrize("name", ["pass-van-alternator", "warranty-after-rebuild"])
def test_a_sample_run_that_passes_is_told_nothing_of_its_shunt(name: str) -> None:
    profiles = snapshots_of(read_run(CHECKOUT / "sample_runs" / name).header)
    assert profiles.rated is not None
    verdict = judge_folder(CHECKOUT / "sample_runs" / name, profiles.rated, None)[0].verdict
    assert verdict.outcome == "pass"
    assert "shunt" not in " ".join((verdict.reason, *verdict.cautions))
