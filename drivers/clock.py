"""Time as a parameter: the real clock, a scaled one (simulated rig), a hand-moved one (tests)."""

from __future__ import annotations

import sys
import time
from datetime import UTC, date, datetime, timedelta
from typing import Protocol


class Clock(Protocol):
    """What the program needs to know of time."""

    def monotonic_s(self) -> float:
        """Seconds since an arbitrary start; never goes back [s]."""
        ...

    def utc(self) -> datetime:
        """Aware date and time, UTC."""
        ...

    def utc_offset(self) -> timedelta:
        """How far the clock on the bench's wall is ahead of UTC now, in whole minutes."""
        ...

    def sleep_s(self, seconds: float) -> None:
        """Wait `seconds` of this clock's own time [s]."""
        ...


def steady_s() -> float:
    """The computer's steady clock [s]. On Windows `time.monotonic` counts in steps of 16 ms
    before Python 3.13, too coarse for reading times; the performance counter does not."""
    return time.perf_counter() if sys.platform == "win32" else time.monotonic()


def utc_now() -> datetime:
    """The computer's date and time, aware, UTC."""
    return datetime.now(UTC)


def computer_utc_offset() -> timedelta:
    """How far the computer's local time is ahead of UTC now, in whole minutes."""
    offset = utc_now().astimezone().utcoffset() or timedelta()
    return timedelta(minutes=round(offset / timedelta(minutes=1)))


class RealClock:
    """The computer's own clocks."""

    def monotonic_s(self) -> float:
        return steady_s()

    def utc(self) -> datetime:
        return utc_now()

    def utc_offset(self) -> timedelta:
        return computer_utc_offset()

    def sleep_s(self, seconds: float) -> None:
        time.sleep(max(seconds, 0.0))


class SpedUpClock:
    """The date and time of a simulated rig, whose seconds may be shorter than those on the wall.

    `utc` goes ahead of the wall clock while a run goes on; at the start of each run the clock is
    set again, so that no run begins in the future.
    """

    def __init__(self) -> None:
        self.set_to_now()

    def monotonic_s(self) -> float:
        """Seconds on the rig since an arbitrary start [s]."""
        raise NotImplementedError

    def sleep_s(self, seconds: float) -> None:
        """Wait `seconds` of the rig's own time [s]."""
        raise NotImplementedError

    def set_to_now(self) -> None:
        """From now on `utc` counts from the computer's present time."""
        self._utc_at_zero = utc_now() - timedelta(seconds=self.monotonic_s())

    def utc(self) -> datetime:
        """Aware date and time, UTC."""
        return self._utc_at_zero + timedelta(seconds=self.monotonic_s())

    def utc_offset(self) -> timedelta:
        """How far the clock on the bench's wall is ahead of UTC now, in whole minutes."""
        return computer_utc_offset()


class ScaledClock(SpedUpClock):
    """Runs `pace` times as fast as the wall clock: for a simulated rig in another process."""

    def __init__(self, pace: float) -> None:
        if pace <= 0:
            raise ValueError(f"pace must be more than 0, not {pace}")
        self.pace = pace
        self._began_s = steady_s()
        super().__init__()

    def monotonic_s(self) -> float:
        return self._began_s + (steady_s() - self._began_s) * self.pace

    def sleep_s(self, seconds: float) -> None:
        time.sleep(max(seconds, 0.0) / self.pace)


def wall_utc(clock: Clock) -> datetime:
    """Aware date and time on the wall, UTC: a sped-up clock runs ahead of it as a run goes on."""
    return utc_now() if isinstance(clock, SpedUpClock) else clock.utc()


def bench_day(clock: Clock) -> date:
    """Today on the bench's calendar."""
    return (wall_utc(clock) + clock.utc_offset()).date()


class HandClock:
    """Stands still until `advance` moves it, at a fixed offset from UTC: for tests."""

    def __init__(
        self,
        start_s: float = 0.0,
        start_utc: datetime | None = None,
        *,
        utc_offset: timedelta = timedelta(),
    ) -> None:
        self._start_s = self._now_s = start_s
        self._start_utc = start_utc or datetime(2026, 1, 2, 3, 4, 5, tzinfo=UTC)
        self._utc_offset = utc_offset

    def monotonic_s(self) -> float:
        return self._now_s

    def utc(self) -> datetime:
        return self._start_utc + timedelta(seconds=self._now_s - self._start_s)

    def utc_offset(self) -> timedelta:
        return self._utc_offset

    def sleep_s(self, seconds: float) -> None:
        self.advance(max(seconds, 0.0))

    def advance(self, seconds: float) -> None:
        """Move on by `seconds` [s]; never back.

        Raises:
            ValueError: If `seconds` is negative.
        """
        if seconds < 0:
            raise ValueError(f"a clock does not go back ({seconds} s)")
        self._now_s += seconds
