"""What the record says of a bench that did not come to rest by itself."""

from __future__ import annotations

import pytest

from acquire.findings.not_stopped import bench_did_not_stop
from acquire.findings.seen import Seen
from acquire.judging import judge_run
from acquire.run_order import RunOrder
from acquire.snapshots import snapshots_of
from acquire.stop_path import DOES_NOT_STOP, NOT_SLOWING
from profiles.catalogue import load_method, load_rated, load_rig
from tests.findings.cases import case

SOUND = {1500.0: 52.0, 6000.0: 93.0}
OFF = ("drive off, speed 0", True)
CALLED_OUT = (DOES_NOT_STOP, False)
KEEPS_UP = (f"{NOT_SLOWING} (1486 rpm): PRESS THE EMERGENCY STOP", False)
AGAIN = ("drive told to stop again", True)
TURNS_ON = ("after 60 s the shaft still turns", False)
NOT_READ_BACK = ("drive off, speed 0: drive: run off, speed 0 is not finished after 4 s.", False)


def seen_of(*events: tuple[str, bool]) -> Seen:
    seen = Seen()
    for what, well in events:
        seen.see("stop", {"what": what, "ok": well})
    return seen


def evidence(*events: tuple[str, bool]) -> list[str]:
    return [
        words for one in bench_did_not_stop(case(SOUND, seen=seen_of(*events)))
        for words in one.evidence
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("events", "said"),
    [
        ((OFF, ("shaft below 600 rpm", True), ("the shaft stands still", True)), []),
        ((CALLED_OUT, OFF), []),
        ((CALLED_OUT, NOT_READ_BACK, ("drive off again (try 2)", True)), []),
        ((CALLED_OUT, NOT_READ_BACK), ["The drive did not read its stop back."]),
        ((OFF, KEEPS_UP, AGAIN), ["The shaft did not slow down: it was still at 1486 rpm."]),
        (
            (OFF, KEEPS_UP, AGAIN, TURNS_ON),
            ["The shaft did not slow down: it was still at 1486 rpm.",
             "It was never seen to come to rest."],
        ),
        ((OFF, ("load shed: load: off is not finished after 4 s.", False)), []),
    ],
)  # fmt: skip
def test_only_a_bench_that_turned_on_is_called_out_in_the_record(
    events: tuple[tuple[str, bool], ...], said: list[str]
) -> None:
    assert evidence(*events) == said


def test_the_last_stop_counts_when_a_run_went_on() -> None:
    seen = seen_of(OFF, KEEPS_UP, AGAIN)
    assert seen.not_stopped
    seen.see("resumed", {"steps": [1]})
    assert not seen.not_stopped


@pytest.mark.parametrize("rated", ["45/90A 13.5V @1500/6000", None])
def test_the_verdict_warns_of_it_and_stays_that_of_the_unit(rated: str | None) -> None:
    order = RunOrder(
        load_rig("simulated"),
        load_method("quick"),
        None if rated is None else load_rated(rated),
        steps=(1500.0, 6000.0),
    )
    snapshots = snapshots_of(order.header(order.plan()))
    still = judge_run(snapshots, points=case(SOUND).points, seen=seen_of(OFF))
    turning = judge_run(snapshots, points=case(SOUND).points, seen=seen_of(OFF, KEEPS_UP, AGAIN))
    assert turning.verdict.outcome == still.verdict.outcome
    assert turning.verdict.what_next == still.verdict.what_next
    (added,) = set(turning.verdict.cautions) - set(still.verdict.cautions)
    assert turning.verdict.cautions[0] == added, "the weightiest first"
    assert added.startswith("At the end the bench did not stop by itself")
    assert "bench did not stop" in [one.name for one in turning.findings]
    assert "bench did not stop" not in [one.name for one in still.findings]
