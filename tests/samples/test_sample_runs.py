"""The shipped sample runs: whole, sealed, replayed, judged again, and small."""

from __future__ import annotations

from pathlib import Path

import pytest

from acquire.judging import judge_run, warm_up_in
from acquire.record.read_run import read_run
from acquire.record.verify import verify
from acquire.rejudging import points_of_run
from acquire.replay import replay
from acquire.snapshots import snapshots_of
from tests.samples.make import CHECKOUT, SAMPLES

FOLDER = CHECKOUT / "sample_runs"
OUTCOMES = {0: "pass", 1: "fail", 3: "undecided"}
NAMES = [sample.name for sample in SAMPLES]


@pytest.mark.parametrize("name", NAMES)
def test_every_sealed_byte_is_as_sealed(name: str) -> None:
    report = verify(FOLDER / name)
    assert report.sealed, report.problems
    assert report.complete


@pytest.mark.parametrize("name", NAMES)
def test_replay_gives_the_same_steady_points_to_the_last_digit(name: str) -> None:
    result = replay(read_run(FOLDER / name))
    assert result.same, result.differences
    assert result.rows


@pytest.mark.parametrize("sample", SAMPLES, ids=NAMES)
def test_judging_again_gives_the_same_outcome(sample: object) -> None:
    name, code = getattr(sample, "name", ""), getattr(sample, "code", 0)
    run = read_run(FOLDER / name)
    again = judge_run(
        snapshots_of(run.header), points=points_of_run(run), warm_up=warm_up_in(run.journal)
    )
    assert run.verdict is not None
    assert run.verdict["outcome"] == OUTCOMES[code]
    assert again.verdict.outcome == OUTCOMES[code]
    assert again.verdict.sentence in str(run.verdict["reason"])


def test_a_record_says_that_it_is_simulated_and_holds_no_machine_paths() -> None:
    for name in NAMES:
        run = read_run(FOLDER / name)
        assert run.header.simulated
        for part in (run.header.rig, run.header.rated, run.header.method, run.header.rule):
            assert part is None or part.path is None or not Path(part.path).is_absolute()


def test_all_together_stay_under_three_megabytes() -> None:
    total = sum(path.stat().st_size for path in FOLDER.rglob("*") if path.is_file())
    assert total <= 3_000_000


def test_the_before_and_after_pair_is_one_unit_and_the_gain_is_significant() -> None:
    from acquire.comparing import compare_runs

    before = read_run(FOLDER / "warranty-before-open-diode")
    after = read_run(FOLDER / "warranty-after-rebuild")
    assert before.header.serial == after.header.serial
    result = compare_runs(before, after)
    assert result.changes.points[0].significant
    assert result.changes.points[0].change_amps > 5
