"""The computer's clocks, moved by hand, as the clocks of sped-up rigs see them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

NOON = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
BENCH_OFFSET = timedelta(hours=5, minutes=30)
"""How far the moved wall's local time is ahead of UTC."""


class Wall:
    """Steady clock and date; `passed_s` moves both [s]."""

    def __init__(self) -> None:
        self.passed_s = 0.0

    def steady_s(self) -> float:
        return 1000.0 + self.passed_s

    def utc_now(self) -> datetime:
        return NOON + timedelta(seconds=self.passed_s)


def moved_wall(monkeypatch: pytest.MonkeyPatch) -> Wall:
    """The wall that every clock reads from now on."""
    wall = Wall()
    monkeypatch.setattr("drivers.clock.steady_s", wall.steady_s)
    monkeypatch.setattr("drivers.clock.utc_now", wall.utc_now)
    monkeypatch.setattr("drivers.clock.computer_utc_offset", lambda: BENCH_OFFSET)
    monkeypatch.setattr("drivers.simulated.rig_clock.time.monotonic", wall.steady_s)
    return wall
