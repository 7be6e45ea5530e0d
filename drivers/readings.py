"""One value of one channel at one time, with a quality."""

from __future__ import annotations

from enum import StrEnum
from typing import NamedTuple


class Quality(StrEnum):
    """How far a reading may be believed. Only fresh `OK` readings enter a result."""

    OK = "ok"
    STALE = "stale"
    TIMEOUT = "timeout"
    BAD = "bad"
    OVERLOAD = "overload"
    REFUSED = "refused"
    LINK_LOST = "link lost"


class Reading(NamedTuple):
    """One value of one channel, in the channel's own unit of measure, before zero correction.

    A tuple, because a thousand may come in a second and a frozen dataclass is made five times as
    slowly.
    """

    channel: str
    t_s: float
    """Clock time [s]: middle of the exchange, or arrival where an instrument talks by itself."""
    value: float | None
    """None when the quality is not `OK`."""
    quality: Quality = Quality.OK
    span_s: float = 0.0
    """How long the exchange took: the timing uncertainty [s]."""
    raw: bytes = b""
    """The bytes of a refused answer, for the journal."""
    note: str = ""
    """What was wrong, in words, when the quality is not `OK`."""

    @property
    def usable(self) -> bool:
        """True when the value may enter a result."""
        return self.quality is Quality.OK and self.value is not None
