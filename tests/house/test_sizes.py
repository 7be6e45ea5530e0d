"""Modules stay small: one subject each."""

from __future__ import annotations

from tests.house.imports import modules

MOST_LINES = 500


def test_no_module_is_over_500_lines() -> None:
    long = {
        name: lines for name, text in modules().items() if (lines := text.count("\n")) > MOST_LINES
    }
    assert long == {}
