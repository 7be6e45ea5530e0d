"""What a power cut leaves at the end of a file: recognised, reported, never fatal."""

from __future__ import annotations

from dataclasses import dataclass

from acquire.record.json_text import bytes_as_text


@dataclass(frozen=True, slots=True)
class CutTail:
    """The bytes at the end of a file that are no whole line."""

    file: str
    at_byte: int
    """Where the whole lines end."""
    bytes_cut: int
    raw: bytes

    def __str__(self) -> str:
        head = bytes_as_text(self.raw[:40])
        more = "…" if self.bytes_cut > 40 else ""
        return f"{self.file}: the last {self.bytes_cut} bytes are cut: {head}{more}"
