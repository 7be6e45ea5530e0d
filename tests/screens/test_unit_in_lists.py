"""A unit without a name of its own is called alike in the shelf list and on the page."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from acquire.cli.shelf_text import page_lines
from acquire.screens import made_up
from acquire.screens.past_view import past_rows
from acquire.screens.rows import text_of
from acquire.shelf.shelf import Page


@pytest.mark.parametrize(
    ("unit", "rated", "told"),
    [("ferry", "Small 14 V", "ferry"), (None, "Small 14 V", "Small 14 V"), (None, None, "- ")],
)
@pytest.mark.parametrize("width", [80, 120])
def test_list_and_page_call_it_the_same(
    unit: str | None, rated: str | None, told: str, width: int
) -> None:
    facts = made_up.past()
    one = replace(facts.entries[0], unit=unit, rated=rated, serial="S-1", simulated=False)
    page = past_rows(replace(facts, entries=(one, *facts.entries[1:])), width, 24)
    assert any(f"S-1          {told}" in text_of(line) for line in page)
    listed = page_lines(Page((one,), 1, True, 1, 20), {}, place=Path("shelf"))
    assert f"S-1             {told}" in listed[1]
