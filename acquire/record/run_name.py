"""Names of run folders, safe on Windows, Linux and macOS; times as a record writes them."""

from __future__ import annotations

import re
import secrets
import string
import unicodedata
from datetime import UTC, datetime
from pathlib import Path

from acquire.errors import RunFileError
from acquire.record.files import Files, translated
from acquire.record.shelf_folder import make_shelf

NAME_TRIES = 5
LONGEST_LABEL = 40
ENDING = 4
FOUR_LETTERS = (
    "The letters at the end of a run's name are four, as in kqzd; `steadyamps shelf list` shows"
    " them, and `steadyamps shelf search` finds a run by serial, job or unit."
)
"""What to do where fewer were typed."""
_UNSAFE = re.compile(r"[^A-Za-z0-9]+")


def run_name(began: datetime, label: str | None, letters: str | None = None) -> str:
    """Give `<utc date>T<time>Z-<job or unit>-<4 letters>`, as in 2026-11-25T111547Z-J1044-kqzd."""
    stamp = began.astimezone(UTC).strftime("%Y-%m-%dT%H%M%SZ")
    return f"{stamp}-{safe_label(label)}-{letters or four_letters()}"


def safe_label(label: str | None) -> str:
    """Reduce any text to letters, digits and hyphens: no path, no dot, no control character."""
    plain = unicodedata.normalize("NFKD", label or "").encode("ascii", "ignore").decode("ascii")
    return _UNSAFE.sub("-", plain)[:LONGEST_LABEL].strip("-") or "unit"


def four_letters() -> str:
    """Four letters by chance, so that two benches never choose the same name."""
    return "".join(secrets.choice(string.ascii_lowercase) for _ in range(ENDING))


def too_short_an_ending(typed: str) -> bool:
    """True for what may be meant as the letters at the end of a run's name, and is too few."""
    return len(typed) < ENDING and typed.isascii() and typed.isalpha()


def utc_text(moment: datetime) -> str:
    """ISO 8601 with milliseconds and Z, as everywhere in a record."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def utc_of(text: str) -> datetime:
    """Read back what `utc_text` wrote.

    Raises:
        ValueError: If it is no date and time.
    """
    return datetime.fromisoformat(text).astimezone(UTC)


def new_folder(shelf: Path, began: datetime, label: str | None, files: Files) -> Path:
    """Make a folder of a new name under `shelf`, which is made too where it is missing
    and the folder above it is there.

    Raises:
        RunFileError: If it cannot be made.
    """
    make_shelf(shelf)
    for _ in range(NAME_TRIES):
        folder = shelf / run_name(began, label)
        try:
            with translated(folder):
                files.make_folder(folder)
                files.sync_folder(shelf)
        except RunFileError as error:
            if not isinstance(error.__cause__, FileExistsError):
                raise
        else:
            return folder
    raise RunFileError(shelf, "already holds runs of every name tried.", what_to_do="Begin again.")
