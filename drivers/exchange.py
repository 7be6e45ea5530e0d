"""What an instrument sees of its port: send, collect an answer, pause; inside the port's thread.

Every wait is cut into slices, and each slice looks whether a stop is waiting: then the exchange
ends at once with `CutShort`, which nothing but the port catches.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from drivers.clock import Clock
from drivers.errors import BadAnswer, NoAnswer, Unreadable, visible
from drivers.links import Link
from drivers.statistics import PortStatistics
from drivers.traffic import Traffic
from drivers.wall import Wall

T = TypeVar("T")
LONGEST_ANSWER = 4096
MOUTHFUL = 8192
"""What is taken at once of an instrument that talks by itself [bytes]."""
Find = Callable[[bytes], "tuple[T, int] | None"]
"""Looks for an answer in the bytes so far: what it found and where it ends, or None."""


class CutShort(Exception):
    """A stop is waiting, or the port is closing: this exchange is over."""


class Exchange:
    """One port as an instrument may use it; not for any other thread."""

    def __init__(
        self,
        link: Link,
        *,
        clock: Clock,
        wall: Wall,
        statistics: PortStatistics,
        slice_s: float,
        cut: Callable[[], bool],
    ) -> None:
        self.wall = wall
        self.statistics = statistics
        self.traffic = Traffic()
        self.instrument = ""
        """Whom errors are about: the channel or actuator being served."""
        self.sent_t_s = 0.0
        """Clock time of the last send [s]."""
        self.answered_t_s = 0.0
        """Clock time at which the last bytes came [s]."""
        self.since_t_s = 0.0
        """Clock time after which they came: earlier where they were left to gather [s]."""
        self._link = link
        self._clock = clock
        self._slice_s = slice_s
        self._cut = cut
        self._kept = bytearray()
        self._active_s = wall.now_s()

    @property
    def where(self) -> str:
        """The port in words."""
        return self._link.where

    def now_t_s(self) -> float:
        """Clock time now [s]."""
        return self._clock.monotonic_s()

    def send(self, data: bytes) -> None:
        """Write a message.

        Raises:
            LinkLost: The port is gone.
        """
        self._look_for_a_cut()
        self.sent_t_s = self._clock.monotonic_s()
        self._link.send(data)
        self.traffic.sent(self.sent_t_s, data)
        self.statistics.sent += 1
        self._active_s = self.wall.now_s()

    def collect(
        self, find: Find[T], timeout_s: float, *, asked: str, longest: int = LONGEST_ANSWER
    ) -> T:
        """Collect bytes until `find` finds the answer in them; `asked` names the question.

        Raises:
            NoAnswer: Nothing whole came within `timeout_s` wall seconds.
            BadAnswer: `find` raised `Unreadable`, or there is no end to what comes.
            LinkLost: The port is gone.
        """
        deadline_s = self.wall.now_s() + timeout_s
        while True:
            found = self._look(find, longest) if self._kept else None
            if found is not None:
                answer, end = found
                del self._kept[:end]
                return answer
            left_s = deadline_s - self.wall.now_s()
            if left_s <= 0:
                raise self._no_answer(timeout_s, asked)
            self._listen(min(left_s, self._slice_s))

    def look(self) -> None:
        """Notice a pulled plug while nothing is asked; what has come is kept for `discard`.

        Raises:
            LinkLost: The port is gone.
        """
        self._kept += self._link.drain()
        del self._kept[:-LONGEST_ANSWER]

    def discard(self, *, counted: bool = True) -> bytes:
        """Throw away what came unasked, such as an answer that was too late; gives what it was.

        Raises:
            LinkLost: The port is gone.
        """
        unasked = (bytes(self._kept) + self._link.drain()).strip()
        self._kept.clear()
        if unasked:
            self._active_s = self.wall.now_s()
            self.statistics.late += counted
        return unasked

    @property
    def left_over(self) -> bytes:
        """What came together with the last answer and is no part of it."""
        return bytes(self._kept).strip()

    def silence(self, quiet_s: float, at_most_s: float) -> None:
        """Wait until nothing has come or gone for `quiet_s`, but no longer than `at_most_s`.

        Raises:
            LinkLost: The port is gone.
        """
        give_up_s = self.wall.now_s() + at_most_s
        while True:
            now_s = self.wall.now_s()
            left_s = min(self._active_s + quiet_s, give_up_s) - now_s
            if left_s <= 0:
                return
            self._listen(min(left_s, self._slice_s))

    def pause(self, seconds: float) -> None:
        """Wait, keeping an eye on the port.

        Raises:
            LinkLost: The port is gone.
        """
        until_s = self.wall.now_s() + seconds
        while (left_s := until_s - self.wall.now_s()) > 0:
            self._listen(min(left_s, self._slice_s))
            del self._kept[:-LONGEST_ANSWER]

    def hear(self, wait_s: float) -> bytes:
        """What a talking instrument has sent; b"" when nothing came within a slice.

        Raises:
            LinkLost: The port is gone.
        """
        heard = self._link.receive(min(wait_s, self._slice_s))
        if heard:
            self.since_t_s = self.answered_t_s = self._clock.monotonic_s()
            self.traffic.came(self.answered_t_s, heard)
        return heard

    def hear_gathered(self) -> bytes:
        """What a talking instrument has sent since it was heard last; does not wait.

        Of a torrent no more than a mouthful: others in this program have work to do too.

        Raises:
            LinkLost: The port is gone.
        """
        heard = self._link.drain(MOUTHFUL)
        if heard:
            self.since_t_s, self.answered_t_s = self.answered_t_s, self._clock.monotonic_s()
            self.traffic.came(self.answered_t_s, heard)
        return heard

    def _listen(self, wait_s: float) -> None:
        self._look_for_a_cut()
        chunk = self._link.receive(wait_s)
        if chunk:
            self.answered_t_s = self._clock.monotonic_s()
            self.traffic.came(self.answered_t_s, chunk)
            self._active_s = self.wall.now_s()
            self._kept += chunk

    def _look(self, find: Find[T], longest: int) -> tuple[T, int] | None:
        try:
            found = find(bytes(self._kept))
        except Unreadable as error:
            raise self._bad(str(error)) from error
        if found is None and len(self._kept) > longest:
            raise self._bad("there is no end to what comes")
        return found

    def _bad(self, why: str) -> BadAnswer:
        raw = bytes(self._kept)
        self._kept.clear()
        return BadAnswer(
            self.instrument,
            f"{why}: {visible(raw)} from {self.where}.",
            raw,
            what_to_do="Check baud rate, terminator and model against the rig file.",
        )

    def _no_answer(self, timeout_s: float, asked: str) -> NoAnswer:
        came = f"only {visible(bytes(self._kept))}" if self._kept else "nothing"
        return NoAnswer(
            self.instrument,
            f"no answer to {asked} from {self.where} within {timeout_s:.3g} s ({came} came).",
            what_to_do="Is it switched on? Check cable, baud rate, address and terminator.",
        )

    def _look_for_a_cut(self) -> None:
        if self._cut():
            raise CutShort
