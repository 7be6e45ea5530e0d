"""Every page, to be imported before one is asked for: an import takes too long on a key."""

from __future__ import annotations

import gc

from acquire.screens import (
    help_page,
    instruments_page,
    match_page,
    past_page,
    ready_page,
    result_page,
    sweep_page,
)

__all__ = [
    "help_page",
    "instruments_page",
    "keep_for_good",
    "match_page",
    "past_page",
    "ready_page",
    "result_page",
    "sweep_page",
]


def keep_for_good() -> None:
    """What is loaded by now is never collected: looking through it would hold keys up.

    A full collection took 50 ms of processor time on the thread of the screens, more under load.
    """
    gc.collect()
    gc.freeze()
