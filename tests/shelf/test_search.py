"""What a search finds, and what it must not."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import Connection, Select, select
from sqlalchemy import text as sql

from acquire.record.run_header import Snapshot
from acquire.shelf import conditions, finding, tables
from acquire.shelf.errors import ShelfError
from acquire.shelf.search_keys import after_all_with, search_key
from acquire.shelf.shelf import Shelf, open_shelf
from acquire.shelf.wanted import Wanted, first_day, last_day, outcome_of
from tests.shelf.shelves import FIRST_DAY, Told, put

TRUCK = Snapshot(title="28 V 80 A, lorry (invented)", path="/home/w/lorry-80.toml", origin="user",
                 text="")  # fmt: skip
RUNS = (
    Told("aaaa", FIRST_DAY, serial="SN 7/1", unit="14 V 90 A, ferry", job="J-1044",
         stage="before", outcome="fail", customer="Example Boats"),
    Told("bbbb", FIRST_DAY + timedelta(days=2), serial="sn7-1", unit="14 V 90 A, ferry",
         job="J-1044", stage="After", outcome="pass"),
    Told("cccc", datetime(2026, 3, 31, 23, 59, 59, tzinfo=UTC), serial="SN72", unit="Lorry 28 V",
         job="J-1045", outcome="undecided", rated=TRUCK),
    Told("dddd", datetime(2026, 4, 1, 0, 0, 0, tzinfo=UTC), serial="Größe 5", unit="100% new",
         outcome="not judged", rated=None, simulated=True),
    Told("eeee", datetime(2027, 1, 1, tzinfo=UTC), unit="under_score", state="running",
         outcome=None),
    Told("ffff", datetime(2027, 1, 2, tzinfo=UTC), state="stopped", outcome="stopped"),
    Told("gggg", datetime(2027, 1, 3, tzinfo=UTC), state="complete", outcome=None),
)  # fmt: skip


@pytest.fixture(scope="module")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shelf]:
    """A few runs of every kind."""
    folder = tmp_path_factory.mktemp("shelf")
    for told in RUNS:
        put(folder, told)
    with open_shelf(folder) as opened:
        yield opened


def letters(shelf: Shelf, wanted: Wanted) -> str:
    """The first letter of each run found, oldest first."""
    page = shelf.page(wanted)
    assert page.total == len(page.entries)
    assert list(shelf.every(wanted)) == list(page.entries)
    return "".join(one.run_id[-1] for one in reversed(page.entries))


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        (Wanted(), "abcdefg"),
        (Wanted(serial="SN 7/1"), "ab"),
        (Wanted(serial="sn71"), "ab"),
        (Wanted(serial="sn7"), "abc"),
        (Wanted(serial="7"), ""),
        (Wanted(serial="GRÖSSE"), "d"),
        (Wanted(serial="groß"), "d"),
        (Wanted(serial="/"), ""),
        (Wanted(serial="%"), ""),
        (Wanted(job="j1044"), "ab"),
        (Wanted(job="J-104"), "abc"),
        (Wanted(unit="ferry 14"), "ab"),
        (Wanted(unit="LORRY"), "c"),
        (Wanted(unit="boats"), ""),
        (Wanted(unit="100%"), "d"),
        (Wanted(unit="0%0"), ""),
        (Wanted(unit="r_s"), "e"),
        (Wanted(unit="r_r"), ""),
        (Wanted(rated="lorry-80"), "c"),
        (Wanted(rated="small 45/90"), "abefg"),
        (Wanted(rated="ferry"), ""),
        (Wanted(stage="after"), "b"),
        (Wanted(stage="before"), "a"),
        (Wanted(since="2026-04"), "defg"),
        (Wanted(until="2026-03"), "abc"),
        (Wanted(since="2026-03-31", until="2026-03-31"), "c"),
        (Wanted(since="2027"), "efg"),
        (Wanted(until="2026"), "abcd"),
        (Wanted(outcomes=("pass",)), "b"),
        (Wanted(outcomes=("pass", "fail")), "ab"),
        (Wanted(outcomes=("not finished",)), "e"),
        (Wanted(outcomes=("no verdict",)), "g"),
        (Wanted(outcomes=("stopped",)), "f"),
        (Wanted(outcomes=("not judged",)), "d"),
        (Wanted(simulated=True), "d"),
        (Wanted(simulated=False), "abcefg"),
        (Wanted(text="example BOATS"), "a"),
        (Wanted(text="sn71"), "ab"),
        (Wanted(text="2026-03-31"), "c"),
        (Wanted(text="ferry fail"), "a"),
        (Wanted(text="ferry lorry"), ""),
        (Wanted(text="gggg"), "g"),
        (Wanted(serial="sn7", unit="ferry", outcomes=("fail",), stage="Before", since="2026"), "a"),
        (Wanted(text="'; DROP TABLE shelf_runs_2; --"), ""),
    ],
)
def test_a_search_finds_just_what_is_meant(shelf: Shelf, wanted: Wanted, found: str) -> None:
    assert letters(shelf, wanted) == found


@pytest.mark.parametrize("text", ["yesterday", "2026-13", "2026-02-30", "26-1-1", "2026-1", "0000"])
def test_what_is_no_date_is_told(shelf: Shelf, text: str) -> None:
    with pytest.raises(ShelfError, match="no date"):
        shelf.page(Wanted(since=text))
    with pytest.raises(ShelfError, match="no date"):
        shelf.page(Wanted(until=text))


def test_an_outcome_that_is_none_is_told_with_the_nearest(shelf: Shelf) -> None:
    with pytest.raises(ShelfError, match="Did you mean undecided"):
        shelf.page(Wanted(outcomes=("undecide",)))
    assert outcome_of("Not-Judged") == "not judged"


def test_days_months_and_years_have_their_first_and_last_day() -> None:
    assert first_day("2024").isoformat() == "2024-01-01"
    assert last_day("2024").isoformat() == "2024-12-31"
    assert last_day("2024-02").isoformat() == "2024-02-29"
    assert last_day("2023-02").isoformat() == "2023-02-28"
    assert last_day("9999-12-31").isoformat() == "9999-12-31"


def test_a_page_holds_its_part_and_the_total(shelf: Shelf) -> None:
    pages = [shelf.page(limit=3, number=number) for number in (1, 2, 3, 4)]
    assert [len(page.entries) for page in pages] == [3, 3, 1, 0]
    assert {page.total for page in pages} == {7}
    assert {page.pages for page in pages} == {3}
    ids = [one.run_id for page in pages for one in page.entries]
    assert ids == [one.run_id for one in shelf.every()]


def test_pages_deep_in_a_long_list_are_the_same_from_either_end(
    shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    usual = [shelf.page(limit=2, number=number).entries for number in range(1, 6)]
    monkeypatch.setattr(finding, "FAR", 0)
    assert [shelf.page(limit=2, number=number).entries for number in range(1, 6)] == usual


def test_counting_words_ends_where_nobody_pages_to(
    shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(finding, "COUNTED", 2)
    page = shelf.page(Wanted(text="run"), limit=3)
    assert (len(page.entries), page.total, page.exact) == (3, 2, False)
    assert shelf.page(Wanted(stage="after"), limit=1).exact


@pytest.mark.parametrize("few", [0, 1, 3])
def test_the_same_is_found_by_whatever_index_it_is_looked_for(
    shelf: Shelf, monkeypatch: pytest.MonkeyPatch, few: int
) -> None:
    asked = (
        Wanted(serial="s", unit="ferry"),
        Wanted(serial="sn7", stage="before", rated="small"),
        Wanted(outcomes=("pass", "fail", "not finished"), since="2026-03-03"),
        Wanted(rated="small", outcomes=("fail",), simulated=False, until="2026"),
        Wanted(simulated=False, text="run"),
    )
    usual = [letters(shelf, wanted) for wanted in asked]
    assert usual == ["ab", "a", "be", "a", "abcefg"]
    monkeypatch.setattr(conditions, "FEW", few)
    assert [letters(shelf, wanted) for wanted in asked] == usual


@pytest.mark.parametrize(
    "wanted",
    [
        Wanted(serial="S"),
        Wanted(serial="S", stage="before", rated="small"),
        Wanted(outcomes=("pass", "fail"), simulated=False),
        Wanted(serial="S", text="nowhere"),
    ],
)
def test_what_many_runs_pass_is_looked_for_in_order_of_date_without_the_table(
    shelf: Shelf, monkeypatch: pytest.MonkeyPatch, wanted: Wanted
) -> None:
    """As SQLite itself tells: it walks along one index, sorts nothing, and fetches no run."""
    monkeypatch.setattr(conditions, "FEW", 0)
    found = shelf._ask(lambda c: plan_of(c, select(tables.runs.c.run_id).where(
        *conditions.conditions(c, wanted)).order_by(*finding.NEWEST_FIRST)))  # fmt: skip
    assert len(found) == 1, found
    assert re.search(r"COVERING INDEX \w+_by_date", found[0]), found


def plan_of(connection: Connection, query: Select[Any]) -> list[str]:
    """The steps SQLite takes, in its own words."""
    written = query.compile(connection, compile_kwargs={"literal_binds": True})
    return [row[3] for row in connection.execute(sql(f"EXPLAIN QUERY PLAN {written}"))]


def test_past_the_last_page_all_runs_are_counted(
    shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(finding, "COUNTED", 2)
    page = shelf.page(Wanted(text="run"), limit=2, number=9)
    assert (page.entries, page.total, page.exact, page.pages) == ((), 7, True, 4)


def test_very_many_rated_profiles_are_searched_all_the_same(
    shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(conditions, "MOST_NAMES", 1)
    assert letters(shelf, Wanted(rated="lorry-80")) == "c"


@pytest.mark.parametrize(
    "name", ["bbbb", "BBBB", "run-bbbb", "2026-03-04", "2026-03-04T080000Z-run-bbbb"]
)
def test_a_run_is_found_by_its_name_or_a_part_of_it(shelf: Shelf, name: str) -> None:
    assert shelf.find(name).run_id.endswith("bbbb")


@pytest.mark.parametrize(
    ("serial", "simulated", "found"),
    [
        ("SN-71", False, "b"),
        ("sn7", False, ""),
        ("sn71", True, ""),
        ("GRÖSSE 5", True, "d"),
        ("", False, ""),
    ],
)
def test_the_last_run_of_a_serial_is_the_newest_of_that_very_serial(
    shelf: Shelf, serial: str, simulated: bool, found: str
) -> None:
    last = shelf.last_of(serial, simulated=simulated)
    assert (last.run_id[-1] if last else "") == found


def test_a_run_is_found_by_its_path(shelf: Shelf) -> None:
    path = shelf.find("cccc").path
    assert shelf.find(str(path)).serial == "SN72"


@pytest.mark.parametrize(
    ("name", "said"), [("2026", "several runs"), ("zzzz", "no run"), ("%", "no run")]
)
def test_a_name_of_none_or_of_several_is_told(shelf: Shelf, name: str, said: str) -> None:
    with pytest.raises(ShelfError, match=said):
        shelf.find(name)


@given(st.text(max_size=40), st.text(max_size=10))
def test_a_serial_lies_between_its_beginning_and_what_comes_after_it(one: str, more: str) -> None:
    key, longer = search_key(one), search_key(one + more)
    assert search_key(key) == key
    if key and longer.startswith(key):
        assert key <= longer < after_all_with(key)


@given(st.from_regex(r"[A-Za-z]{1,4}[0-9]{1,8}", fullmatch=True), st.sampled_from(" -/._"))
def test_signs_and_case_in_a_serial_do_not_matter(serial: str, sign: str) -> None:
    spelt = re.sub(r"(?<=[A-Za-z])(?=[0-9])", sign, serial).swapcase()
    assert search_key(spelt) == search_key(serial)


@settings(max_examples=60, deadline=None)
@given(st.text(min_size=1, max_size=20))
def test_any_text_may_be_searched_for(shelf: Shelf, text: str) -> None:
    for wanted in (Wanted(text=text), Wanted(serial=text), Wanted(unit=text), Wanted(rated=text)):
        assert shelf.page(wanted).total <= len(RUNS)
