"""The result page tells when a run began by the bench's clock, however little room there is."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from acquire.record.bench_time import UTC_OFFSET
from acquire.record.run_header import RUN_FILE, read_header
from acquire.screens.look import Look
from acquire.screens.result_facts import facts_of_folder
from acquire.screens.result_view import result_rows
from acquire.screens.rows import text_of, width_of
from tests.report.runs import Order, make_run

LATE = datetime(2026, 9, 14, 23, 30, tzinfo=UTC)


def page(folder: Path, width: int) -> str:
    rows = result_rows(facts_of_folder(folder), width, 24, Look(), live=False)
    assert all(width_of(one) <= width for one in rows)
    return "\n".join(text_of(one) for one in rows)


@pytest.mark.parametrize("width", [80, 120])
@pytest.mark.parametrize(
    ("hours", "words"),
    [
        (1, "2026-09-15 00:30 (UTC+1)"),
        (-3.5, "2026-09-14 20:00 (UTC-3:30)"),
        (0, "2026-09-14 23:30 UTC"),
    ],
)
def test_date_and_time_stand_whole_beside_a_long_name(
    tmp_path: Path, width: int, hours: float, words: str
) -> None:
    long = "14 V 90 A, rebuilt with new slip rings, brushes and bearings"
    order = Order(began=LATE, utc_offset=timedelta(hours=hours), unit=long, simulated=True)
    text = page(make_run(tmp_path, order), width)
    line = next(line for line in text.splitlines() if "SF90-0417 · 14 V" in line)
    assert line.endswith(f"{words}  SIMULATED")


def test_a_run_without_an_offset_is_told_in_utc(tmp_path: Path) -> None:
    folder = make_run(tmp_path, Order(began=LATE))
    header = read_header(folder)
    host = {name: value for name, value in header.host.items() if name != UTC_OFFSET}
    (folder / RUN_FILE).write_bytes(header.changed(host=host).as_bytes())
    assert "2026-09-14 23:30 UTC" in page(folder, 80)
