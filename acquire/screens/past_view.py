"""The layout of the list of past tests, and of two of them side by side."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from acquire.screens.result_facts import OUTCOMES
from acquire.screens.result_view import OUTCOME_INKS
from acquire.screens.rows import EMPTY, Bit, Ink, Row, cut, fit, offer, row, strips_of, wrapped
from acquire.screens.shelf_glance import Glance

EDGE = " "
HEADING = "  began          serial       unit           stage     job      outcome"
WIDE_HEADING = f"{HEADING[:62]}{'rated curve':<31}outcome"


def past_rows(
    runs: Sequence[Glance],
    *,
    at: int,
    search: str,
    searching: bool,
    marked: Path | None,
    read: bool,
    total: int,
    said: str,
    width: int,
    height: int,
) -> list[Row]:
    """The list, windowed about the run picked."""
    top = _top(total, len(runs), search, searching, read, width)
    top += [row(EDGE, line) for line in wrapped(said, width - 2, "warn")] if said else []
    bottom = _bottom(width, searching, marked is not None)
    heading = row(EDGE, (HEADING if width < 110 else WIDE_HEADING, "dim"))
    room = max(height - len(top) - len(bottom) - 1, 1)
    first = max(0, min(at - room // 2, len(runs) - room))
    lines = [_run(n, runs[n], n == at, runs[n].folder == marked, width)
             for n in range(first, min(first + room, len(runs)))]  # fmt: skip
    rows = [*top, cut(heading, width), *lines]
    return [*rows, *([EMPTY] * (height - len(rows) - len(bottom))), *bottom][:height]


def _top(total: int, shown: int, search: str, searching: bool, read: bool, width: int) -> list[Row]:
    if not read:
        sentence = "Reading the shelf."
    elif total == 0:
        sentence = "There are no past tests on this shelf yet; every run is kept here."
    elif search:
        sentence = f"{shown} of {total} past tests hold '{search}'."
    else:
        sentence = f"{total} past tests, the newest first."
    line: Row = EMPTY
    if searching:
        line = row(EDGE, "search for  ", (f"{search}_", "field"))
    return [row(EDGE, one) for one in wrapped(sentence, width - 2, "strong")] + [line]


def _run(number: int, run: Glance, picked: bool, marked: bool, width: int) -> Row:
    header = run.header
    sign, word = OUTCOMES.get(run.outcome, (".", run.outcome))
    ink: Ink = "picked" if picked else "plain"
    mark = ">" if picked else "+" if marked else " "
    began = header.began_utc[:16].replace("T", " ")
    names = [(header.serial, 12), (header.unit, 14), (header.stage, 9), (header.job.number, 8)]
    if width >= 110:
        names.append((header.rated.title if header.rated else None, 30))
    pieces = "".join(fit_text(name, size) + " " for name, size in names)
    text = row(Bit(f"{mark} {began[2:]} {pieces}", ink, f"open {number}"))
    simulated = (
        row((" SIMULATED" if width >= 110 else " sim.", "warn")) if header.simulated else EMPTY
    )
    outcome = row((f"{sign} {word}", OUTCOME_INKS.get(run.outcome, "plain")))
    return cut(row(EDGE, text, outcome, simulated), width - 1)


def fit_text(text: str | None, size: int) -> str:
    """A name in exactly `size` columns."""
    return "".join(bit.text for bit in fit(row(text or "-"), size))


def _bottom(width: int, searching: bool, marked: bool) -> list[Row]:
    if searching:
        offers = [offer("[Enter] ends the search", "end search"), offer("[Esc] shows all", "all")]
        return [row(EDGE, line) for line in strips_of(offers, width - 2)]
    offers = [
        row(("[up] [down]", "key")),
        offer("[Enter] opens", "open"),
        offer("[/] search", "search"),
        offer("[c]ompare with the marked one" if marked else "mark to [c]ompare", "compare"),
        offer("[r]eport", "report"),
        offer("[f]ile this view", "file"),
        offer("[?] help", "help"),
        offer("[Esc] back", "back"),
    ]
    return [row(EDGE, line) for line in strips_of(offers, width - 2)]
