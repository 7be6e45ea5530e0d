"""A record that the disk would not let be finished: its result is shown all the same, and said."""

from __future__ import annotations

from pathlib import Path

from acquire.ending import RunEnd
from acquire.errors import RunFileError
from acquire.judging import judge_run
from acquire.record.read_run import read_run
from acquire.rejudging import points_of_run
from acquire.screens.look import Look
from acquire.screens.result_facts import facts_of_end
from acquire.screens.result_view import result_rows
from acquire.screens.rows import text_of
from acquire.snapshots import snapshots_of
from acquire.stop_path import StopReason
from tests.live.cut_runs import killed_after


def test_the_result_of_a_record_not_finished_says_so_first(tmp_path: Path) -> None:
    folder = killed_after("pass-van-alternator", 4, tmp_path / "run")
    run = read_run(folder)
    end = RunEnd(
        folder,
        judge_run(snapshots_of(run.header), points=points_of_run(run)),
        stopped=False,
        reason=StopReason("complete", "all steps are over"),
        under_way=True,
        not_finished=RunFileError("seal.json", "cannot be written: No space left on device."),
    )
    rows = [text_of(one) for one in result_rows(facts_of_end(end), 80, 24, Look())]
    assert rows[0].startswith(" ! THE RECORD IS NOT FINISHED: seal.json: cannot be written")
    text = "\n".join(rows)
    assert "Passes." in text
    assert "[g]o on with it" in text
    assert len(rows) <= 24
