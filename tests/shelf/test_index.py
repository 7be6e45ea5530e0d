"""The index follows the folders: new, changed, gone, unreadable, copied; broken and made again."""

from __future__ import annotations

import shutil
import sqlite3
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from acquire.shelf import catching_up
from acquire.shelf.database import INDEX_FILE, file_database
from acquire.shelf.entry import RunEntry, SetAside
from acquire.shelf.errors import ShelfError
from acquire.shelf.reading import Ground, read_entry
from acquire.shelf.shelf import open_shelf
from tests.shelf.shelves import FIRST_DAY, Told, header_of, put, run_id_of, settle


def listed(shelf: Path, url: str | None = None) -> list[str]:
    """The four letters of every run on the shelf, newest first."""
    with open_shelf(shelf, url) as opened:
        return [one.run_id[-4:] for one in opened.page().entries]


def problems(shelf: Path) -> dict[str, str]:
    with open_shelf(shelf) as opened:
        return {one.folder: one.problem for one in opened.unreadable()}


def three(shelf: Path) -> list[Told]:
    told = [
        Told(letters, began=FIRST_DAY + timedelta(hours=hour), serial=f"SN {hour}")
        for hour, letters in enumerate(("aaaa", "bbbb", "cccc"))
    ]
    for one in told:
        put(shelf, one)
    return told


def test_runs_are_listed_newest_first_with_the_figures_of_their_verdict(tmp_path: Path) -> None:
    three(tmp_path)
    assert listed(tmp_path) == ["cccc", "bbbb", "aaaa"]
    with open_shelf(tmp_path) as shelf:
        newest = shelf.page(limit=1).entries[0]
    assert (newest.serial, newest.outcome, newest.state) == ("SN 2", "pass", "complete")
    assert (newest.points, newest.top_amps, newest.top_rpm) == (2, 91.5, 6000.0)
    assert (newest.least_margin_amps, newest.p_all, newest.cut_in_rpm) == (6.0, 0.99, 1100.0)
    assert newest.path == tmp_path / newest.folder


def test_a_new_folder_is_noted_and_one_that_is_gone_is_forgotten(tmp_path: Path) -> None:
    told = three(tmp_path)
    settle(tmp_path)
    assert listed(tmp_path) == ["cccc", "bbbb", "aaaa"]
    shutil.rmtree(tmp_path / run_id_of(told[1]))
    put(tmp_path, Told("dddd", began=FIRST_DAY + timedelta(days=1)))
    assert listed(tmp_path) == ["dddd", "cccc", "aaaa"]


def test_a_run_is_listed_while_it_goes_on_and_with_its_verdict_when_it_has_ended(
    tmp_path: Path,
) -> None:
    running = Told("aaaa", state="running", outcome=None)
    put(tmp_path, running)
    settle(tmp_path)
    with open_shelf(tmp_path) as shelf:
        assert shelf.page().entries[0].outcome_word == "not finished"
    put(tmp_path, replace(running, state="complete", outcome="fail"))
    settle(tmp_path)
    with open_shelf(tmp_path) as shelf:
        assert shelf.page().entries[0].outcome == "fail"


def test_a_shelf_that_has_not_changed_is_not_listed_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    three(tmp_path)
    settle(tmp_path)
    assert len(listed(tmp_path)) == 3
    settle(tmp_path)  # the index itself was made on it
    assert len(listed(tmp_path)) == 3
    monkeypatch.setattr(catching_up, "run_folders", lambda _shelf: pytest.fail("listed again"))
    assert len(listed(tmp_path)) == 3


def test_of_a_shelf_that_has_changed_only_what_is_new_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    three(tmp_path)
    assert len(listed(tmp_path)) == 3
    put(tmp_path, Told("dddd"))
    read: list[str] = []

    def read_and_tell(ground: Ground, name: str) -> RunEntry | SetAside:
        read.append(name)
        return read_entry(ground, name)

    monkeypatch.setattr(catching_up, "read_entry", read_and_tell)
    assert len(listed(tmp_path)) == 4
    assert read == [run_id_of(Told("dddd"))]


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda folder: (folder / "run.json").write_bytes(b"{"), "not JSON"),
        (lambda folder: (folder / "run.json").unlink(), "no run.json"),
        (lambda folder: (folder / "verdict.json").write_bytes(b'{"outcome": 3}'), "no outcome"),
        (lambda folder: (folder / "verdict.json").write_bytes(b"[" * 100_000), "not JSON"),
        (lambda folder: (folder / "run.json").write_bytes(b'{"schema": 99}'), "schema"),
    ],
)
def test_a_folder_that_cannot_be_read_is_told_and_hinders_nobody(
    tmp_path: Path, spoil: object, said: str
) -> None:
    told = three(tmp_path)
    folder = tmp_path / run_id_of(told[1])
    assert callable(spoil)
    spoil(folder)
    assert listed(tmp_path) == ["cccc", "aaaa"]
    told_problems = problems(tmp_path)
    assert list(told_problems) == [folder.name]
    assert said in told_problems[folder.name]
    put(tmp_path, told[1])
    assert listed(tmp_path) == ["cccc", "bbbb", "aaaa"]
    assert problems(tmp_path) == {}


def test_a_copy_of_a_run_on_the_same_shelf_is_not_a_second_entry(tmp_path: Path) -> None:
    told = Told("aaaa", serial="SN 1")
    put(tmp_path, told, folder="A copy of it")
    put(tmp_path, told)
    put(tmp_path, told, folder="warranty case")
    with open_shelf(tmp_path) as shelf:
        assert [one.folder for one in shelf.page().entries] == [run_id_of(told)]
        assert shelf.rebuild().read == 3
        assert [one.folder for one in shelf.page().entries] == [run_id_of(told)]


def test_when_the_listed_folder_is_gone_its_copy_is_listed(tmp_path: Path) -> None:
    told = Told("aaaa")
    folder = put(tmp_path, told)
    put(tmp_path, told, folder="copy")
    assert listed(tmp_path) == ["aaaa"]
    shutil.rmtree(folder)
    with open_shelf(tmp_path) as shelf:
        assert [one.folder for one in shelf.page().entries] == ["copy"]


def test_a_renamed_folder_is_the_same_run(tmp_path: Path) -> None:
    folder = put(tmp_path, Told("aaaa"))
    assert listed(tmp_path) == ["aaaa"]
    folder.rename(tmp_path / "the ferry's unit")
    with open_shelf(tmp_path) as shelf:
        assert [one.folder for one in shelf.page().entries] == ["the ferry's unit"]
        assert shelf.page().total == 1


def test_other_folders_and_files_on_the_shelf_are_left_alone(tmp_path: Path) -> None:
    put(tmp_path, Told("aaaa"))
    (tmp_path / "views").mkdir()
    (tmp_path / ".hidden").mkdir()
    (tmp_path / "notes.txt").write_text("x")
    assert listed(tmp_path) == ["aaaa"]
    assert problems(tmp_path) == {}


@pytest.mark.parametrize(
    "damage",
    [
        lambda path: path.write_bytes(b"no database at all" * 1000),
        lambda path: path.write_bytes(path.read_bytes()[:6000] + b"\x99" * 60_000),
        lambda path: path.write_bytes(b""),
    ],
)
def test_a_damaged_index_is_made_again_by_itself(tmp_path: Path, damage: object) -> None:
    three(tmp_path)
    assert len(listed(tmp_path)) == 3
    assert callable(damage)
    damage(tmp_path / INDEX_FILE)
    assert listed(tmp_path) == ["cccc", "bbbb", "aaaa"]


def test_an_index_whose_tables_are_of_another_make_is_made_again(tmp_path: Path) -> None:
    three(tmp_path)
    assert len(listed(tmp_path)) == 3
    connection = sqlite3.connect(tmp_path / INDEX_FILE)
    connection.execute("ALTER TABLE shelf_runs_2 RENAME COLUMN outcome TO result")
    connection.commit()
    connection.close()
    assert listed(tmp_path) == ["cccc", "bbbb", "aaaa"]


def test_tables_of_a_later_schema_stay_beside_ours(tmp_path: Path) -> None:
    (tmp_path / INDEX_FILE).parent.mkdir()
    connection = sqlite3.connect(tmp_path / INDEX_FILE)
    connection.execute("CREATE TABLE shelf_runs_3 (run_id TEXT PRIMARY KEY)")
    connection.execute("INSERT INTO shelf_runs_3 VALUES ('kept')")
    connection.commit()
    connection.close()
    three(tmp_path)
    assert len(listed(tmp_path)) == 3
    connection = sqlite3.connect(tmp_path / INDEX_FILE)
    assert connection.execute("SELECT run_id FROM shelf_runs_3").fetchall() == [("kept",)]
    connection.close()


def test_rebuild_reads_every_folder_again(tmp_path: Path) -> None:
    told = three(tmp_path)
    settle(tmp_path)
    assert len(listed(tmp_path)) == 3
    # Behind everybody's back: a whole run does not change, so nobody looks.
    put(tmp_path, replace(told[0], serial="OTHER"))
    settle(tmp_path)
    with open_shelf(tmp_path) as shelf:
        counted: list[tuple[int, int]] = []
        changes = shelf.rebuild(tell=lambda done, total: counted.append((done, total)))
        assert changes.read == 3
        assert counted[-1] == (3, 3)
        assert shelf.page().entries[-1].serial == "OTHER"


def test_the_path_of_a_run_is_whole_however_the_shelf_was_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    three(tmp_path / "runs")
    monkeypatch.chdir(tmp_path)
    with open_shelf(Path("runs")) as shelf:
        assert {one.path.parent for one in shelf.every()} == {tmp_path / "runs"}


def test_a_shelf_that_is_not_there_is_empty_and_is_not_made(tmp_path: Path) -> None:
    missing = tmp_path / "nothing"
    assert listed(missing) == []
    assert not missing.exists()


def test_a_shelf_that_cannot_be_written_to_is_indexed_in_memory(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    three(tmp_path)

    def refuse(_folder: Path) -> None:
        raise ShelfError("unable to open database file")

    monkeypatch.setattr("acquire.shelf.shelf.file_database", refuse)
    assert listed(tmp_path) == ["cccc", "bbbb", "aaaa"]
    assert not (tmp_path / INDEX_FILE).exists()


def test_two_programs_may_note_at_the_same_time(tmp_path: Path) -> None:
    three(tmp_path)
    with open_shelf(tmp_path) as one, open_shelf(tmp_path) as other:
        put(tmp_path, Told("dddd"))
        assert one.refresh().read == 1
        assert other.page().total == 4
        other.rebuild()
        assert other.page().total == 4
    assert len(listed(tmp_path)) == 4


def test_control_characters_of_a_record_are_shown_and_steer_nothing(tmp_path: Path) -> None:
    told = Told("aaaa", serial="SN\x1b[2J\x00\ud800", unit="14\u202eV")
    put(tmp_path, replace(told, serial=None, unit=None))
    (tmp_path / run_id_of(told) / "run.json").write_bytes(header_of(told).as_bytes())
    with open_shelf(tmp_path) as shelf:
        entry = shelf.page().entries[0]
    assert entry.serial is not None
    assert entry.serial.isprintable()
    assert "\\x1b" in entry.serial
    assert entry.unit == "14\\u202eV"


def test_the_index_keeps_no_open_file_after_it_is_closed(tmp_path: Path) -> None:
    file_database(tmp_path).close()
    (tmp_path / INDEX_FILE).unlink()
    assert listed(tmp_path) == []
