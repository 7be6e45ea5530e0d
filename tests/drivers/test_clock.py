"""Where the bench's own time comes from: the computer, or a clock of the test's own."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta

import pytest

from drivers.clock import HandClock, RealClock, ScaledClock, bench_day, computer_utc_offset


@pytest.fixture
def zone(monkeypatch: pytest.MonkeyPatch) -> Iterator[pytest.MonkeyPatch]:
    """The process's zone may be changed; it is put back afterwards."""
    if sys.platform == "win32":
        pytest.skip("a process cannot choose its time zone on Windows")
    yield monkeypatch
    monkeypatch.undo()
    time.tzset()


@pytest.mark.parametrize(
    ("posix", "offset"),
    [
        ("UTC0", timedelta()),
        ("AAA-1", timedelta(hours=1)),
        ("AAA-5:30", timedelta(hours=5, minutes=30)),
        ("AAA3:30", timedelta(hours=-3, minutes=-30)),
        ("AAA-14", timedelta(hours=14)),
        ("AAA12", timedelta(hours=-12)),
        ("AAA-1:15:40", timedelta(hours=1, minutes=16)),
    ],
)
def test_the_offset_is_the_computers_in_whole_minutes(
    zone: pytest.MonkeyPatch, posix: str, offset: timedelta
) -> None:
    """TZ as POSIX.1-2017, 8.3, has it: hours are counted west of Greenwich."""
    zone.setenv("TZ", posix)
    if sys.platform != "win32":
        time.tzset()
    assert computer_utc_offset() == offset
    assert RealClock().utc_offset() == offset
    assert ScaledClock(8.0).utc_offset() == offset


def test_a_clock_moved_by_hand_stays_at_its_offset() -> None:
    assert HandClock().utc_offset() == timedelta()
    late = datetime(2026, 11, 25, 23, 30, tzinfo=UTC)
    clock = HandClock(start_utc=late, utc_offset=timedelta(hours=1))
    assert (clock.utc(), clock.utc_offset()) == (late, timedelta(hours=1))
    assert bench_day(clock) == date(2026, 11, 26)
    assert bench_day(HandClock(start_utc=late)) == date(2026, 11, 25)
    clock.advance(24 * 3600.0)
    assert bench_day(clock) == date(2026, 11, 27)
