"""Where the index of a shelf is, and what this bench and this shelf are called in it."""

from __future__ import annotations

import hashlib
import platform
import secrets
import time
from pathlib import Path

from acquire.shelf.reading import Ground, clean
from acquire.typed_path import path_in_settings

SHELF_ID_FILE = ".shelf/id"
_TRIES, _PAUSE_S = 20, 0.05


def settings_folder() -> Path:
    """The shelf of the settings (a relative one from their folder), else the user data folder.

    Raises:
        ProfileError: If the settings cannot be used.
    """
    from acquire.record.shelf_folder import default_shelf
    from profiles.catalogue import load_settings

    stated = load_settings().shelf.folder
    return path_in_settings(stated) if stated else default_shelf()


def server_of(folder: Path) -> str | None:
    """The server that indexes this shelf; None: a file on the shelf does.

    The settings' server goes with the settings' folder. Another folder, named by --shelf, is a
    shelf of its own: its runs do not get among those of the workshop.

    Raises:
        ProfileError: If the settings cannot be used.
    """
    from profiles.catalogue import load_settings

    url = load_settings().shelf.url
    return url if url and _same(folder, settings_folder()) else None


def _same(one: Path, other: Path) -> bool:
    return one.expanduser().resolve() == other.expanduser().resolve()


def this_bench() -> str:
    """What this computer is called in the index."""
    return clean(platform.node())[:250] or "bench"


def local_ground(folder: Path) -> Ground:
    """A shelf whose index lies on it."""
    return Ground(folder, "", this_bench())


def shared_ground(folder: Path) -> Ground:
    """A shelf among others: by the name in its hidden file, wherever it is mounted or synced."""
    return Ground(folder, shelf_id(folder), this_bench())


def shelf_id(folder: Path) -> str:
    """The shelf's own name, given by chance the first time; by its path where it is read-only."""
    path = folder / SHELF_ID_FILE
    try:
        path.parent.mkdir(exist_ok=True)
        with path.open("x", encoding="ascii") as file:
            file.write(f"{secrets.token_hex(12)}\n")
    except FileExistsError:
        pass  # the usual case
    except OSError:
        return _id_of_path(folder)
    for _ in range(_TRIES):
        text = path.read_text("ascii", "replace").strip()
        if text:
            return clean(text)[:80]
        time.sleep(_PAUSE_S)  # another bench has made it this moment
    return _id_of_path(folder)


def _id_of_path(folder: Path) -> str:
    text = f"{platform.node()} {folder.resolve()}"
    return hashlib.sha256(text.encode("utf-8", "replace")).hexdigest()[:24]
