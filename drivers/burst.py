"""Bursts: one answer that is a list of samples, evenly spaced in time.

Pure functions of bytes, as `scpi_text` and `line_pattern`: numbers parted by commas, and the
definite-length block of IEEE 488.2 (`#` n, n digits of length, so many bytes). Whatever is not
exactly the burst that was described is refused as a whole.
"""

from __future__ import annotations

import math
import re
import struct
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from drivers.errors import Unreadable
from drivers.line_pattern import NUMBER
from drivers.scpi_text import meant

LONGEST_NUMBER = 32
"""Characters that one number of a list may take, its comma among them."""
HEAD = 200
"""Bytes that are kept of a burst that was refused."""
Form = Literal["f32", "f64"]
SAMPLE_BYTES: dict[Form, int] = {"f32": 4, "f64": 8}
_CODES: dict[Form, str] = {"f32": "f", "f64": "d"}


@dataclass(frozen=True, slots=True)
class Burst:
    """The samples of one answer, in the channel's own unit of measure."""

    t_s: float
    """Clock time in the middle of the exchange [s]."""
    sample_s: float
    """Time from one sample to the next [s]."""
    samples: tuple[float, ...]


def ac_rms(samples: Sequence[float]) -> float:
    """Root of the mean square about the mean (divided by n), in the unit of the samples."""
    mean = math.fsum(samples) / len(samples)
    return math.sqrt(math.fsum((sample - mean) ** 2 for sample in samples) / len(samples))


def samples_in_text(text: str, count: int) -> list[float]:
    """The `count` numbers of a list parted by commas.

    Raises:
        OutOfRange: One of them says overload.
        Unreadable: There are more or fewer, or one is no finite number.
    """
    raw = text[:HEAD].encode("latin-1", "replace")
    parts = text.split(",")
    if len(parts) != count:
        raise Unreadable(f"the burst holds {len(parts)} samples, not {count}", raw)
    for place, part in enumerate(parts):
        if not NUMBER.fullmatch(part.strip(" \t\r")):
            raise Unreadable(f"sample {place + 1} of the burst is not a number", raw)
    return _finite([float(part) for part in parts], raw)


def samples_in_block(body: bytes, count: int, *, form: Form, swapped: bool) -> list[float]:
    """The `count` floats in the body of a block.

    Raises:
        OutOfRange: One of them says overload.
        Unreadable: The length is another, or one is no finite number.
    """
    size = SAMPLE_BYTES[form]
    if len(body) != count * size:
        words = f"the block holds {len(body)} bytes, not {count} samples of {size} bytes"
        raise Unreadable(words, body[:HEAD])
    order = "<" if swapped else ">"
    return _finite(list(struct.unpack(f"{order}{count}{_CODES[form]}", body)), body[:HEAD])


def _finite(samples: list[float], raw: bytes) -> list[float]:
    for sample in samples:
        if not math.isfinite(sample):
            raise Unreadable("a sample of the burst is not a finite number", raw)
        meant(sample, raw)
    return samples


def block_finder(length: int, end: bytes) -> Callable[[bytes], tuple[bytes, int] | None]:
    """What finds the body of a block of `length` bytes, and where its answer ends.

    What it returns raises `Unreadable` when something other than such a block comes.
    """

    def find(buffer: bytes) -> tuple[bytes, int] | None:
        begun = buffer.lstrip()
        start = len(buffer) - len(begun)
        if not begun or (head := _body_at(begun, length)) is None:
            return None
        stop = start + head + length
        if len(buffer) <= stop:
            return None
        tail = buffer[stop:]
        rest = tail if end == b"\r" else tail.removeprefix(b"\r")
        if rest.startswith(end):
            return buffer[start + head : stop], stop + len(tail) - len(rest) + len(end)
        if end.startswith(rest):
            return None
        raise Unreadable("something else stands behind the block", buffer[-HEAD:])

    return find


def _body_at(begun: bytes, length: int) -> int | None:
    """Where the body begins; None while the header is not whole."""
    digits = int(begun[1:2]) if re.match(rb"#[1-9]", begun) else 0
    if begun[:1] != b"#" or (len(begun) > 1 and not digits):
        raise Unreadable("not a block of a definite length", begun[:HEAD])
    if len(begun) < 2 + digits or not digits:
        return None
    told = begun[2 : 2 + digits]
    if not told.isdigit() or int(told) != length:
        words = f"the block's header does not tell a length of {length} bytes"
        raise Unreadable(words, begun[:HEAD])
    return 2 + digits
