r"""seal.json: the SHA-256 of each file and of the whole, signed when the workshop has a key.

The seal can be checked without this program. What is hashed as `whole`, and signed, is a text
that `sha256sum` prints (FIPS 180-4) under five heading lines; the signature is plain Ed25519
(RFC 8032) in base64. In the run folder, with SCHEMA, RUN_ID, STATE, SEALED, KEY and the file names
in the order of `files`, all as seal.json has them:

    { printf '# steadyamps seal SCHEMA\n# run %s\n# state %s\n# sealed %s\n# key %s\n' \
        RUN_ID STATE SEALED KEY; sha256sum FILE FILE ...; } > listing.txt
    sha256sum listing.txt                                    # must be `whole`
    sha256sum -c listing.txt                                 # every file, one by one
    printf %s SIGNATURE | openssl base64 -d -A > signature.bin
    openssl pkeyutl -verify -pubin -inkey workshop.pub.pem -rawin \
        -in listing.txt -sigfile signature.bin

KEY is `none` where there is no signature, else the SHA-256 of the public key in DER:

    openssl pkey -pubin -in workshop.pub.pem -outform DER | sha256sum
"""

from __future__ import annotations

import hashlib
import re
import stat
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from acquire.errors import RunFileError
from acquire.record.files import PART, file_error
from acquire.record.json_text import many_lines
from acquire.record.migrate import SCHEMA
from acquire.record.run_header import RUN_FILE, RunHeader

if TYPE_CHECKING:
    from acquire.record.keys import SigningKey

SEAL_FILE = "seal.json"
ATTACHMENTS = "attachments"
NO_KEY = "none"
CHUNK = 1 << 20
_LEFT_BY_FILE_BROWSERS = {".DS_Store", "Thumbs.db", "desktop.ini"}
_HALF_WRITTEN = re.compile(
    r"((run|verdict|seal)\.json|journal\.jsonl|(samples|curve)\.csv|curve\.csv-metadata\.json"
    rf"|{ATTACHMENTS}/(note-\d{{4}}\.json|\d{{4}}-[^/]+)){re.escape(PART)}"
)
_PAPER = re.compile(rf"(report|report-before|sheet|tag)\.(html|pdf)({re.escape(PART)})?")
"""Finished, or cut off while it was written."""


def is_leftover(name: str) -> bool:
    """True for a replacement of ours that a power cut left half written: never part of a run."""
    return _HALF_WRITTEN.fullmatch(name) is not None


def leftovers(folder: Path) -> list[Path]:
    """The half-written replacements in a run folder."""
    paths = [*folder.glob(f"*{PART}"), *folder.glob(f"{ATTACHMENTS}/*{PART}")]
    return [path for path in paths if is_leftover(path.relative_to(folder).as_posix())]


def lies_outside(name: str) -> bool:
    """True for what is made from a sealed record, or left by a file browser: named, not judged."""
    return _PAPER.fullmatch(name) is not None or name.rpartition("/")[2] in _LEFT_BY_FILE_BROWSERS


@dataclass(frozen=True, slots=True)
class SealedFile:
    """One file of a seal."""

    name: str
    """Relative to the run folder, with /."""
    size: int
    sha256: str


def files_of(folder: Path) -> Iterator[Path]:
    """Every file under the folder that a seal covers; links are given, never followed.

    Raises:
        RunFileError: If the folder cannot be read.
    """
    waiting = [folder]
    while waiting:
        part = waiting.pop()
        try:
            inside = sorted(
                (path, path.is_dir() and not path.is_symlink()) for path in part.iterdir()
            )
        except OSError as error:
            raise file_error(part, error, "read") from error
        waiting.extend(path for path, is_folder in inside if is_folder)
        names = (
            (path, path.relative_to(folder).as_posix())
            for path, is_folder in inside
            if not is_folder
        )
        yield from (path for path, name in names if name != SEAL_FILE and not lies_outside(name))


def is_ordinary(path: Path) -> bool:
    """True for a file that is no link, pipe or device: only such a file may be opened."""
    return stat.S_ISREG(path.lstat().st_mode)


def hashed(path: Path, name: str) -> SealedFile:
    """Hash one file.

    Raises:
        RunFileError: If it is a link, no ordinary file, or cannot be read.
    """
    digest, size = hashlib.sha256(), 0
    try:
        if not is_ordinary(path):
            raise RunFileError(
                path,
                "is a link or not an ordinary file.",
                what_to_do="A record holds ordinary files only: put the file itself there.",
            )
        with path.open("rb") as file:
            while chunk := file.read(CHUNK):
                digest.update(chunk)
                size += len(chunk)
    except OSError as error:
        raise file_error(path, error, "read") from error
    return SealedFile(name, size, digest.hexdigest())


@dataclass(frozen=True, slots=True)
class Signature:
    """An Ed25519 signature over a seal's listing."""

    public_key: str
    """PEM."""
    value: str
    """Base64."""


@dataclass(frozen=True, slots=True)
class Seal:
    """What seal.json says."""

    run_id: str
    state: str
    sealed_utc: str
    key: str
    """Fingerprint of the signing key, or `none`."""
    files: tuple[SealedFile, ...]
    whole: str = ""
    signature: Signature | None = None
    schema: int = SCHEMA
    """That of the program that sealed: it stands in what is hashed and signed, so it stays."""

    def listing(self) -> bytes:
        """The text that is hashed as `whole` and signed."""
        heading = (
            f"# steadyamps seal {self.schema}\n# run {self.run_id}\n# state {self.state}\n"
            f"# sealed {self.sealed_utc}\n# key {self.key}\n"
        )
        lines = (f"{file.sha256}  {file.name}\n" for file in self.files)
        return (heading + "".join(lines)).encode()

    def closed(self, key: SigningKey | None) -> Seal:
        """The same seal with its hash of the whole, and signed when there is a key."""
        text = self.listing()
        signature = Signature(key.public.pem, key.signature_of(text)) if key else None
        return replace(self, whole=hashlib.sha256(text).hexdigest(), signature=signature)

    def table(self) -> dict[str, object]:
        """The keys of seal.json."""
        signature = self.signature
        return {
            "schema": self.schema,
            "run_id": self.run_id,
            "state": self.state,
            "sealed_utc": self.sealed_utc,
            "key": self.key,
            "files": [
                {"name": file.name, "bytes": file.size, "sha256": file.sha256}
                for file in self.files
            ],
            "whole": self.whole,
            "signature": signature
            and {
                "algorithm": "Ed25519",
                "public_key": signature.public_key,
                "value": signature.value,
            },
        }

    def signature_state(self) -> Literal["valid", "invalid", "none"]:
        """Whether the signature is that of `key` over the listing."""
        if self.signature is None:
            return "none" if self.key == NO_KEY else "invalid"
        from acquire.record.keys import PublicKey

        public = PublicKey(self.signature.public_key)
        try:
            right_key = public.fingerprint == self.key
            valid = right_key and public.signed(self.listing(), self.signature.value)
        except ValueError:
            valid = False
        return "valid" if valid else "invalid"

    def by_name(self) -> dict[str, SealedFile]:
        """The files by their names."""
        return {file.name: file for file in self.files}


def seal_from(table: object) -> Seal:
    """Read the keys of a seal.json.

    Raises:
        ValueError: If they are not those of a seal, with a sentence.
    """
    schema = _schema_of(table)
    if not isinstance(table, dict) or schema is None:
        raise ValueError("it has no schema number of a seal")
    if schema > SCHEMA:
        raise ValueError(f"a newer program made it (schema {schema}; this one knows {SCHEMA})")
    try:
        files = tuple(
            SealedFile(_word(one["name"]), int(one["bytes"]), _word(one["sha256"]))
            for one in table["files"]
        )
        words = [_word(table[key]) for key in ("run_id", "state", "sealed_utc", "key", "whole")]
        signature = table["signature"] and Signature(
            _word(table["signature"]["public_key"]), _word(table["signature"]["value"])
        )
    except (KeyError, TypeError) as error:
        raise ValueError(f"a key is missing or of the wrong kind ({error})") from error
    run_id, state, sealed_utc, key, whole = words
    return Seal(run_id, state, sealed_utc, key, files, whole, signature or None, schema)


def _schema_of(table: object) -> int | None:
    number = table.get("schema") if isinstance(table, dict) else None
    return number if type(number) is int and number >= 1 else None


def _word(value: object) -> str:
    if not isinstance(value, str):
        raise TypeError(f"{value!r:.40} is not text")
    return value


def key_facts(key: SigningKey | None) -> dict[str, str]:
    """What the journal and notes say of the key in use."""
    return (
        {"seal_key": key.fingerprint, "public_key": key.public.pem} if key else {"seal_key": NO_KEY}
    )


def make_seal(
    folder: Path,
    header: RunHeader,
    *,
    sealed_utc: str,
    key: SigningKey | None,
    header_stays: bool = False,
) -> Seal:
    """Seal all files as they are, and run.json as `header` will be.

    `header_stays`: run.json is not written again, an older program's may differ from ours.

    Raises:
        RunFileError: If a file is a link or cannot be read.
    """
    names = {path.relative_to(folder).as_posix(): path for path in files_of(folder)}
    names = {name: path for name, path in names.items() if not is_leftover(name)}
    names[RUN_FILE] = folder / RUN_FILE
    content = header.as_bytes()
    run_file = SealedFile(RUN_FILE, len(content), hashlib.sha256(content).hexdigest())
    sealed = tuple(
        run_file if name == RUN_FILE and not header_stays else hashed(path, name)
        for name, path in sorted(names.items(), key=lambda pair: pair[0].encode())
    )
    name = key.fingerprint if key else NO_KEY
    seal = Seal(header.run_id, header.state, sealed_utc, name, sealed, schema=SCHEMA)
    return seal.closed(key)


def seal_bytes(
    folder: Path,
    header: RunHeader,
    *,
    sealed_utc: str,
    key: SigningKey | None,
    header_stays: bool = False,
) -> bytes:
    """The content of seal.json, of what `make_seal` makes.

    Raises:
        RunFileError: If a file is a link or cannot be read.
    """
    seal = make_seal(folder, header, sealed_utc=sealed_utc, key=key, header_stays=header_stays)
    return many_lines(seal.table())
