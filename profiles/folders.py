"""Where profiles lie, the user's own and the shipped ones, and what they can be called by.

Light: nothing of a profile is read but its title, so that a shell can complete names quickly.
"""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Literal, get_args

from profiles.plain_text import visible

Kind = Literal["alternators", "rigs", "instruments", "methods", "rules"]
KINDS: tuple[Kind, ...] = get_args(Kind)
CONFIG_VARIABLE = "STEADYAMPS_CONFIG"
SETTINGS_FILE = "settings.toml"
_TITLE = re.compile(r'^title\s*=\s*"([^"\\]*)"', re.MULTILINE)
_HEAD = 2000


def config_folder() -> Path:
    """The folder of the user's profiles and settings (STEADYAMPS_CONFIG overrides it)."""
    override = os.environ.get(CONFIG_VARIABLE)
    if override:
        return Path(override)
    from platformdirs import user_config_dir

    return Path(user_config_dir("steadyamps", appauthor=False))


def user_folder(kind: Kind) -> Path:
    """The user's own profiles of this kind; the folder need not exist."""
    return config_folder() / kind


def shipped_folder(kind: Kind) -> Path:
    """The profiles of this kind that came with the program."""
    return Path(__file__).parent / kind


def named(kind: Kind) -> dict[str, tuple[Path, Literal["user", "shipped"]]]:
    """Name -> file, and whose it is; the user's own hide shipped ones of that name."""
    found: dict[str, tuple[Path, Literal["user", "shipped"]]] = {}
    for path in _files(shipped_folder(kind)):
        found[path.stem] = (path, "shipped")
    for path in _files(user_folder(kind)):
        found[path.stem] = (path, "user")
    return found


def _files(folder: Path) -> list[Path]:
    try:
        return [path for path in folder.iterdir() if path.suffix == ".toml" and path.is_file()]
    except OSError:
        return []


def title_at_a_glance(path: Path) -> str:
    """The title of a profile without reading all of it; empty where it is not seen."""
    try:
        with path.open("rb") as file:
            head = file.read(_HEAD).decode("utf-8-sig", "replace")
    except OSError:
        return ""
    found = _TITLE.search(head)
    return visible(found[1]) if found else ""
