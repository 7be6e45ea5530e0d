"""Where runs live, by options and settings."""

from __future__ import annotations

from pathlib import Path

from acquire.cli.voice import Voice


def shelf_folder(voice: Voice) -> Path:
    """The folder of runs: --shelf, else the settings, else the platform's user data folder."""
    from acquire.record.run_name import default_shelf
    from profiles.catalogue import load_settings

    if voice.shelf is not None:
        return Path(voice.shelf).expanduser()
    stated = load_settings().shelf.folder
    return Path(stated).expanduser() if stated else default_shelf()
