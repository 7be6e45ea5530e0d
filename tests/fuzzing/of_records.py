"""Targets: files of a run folder, each by itself."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Callable
from pathlib import Path
from string import Formatter

from acquire.record.add_note import add_note
from acquire.record.curve_table import HEADING, curve_bytes, curve_from
from acquire.record.journal import JournalChain, JournalEntry, first_prev, journal_from
from acquire.record.json_text import many_lines, parse
from acquire.record.keys import (
    PublicKey,
    SigningKey,
    load_key,
    read_public_key,
    trusted_fingerprints,
)
from acquire.record.migrate import up_to_date
from acquire.record.notes import read_notes
from acquire.record.run_header import header_from_bytes
from acquire.record.run_name import utc_of
from acquire.record.samples import HEADING as SAMPLES_HEADING
from acquire.record.samples import SampleRows, check_samples, iterate_samples
from acquire.record.seal import seal_from
from acquire.record.verdict_file import read_verdict
from acquire.report.language import FOLDER, read_language
from acquire.report.part_record import media_of
from acquire.snapshots import snapshots_of
from drivers.clock import HandClock
from drivers.readings import Quality
from profiles.errors import BenchError
from tests.fuzzing.target import NotTaken, Target, claim, text_of
from tests.record.test_bench_time import instant_of

RUN_ID = "2026-01-02T030405Z-J-1044-abcd"
RUN = Path("run.json")


def journal_sample() -> bytes:
    """A small journal of an invented run."""
    chain = JournalChain(first_prev(RUN_ID))
    kinds: list[tuple[str, dict[str, object]]] = [
        ("began", {"seal_key": "none"}),
        ("zero taken", {"amps": 0.02, "u_amps": 0.01, "readings": 40}),
        ("steady point", {"step": 1, "text": "1,1500.0,1500.1,0.05,45.2,0.2,13.5,0.01,,yes,0.3,3"}),
        ("tick", {}), ("act", {"act": "HoldLonger", "for_s": 20.0}),
        ("ended", {"state": "complete"}),
    ]  # fmt: skip
    return b"".join(
        chain.line(JournalEntry(0.5 * number, "2026-01-02T03:04:05.000Z", kind, data, number))
        for number, (kind, data) in enumerate(kinds)
    )


JOURNAL = journal_sample()


def feed_journal(data: bytes) -> None:
    """Every line that is taken is chained to the one before; nothing changed is among them."""
    read = journal_from(data, RUN_ID)
    prev = hashlib.sha256(RUN_ID.encode()).hexdigest()
    taken = data[: read.good_bytes].split(b"\n")[:-1]
    claim(len(taken) == len(read.entries), "lines and entries differ in number")
    for line, entry in zip(taken, read.entries, strict=True):
        table = json.loads(line)
        claim(table["prev"] == prev, "a line that is not chained was taken")
        claim(table["kind"] == entry.kind and float(table["t_s"]) == entry.t_s, "another entry")
        claim(math.isfinite(entry.t_s), "no time")
        prev = hashlib.sha256(line).hexdigest()
    whole = JOURNAL.split(b"\n")
    # A changed line breaks the chain for the next: only the last one taken may be of other hands.
    claim(taken[:-1] == whole[: max(len(taken) - 1, 0)], "a changed line was taken")
    claim(read.prev == prev and (read.tail is None) == (read.good_bytes == len(data)), "the tail")
    if read.tail is not None:
        claim(read.tail.raw == data[read.good_bytes :], "bytes of the tail are lost")
        raise NotTaken(str(read.tail))


def feed_run_header(data: bytes) -> None:
    """run.json: written again it is the same; its times are times; its profiles can be read."""
    header = header_from_bytes(RUN, data)
    claim(header_from_bytes(RUN, header.as_bytes()) == header, "another header comes back")
    for moment in (header.began_utc, header.ended_utc):
        claim(moment is None or utc_of(moment).year > 0, "a time that is none")
    shown, began = header.began_words, utc_of(header.began_utc).replace(second=0, microsecond=0)
    claim(instant_of(shown) == began, f"{header.began_utc} shown as {shown}")
    claim(shown.startswith(str(header.began_day)), "another day")
    claim(all(math.isfinite(rpm) for rpm in header.steps), "a step at no speed")
    if header.rig is not None and header.method is not None:
        snapshots_of(header)


def feed_migration(data: bytes) -> None:
    """An older table is brought up to date step by step, or refused; the file is not touched."""
    table = parse(data)
    before = json.dumps(table)
    steps = {1: lambda old: {**old, "two": 2}, 2: lambda old: {**old, "three": 3}}
    new = up_to_date(RUN, table, steps=steps, newest=3)
    began = table["schema"] if isinstance(table, dict) else 0
    claim(new["schema"] == 3 and (began == 3 or new["three"] == 3), "not brought up to date")
    claim(json.dumps(table) == before, "the old table was changed")


def feed_curve(data: bytes) -> None:
    """curve.csv: whole rows come back byte for byte in their measured columns."""
    read = curve_from(Path("curve.csv"), data)
    again = curve_from(Path("curve.csv"), curve_bytes(read.rows))
    claim(again.rows == read.rows and again.tail is None, "other rows come back")
    steps = [row.step for row in read.rows]
    claim(len(set(steps)) == len(steps) and all(step >= 1 for step in steps), f"steps {steps[:5]}")
    for row in read.rows:
        for part in (row.measured, row.judged):
            for name in part.__dataclass_fields__:
                value = getattr(part, name)
                claim(not isinstance(value, float) or math.isfinite(value), f"{name} = {value}")
    if read.tail is not None:
        raise NotTaken(str(read.tail))


def feed_seal(data: bytes) -> None:
    """seal.json: written again it is the same; its listing and signature can be asked for."""
    seal = seal_from(parse(data))
    claim(seal_from(parse(many_lines(seal.table()))) == seal, "another seal comes back")
    seal.listing()
    state = seal.signature_state()
    claim(state == "none" or seal.signature is not None or seal.key != "none", state)


def feed_picture(data: bytes) -> None:
    """Logo or photo: known by its first bytes alone; SVG never is one."""
    media = media_of(data)
    if media is None:
        raise NotTaken("no picture")
    starts = {
        "image/png": b"\x89PNG",
        "image/jpeg": b"\xff\xd8\xff",
        "image/gif": b"GIF8",
        "image/webp": b"RIFF",
    }
    claim(data.startswith(starts[media]), "a picture of another kind")


class Files:
    """Files that are read from a disk."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder / "record"
        (self._folder / "attachments").mkdir(parents=True)

    def _write(self, name: str, data: bytes) -> Path:
        path = self._folder / name
        path.write_bytes(data)
        return path

    def feed_samples(self, data: bytes) -> None:
        """samples.csv: every row that is taken holds a finite value or says why not."""
        path = self._write("samples.csv", data)
        read = check_samples(path)
        readings = list(iterate_samples(path))
        claim(len(readings) == read.rows, "counted and read rows differ")
        claim(math.isfinite(read.last_t_s), "the last time is none")
        for reading in readings:
            claim(math.isfinite(reading.t_s), "a time that is none")
            value = reading.value
            claim(
                (reading.quality is Quality.OK) == (value is not None), "quality and value disagree"
            )
            claim(value is None or math.isfinite(value), f"{value} is taken for a reading")
        again = self._write("samples.csv", SAMPLES_HEADING + SampleRows().rows(readings))
        claim(list(iterate_samples(again)) == readings, "other readings come back")
        if read.tail is not None:
            raise NotTaken(str(read.tail))

    def feed_verdict(self, data: bytes) -> None:
        """verdict.json has an outcome and a reason."""
        self._write("verdict.json", data)
        verdict = read_verdict(self._folder)
        claim(verdict is not None and bool(isinstance(verdict["outcome"], str)), "no outcome")

    def feed_note(self, data: bytes) -> None:
        """A note: what is read is what it says, and only in the kinds of value it may have."""
        self._write("attachments/note-0001.json", data)
        for note in read_notes(self._folder):
            claim(
                all(isinstance(t, str) for t in (note.utc, note.who, note.why, note.text)),
                "no text",
            )
            claim(note.seal_key is None or isinstance(note.seal_key, str), "no key")
            claim(note.former_seal is None or isinstance(note.former_seal, dict), "no seal")
            claim(note.data is None or isinstance(note.data, dict), "no figures")
            for file in note.files:
                claim(isinstance(file.name, str) and isinstance(file.original, str), "no file name")
                claim(type(file.size) is int and isinstance(file.sha256, str), "no size")
                claim(
                    "/" not in file.name and ".." not in file.name, f"a file elsewhere: {file.name}"
                )

    def feed_key(self, data: bytes) -> None:
        """A signing key, its public half, and a list of trusted ones."""
        path = self._write("workshop.pem", data)
        path.chmod(0o600)
        refusals = []
        readers: tuple[Callable[[Path], SigningKey | PublicKey], ...] = (load_key, read_public_key)
        for read in readers:
            try:
                claim(len(read(path).fingerprint) == 64, "no fingerprint")
            except BenchError as refusal:
                refusals.append(refusal)
        if len(refusals) == 2:
            raise refusals[1]

    def feed_language(self, data: bytes) -> None:
        """A file of a language: texts with placeholders that can be filled in."""
        found = read_language(self._write("xx.toml", data))
        claim(found.code == "xx", "another code")
        for text in (*found.texts.values(), *found.phrases.values()):
            claim(isinstance(text, str), "a text that is none")
            claim(sum(1 for _ in Formatter().parse(text)) >= 0, "placeholders")

    def feed_trust(self, data: bytes) -> None:
        """`[seal] trust`: fingerprints or paths."""
        for found in trusted_fingerprints([text_of(data)]):
            claim(len(found) == 64 and set(found) <= set("0123456789abcdef"), found)


def _same_key() -> tuple[SigningKey, bytes]:
    """A key that is the same each time, so that a seed gives the same inputs."""
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

    private = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))
    return SigningKey(private), private.private_bytes(
        Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()
    )


def targets(folder: Path, run: Path) -> list[Target]:
    """All targets of single files; `run` is a whole run to take samples from."""
    files = Files(folder)
    key, private = _same_key()
    key_files = [private, key.public.pem.encode()]
    clock = HandClock()
    note = add_note(
        run,
        "Looked at again.",
        who="bench",
        why="asked",
        attach=[run / "curve.csv"],
        data={"a": 1.5},
        clock=clock,
    )
    header = (run / "run.json").read_bytes()
    curve = (run / "curve.csv").read_bytes()
    samples = (run / "samples.csv").read_bytes()[:2000]
    heading = SAMPLES_HEADING + b"0.0,amps,1.5,ok\r\n0.1,volts,,bad\r\n1e-05,case_c,-2e+16,ok\r\n"
    seal = (run / "seal.json").read_bytes()
    verdict = (run / "verdict.json").read_bytes()
    signed = many_lines(seal_from(parse(seal)).closed(key).table())
    text = (run / note.file).read_bytes()
    pictures = [
        b"\x89PNG\r\n\x1a\n" + b"\0" * 20,
        b"\xff\xd8\xff\xe0",
        b"GIF89a",
        b"RIFF\0\0\0\0WEBPVP8 ",
        b"<svg xmlns='x'/>",
    ]
    migration = [
        b'{"schema":1,"x":[1,2]}',
        b'{"schema":2}',
        b'{"schema":3,"three":3}',
        b'{"schema":4}',
    ]
    value = (ValueError, BenchError)
    return [
        Target("record: journal.jsonl", [JOURNAL], feed_journal, shape="json lines", share=0.4),
        Target(
            "record: run.json",
            [header],
            feed_run_header,
            shape="json",
            names=("run.json",),
            share=0.15,
        ),
        Target(
            "record: older schema", migration, feed_migration, shape="json", family=value, share=0.7
        ),
        Target(
            "record: curve.csv",
            [curve, HEADING],
            feed_curve,
            shape="csv",
            names=("curve.csv",),
            share=0.4,
        ),
        Target(
            "record: samples.csv",
            [samples, heading],
            files.feed_samples,
            shape="csv",
            names=("samples.csv",),
            share=0.2,
        ),
        Target(
            "record: verdict.json",
            [verdict, b'{"schema":1,"outcome":"pass","reason":"x"}'],
            files.feed_verdict,
            shape="json",
            names=("verdict.json",),
            share=0.15,
        ),
        Target(
            "record: seal.json", [seal, signed], feed_seal, shape="json", family=value, share=0.3
        ),
        Target(
            "record: note",
            [text],
            files.feed_note,
            shape="json",
            names=("note-0001.json",),
            share=0.3,
        ),
        Target(
            "record: signing keys", key_files, files.feed_key, names=("workshop.pem",), share=0.3
        ),
        Target(
            "record: trusted keys",
            [b"ab" * 32, b"AB:" * 31 + b"AB", b"~/x.pem", b"no-such.pem"],
            files.feed_trust,
            share=0.3,
        ),
        Target(
            "report: language file",
            [path.read_bytes() for path in sorted(FOLDER.glob("*.toml"))],
            files.feed_language,
            shape="toml",
            names=("xx.toml",),
            share=0.02,
        ),
        Target("report: logo and photo", pictures, feed_picture, shape="bytes"),
    ]
