"""A command on its way to a port: done, failed, or too old to be sent."""

from __future__ import annotations

import threading
from typing import Generic, TypeVar

from drivers.errors import CommandExpired, InstrumentError, NoAnswer
from drivers.wall import RealWall, Wall

T = TypeVar("T")


class Pending(Generic[T]):
    """What became of a command; safe to look at from any thread.

    A command that was not begun before its deadline is never sent: `error` is `CommandExpired`.
    """

    def __init__(self, instrument: str, what: str, deadline_s: float, wall: Wall) -> None:
        self.instrument = instrument
        self.what = what
        self.deadline_s = deadline_s
        """Wall time after which it is not begun any more [s]."""
        self._wall = wall
        self._lock = threading.Lock()
        self._over = threading.Event()
        self._begun = False
        self._error: InstrumentError | None = None
        self._result: T | None = None

    @property
    def done(self) -> bool:
        """True when it has succeeded, failed or expired."""
        self._expire_if_old()
        return self._over.is_set()

    @property
    def error(self) -> InstrumentError | None:
        """Why it failed; None while it is under way and when it succeeded."""
        self._expire_if_old()
        return self._error

    @property
    def result(self) -> T | None:
        """What it gave; None while it is under way and when it failed."""
        return self._result if self._over.is_set() else None

    def ended_within(self, timeout_s: float) -> bool:
        """Wait up to `timeout_s` wall seconds; unlike `wait` this takes nothing back."""
        self._wall.wait(self._over, timeout_s)
        return self.done

    def wait(self, timeout_s: float) -> T | None:
        """Wait up to `timeout_s` wall seconds for the end and give the result.

        Raises:
            InstrumentError: What went wrong; `CommandExpired` when it was still waiting for its
                turn (it is taken back and will not be sent), `NoAnswer` when it is under way.
        """
        self._wall.wait(self._over, timeout_s)
        if not self.done and self.fail_unless_begun(self._too_old()):
            raise self._too_old()
        if not self._over.is_set():
            raise NoAnswer(
                self.instrument,
                f"{self.what} is not finished after {timeout_s:.3g} s.",
                what_to_do="Is it switched on? Look at its cable and its display.",
            )
        if self._error is not None:
            raise self._error
        return self._result

    def begin(self) -> bool:
        """Claim it for sending; False when it is over or too old."""
        self._expire_if_old()
        with self._lock:
            if self._over.is_set():
                return False
            self._begun = True
            return True

    def succeed(self, result: T) -> None:
        """Report the end."""
        with self._lock:
            if not self._over.is_set():
                self._result = result
                self._over.set()

    def fail(self, error: InstrumentError) -> None:
        """Report the failure."""
        with self._lock:
            if not self._over.is_set():
                self._error = error
                self._over.set()

    def fail_unless_begun(self, error: InstrumentError) -> bool:
        """Take it back if it was not begun; True when it was taken back."""
        with self._lock:
            if self._begun or self._over.is_set():
                return False
            self._error = error
            self._over.set()
            return True

    def _expire_if_old(self) -> None:
        if not self._over.is_set() and self._wall.now_s() > self.deadline_s:
            self.fail_unless_begun(self._too_old())

    def _too_old(self) -> CommandExpired:
        return CommandExpired(
            self.instrument,
            f"{self.what} was not sent in time and is dropped.",
            what_to_do="Give the command again once the instrument answers.",
        )


def failed_already(error: InstrumentError, what: str) -> Pending[None]:
    """A command that was refused before it was sent."""
    pending: Pending[None] = Pending(error.instrument, what, float("inf"), RealWall())
    pending.fail(error)
    return pending
