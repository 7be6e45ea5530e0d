"""The seal: every changed, added or missing byte is found."""

from __future__ import annotations

import json
import os
import random
import shutil
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from acquire.errors import RunFileError
from acquire.record.add_note import add_note
from acquire.record.journal import JOURNAL_FILE, JournalChain, JournalEntry, first_prev
from acquire.record.json_text import many_lines
from acquire.record.keys import SigningKey, new_key
from acquire.record.reopen import reopen
from acquire.record.run_header import read_header
from acquire.record.seal import SEAL_FILE, seal_bytes
from acquire.record.verify import verify
from drivers.clock import HandClock
from tests.record.runs import QUICK, finish, finished_run, measure_step

MUTATIONS = 10_000
SEALED_FILES = [
    "curve.csv",
    "curve.csv-metadata.json",
    "journal.jsonl",
    "run.json",
    "samples.csv",
    "verdict.json",
]


@pytest.fixture(scope="module")
def key(tmp_path_factory: pytest.TempPathFactory) -> SigningKey:
    """The workshop's key."""
    return new_key(tmp_path_factory.mktemp("keys") / "workshop.pem")


@pytest.fixture(scope="module")
def other_key(tmp_path_factory: pytest.TempPathFactory) -> SigningKey:
    """Somebody else's key."""
    return new_key(tmp_path_factory.mktemp("keys") / "other.pem")


def found(folder: Path) -> set[tuple[str, str]]:
    """What verify found: file and kind."""
    return {(problem.file, problem.wrong) for problem in verify(folder).problems}


def test_a_sealed_run_holds(tmp_path: Path, key: SigningKey) -> None:
    report = verify(finished_run(tmp_path, key=key), trusted={key.fingerprint})
    assert report.problems == ()
    assert report.as_json() == {
        **report.as_json(),
        "sealed": True,
        "complete": True,
        "changed": [],
        "signature": "valid",
        "key": key.fingerprint,
        "known": True,
    }


def test_a_seal_without_a_key_holds_but_names_nobody(tmp_path: Path) -> None:
    report = verify(finished_run(tmp_path))
    assert (report.sealed, report.signature, report.key, report.known) == (True, "none", "", False)


def test_a_key_that_is_not_trusted_is_not_known(tmp_path: Path, key: SigningKey) -> None:
    report = verify(finished_run(tmp_path, key=key), trusted={"0" * 64})
    assert (report.sealed, report.signature, report.known) == (True, "valid", False)


def test_a_stopped_run_is_sealed_as_incomplete(tmp_path: Path) -> None:
    report = verify(finished_run(tmp_path, state="stopped", steps=1))
    assert (report.sealed, report.complete) == (True, False)


def test_an_interrupted_run_is_not_sealed(tmp_path: Path) -> None:
    folder = finished_run(tmp_path, state="stopped")
    reopen(folder, HandClock(), files=QUICK, sync_every_s=None).close()
    report = verify(folder)
    assert not report.sealed
    assert not report.complete
    assert [problem.wrong for problem in report.problems] == ["unsealed"]


@pytest.mark.parametrize("name", [*SEALED_FILES, SEAL_FILE])
@pytest.mark.parametrize("place", ["first", "middle", "last"])
def test_one_changed_bit_is_found_and_its_file_named(
    tmp_path: Path, key: SigningKey, name: str, place: str
) -> None:
    path = finished_run(tmp_path, key=key) / name
    content = bytearray(path.read_bytes())
    at = {"first": 0, "middle": len(content) // 2, "last": len(content) - 1}[place]
    for bit in range(8):
        content[at] ^= 1 << bit
        path.write_bytes(content)
        assert name in verify(path.parent).changed
        content[at] ^= 1 << bit
    path.write_bytes(content)
    assert verify(path.parent).sealed


def put(path: Path, content: bytes) -> None:
    """Write as a new file: some file systems flush a file that is cut and written again."""
    path.unlink()
    path.write_bytes(content)


def mutated(content: bytes, chance: random.Random) -> bytes:
    """One small change."""
    at, end = sorted((chance.randrange(len(content)), chance.randrange(len(content))))
    byte = bytes([chance.randrange(256)])
    return chance.choice(
        [
            content[:at] + bytes([content[at] ^ 1 << chance.randrange(8)]) + content[at + 1 :],
            content[:at],
            content + byte,
            content[:at] + byte + content[at:],
            content[:at] + content[at + 1 :],
            content[:at] + content[end:],
            content[:at] + byte + content[at + 1 :],
            content[:at] + content[at:end] * 2 + content[end:],
        ]
    )


def test_ten_thousand_mutations_are_all_found(tmp_path: Path, key: SigningKey) -> None:
    folder = finished_run(tmp_path, key=key, steps=1)
    originals = {name: (folder / name).read_bytes() for name in (*SEALED_FILES, SEAL_FILE)}
    chance = random.Random(10_000)
    tried = 0
    missed = []
    while tried < MUTATIONS:
        name = chance.choice(list(originals))
        content = mutated(originals[name], chance)
        if content == originals[name]:
            continue
        tried += 1
        put(folder / name, content)
        report = verify(folder)
        if report.sealed or name not in report.changed:
            missed.append((name, content))
        put(folder / name, originals[name])
    assert missed == [], missed[0]
    assert verify(folder).sealed


@pytest.mark.parametrize("name", SEALED_FILES)
def test_a_missing_file_is_named(tmp_path: Path, name: str) -> None:
    folder = finished_run(tmp_path)
    (folder / name).unlink()
    assert name in verify(folder).changed


def test_a_missing_seal_is_named(tmp_path: Path) -> None:
    folder = finished_run(tmp_path)
    (folder / SEAL_FILE).unlink()
    assert found(folder) == {(SEAL_FILE, "missing")}


@pytest.mark.parametrize(
    "name", ["x.txt", ".hidden", "attachments/photo.jpg", "deep/er/x", "x.part"]
)
def test_an_added_file_is_named(tmp_path: Path, name: str) -> None:
    folder = finished_run(tmp_path)
    (folder / name).parent.mkdir(parents=True, exist_ok=True)
    (folder / name).write_bytes(b"")
    assert found(folder) == {(name, "added")}


def test_reports_lie_outside_the_seal_and_are_named(tmp_path: Path) -> None:
    folder = finished_run(tmp_path)
    for name in ("report.html", "report.pdf", "sheet.pdf.part", ".DS_Store"):
        (folder / name).write_text("made from the record")
    report = verify(folder)
    assert report.sealed
    assert report.aside == (".DS_Store", "report.html", "report.pdf", "sheet.pdf.part")


def test_a_journal_cut_by_whole_lines_is_found(tmp_path: Path) -> None:
    folder = finished_run(tmp_path)
    path = folder / JOURNAL_FILE
    path.write_bytes(b"".join(path.read_bytes().splitlines(keepends=True)[:-1]))
    (problem,) = verify(folder).problems
    assert problem.file == JOURNAL_FILE
    assert "cut short" in problem.words


def sealed_anew(folder: Path, key: SigningKey | None = None) -> None:
    """Somebody changes a record and seals it again with the program's own functions."""
    header = read_header(folder)
    seal = seal_bytes(folder, header, sealed_utc="2026-05-05T05:05:05.000Z", key=key)
    (folder / SEAL_FILE).write_bytes(seal)


def test_a_broken_chain_is_found_even_under_a_new_seal(tmp_path: Path) -> None:
    folder = finished_run(tmp_path)
    path = folder / JOURNAL_FILE
    path.write_bytes(path.read_bytes().replace(b'"shaft_rpm":1500', b'"shaft_rpm":1600', 1))
    sealed_anew(folder)
    (problem,) = verify(folder).problems
    assert (problem.file, problem.wrong) == (JOURNAL_FILE, "chain")
    assert "line 3" in problem.words


def test_a_seal_under_another_key_is_named(
    tmp_path: Path, key: SigningKey, other_key: SigningKey
) -> None:
    folder = finished_run(tmp_path, key=key)
    sealed_anew(folder, other_key)
    report = verify(folder, trusted={key.fingerprint})
    assert (report.sealed, report.signature, report.known) == (False, "valid", False)
    assert found(folder) == {(SEAL_FILE, "key")}


def test_a_signature_taken_away_is_named(tmp_path: Path, key: SigningKey) -> None:
    folder = finished_run(tmp_path, key=key)
    sealed_anew(folder, None)
    assert verify(folder).signature == "none"
    assert found(folder) == {(SEAL_FILE, "key")}


def test_a_forger_who_rewrites_the_journal_too_is_not_known(
    tmp_path: Path, key: SigningKey, other_key: SigningKey
) -> None:
    """Without the workshop's key nothing else can give a forgery away."""
    folder = finished_run(tmp_path, key=key)
    entries = [json.loads(line) for line in (folder / JOURNAL_FILE).read_text().splitlines()]
    chain = JournalChain(first_prev(folder.name))
    entries[0]["data"]["seal_key"] = other_key.fingerprint
    rows = [entry["data"].pop("row") for entry in entries]
    remade = [
        chain.line(JournalEntry(e["t_s"], e["utc"], e["kind"], e["data"], row))
        for e, row in zip(entries, rows, strict=True)
    ]
    (folder / JOURNAL_FILE).write_bytes(b"".join(remade))
    sealed_anew(folder, other_key)
    report = verify(folder, trusted={key.fingerprint})
    assert (report.sealed, report.signature, report.known) == (True, "valid", False)


def test_a_signature_of_another_text_is_invalid(
    tmp_path: Path, key: SigningKey, other_key: SigningKey
) -> None:
    folder = finished_run(tmp_path, key=key)
    table = json.loads((folder / SEAL_FILE).read_bytes())
    for value in (key.signature_of(b"other"), other_key.signature_of(b""), "?", ""):
        table["signature"]["value"] = value
        (folder / SEAL_FILE).write_bytes(many_lines(table))
        report = verify(folder)
        assert (report.sealed, report.signature) == (False, "invalid")


@pytest.mark.parametrize(
    "pem", ["", "x", "-----BEGIN PUBLIC KEY-----\nAAAA\n-----END PUBLIC KEY-----"]
)
def test_a_public_key_that_is_none_makes_the_signature_invalid(
    tmp_path: Path, key: SigningKey, pem: str
) -> None:
    folder = finished_run(tmp_path, key=key)
    table = json.loads((folder / SEAL_FILE).read_bytes())
    table["signature"]["public_key"] = pem
    (folder / SEAL_FILE).write_bytes(many_lines(table))
    assert verify(folder).signature == "invalid"


@pytest.mark.parametrize(
    "spoil",
    [
        lambda table: table.pop("files"),
        lambda table: table.update(files=[{}]),
        lambda table: table.update(files=7),
        lambda table: table.update(whole=None),
        lambda table: table.update(schema=2),
        lambda table: table.update(run_id="other"),
        lambda table: table.update(state="stopped"),
        lambda table: table.update(extra=1),
        lambda table: table["files"].pop(),
        lambda table: table["files"][0].update(bytes=1),
        lambda table: table["files"].append({"name": "../x", "bytes": 0, "sha256": "0"}),
    ],
)
def test_a_seal_that_was_edited_is_named(
    tmp_path: Path, spoil: Callable[[dict[str, object]], object]
) -> None:
    folder = finished_run(tmp_path)
    table = json.loads((folder / SEAL_FILE).read_bytes())
    spoil(table)
    (folder / SEAL_FILE).write_bytes(many_lines(table))
    report = verify(folder)
    assert not report.sealed
    assert SEAL_FILE in report.changed


# ---- links and other things that are no files ----------------------------------------------


def link(path: Path, target: Path) -> None:
    try:
        path.symlink_to(target, target_is_directory=target.is_dir())
    except OSError:
        pytest.skip("this account may not make links (Windows without developer mode)")


@pytest.mark.parametrize("name", ["samples.csv", "verdict.json"])
def test_a_link_in_the_place_of_a_file_is_refused(tmp_path: Path, name: str) -> None:
    folder = finished_run(tmp_path)
    outside = tmp_path / "outside"
    shutil.move(folder / name, outside)
    link(folder / name, outside)
    assert (name, "link") in found(folder)


def test_a_linked_run_json_and_seal_are_refused(tmp_path: Path) -> None:
    folder = finished_run(tmp_path)
    for name in ("run.json", SEAL_FILE):
        shutil.move(folder / name, tmp_path / name)
        link(folder / name, tmp_path / name)
        assert name in verify(folder).changed


def test_an_added_link_is_refused_and_not_followed(tmp_path: Path) -> None:
    folder = finished_run(tmp_path)
    link(folder / "attachments", tmp_path)
    link(folder / "loop", folder)
    assert found(folder) == {("attachments", "link"), ("loop", "link")}
    with pytest.raises(RunFileError):
        add_note(folder, "x", who="bench", files=QUICK)


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no named pipes in folders")
@pytest.mark.parametrize("name", ["samples.csv", "journal.jsonl", "run.json", "seal.json", "x"])
def test_a_pipe_does_not_hang_the_check(tmp_path: Path, name: str) -> None:
    folder = finished_run(tmp_path)
    (folder / name).unlink(missing_ok=True)
    os.mkfifo(folder / name)
    assert name in verify(folder).changed


def test_what_is_no_run_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(RunFileError, match="is not a run folder"):
        verify(tmp_path)


# ---- former seals --------------------------------------------------------------------------


def resumed_run(tmp_path: Path, spoil: Callable[[Path], object] = lambda _: None) -> Path:
    """Stopped after two steps, perhaps changed by somebody, resumed and ended."""
    folder = finished_run(tmp_path, state="stopped", steps=2)
    spoil(folder)
    clock = HandClock()
    clock.advance(600.0)
    again = reopen(folder, clock, files=QUICK, sync_every_s=None)
    measure_step(again, clock, 3)
    return finish(again)


def test_a_resumed_run_holds_with_its_former_seal(tmp_path: Path) -> None:
    assert verify(resumed_run(tmp_path)).problems == ()


@pytest.mark.parametrize("name", ["samples.csv", "curve.csv", "verdict.json"])
def test_a_change_before_a_resume_stays_visible(tmp_path: Path, name: str) -> None:
    def spoil(folder: Path) -> None:
        path = folder / name
        path.write_bytes(path.read_bytes().replace(b"0", b"1", 1))

    problems = verify(resumed_run(tmp_path, spoil)).problems
    assert any(p.wrong == "former seal" and name in p.words + p.file for p in problems)


def test_a_change_after_a_resume_of_what_was_sealed_before_is_found(tmp_path: Path) -> None:
    folder = resumed_run(tmp_path)
    path = folder / "samples.csv"
    path.write_bytes(path.read_bytes().replace(b"13.5", b"13.6", 1))
    sealed_anew(folder)
    assert found(folder) == {("samples.csv", "former seal")}


def test_a_seal_that_cannot_be_read_is_not_called_unsigned(tmp_path: Path, key: SigningKey) -> None:
    """One bit of the opening bracket: whether somebody signed it is not known any more."""
    folder = finished_run(tmp_path, key=key)
    path = folder / SEAL_FILE
    data = bytearray(path.read_bytes())
    data[0] ^= 1
    path.write_bytes(data)
    report = verify(folder)
    assert (report.sealed, report.signature, report.seals) == (False, "unreadable", ())
    (problem,) = report.problems
    assert "whether it is signed cannot be read" in str(problem)
    path.unlink()
    assert verify(folder).signature == "none"


def test_a_seal_of_a_newer_program_is_told_as_that(tmp_path: Path) -> None:
    folder = finished_run(tmp_path)
    table = json.loads((folder / SEAL_FILE).read_bytes())
    (folder / SEAL_FILE).write_bytes(many_lines({**table, "schema": 2}))
    assert "a newer program made it (schema 2; this one knows 1)" in str(verify(folder).problems[0])
