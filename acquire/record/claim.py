"""One writer per run: a lock on the open file that ends with the process, however it ends."""

from __future__ import annotations

import os
import sys
from pathlib import Path

FAR_BEYOND = 0x7FFF_0000
"""Windows locks bytes against reading too; this one no samples.csv reaches."""


def claim(descriptor: int) -> None:
    """Lock an open file for this process.

    Raises:
        BlockingIOError: If another writer has it. A file system without locks claims nothing.
    """
    if sys.platform == "win32":
        _claim_on_windows(descriptor)
    else:
        import fcntl

        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise
        except OSError:
            return


def being_written(path: Path) -> bool | None:
    """Whether another writer has claimed a file; None where that cannot be told.

    It asks for a lock that may be shared and lets go of it at once.
    """
    try:
        descriptor = os.open(path, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0))
    except OSError:
        return None
    try:
        return _claimed_by_another(descriptor)
    except BlockingIOError:
        return True
    except OSError:
        return None
    finally:
        os.close(descriptor)


def _claimed_by_another(descriptor: int) -> bool:
    if sys.platform == "win32":
        import msvcrt

        _claim_on_windows(descriptor)
        msvcrt.locking(descriptor, msvcrt.LK_UNLCK, 1)
    else:
        import fcntl

        fcntl.flock(descriptor, fcntl.LOCK_SH | fcntl.LOCK_NB)
    return False


def _claim_on_windows(descriptor: int) -> None:
    if sys.platform == "win32":
        import msvcrt

        os.lseek(descriptor, FAR_BEYOND, os.SEEK_SET)
        try:
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        except OSError as error:
            raise BlockingIOError(*error.args) from error
