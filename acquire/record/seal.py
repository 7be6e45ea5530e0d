r"""seal.json: the SHA-256 of each file and of the whole, signed when the workshop has a key.

The seal can be checked without this program. What is hashed as `whole`, and signed, is a text
that `sha256sum` prints (FIPS 180-4) under five heading lines; the signature is plain Ed25519
(RFC 8032) in base64. In the run folder, with RUN_ID, STATE, SEALED, KEY and the file names in the
order of `files`, all as seal.json has them:

    { printf '# steadyamps seal 1\n# run %s\n# state %s\n# sealed %s\n# key %s\n' \
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
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

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
_PAPER = {f"{name}.{ending}" for name in ("report", "sheet", "tag") for ending in ("html", "pdf")}


def lies_outside(name: str) -> bool:
    """True for what is made from a sealed record, or left by a file browser: named, not judged."""
    return name in _PAPER or name.rpartition("/")[2] in _LEFT_BY_FILE_BROWSERS


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
    try:
        for path in sorted(folder.iterdir()):
            name = path.relative_to(folder).as_posix()
            if path.is_dir() and not path.is_symlink():
                yield from (inner for inner in files_below(path, folder))
            elif name != SEAL_FILE and not lies_outside(name):
                yield path
    except OSError as error:
        raise file_error(folder, error, "read") from error


def files_below(part: Path, folder: Path) -> Iterator[Path]:
    """Every file in a folder inside the run folder, however deep."""
    for path in sorted(part.iterdir()):
        if path.is_dir() and not path.is_symlink():
            yield from files_below(path, folder)
        elif not lies_outside(path.relative_to(folder).as_posix()):
            yield path


def hashed(path: Path, name: str) -> SealedFile:
    """Hash one file.

    Raises:
        RunFileError: If it is a link, no ordinary file, or cannot be read.
    """
    import stat

    digest, size = hashlib.sha256(), 0
    try:
        if not stat.S_ISREG(path.lstat().st_mode):
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


def listing(
    run_id: str, state: str, sealed_utc: str, key: str, sealed: tuple[SealedFile, ...]
) -> bytes:
    """The text that is hashed as `whole` and signed."""
    heading = (
        f"# steadyamps seal {SCHEMA}\n# run {run_id}\n# state {state}\n"
        f"# sealed {sealed_utc}\n# key {key}\n"
    )
    lines = (f"{file.sha256}  {file.name}\n" for file in sealed)
    return (heading + "".join(lines)).encode()


def seal_bytes(
    folder: Path, header: RunHeader, *, sealed_utc: str, key: SigningKey | None
) -> bytes:
    """The seal over all files as they are, and over `header` as run.json will be.

    Raises:
        RunFileError: If a file is a link or cannot be read.
    """
    content = header.as_bytes()
    names = {path.relative_to(folder).as_posix(): path for path in files_of(folder)}
    names.setdefault(RUN_FILE, folder / RUN_FILE)
    sealed = tuple(
        SealedFile(name, len(content), hashlib.sha256(content).hexdigest())
        if name == RUN_FILE
        else hashed(path, name)
        for name, path in sorted(names.items(), key=lambda pair: pair[0].encode())
        if not name.endswith(PART)
    )
    return many_lines(seal_table(header, sealed, sealed_utc=sealed_utc, key=key))


def seal_table(
    header: RunHeader,
    sealed: tuple[SealedFile, ...],
    *,
    sealed_utc: str,
    key: SigningKey | None,
) -> Mapping[str, Any]:
    """The keys of seal.json."""
    name = key.fingerprint if key else NO_KEY
    text = listing(header.run_id, header.state, sealed_utc, name, sealed)
    return {
        "schema": SCHEMA,
        "run_id": header.run_id,
        "state": header.state,
        "sealed_utc": sealed_utc,
        "key": name,
        "files": [
            {"name": file.name, "bytes": file.size, "sha256": file.sha256} for file in sealed
        ],
        "whole": hashlib.sha256(text).hexdigest(),
        "signature": key.signature_of(text) if key else None,
    }
