"""Which file a profile was taken from: a name may mean the user's own or a shipped one."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from profiles.folders import Kind, shipped_folder

if TYPE_CHECKING:
    from profiles.catalogue import Loaded

WORDS: dict[str, str] = {
    "alternators": "Rated curve",
    "rigs": "Rig",
    "instruments": "Instrument",
    "methods": "Method",
    "rules": "Acceptance rule",
}


def taken(kind: Kind, loaded: Loaded[Any]) -> str:
    """As in `Method: Quick sweep, cold (shipped).`"""
    return f"{WORDS[kind]}: {loaded.profile.title} ({which_file(kind, loaded)})."


def which_file(kind: Kind, loaded: Loaded[Any]) -> str:
    """As in `shipped`, `yours: PATH`, `file: PATH` or `plate`; with what a file of yours hides."""
    if loaded.origin == "user" and loaded.path is not None:
        return f"yours: {loaded.path}{_hides(kind, loaded.path)}"
    if loaded.origin == "file" and loaded.path is not None:
        return f"file: {loaded.path}"
    return loaded.origin


def _hides(kind: Kind, path: Path) -> str:
    hides = (shipped_folder(kind) / path.name).is_file()
    return ", instead of the shipped one of that name" if hides else ""
