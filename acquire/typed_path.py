"""A path as somebody typed it, on the command line or in the settings."""

from __future__ import annotations

import re
import sys
from pathlib import Path

from acquire.errors import OrderError
from profiles.folders import config_folder
from profiles.plain_text import shown

LONGEST = 4000
"""No system of ours opens a longer path."""
LONGEST_NAME = 255
"""Bytes of the name of one file or folder."""
_DRIVE = re.compile(r"[A-Za-z]:(\\.*)?$", re.DOTALL)


def typed_path(text: str | Path) -> Path:
    """The path meant, `~` and `~user` filled in.

    Raises:
        OrderError: If it can be none on any system or none on this one, or there is no such user.
    """
    parts = Path(text).parts
    too_long = any(len(part.encode("utf-8", "replace")) > LONGEST_NAME for part in parts)
    if len(str(text)) > LONGEST or too_long or "\0" in str(text):
        raise OrderError(f"{shown(str(text))} is no path.", what_to_do="Write the path of a file.")
    if _names_a_drive(parts):
        raise OrderError(
            f"{shown(str(text))}: {parts[0][:2]} is a drive of Windows; there are none here.",
            what_to_do="Write the path as this system has it, as in /home/bench/runs.",
        )
    try:
        return Path(text).expanduser()
    except RuntimeError as error:
        raise OrderError(
            f"{shown(str(text))}: there is no such user on this computer.",
            what_to_do="Write the whole path.",
        ) from error


def path_in_settings(text: str, *, beside: Path | None = None) -> Path:
    """The path meant in settings.toml; a relative one counts from the folder of that file.

    Args:
        text: What the settings say.
        beside: The folder of a settings file other than the one the program reads.

    Raises:
        OrderError: As `typed_path`.
    """
    return (config_folder() if beside is None else beside) / typed_path(text)


def _names_a_drive(parts: tuple[str, ...]) -> bool:
    """True for `D:/runs` and `D:\\runs` where that would be a folder of an odd name in this one."""
    if sys.platform == "win32" or not parts or not _DRIVE.match(parts[0]):
        return False
    return not is_there(Path(parts[0]))


def is_there(path: Path) -> bool:
    """True for a file or folder that is there; a name too long for the disk is not."""
    try:
        return path.exists()
    except OSError:
        return False
