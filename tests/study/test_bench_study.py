"""Repeatability of the bench: who differs, and is the stated uncertainty honest?"""

from __future__ import annotations

import json
import random
from pathlib import Path

import pytest

from acquire.cli.main import run
from acquire.errors import OrderError
from acquire.record.curve_table import Judged, Measured
from acquire.record.run_folder import RunFolder
from acquire.record.run_header import RunHeader
from acquire.study.bench_study import lines, smallest_shown, study, words
from acquire.study.repeated_runs import RepeatedRun
from drivers.clock import HandClock
from tests.study.made_runs import made_run

PEOPLE = ("A. Invented", "B. Example", "C. Made-Up")


def scattered(
    *, each: int, spread: float, shift: float = 0.0, u: float | None = 0.2
) -> list[RepeatedRun]:
    """`each` runs by each of three people; the last one reads `shift` more."""
    dice = random.Random(20)
    runs: list[RepeatedRun] = []
    for person in PEOPLE:
        off = shift if person == PEOPLE[-1] else 0.0
        for _ in range(each):
            amps = {rpm: rpm / 50 + off + dice.gauss(0, spread) for rpm in (1500.0, 3000.0)}
            runs.append(made_run(len(runs) + 1, amps, operator=person, u_run_to_run=u))
    return runs


def test_an_honest_doubt_is_called_so_and_nobody_is_blamed() -> None:
    found = study(scattered(each=8, spread=0.2), "operator")
    assert [speed.honest for speed in found.speeds] == ["yes", "yes"]
    assert found.groups == dict.fromkeys(PEOPLE, 8)
    assert "No operator gets other figures" in words(found)
    assert "honest" in words(found)


def test_a_doubt_that_is_too_small_is_told() -> None:
    found = study(scattered(each=8, spread=0.2, u=0.1), "operator")
    assert [speed.honest for speed in found.speeds] == ["too small", "too small"]
    assert "scatter more than they state" in words(found)
    assert "more than stated !" in "\n".join(lines(found))


def test_a_doubt_three_times_too_large_is_told() -> None:
    found = study(scattered(each=8, spread=0.2, u=0.6), "operator")
    assert {speed.honest for speed in found.speeds} == {"larger than needed"}


def test_an_operator_who_reads_otherwise_is_found() -> None:
    found = study(scattered(each=6, spread=0.1, shift=1.0), "operator")
    assert all(speed.anova.p is not None and speed.anova.p < 1e-3 for speed in found.speeds)
    assert "depend on the operator" in words(found)
    assert all(
        speed.anova.between == pytest.approx(0.577, abs=0.1) for speed in found.speeds
    )  # a shift of 1 A in one of three: standard deviation 0.577 A


def test_without_a_budget_only_too_small_a_doubt_can_be_told() -> None:
    runs = [made_run(k, {1500.0: 50.0 + 0.001 * (k % 3)}, u_run_to_run=None) for k in range(1, 13)]
    found = study(runs, "operator")
    assert [speed.honest for speed in found.speeds] == ["yes"]
    assert found.speeds[0].compared_u == pytest.approx(0.3)


def test_runs_that_state_no_uncertainty_cannot_be_checked() -> None:
    runs = [
        made_run(k, {1500.0: 50.0 + 0.1 * k}, u_amps=None, u_run_to_run=None) for k in range(1, 5)
    ]
    found = study(runs, "day")
    assert found.speeds[0].honest == "cannot tell"
    assert "cannot be checked" in words(found)


def test_what_else_differs_between_the_runs_is_said() -> None:
    runs = [
        made_run(1, {1500.0: 50.0}, case_c=25.0),
        made_run(2, {1500.0: 47.0}, case_c=70.0, rig="Bench 2", unit=None),
        made_run(3, {1500.0: 48.0, 1800.0: 55.0}),
    ]
    said = "\n".join(study(runs, "operator").cautions)
    for words_wanted in (
        "25 to 70 °C",
        "several rigs",
        "which unit",
        "1800",
        "All of one operator",
    ):
        assert words_wanted in said


@pytest.mark.parametrize(("seeds", "told"), [((1, 1, 2), True), ((1, 2, 3), False)])
def test_simulated_noise_that_repeats_is_no_repeatability(
    seeds: tuple[int, ...], told: bool
) -> None:
    runs = [made_run(k, {1500.0: 50.0}, seed=seed) for k, seed in enumerate(seeds, 1)]
    said = study(runs, "operator").cautions
    assert any("SIMULATED" in caution for caution in said)
    assert any("one seed" in caution for caution in said) is told


def test_between_rigs_the_whole_doubt_is_compared() -> None:
    runs = [
        made_run(k, {1500.0: 50.0 + 0.1 * k}, rig=f"Bench {k % 2}", u_run_to_run=0.05)
        for k in range(1, 7)
    ]
    assert study(runs, "rig").speeds[0].compared_u == pytest.approx(0.3)


def test_with_a_clamp_exchanged_in_between_the_whole_doubt_is_compared() -> None:
    runs = [
        made_run(k, {1500.0: 50.0 + 0.1 * k}, instruments=f"clamp {k % 2}", u_run_to_run=0.05)
        for k in range(1, 7)
    ]
    found = study(runs, "operator")
    assert found.speeds[0].compared_u == pytest.approx(0.3)
    assert any("instruments" in caution for caution in found.cautions)


def test_few_runs_admit_how_little_they_show() -> None:
    """Upper 5 % point of chi-squared with one degree of freedom: 3.841 (any table of it)."""
    found = study([made_run(1, {1500.0: 50.0}), made_run(2, {1500.0: 50.2})], "operator")
    assert smallest_shown(found.speeds[0]) == pytest.approx(3.841**0.5, abs=1e-3)
    assert "2.0 times" in words(found)


def test_no_speed_in_common_is_refused() -> None:
    with pytest.raises(OrderError, match="No set speed"):
        study([made_run(1, {1500.0: 50.0}), made_run(2, {1600.0: 50.0})], "day")


def written(
    shelf: Path, amps: float, *, serial: str = "REF-1", operator: str = "A. Invented"
) -> str:
    """A complete, sealed run folder of three speeds; at the last the reading never settled."""
    clock = HandClock()
    header = RunHeader.model_validate(
        {
            "program": "steadyamps test",
            "run_id": "new",
            "began_utc": "2026-03-01T08:00:00.000Z",
            "serial": serial,
            "operator": operator,
            "steps": [1500.0, 3000.0, 6000.0],
        }
    )
    judged = {}
    with RunFolder.create(shelf, header, clock, sync_every_s=None) as folder:
        for step, (rpm, times) in enumerate(((1500.0, 1.0), (3000.0, 1.6), (6000.0, 1.8)), 1):
            settled = "no" if rpm == 6000.0 else "yes"
            folder.take_point(
                Measured(step, rpm, rpm + 1.0, 1.0, amps * times, 0.2, 13.5, settled=settled)
            )
            judged[step] = Judged(amps * times, 0.21, outcome="not judged")
        folder.finish("complete", judged=judged)
    return str(folder.folder)


def test_run_folders_are_studied_as_a_user_types_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    amps = (50.0, 50.2, 50.1, 50.6)
    people = ("A. Invented", "A. Invented", "B. Example", "B. Example")
    folders = [written(tmp_path, a, operator=p) for a, p in zip(amps, people, strict=True)]
    assert run(["--json", "rig", "study", *folders]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["groups"] == {"A. Invented": 2, "B. Example": 2}
    assert [speed["set_rpm"] for speed in told["speeds"]] == [1500.0, 3000.0]
    first = told["speeds"][0]
    assert first["mean_amps"] == pytest.approx(50.225)
    # by hand: within ((0.1²+0.1²) + (0.25²+0.25²)) / 2, between 2·(0.125²+0.125²)
    assert first["repeatability_amps"] == pytest.approx(0.0725**0.5)
    assert first["f"] == pytest.approx(0.0625 / 0.0725)
    assert first["stated_u_amps"] == pytest.approx(0.21)
    assert sum("never settled at 6000 rpm" in caution for caution in told["cautions"]) == 4


def test_run_folders_are_charted_as_a_user_types_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folders = [written(tmp_path, 50.0 + 0.1 * (k % 2)) for k in range(4)]
    assert run(["rig", "study", "--reference", "--at", "3000", *folders]) == 0
    said = capsys.readouterr().out
    assert "3000 rpm, A" in said
    assert "limits" in said
    assert "provisional" in said


def test_what_cannot_be_studied_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    one, other = written(tmp_path, 50.0), written(tmp_path, 51.0, serial="REF-2")
    third = written(tmp_path, 50.0)
    for arguments, said in (
        ([one], "too few"),
        ([one, one], "given twice"),
        ([one, other], "REF-1 and REF-2"),
        ([one, third, "--by", "moon"], "moon"),
        ([one, third, "--at", "1500"], "--reference"),
        ([one, third, "--reference"], "at least 3"),
        ([one, "no-such-run"], "no-such-run"),
    ):
        assert run(["rig", "study", *arguments]) == 2
        told = capsys.readouterr()
        assert said in told.err
        assert told.out == ""


def test_a_run_that_was_changed_is_pointed_at(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folders = [written(tmp_path, 50.0), written(tmp_path, 50.2)]
    curve = Path(folders[0]) / "curve.csv"
    curve.write_bytes(curve.read_bytes().replace(b"80.0", b"81.0"))
    assert run(["--json", "rig", "study", *folders]) == 0
    told = json.loads(capsys.readouterr().out)
    assert any(
        "Not as sealed" in caution and Path(folders[0]).name in caution
        for caution in told["cautions"]
    )
