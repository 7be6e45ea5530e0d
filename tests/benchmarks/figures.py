"""A figure that a benchmark found, and the limit it was asked to keep."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Literal

Size = Literal["tiny", "short", "full"]
"""`tiny` shows only that a benchmark still runs; `full` is what DEVELOPERS.md states."""
HEAD = ("what", "figure", "asked", "met")


@dataclass(frozen=True, slots=True)
class Figure:
    """One row: what was measured, how much it is, what was asked."""

    what: str
    value: float
    unit: str = ""
    at_most: float | None = None
    at_least: float | None = None
    note: str = ""
    """What else belongs to it, such as on how many it rests."""

    @property
    def met(self) -> bool | None:
        """Whether the limit is kept; None where there is none."""
        if self.at_most is None and self.at_least is None:
            return None
        low = self.at_least if self.at_least is not None else self.value
        high = self.at_most if self.at_most is not None else self.value
        return low <= self.value <= high

    @property
    def cells(self) -> tuple[str, str, str, str]:
        """As a row of the table."""
        note = f" ({self.note})" if self.note else ""
        limits = [f"{sign} {_number(limit)}{_after(self.unit)}"
                  for sign, limit in (("≤", self.at_most), ("≥", self.at_least))
                  if limit is not None]  # fmt: skip
        said = {None: "", True: "yes", False: "NO"}[self.met]
        return self.what, f"{_number(self.value)}{_after(self.unit)}{note}", ", ".join(limits), said


def _number(value: float) -> str:
    """Three digits are more than any of these figures is good for; counts stand whole."""
    if value == int(value) and abs(value) < 1e12:
        return str(int(value))
    return f"{value:.0f}" if abs(value) >= 100 else f"{value:.3g}"


def _after(unit: str) -> str:
    return f" {unit}" if unit else ""


def figures_from(document: Sequence[Mapping[str, Any]]) -> list[Figure]:
    """What `documents_of` made, read back."""
    return [Figure(**one) for one in document]


def documents_of(figures: Sequence[Figure]) -> list[dict[str, Any]]:
    """For JSON; what follows from the rest is not said twice."""
    return [asdict(figure) for figure in figures]


def table(figures: Sequence[Figure], *, markdown: bool) -> str:
    """All figures under their head."""
    rows = [HEAD, *(figure.cells for figure in figures)]
    if markdown:
        lines = [f"| {' | '.join(row)} |" for row in rows]
        return "\n".join([lines[0], "|---" * len(HEAD) + "|", *lines[1:]])
    widths = [max(len(row[column]) for row in rows) for column in range(len(HEAD))]
    return "\n".join(
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in rows
    )
