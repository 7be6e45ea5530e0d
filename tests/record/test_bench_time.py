"""Times of a record on the bench's clock: what is shown gives back the instant."""

from __future__ import annotations

import re
import sys
import time
import unicodedata
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from acquire.record.bench_time import (
    UTC_OFFSET,
    at_bench,
    day_at_bench,
    day_here,
    moment_words,
    offset_from,
    offset_text,
    zone_words,
)
from acquire.record.read_run import read_run
from acquire.record.reopen import reopen
from acquire.record.run_folder import RunFolder
from acquire.record.run_header import RUN_FILE, read_header
from acquire.record.run_name import utc_text
from acquire.record.verify import verify
from drivers.clock import HandClock, ScaledClock, bench_day
from tests.moved_wall import BENCH_OFFSET, moved_wall
from tests.record.runs import QUICK, finish, finished_run, header, measure_step

QUARTER = timedelta(minutes=15)
OFFSETS = st.integers(-48, 56).map(lambda quarters: quarters * QUARTER)
"""From -12:00 to +14:00, as far as civil time goes (ISO 8601 writes them so; common practice)."""
FIRST_DAY = datetime(1970, 1, 2, tzinfo=UTC)
INSTANTS = st.integers(0, 230 * 365 * 1440).map(lambda n: FIRST_DAY + timedelta(minutes=n))
_SHOWN = re.compile(r"(\d{4}-\d\d-\d\d) (\d\d:\d\d) (?:UTC|\(UTC([+-])(\d{1,2})(?::(\d\d))?\))")


def instant_of(shown: str) -> datetime:
    """Read what is shown as ISO 8601, by Python's own reader: none of the code it checks."""
    found = _SHOWN.fullmatch(shown)
    assert found, shown
    day, clock, sign, hours, minutes = found.groups()
    zone = f"{sign}{int(hours):02d}:{minutes or '00'}" if sign else "+00:00"
    return datetime.fromisoformat(f"{day}T{clock}:00{zone}")


@given(INSTANTS, OFFSETS)
@example(datetime(2026, 11, 25, 23, 30, tzinfo=UTC), timedelta(hours=1))
@example(datetime(2026, 1, 1, 0, 10, tzinfo=UTC), -timedelta(minutes=15))
def test_local_text_and_offset_give_back_the_instant(when: datetime, offset: timedelta) -> None:
    shown = moment_words(utc_text(when), offset)
    assert instant_of(shown) == when
    assert shown[:16] == (when + offset).strftime("%Y-%m-%d %H:%M")
    assert day_at_bench(utc_text(when), offset) == (when + offset).date()


@given(OFFSETS)
def test_an_offset_reads_back_from_the_record(offset: timedelta) -> None:
    text = offset_text(offset)
    assert offset_from(text) == offset
    read = datetime.fromisoformat(f"2026-11-25T08:15:00{text}")
    assert read.utcoffset() == offset  # as everybody else reads ISO 8601


@pytest.mark.parametrize(
    ("hours", "kept", "shown"),
    [
        (1, "+01:00", "2026-11-25 09:15 (UTC+1)"),
        (5.5, "+05:30", "2026-11-25 13:45 (UTC+5:30)"),
        (-3.5, "-03:30", "2026-11-25 04:45 (UTC-3:30)"),
        (-0.25, "-00:15", "2026-11-25 08:00 (UTC-0:15)"),
        (14, "+14:00", "2026-11-25 22:15 (UTC+14)"),
        (-9, "-09:00", "2026-11-24 23:15 (UTC-9)"),
        (0, "+00:00", "2026-11-25 08:15 UTC"),
    ],
)
def test_a_time_names_its_offset_beside_it(hours: float, kept: str, shown: str) -> None:
    offset = timedelta(hours=hours)
    assert offset_text(offset) == kept
    assert moment_words("2026-11-25T08:15:47.123Z", offset) == shown


def test_without_an_offset_a_time_is_told_in_utc() -> None:
    assert moment_words("2026-11-25T08:15:47.123Z", None) == "2026-11-25 08:15 UTC"
    assert moment_words("2026-11-25T08:15", None) == "2026-11-25 08:15 UTC"


def test_a_time_that_other_hands_wrote_in_another_zone_is_the_same_instant() -> None:
    assert moment_words("2026-11-25T10:15:00+02:00", None) == "2026-11-25 08:15 UTC"


@pytest.mark.parametrize("utc", ["0001-01-01T00:30:00Z", "9999-12-31T23:30:00Z"])
@pytest.mark.parametrize("hours", [-12, 14])
def test_the_first_and_the_last_day_there_is_stay_right(utc: str, hours: int) -> None:
    when = at_bench(utc, timedelta(hours=hours))
    assert when == datetime.fromisoformat(utc)
    assert zone_words(when) in ("UTC", f"UTC{hours:+d}")


@pytest.mark.parametrize(
    "text", [None, "", "1", "+1:00", "+01:60", "+24:00", "-99:00", "CET", "+٠١:٠٠", "+01:00 "]
)
def test_what_is_no_offset_is_none(text: str | None) -> None:
    assert offset_from(text) is None


@given(st.text(max_size=30))
@example("\x1b[2J")
@example("-00:00")
def test_no_text_in_place_of_a_time_or_an_offset_breaks_or_steers_anything(text: str) -> None:
    assert not any(unicodedata.category(c) == "Cc" for c in moment_words(text, QUARTER))
    offset = offset_from(text)
    assert offset is None or offset_text(offset).lstrip("+-") == text.lstrip("+-")


# ---- in a record -----------------------------------------------------------------------------

LATE = datetime(2026, 11, 25, 23, 30, tzinfo=UTC)


def begun(shelf: Path, hours: float) -> RunFolder:
    clock = HandClock(start_utc=LATE, utc_offset=timedelta(hours=hours))
    return RunFolder.create(shelf, header(), clock, files=QUICK, sync_every_s=None)


@pytest.mark.parametrize(
    ("hours", "day", "words"),
    [
        (1, "2026-11-26", "2026-11-26 00:30 (UTC+1)"),
        (0, "2026-11-25", "2026-11-25 23:30 UTC"),
        (-3.5, "2026-11-25", "2026-11-25 20:00 (UTC-3:30)"),
    ],
)
def test_a_new_run_keeps_the_offset_of_its_bench(
    tmp_path: Path, hours: float, day: str, words: str
) -> None:
    with begun(tmp_path, hours) as run:
        kept = read_header(run.folder)
    assert kept.host == {UTC_OFFSET: offset_text(timedelta(hours=hours))}
    assert kept.began_utc == "2026-11-25T23:30:00.000Z"
    assert kept.run_id.startswith("2026-11-25T233000Z-")
    assert kept.utc_offset == timedelta(hours=hours)
    assert (str(kept.began_day), kept.began_words) == (day, words)


def test_what_is_known_of_the_computer_stays_beside_it(tmp_path: Path) -> None:
    head = header().changed(host={"name": "bench-1"})
    clock = HandClock(utc_offset=timedelta(hours=2))
    with RunFolder.create(tmp_path, head, clock, files=QUICK, sync_every_s=None) as run:
        assert run.header.host == {"name": "bench-1", UTC_OFFSET: "+02:00"}


def test_a_sped_up_clock_gives_the_offset_of_the_wall(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    wall = moved_wall(monkeypatch)
    clock = ScaledClock(8.0)
    wall.passed_s = 12 * 3600.0
    with RunFolder.create(tmp_path, header(), clock, files=QUICK, sync_every_s=None) as run:
        assert run.header.utc_offset == BENCH_OFFSET
    assert bench_day(clock) == (wall.utc_now() + BENCH_OFFSET).date()


def test_a_run_gone_on_with_elsewhere_keeps_the_offset_of_its_beginning(tmp_path: Path) -> None:
    run = begun(tmp_path, 1)
    clock = HandClock(start_utc=LATE, utc_offset=timedelta(hours=1))
    measure_step(run, clock, 1)
    finish(run, state="stopped")
    there = HandClock(start_utc=LATE + timedelta(hours=9), utc_offset=timedelta(hours=-5))
    again = reopen(run.folder, there, files=QUICK, sync_every_s=None)
    finish(again)
    assert read_run(run.folder).header.utc_offset == timedelta(hours=1)
    assert verify(run.folder).sealed


def test_a_run_begun_before_there_was_an_offset_goes_on_without_one(tmp_path: Path) -> None:
    run = begun(tmp_path, 1)
    run.close()
    path = run.folder / RUN_FILE
    path.write_bytes(read_header(run.folder).changed(host={"name": "bench-1"}).as_bytes())
    there = HandClock(start_utc=LATE + timedelta(hours=1), utc_offset=timedelta(hours=1))
    finish(reopen(run.folder, there, files=QUICK, sync_every_s=None))
    header = read_run(run.folder).header
    assert (header.host, header.utc_offset) == ({"name": "bench-1"}, None)
    assert header.began_words == "2026-11-25 23:30 UTC"
    assert verify(run.folder).sealed


def test_a_record_of_before_there_was_an_offset_is_told_in_utc_and_is_as_sealed() -> None:
    old = Path(__file__).parent / "stored_runs" / "schema-1"
    assert UTC_OFFSET not in read_header(old).host
    assert read_header(old).utc_offset is None
    assert read_header(old).began_words.endswith(" UTC")
    assert verify(old).sealed


def test_a_changed_offset_breaks_the_seal(tmp_path: Path) -> None:
    """Who moves a test to another day moves it in a sealed file."""
    folder = finished_run(tmp_path)
    path = folder / RUN_FILE
    path.write_bytes(path.read_bytes().replace(b'"+00:00"', b'"+09:00"'))
    assert read_header(folder).utc_offset == timedelta(hours=9)
    report = verify(folder)
    assert (report.sealed, report.changed) == (False, (RUN_FILE,))


@pytest.fixture
def in_kolkata(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """This computer's clock shows 5 h 30 min more than UTC."""
    if sys.platform == "win32":
        pytest.skip("the zone of a process cannot be set on Windows")
    monkeypatch.setenv("TZ", "XXX-5:30")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.usefixtures("in_kolkata")
@pytest.mark.parametrize(
    ("utc", "day"),
    [
        ("2026-03-02T18:29:59Z", "2026-03-02"),
        ("2026-03-02T18:30:00Z", "2026-03-03"),
        ("9999-12-31T23:59:59Z", "9999-12-31"),
        ("no time", "no time"),
    ],
)
def test_a_day_is_that_of_this_computers_calendar(utc: str, day: str) -> None:
    assert day_here(utc) == day
