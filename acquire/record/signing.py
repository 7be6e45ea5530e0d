"""The workshop's own key: where it lies, and whether it signs."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from acquire.typed_path import typed_path
from profiles.catalogue import config_folder, load_settings

if TYPE_CHECKING:
    from acquire.record.keys import SigningKey

KEY_FILE = "workshop-key.pem"


def key_path() -> Path:
    """Where the workshop's key lies: as the settings say, else in the configuration folder."""
    stated = load_settings().seal.key
    return typed_path(stated) if stated else config_folder() / KEY_FILE


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


def known_keys() -> frozenset[str]:
    """Fingerprints that this workshop knows: those the settings trust, and its own.

    Raises:
        RunFileError: If a key that the settings name cannot be read.
    """
    from acquire.record.keys import trusted_fingerprints

    own = workshop_key()
    trusted = trusted_fingerprints(load_settings().seal.trust)
    return trusted | ({own.public.fingerprint} if own else frozenset())
