"""The workshop's own key: where it lies, and whether it signs."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from acquire.typed_path import path_in_settings
from profiles.catalogue import config_folder, load_settings
from profiles.errors import BenchError
from profiles.folders import SETTINGS_FILE
from profiles.plain_text import visible

if TYPE_CHECKING:
    from acquire.record.keys import SigningKey

KEY_FILE = "workshop-key.pem"


def key_path() -> Path:
    """Where the workshop's key lies: as the settings say, else in the settings folder."""
    stated = load_settings().seal.key
    return path_in_settings(stated) if stated else config_folder() / KEY_FILE


def workshop_key() -> SigningKey | None:
    """The key that signs, or None where the workshop has none.

    Raises:
        RunFileError: If the settings name a key that is not there, or it cannot be used.
    """
    path = key_path()
    if not path.exists() and load_settings().seal.key is None:
        return None
    from acquire.record.keys import load_key

    return load_key(path)


def known_keys(remark: Callable[[str], object] = lambda _words: None) -> frozenset[str]:
    """Fingerprints that this workshop knows: those the settings trust, and its own.

    A key that cannot be read, the workshop's own among them, is left out and `remark` is told: a
    seal can be checked without it.

    Raises:
        ProfileError: If the settings cannot be used.
    """
    from acquire.record.keys import trusted_fingerprints

    found = _own_fingerprint(remark)
    for entry in load_settings().seal.trust:
        try:
            found |= trusted_fingerprints([entry])
        except BenchError:
            remark(
                f"{config_folder() / SETTINGS_FILE}, [seal] trust: the key {visible(entry)} cannot"
                " be read, so runs sealed with it are not called known. Put the file there, or give"
                " its whole path or its fingerprint."
            )
    return frozenset(found)


def _own_fingerprint(remark: Callable[[str], object]) -> set[str]:
    stated = load_settings().seal.key
    try:
        own = workshop_key()
    except BenchError as error:
        place = f"{config_folder() / SETTINGS_FILE}, [seal] key" if stated else "The workshop's key"
        remark(f"{place}: {error} Until then runs sealed with it are not called known.")
        return set()
    return {own.public.fingerprint} if own else set()
