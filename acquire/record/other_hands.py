"""A record that was written by other hands: well-formed JSON, and not what a run writes."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from acquire.errors import RunFileError
from profiles.plain_text import visible

_NOT_OURS = (KeyError, TypeError, ValueError, AttributeError, ArithmeticError, csv.Error)
LONGEST_REASON = 80
LARGEST = 1e12
_LARGEST_KEPT = 1e300
"""What is larger cannot be squared."""


@contextmanager
def as_we_write(file: Path | str, what: str) -> Iterator[None]:
    """Turn what goes wrong while `what` is taken out of a record into a `RunFileError`.

    Only the taking out belongs inside; what is computed from it would hide its own faults.
    """
    try:
        yield
    except _NOT_OURS as error:
        reason = visible(f"{type(error).__name__}: {error}"[:LONGEST_REASON])
        raise RunFileError(
            file,
            f"holds {what} as no run writes it ({reason}).",
            what_to_do="`steadyamps verify` says what was changed. Fetch the run from a copy.",
        ) from error


def number(value: object, *, most: float = LARGEST) -> float:
    """A figure of a record.

    Raises:
        TypeError: If it is none, such as text or true.
        ValueError: If it is larger than any figure of a run.
    """
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise TypeError(f"{value!r:.30} is no figure")
    if not abs(value) <= most:
        raise ValueError("a figure is larger than any of a run")
    return float(value)


def number_if_any(value: object) -> float | None:
    """The figure where it is one that can be counted with, else None: for whoever only shows it."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    return float(value) if abs(value) < _LARGEST_KEPT else None


def number_or_none(value: object) -> float | None:
    """A figure of a record, where it has one.

    Raises:
        TypeError: If it is something else.
    """
    return None if value is None else number(value)
