"""A disk that fills up in the midst of a test, or just at its end: the rig rests, nothing hides."""

from __future__ import annotations

import errno
import json
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from acquire.cli.main import run
from acquire.record import files
from acquire.record.read_run import read_run
from acquire.record.verify import verify

Full = Callable[[Path], bool]


def fills_up(monkeypatch: pytest.MonkeyPatch, full: Full) -> None:
    """From now on a write to a path that `full` says is refused with ENOSPC."""
    opened = files.Disk.open_append

    def open_append(disk: files.Disk, path: Path) -> files.Handle:
        handle = opened(disk, path)
        write = handle.write

        def maybe(data: bytes) -> int:
            if full(path):
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            return write(data)

        monkeypatch.setattr(handle, "write", maybe)
        return handle

    monkeypatch.setattr(files.Disk, "open_append", open_append)


def has_a_point(path: Path) -> bool:
    """The record has its first steady point."""
    curve = path.parent / "curve.csv"
    return curve.exists() and curve.read_bytes().count(b"\n") > 1


def sweep(shelf: Path) -> int:
    return run(
        ["--json", "--shelf", str(shelf), "sweep", "--rig", "simulated", "--rated",
         "small-frame-14v-90a", "--steps", "1500,6000", "--yes"]
    )  # fmt: skip


def only_run(shelf: Path) -> Path:
    (folder,) = [path for path in shelf.iterdir() if path.is_dir()]
    return folder


def test_a_disk_full_in_mid_run_stops_it_with_4_and_what_was_measured_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    with monkeypatch.context() as patched:
        fills_up(patched, has_a_point)
        code = sweep(tmp_path / "shelf")
    said = capsys.readouterr()
    folder = only_run(tmp_path / "shelf")
    assert code == 4, said.err
    document = json.loads(said.out)
    assert (document["outcome"], document["finished"]) == ("stopped", False)
    assert document["points"][0]["amps"] == pytest.approx(52, abs=2)
    assert "THE RECORD IS NOT FINISHED AND NOT SEALED" in said.err
    assert "No space left on device" in said.err
    assert f"Run folder: {folder}" in said.err
    assert read_run(folder).header.state == "running"
    assert len(read_run(folder).curve) == 1


def test_a_disk_full_only_at_the_end_still_shows_the_verdict_and_resume_seals_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    with monkeypatch.context() as patched:
        fills_up(patched, lambda path: path.name.startswith("seal.json"))
        code = sweep(tmp_path / "shelf")
    said = capsys.readouterr()
    folder = only_run(tmp_path / "shelf")
    assert code == 4, said.err
    document = json.loads(said.out)
    assert (document["outcome"], document["finished"]) == ("undecided", False)
    assert "THE RECORD IS NOT FINISHED AND NOT SEALED" in said.err
    assert run(["--json", "--shelf", str(folder.parent), "resume", str(folder), "--yes"]) == 3
    document = json.loads(capsys.readouterr().out)
    assert (document["outcome"], document["finished"]) == ("undecided", True)
    assert verify(folder).sealed
