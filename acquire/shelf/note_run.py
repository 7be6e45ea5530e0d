"""Noting a run in the index when it begins and when it ends, without ever disturbing it."""

from __future__ import annotations

import contextlib
import threading
from pathlib import Path

_one_at_a_time = threading.Lock()


def note_run(folder: Path) -> threading.Event:
    """Note a run in the index, in the background; returns at once and never raises.

    Nothing is lost where it fails, is cut off by the program's end, or the server is away: the
    next time a shelf is looked at, folders and index are compared.

    Returns:
        Set when it is over, for who wants to `wait` a moment for it.
    """
    over = threading.Event()
    thread = threading.Thread(target=_note, args=(Path(folder), over), name="note run", daemon=True)
    try:
        thread.start()
    except RuntimeError:  # no more threads, or the program is ending
        over.set()
    return over


def _note(folder: Path, over: threading.Event) -> None:
    try:
        with _one_at_a_time, contextlib.suppress(Exception):
            from acquire.shelf.shelf import open_shelf
            from acquire.shelf.where import server_of

            open_shelf(folder.parent, server_of(folder.parent)).close()
    finally:
        over.set()
