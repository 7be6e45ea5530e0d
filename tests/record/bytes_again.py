"""Bytes that a record kept as text."""

from __future__ import annotations


def text_as_bytes(text: str) -> bytes:
    """Read back what `bytes_as_text` wrote."""
    return text.encode("ascii").decode("unicode_escape").encode("latin-1")
