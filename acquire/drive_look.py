"""A drive whose output is not read (no `drive.output` in the rig file) is asked whether it runs.

Without this a drive would hear nothing for as long as a speed is held: one with a time-out of its
own would stop in the midst of a point, and one that is cut off or stopped at its own panel would
go unnoticed until the next command.
"""

from __future__ import annotations

import math
from typing import Protocol

from acquire.guard import Trip

LOOK_EVERY_S = 1.0
"""Between two looks; oftener where the drive's own time-out is short."""
WITHIN_TIMEOUT = 3.0
"""So many looks fit into the drive's own time-out: one may be lost, and another late."""


class Answer(Protocol):
    """A question on its way to the drive."""

    @property
    def done(self) -> bool: ...

    @property
    def error(self) -> BaseException | None: ...

    @property
    def result(self) -> bool | None:
        """True while the drive is told to run, by its own word."""
        ...


class Asked(Protocol):
    """A drive that can be asked."""

    def begin_look(self) -> Answer: ...


def look_every_s(comm_timeout_s: float | None) -> float:
    """How often a drive with this time-out of its own is asked [s]."""
    return (
        LOOK_EVERY_S if not comm_timeout_s else min(LOOK_EVERY_S, comm_timeout_s / WITHIN_TIMEOUT)
    )


class DriveLook:
    """Asks again and again while the drive may turn; answers with a trip, or None."""

    def __init__(
        self, drive: Asked, *, every_s: float, silent_s: float, where: str = "", set_by: str = ""
    ) -> None:
        """`silent_s`: so long the drive may not answer; `set_by` says where that stands."""
        self._drive = drive
        self._every_s, self._silent_s = every_s, silent_s
        self._where, self._set_by = where, set_by
        self._asked: Answer | None = None
        self._asked_s = -math.inf
        self._heard_s: float | None = None
        """None before the drive was told to run."""
        self._ran = False

    def told_to_run(self, now_s: float) -> None:
        """Begin to look."""
        self._heard_s = now_s

    def turn(self, now_s: float) -> Trip | None:
        """Take the last answer, ask again when it is time."""
        if self._heard_s is None:
            return None
        trip = self._take(now_s)
        if trip is not None:
            return trip
        if self._asked is None and now_s - self._asked_s >= self._every_s:
            self._asked, self._asked_s = self._drive.begin_look(), now_s
        silent_s = now_s - self._heard_s
        return self._silent(silent_s) if silent_s > self._silent_s else None

    def _take(self, now_s: float) -> Trip | None:
        asked = self._asked
        if asked is None or not asked.done:
            return None
        self._asked = None
        if asked.error is not None:
            return None
        self._heard_s = now_s
        if asked.result:
            self._ran = True
        elif self._ran:
            return Trip("drive", "drive_rpm", None, None, STANDS)
        return None

    def _silent(self, silent_s: float) -> Trip:
        at = f" at {self._where}" if self._where else ""
        by = f" by {self._set_by}" if self._set_by else ""
        words = (
            f"The drive{at} has not answered for {silent_s:.1f} s"
            f" (allowed {self._silent_s:g} s{by}): look at its cable, plug and supply before you"
            " run again."
        )
        return Trip("silent", "drive_rpm", silent_s, self._silent_s, words)


STANDS = (
    "The drive does not run any more, and nobody here told it to stop: it was stopped at its own"
    " panel, or it has a fault."
)
