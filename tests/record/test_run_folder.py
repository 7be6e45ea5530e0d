"""A run is written as it happens and reads back the same."""

from __future__ import annotations

from pathlib import Path

from acquire.record.journal import JournalEntry
from acquire.record.read_run import read_run
from drivers.clock import HandClock
from drivers.readings import Reading
from tests.record.runs import finished_run, measure_step, new_run, point


def test_a_finished_run_reads_back_as_it_was_written(tmp_path: Path) -> None:
    run = read_run(finished_run(tmp_path))
    assert run.header.state == "complete"
    assert [row.measured for row in run.curve] == [point(step) for step in (1, 2, 3)]
    assert [row.judged.outcome for row in run.curve] == ["pass"] * 3
    assert run.verdict is not None
    assert run.verdict["outcome"] == "pass"
    assert run.tails == ()
    assert len(list(run.samples())) == 36


def test_events_come_in_the_order_they_were_written(tmp_path: Path) -> None:
    clock = HandClock()
    with new_run(tmp_path, clock) as folder:
        measure_step(folder, clock, 1)
        measure_step(folder, clock, 2)
    shape = [
        event.kind if isinstance(event, JournalEntry) else "reading"
        for event in read_run(folder.folder).events()
    ]
    one_step = ["speed", *["reading"] * 12, "steady point"]
    assert shape == ["began", *one_step, *one_step]


def test_the_sweep_and_the_file_hold_the_same_floats(tmp_path: Path) -> None:
    clock = HandClock(start_s=98765.4321)
    with new_run(tmp_path, clock) as folder:
        clock.advance(1 / 3)
        reading = folder.time.reading(Reading("amps", clock.monotonic_s(), 2 / 3))
        folder.add_readings([reading])
    assert list(read_run(folder.folder).samples()) == [reading]
