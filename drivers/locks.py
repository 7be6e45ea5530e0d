"""One lock per port and per rig file, across programs; the second is told who holds it.

The lock is the operating system's own on a small file in the user's runtime folder: it goes away
with the program that holds it, however that ends, so a stale file is simply taken over.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import sys
import warnings
from datetime import UTC, datetime
from io import FileIO
from pathlib import Path

from drivers.errors import CannotOpen

_LOCKED_BYTE = 4096
"""Windows forbids reading what is locked: a byte behind the text is, and no reading touches it."""
_LONGEST_TEXT = 2048


class Lock:
    """A lock that is held until `release`, or until the program ends."""

    def __init__(self, file: FileIO) -> None:
        self._file: FileIO | None = file

    def release(self) -> None:
        """Give it up; harmless when it was given up already."""
        file, self._file = self._file, None
        if file is not None:
            with contextlib.suppress(OSError, ValueError):
                file.truncate(0)
            with contextlib.suppress(OSError):
                _unlock(file)
            with contextlib.suppress(OSError):
                file.close()


def take_lock(kind: str, what: str, *, instrument: str, folder: Path | None = None) -> Lock:
    """Lock `what`, such as a port or a rig file; `kind` is `port` or `rig`.

    Raises:
        CannotOpen: Another program holds it; says which.
    """
    folder = folder or runtime_folder()
    digest = hashlib.sha256(what.encode()).hexdigest()[:16]
    path = folder / f"{kind}-{digest}.lock"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        file = FileIO(path, "a+")
    except OSError as error:
        raise CannotOpen(
            instrument,
            f"the lock {path} cannot be written ({error}).",
            what_to_do="Mend the permissions of that folder.",
        ) from error
    if not _lock(file):
        holder = _holder(file)
        file.close()
        raise CannotOpen(
            instrument,
            f"the {kind} {what} is held by {holder}.",
            what_to_do="Close that program first.",
        )
    _sign(file, what)
    return Lock(file)


def runtime_folder() -> Path:
    """Where lock files live."""
    from platformdirs import user_runtime_path

    with warnings.catch_warnings():  # without a login session there is a stand-in, with a warning
        warnings.simplefilter("ignore")
        return user_runtime_path("steadyamps", appauthor=False)


def _sign(file: FileIO, what: str) -> None:
    facts = {
        "pid": os.getpid(),
        "program": Path(sys.argv[0] or "python").name,
        "since": datetime.now(UTC).isoformat(timespec="seconds"),
        "what": what,
    }
    with contextlib.suppress(OSError):
        file.truncate(0)
        file.write(json.dumps(facts).encode()[:_LONGEST_TEXT])


def _holder(file: FileIO) -> str:
    with contextlib.suppress(OSError, ValueError, KeyError, TypeError):
        file.seek(0)
        facts = json.loads(file.read(_LONGEST_TEXT))
        return f"{facts['program']} (process {facts['pid']}, since {facts['since']})"
    return "another program"


def _lock(file: FileIO) -> bool:
    """Take the operating system's lock without waiting; False when another one has it."""
    try:
        if sys.platform == "win32":
            import msvcrt

            file.seek(_LOCKED_BYTE)
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def _unlock(file: FileIO) -> None:
    """Windows gives a lock back some time after closing, unless it is told to at once."""
    if sys.platform == "win32":
        import msvcrt

        file.seek(_LOCKED_BYTE)
        msvcrt.locking(file.fileno(), msvcrt.LK_UNLCK, 1)
