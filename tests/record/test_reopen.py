"""Going on with an interrupted run in the same folder."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path

import pytest

from acquire.errors import RunFileError
from acquire.record.curve_table import CURVE_FILE
from acquire.record.journal import JOURNAL_FILE, JournalEntry
from acquire.record.read_run import read_run
from acquire.record.reopen import PIECE, reopen
from acquire.record.run_folder import RunFolder
from acquire.record.samples import SAMPLES_FILE
from acquire.record.seal import SEAL_FILE
from acquire.record.verdict_file import VERDICT_FILE
from acquire.record.verify import verify
from drivers.clock import HandClock
from tests.record.bytes_again import text_as_bytes
from tests.record.runs import QUICK, finish, finished_run, measure_step, new_run


def interrupted(tmp_path: Path, steps: int = 1) -> Path:
    """A run whose writer is gone."""
    clock = HandClock()
    with new_run(tmp_path, clock) as folder:
        for step in range(1, steps + 1):
            measure_step(folder, clock, step)
    return folder.folder


def opened(folder: Path, clock: HandClock | None = None) -> RunFolder:
    """Reopen without waiting for the disk."""
    return reopen(folder, clock or HandClock(), files=QUICK, sync_every_s=None)


def entries(folder: Path, kind: str) -> list[JournalEntry]:
    """The journal's entries of one kind."""
    return [entry for entry in read_run(folder).journal if entry.kind == kind]


@pytest.mark.parametrize("name", [SAMPLES_FILE, JOURNAL_FILE, CURVE_FILE])
@pytest.mark.parametrize("cut", [b"0.4,am", b"\x00" * 700, b"\xff\xfe\r\nrest\r\n", b'{"t_s":'])
def test_a_cut_line_is_reported_then_moved_into_the_journal(
    tmp_path: Path, name: str, cut: bytes
) -> None:
    folder = interrupted(tmp_path)
    path = folder / name
    whole = path.read_bytes()
    path.write_bytes(whole + cut)
    (tail,) = read_run(folder).tails
    assert (tail.file, tail.at_byte, tail.raw) == (name, len(whole), cut)
    assert f"the last {len(cut)} bytes are cut" in str(tail)
    opened(folder).close()
    assert read_run(folder).tails == ()
    (entry,) = entries(folder, "cut bytes")
    assert (entry.data["file"], entry.data["at_byte"]) == (name, len(whole))
    assert text_as_bytes(entry.data["raw"]) == cut
    assert path.read_bytes().startswith(whole)


def test_a_very_long_cut_end_goes_whole_into_the_journal_in_pieces(tmp_path: Path) -> None:
    folder = interrupted(tmp_path)
    cut = bytes(range(256)) * (PIECE // 100)
    with (folder / SAMPLES_FILE).open("ab") as file:
        file.write(cut)
    opened(folder).close()
    pieces = entries(folder, "cut bytes")
    assert len(pieces) == 3
    assert b"".join(text_as_bytes(piece.data["raw"]) for piece in pieces) == cut


def test_a_point_that_reached_the_journal_only_is_kept(tmp_path: Path) -> None:
    folder = interrupted(tmp_path, steps=2)
    path = folder / CURVE_FILE
    whole = path.read_bytes()
    path.write_bytes(whole[: whole.rindex(b"2,2000.0")] + b"2,20")
    assert [row.step for row in read_run(folder).curve] == [1, 2]
    again = opened(folder)
    assert [row.step for row in again.curve] == [1, 2]
    again.close()
    assert path.read_bytes() == whole


def test_measured_text_is_kept_byte_for_byte_through_stop_resume_and_end(tmp_path: Path) -> None:
    folder = finished_run(tmp_path, state="stopped", steps=2)
    before = [line.rsplit(",", 7)[0] for line in (folder / CURVE_FILE).read_text().splitlines()]
    clock = HandClock()
    again = opened(folder, clock)
    measure_step(again, clock, 3)
    finish(again)
    after = [line.rsplit(",", 7)[0] for line in (folder / CURVE_FILE).read_text().splitlines()]
    assert after[:3] == before
    assert len(after) == 4


def test_the_former_seal_goes_whole_into_the_journal(tmp_path: Path) -> None:
    folder = finished_run(tmp_path, state="stopped", steps=1)
    seal = json.loads((folder / SEAL_FILE).read_bytes())
    opened(folder).close()
    (entry,) = entries(folder, "former seal")
    assert entry.data["seal"] == seal
    assert entry.data["held"] is True
    assert not (folder / SEAL_FILE).exists()
    assert not (folder / VERDICT_FILE).exists()
    run = read_run(folder)
    assert (run.header.state, run.header.ended_utc, run.verdict) == ("running", None, None)


def test_a_spoilt_seal_does_not_keep_a_run_from_going_on_but_stays_visible(tmp_path: Path) -> None:
    folder = finished_run(tmp_path, state="stopped", steps=1)
    (folder / SEAL_FILE).write_bytes(b"spoilt \xff")
    clock = HandClock()
    again = opened(folder, clock)
    measure_step(again, clock, 2)
    finish(again)
    (entry,) = entries(folder, "former seal")
    assert text_as_bytes(entry.data["raw"]) == b"spoilt \xff"
    assert [problem.wrong for problem in verify(folder).problems] == ["former seal"]


def test_the_run_time_goes_on_by_the_wall_clock_and_the_gap_is_recorded(tmp_path: Path) -> None:
    folder = interrupted(tmp_path)
    began = HandClock().utc()
    clock = HandClock(start_s=5e6, start_utc=began + timedelta(seconds=100.25))
    again = opened(folder, clock)
    assert again.time.now_s() == 100.25
    clock.advance(0.5)
    measure_step(again, clock, 2)
    again.close()
    (entry,) = entries(folder, "resumed")
    assert entry.data["gap_s"] == pytest.approx(100.25 - 0.3)
    assert entry.data["last_t_s"] == 0.3
    times = [reading.t_s for reading in read_run(folder).samples()]
    assert times == sorted(times)
    assert times[-1] == 101.05


def test_a_wall_clock_set_back_never_turns_the_run_time_back(tmp_path: Path) -> None:
    folder = interrupted(tmp_path)
    clock = HandClock(start_utc=HandClock().utc() - timedelta(days=1))
    again = opened(folder, clock)
    assert again.time.now_s() == 0.3
    again.close()
    assert entries(folder, "resumed")[0].data["gap_s"] == 0.0


def test_events_after_a_resume_never_slip_before_those_that_stood_before(tmp_path: Path) -> None:
    """A cut took sample rows that a journal entry had counted."""
    folder = interrupted(tmp_path, steps=2)
    path = folder / SAMPLES_FILE
    rows = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(rows[: 1 + 20]))
    clock = HandClock()
    clock.advance(50.0)
    again = opened(folder, clock)
    measure_step(again, clock, 3)
    again.close()
    shape: list[str] = []
    for event in read_run(folder).events():
        word = event.kind if isinstance(event, JournalEntry) else "reading"
        if not shape or shape[-1] != word:
            shape.append(word)
    assert shape == [
        *("began", "speed", "reading", "steady point", "speed", "reading", "steady point"),
        *("resumed", "speed", "reading", "steady point"),
    ]
    assert len(list(read_run(folder).samples())) == 20 + 12


def test_a_complete_run_is_not_resumed(tmp_path: Path) -> None:
    folder = finished_run(tmp_path)
    with pytest.raises(RunFileError, match="is complete"):
        opened(folder)
    assert verify(folder).sealed


def test_a_run_that_is_being_written_is_not_resumed(tmp_path: Path) -> None:
    folder = new_run(tmp_path)
    with pytest.raises(RunFileError, match="another program"):
        opened(folder.folder)
    folder.close()
    opened(folder.folder).close()


def test_a_failed_resume_lets_the_run_go(tmp_path: Path) -> None:
    folder = interrupted(tmp_path)
    path = folder / CURVE_FILE
    whole = path.read_bytes()
    path.write_bytes(b"step\r\n")
    with pytest.raises(RunFileError, match=r"curve\.csv: does not begin with the columns"):
        opened(folder)
    path.write_bytes(whole)
    opened(folder).close()


def test_the_same_step_is_not_taken_twice(tmp_path: Path) -> None:
    clock = HandClock()
    again = opened(interrupted(tmp_path), clock)
    with pytest.raises(ValueError, match="taken already"):
        measure_step(again, clock, 1)
    again.close()
