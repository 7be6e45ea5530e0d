"""verdict.json: what came out of the run (see schemas/verdict.schema.json)."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from acquire.errors import RunFileError
from acquire.record.json_text import many_lines, read_json
from acquire.record.migrate import SCHEMA, VERDICT_STEPS, up_to_date

VERDICT_FILE = "verdict.json"


def verdict_bytes(verdict: Mapping[str, Any]) -> bytes:
    """The file's content; `schema` is set here.

    Raises:
        ValueError: If `outcome` or `reason` is missing.
    """
    for key in ("outcome", "reason"):
        if not verdict.get(key):
            raise ValueError(f"a verdict has an {key}")
    return many_lines({"schema": SCHEMA, **verdict})


def read_verdict(folder: Path) -> dict[str, Any] | None:
    """The verdict of a run, or None where it has none (yet).

    Raises:
        RunFileError: If the file cannot be used.
    """
    path = folder / VERDICT_FILE
    if not path.exists():
        return None
    verdict = up_to_date(path, read_json(path), steps=VERDICT_STEPS)
    if not isinstance(verdict.get("outcome"), str) or not isinstance(verdict.get("reason"), str):
        raise RunFileError(
            path, "has no outcome or no reason.", what_to_do="Fetch the run again from a copy."
        )
    return verdict
