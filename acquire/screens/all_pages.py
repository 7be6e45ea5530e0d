"""Every page, to be imported before one is asked for: an import takes too long on a key."""

from __future__ import annotations

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
    "match_page",
    "past_page",
    "ready_page",
    "result_page",
    "sweep_page",
]
