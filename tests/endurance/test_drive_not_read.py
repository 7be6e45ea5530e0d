"""A drive whose output the rig file does not name: whole sweeps, and the ways of losing it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.endurance.judged import breaches
from tests.endurance.made import AT_SPEED_S, swept
from tests.endurance.planned import UNREAD

HELD_S = 14.0
"""By then the one speed is held: nothing is told to the drive any more [s]."""


def test_it_hears_from_the_program_while_a_speed_is_held(tmp_path: Path) -> None:
    """Its own time-out of four seconds would end the sweep otherwise."""
    happened = swept(tmp_path, rig=UNREAD, method="quick")
    (part,) = happened.parts
    assert part.found is not None
    assert part.found.state == "complete"
    assert len(part.announced) == 4
    assert list(breaches(happened)) == []


@pytest.mark.parametrize("kind", ["silent", "deaf", "port gone", "port hangs", "all garbled"])
@pytest.mark.parametrize("at_s", [AT_SPEED_S, HELD_S])
def test_a_drive_that_answers_no_more_is_noticed_in_bounded_time(
    tmp_path: Path, kind: str, at_s: float
) -> None:
    happened = swept(tmp_path, (kind, "drive", at_s), rig=UNREAD)
    report = happened.parts[0].report
    assert report is not None
    assert report.reason.kind in ("guard", "lost")
    assert report.tripped_s - at_s <= happened.silent_s + 2.5
    assert list(breaches(happened)) == []


def test_a_drive_that_runs_away_is_seen_by_the_shaft(tmp_path: Path) -> None:
    happened = swept(tmp_path, ("runaway", "", HELD_S), rig=UNREAD)
    report = happened.parts[0].report
    assert report is not None
    assert report.reason.kind == "guard"
    assert report.tripped_s - HELD_S < 4.0
    assert list(breaches(happened)) == []
