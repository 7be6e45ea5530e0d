"""A run keeps the rig file it began with: what `resume` does where that was changed since."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from acquire.cli.main import run
from acquire.cli.result_text import MEND_RIG_FILE, going_on_lines
from acquire.ending import RunEnd
from acquire.errors import RunFileError
from acquire.findings.seen import Seen
from acquire.judging import judge_run
from acquire.record.read_run import read_run
from acquire.record.run_header import RUN_FILE, Snapshot, read_header
from acquire.resuming import interrupted
from acquire.snapshots import snapshots_of
from acquire.stop_path import StopReason
from profiles.catalogue import Loaded, load_rig
from tests.live.cut_runs import killed_after

VAN = "pass-van-alternator"


def begun_with(rig_file: Path, folder: Path, points: int = 2) -> Path:
    """A run that was killed after so many points, begun with a rig file of the bench's own."""
    shipped = load_rig("simulated")
    rig_file.write_text(shipped.text, encoding="utf-8")
    killed_after(VAN, points, folder)
    header = read_header(folder)
    rig = Snapshot.of(Loaded(shipped.profile, rig_file, shipped.text, "file"))
    (folder / RUN_FILE).write_bytes(header.changed(rig=rig).as_bytes())
    return folder


def changed(rig_file: Path, old: str, new: str) -> None:
    text = rig_file.read_text(encoding="utf-8")
    assert old in text
    rig_file.write_text(text.replace(old, new, 1), encoding="utf-8")


def test_an_unchanged_file_and_one_that_is_gone_go_on_by_the_record(tmp_path: Path) -> None:
    rig_file = tmp_path / "bench.toml"
    folder = begun_with(rig_file, tmp_path / "run")
    whole = interrupted(folder).order.rig.profile
    rig_file.unlink()
    assert interrupted(folder).order.rig.profile == whole


def test_a_file_that_says_the_same_in_other_words_goes_on(tmp_path: Path) -> None:
    rig_file = tmp_path / "bench.toml"
    folder = begun_with(rig_file, tmp_path / "run")
    changed(rig_file, "alternator_mm = 100.0", "alternator_mm = 100.00")
    assert len(interrupted(folder).points) == 2


@pytest.mark.parametrize("new", ["alternator_mm = 95.0", "alternator_mm = "])
def test_a_rig_file_that_was_changed_since_is_refused_and_nothing_turns(
    tmp_path: Path, new: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def opened(*_arguments: object) -> None:
        raise AssertionError("the rig was opened")

    monkeypatch.setattr("acquire.opened_rig.OpenedRig.open", opened)
    rig_file = tmp_path / "bench.toml"
    folder = begun_with(rig_file, tmp_path / "shelf" / "run")
    changed(rig_file, "alternator_mm = 100.0", new)
    with pytest.raises(RunFileError, match="a run keeps the rig it began with"):
        interrupted(folder)
    assert run(["--shelf", str(folder.parent), "resume", str(folder), "--yes"]) == 2
    said = capsys.readouterr().err
    assert str(rig_file) in said
    assert "Nothing was turned. Begin a new test with the rig file of today." in said
    assert read_header(folder).state == "running", "the record is as it was"


def test_a_run_that_only_has_to_be_sealed_does_not_ask_for_its_rig_file(tmp_path: Path) -> None:
    rig_file = tmp_path / "bench.toml"
    folder = begun_with(rig_file, tmp_path / "run", points=4)
    changed(rig_file, "alternator_mm = 100.0", "alternator_mm = 95.0")
    assert interrupted(folder).nothing_left(attended=True)


def ended(tmp_path: Path, trip: dict[str, object]) -> RunEnd:
    """A run that the guard stopped before its first point."""
    folder = begun_with(tmp_path / "bench.toml", tmp_path / "run", points=1)
    words = str(trip["words"])
    judgement = judge_run(
        snapshots_of(read_run(folder).header), points=(), why_stopped=words, seen=Seen(trip=trip)
    )
    return RunEnd(folder, judgement, True, StopReason("guard", words), True)


def test_a_wrong_pulley_in_the_rig_file_is_mended_and_not_gone_on_with(tmp_path: Path) -> None:
    end = ended(tmp_path, {"kind": "slip", "value": -18.8, "words": "Shaft and drive disagree."})
    assert going_on_lines(end) == [MEND_RIG_FILE]
    assert "resume" not in end.judgement.verdict.reason
    assert end.judgement.verdict.what_next.endswith("wrong: mend that, then test anew.")


def test_a_figure_beyond_a_limit_may_be_a_wrong_scale(tmp_path: Path) -> None:
    words = "output current is 220.1 A; the limit is 200 A (limits.amps_max, bench.toml)."
    end = ended(tmp_path, {"kind": "limit", "value": 220.1, "words": words})
    next_words = end.judgement.verdict.what_next
    assert next_words.startswith("If a scale or a limit in the rig file is wrong, mend")
    assert going_on_lines(end)[0].endswith("where the rig file is right, this goes on with it:")


def test_a_limit_from_before_a_resume_says_nothing_of_this_stop(tmp_path: Path) -> None:
    words = "output current is 220.1 A; the limit is 200 A."
    end = ended(tmp_path, {"kind": "limit", "value": 220.1, "words": words})
    judged = judge_run(
        snapshots_of(read_run(end.folder).header),
        points=(),
        why_stopped="Ctrl-C was pressed",
        seen=Seen(trip={"kind": "limit", "value": 220.1, "words": words}),
    )
    assert judged.verdict.what_next.startswith("Go on at the speed where it stopped")
    assert going_on_lines(replace(end, judgement=judged))[0].startswith("What was measured is kept")
