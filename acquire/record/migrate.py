"""Schema numbers of a record, and the place where an older one is brought up to date."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from acquire.errors import RunFileError

SCHEMA = 1
"""The schema this program writes (run.json, verdict.json, seal.json, notes)."""

Step = Callable[[dict[str, Any]], dict[str, Any]]
RUN_STEPS: Mapping[int, Step] = {}
"""From schema number n: what makes a run.json of n into one of n + 1. None yet: 1 is the first.

A number that is not there left this file as it was; so too in the next two.
"""
VERDICT_STEPS: Mapping[int, Step] = {}
"""The same for verdict.json."""
NOTE_STEPS: Mapping[int, Step] = {}
"""The same for notes. A seal is never brought up to date: what is signed is its own text."""


def up_to_date(
    path: Path, table: object, *, steps: Mapping[int, Step], newest: int | None = None
) -> dict[str, Any]:
    """Give the table as the newest schema (else `newest`) has it; the file itself stays as it is.

    Raises:
        RunFileError: If it has no schema number, or one from a newer program.
    """
    if not isinstance(table, dict):
        raise RunFileError(path, "is not a table of keys.", what_to_do="Fetch it from a copy.")
    number = table.get("schema")
    newest = SCHEMA if newest is None else newest
    if isinstance(number, bool) or not isinstance(number, int) or number < 1:
        raise RunFileError(path, "has no schema number.", what_to_do="Fetch it from a copy.")
    if number > newest:
        raise RunFileError(
            path,
            f"was written by a newer program (schema {number}; this one knows {newest}).",
            what_to_do="Install a newer steadyamps to read it.",
        )
    for older in range(number, newest):
        table = {**steps.get(older, dict)(table), "schema": older + 1}
    return table
