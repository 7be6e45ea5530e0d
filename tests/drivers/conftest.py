"""Prints what the contract suite counted."""

from __future__ import annotations

from typing import Any

from tests.drivers.tally import tally


def pytest_terminal_summary(terminalreporter: Any) -> None:
    if tally.faulty_exchanges:
        terminalreporter.write_line(
            f"drivers: {tally.faulty_exchanges} faulty exchanges tried, "
            f"{tally.wrong_readings} wrong readings accepted"
        )
