"""The workshop's signing key: Ed25519 (RFC 8032) in PEM files that openssl reads too.

openssl pkey -in workshop.pem -pubout                     # shows the public key
openssl pkey -pubin -in workshop.pub.pem -outform DER | sha256sum    # its fingerprint
"""

from __future__ import annotations

import base64
import hashlib
import os
import stat
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from acquire.errors import RunFileError
from acquire.record.files import file_error
from acquire.record.json_text import read_bounded
from acquire.typed_path import path_in_settings
from profiles.plain_text import visible

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import (
        Ed25519PrivateKey,
        Ed25519PublicKey,
    )

LARGEST_KEY = 10_000
_HEX_DIGITS = 64


@dataclass(frozen=True)
class PublicKey:
    """The half anyone may have."""

    pem: str

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the key in DER, in hexadecimal."""
        from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

        der = self._key().public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
        return hashlib.sha256(der).hexdigest()

    def signed(self, text: bytes, signature: str) -> bool:
        """True when `signature` (base64) is this key's over `text`."""
        from cryptography.exceptions import InvalidSignature

        try:
            self._key().verify(base64.b64decode(signature, validate=True), text)
        except (InvalidSignature, ValueError):
            return False
        return True

    def _key(self) -> Ed25519PublicKey:
        from cryptography.exceptions import UnsupportedAlgorithm
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
        from cryptography.hazmat.primitives.serialization import load_pem_public_key

        try:
            key = load_pem_public_key(self.pem.encode())
        except UnsupportedAlgorithm as error:
            raise ValueError(f"{error}") from error
        if not isinstance(key, Ed25519PublicKey):
            raise ValueError("it is not an Ed25519 key")  # noqa: TRY004 - the content is wrong
        return key


@dataclass(frozen=True)
class SigningKey:
    """The workshop's private key."""

    private: Ed25519PrivateKey

    @property
    def public(self) -> PublicKey:
        """The half anyone may have."""
        from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

        pem = self.private.public_key().public_bytes(
            Encoding.PEM, PublicFormat.SubjectPublicKeyInfo
        )
        return PublicKey(pem.decode())

    @property
    def fingerprint(self) -> str:
        """The public key's fingerprint."""
        return self.public.fingerprint

    def signature_of(self, text: bytes) -> str:
        """The signature over `text`, in base64."""
        return base64.b64encode(self.private.sign(text)).decode()


def new_key(path: Path) -> SigningKey:
    """Make a key: `path` (yours alone) and beside it the public half, ending in `.pub.pem`.

    Raises:
        RunFileError: If a key is there already, or it cannot be written.
    """
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import (
        Encoding,
        NoEncryption,
        PrivateFormat,
    )

    key = SigningKey(Ed25519PrivateKey.generate())
    pem = key.private.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        _write_new(path, pem, 0o600)
        _write_new(public_path(path), key.public.pem.encode(), 0o644)
    except FileExistsError as error:
        raise RunFileError(
            path,
            "there is a key already; it is not overwritten.",
            what_to_do="Runs sealed with it need it to be known: keep it, or move it away first.",
        ) from error
    except OSError as error:
        raise file_error(path, error) from error
    return key


def public_path(path: Path) -> Path:
    """Where the public half of a key lies."""
    return path.with_name(path.name.removesuffix(".pem") + ".pub.pem")


def _write_new(path: Path, data: bytes, mode: int) -> None:
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    descriptor = os.open(path, flags, mode)
    with os.fdopen(descriptor, "wb") as file:
        file.write(data)


def load_key(path: Path) -> SigningKey:
    """Read the workshop's private key.

    Raises:
        RunFileError: If it is missing, no Ed25519 key, or readable by others.
    """
    from cryptography.exceptions import UnsupportedAlgorithm
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    data = read_bounded(path, largest=LARGEST_KEY)
    _must_be_private(path)
    try:
        key = load_pem_private_key(data, password=None)
    except (ValueError, TypeError, UnsupportedAlgorithm) as error:
        raise _no_key(path, f"{error}") from error
    if not isinstance(key, Ed25519PrivateKey):
        raise _no_key(path, "it is of another kind than Ed25519")
    return SigningKey(key)


def _must_be_private(path: Path) -> None:
    # Windows keeps rights in access lists, which the mode bits do not show.
    if sys.platform == "win32":
        return
    if stat.S_IMODE(path.stat().st_mode) & 0o077:
        raise RunFileError(
            path,
            "others on this computer may read this key.",
            what_to_do=f"Take their rights away: chmod 600 {visible(str(path))}",
        )


def _no_key(path: Path, reason: str) -> RunFileError:
    return RunFileError(
        path,
        f"is no signing key: {visible(reason[:80])}.",
        what_to_do="Name the PEM file that `steadyamps key new` made, without a passphrase.",
    )


def read_public_key(path: Path) -> PublicKey:
    """Read a public key from its PEM file.

    Raises:
        RunFileError: If it is none.
    """
    data = read_bounded(path, largest=LARGEST_KEY)
    try:
        key = PublicKey(data.decode("ascii"))
        _ = key.fingerprint
    except ValueError as error:
        raise _no_key(path, f"{error}") from error
    return key


def trusted_fingerprints(entries: Iterable[str], *, beside: Path | None = None) -> frozenset[str]:
    """Read the settings' trusted keys: fingerprints, or paths of public keys, from their folder.

    Args:
        entries: The keys, as the settings name them.
        beside: The folder of a settings file other than the one the program reads.

    Raises:
        RunFileError: If a path holds no public key.
    """
    return frozenset(_fingerprint(entry.strip(), beside) for entry in entries)


def _fingerprint(entry: str, beside: Path | None) -> str:
    digits = entry.casefold().replace(":", "")
    if len(digits) == _HEX_DIGITS and set(digits) <= set("0123456789abcdef"):
        return digits
    return read_public_key(path_in_settings(entry, beside=beside)).fingerprint
