"""Papers tell times by the bench's clock and name its offset; records without one are UTC."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.record.bench_time import UTC_OFFSET
from acquire.record.keys import new_key
from acquire.record.run_name import utc_text
from acquire.report.language import language
from acquire.report.material import Material, material_of
from acquire.report.papers import report_paper, sheet_paper, tag_paper
from acquire.report.part_conditions import in_date
from tests.record.test_bench_time import INSTANTS, OFFSETS, instant_of
from tests.report.runs import WEAK, Order, add_photo, make_run, settings
from tests.report.shown import shown

LATE = datetime(2026, 9, 14, 23, 30, tzinfo=UTC)
EAST, WEST = timedelta(hours=1), timedelta(hours=-3, minutes=-30)
_GERMAN_DAY = re.compile(r"(\d\d)\.(\d\d)\.(\d{4})")


@pytest.mark.parametrize("code", ["en", "de"])
@given(INSTANTS, OFFSETS)
def test_what_is_printed_gives_back_the_instant(
    code: str, when: datetime, offset: timedelta
) -> None:
    text = language(code).moment(utc_text(when), offset).text
    iso = _GERMAN_DAY.sub(r"\3-\2-\1", text).replace("\u2212", "-")
    assert instant_of(iso) == when


@pytest.mark.parametrize(
    ("code", "offset", "text"),
    [
        ("en", EAST, "2026-09-15 00:30 (UTC+1)"),
        ("de", EAST, "15.09.2026 00:30 (UTC+1)"),
        ("en", WEST, "2026-09-14 20:00 (UTC\u22123:30)"),
        ("de", WEST, "14.09.2026 20:00 (UTC\u22123:30)"),
        ("en", timedelta(), "2026-09-14 23:30 UTC"),
        ("de", None, "14.09.2026 23:30 UTC"),
    ],
)
def test_each_language_names_the_offset_beside_the_time(
    code: str, offset: timedelta | None, text: str
) -> None:
    assert language(code).moment("2026-09-14T23:30:00.000Z", offset).text == text


@pytest.mark.parametrize("text", ["soon", "2026-13-01T00:00:00Z", "0000-01-01", "+01:00"])
def test_what_is_no_time_stands_as_it_is(text: str) -> None:
    assert language("de").moment(text, EAST).text == text


@given(st.text(max_size=30))
def test_no_text_in_place_of_a_time_breaks_a_paper(text: str) -> None:
    assert language("de").moment(text, EAST).text


def late(tmp_path: Path, offset: timedelta = EAST, **more: object) -> Path:
    return make_run(tmp_path, Order(began=LATE, utc_offset=offset, **more))  # type: ignore[arg-type]


@pytest.mark.parametrize("make", [report_paper, sheet_paper, tag_paper])
@pytest.mark.parametrize(("code", "day"), [("en", "2026-09-15"), ("de", "15.09.2026")])
def test_every_paper_bears_the_day_of_the_bench(
    tmp_path: Path,
    make: object,
    code: str,
    day: str,
) -> None:
    assert callable(make)
    material = material_of(late(tmp_path), settings(language=code))
    text = shown(make(material))
    assert f"{day} 00:30 (UTC+1)" in text
    assert "23:30 UTC" not in text


def test_notes_and_seals_are_told_by_the_same_clock(tmp_path: Path) -> None:
    key = new_key(tmp_path / "key.pem")
    run = make_run(tmp_path / "shelf", Order(key=key))
    add_photo(run, tmp_path, key=key)
    text = shown(report_paper(material_of(run, settings())))
    assert "2026-09-14 12:30 (UTC+2), T. Example" in text
    assert "added 2026-09-14 12:30 (UTC+2) by" in text
    assert "The test, sealed on 2026-09-14 10:31 (UTC+2): " in text
    assert re.findall(r"\d\d:\d\d UTC", text) == []


def test_the_run_before_keeps_its_own_offset(tmp_path: Path) -> None:
    """Before the clocks were changed, say, or on another bench."""
    before = late(tmp_path / "b", WEST, amps=dict(WEAK), stage="before")
    after = make_run(tmp_path / "a", Order(began=LATE + timedelta(days=9), utc_offset=EAST))
    paper = report_paper(material_of(after, settings()), before=material_of(before, settings()))
    text = shown(paper)
    assert "2026-09-14 20:00 (UTC\u22123:30): " in text
    assert "Tested: 2026-09-24 00:30 (UTC+1)" in text


def without_offset(material: Material) -> Material:
    host = {name: value for name, value in material.header.host.items() if name != UTC_OFFSET}
    header = material.header.changed(host=host)
    return replace(material, run=replace(material.run, header=header))


def test_a_record_without_an_offset_is_told_in_utc(tmp_path: Path) -> None:
    material = without_offset(material_of(late(tmp_path), settings()))
    for paper in (report_paper(material), sheet_paper(material), tag_paper(material)):
        assert "2026-09-14 23:30 UTC" in shown(paper)
        assert "UTC+" not in shown(paper)


@pytest.mark.parametrize(
    ("offset", "ok"), [(EAST, False), (WEST, True), (timedelta(), True)], ids=str
)
def test_a_calibration_is_in_date_through_its_last_day_at_the_bench(
    tmp_path: Path, offset: timedelta, ok: bool
) -> None:
    """Due on 14 September, tested at 23:30 UTC of that day: east of Greenwich that is the 15th."""
    material = material_of(late(tmp_path, offset), settings())
    header = material.header
    due = {"on": "2025-09-14", "due": "2026-09-14"}
    amps = header.instruments["amps"].model_copy(update={"calibration": due})
    changed = header.model_copy(update={"instruments": {**header.instruments, "amps": amps}})
    material = replace(material, run=replace(material.run, header=changed))
    assert in_date(material, "amps") is ok
    assert ("overdue !" in shown(report_paper(material))) is not ok
    if ok:
        assert in_date(without_offset(material), "amps") is True
