"""The layout of the list of past tests."""

from __future__ import annotations

from acquire.screens.past_facts import PastFacts
from acquire.screens.result_facts import OUTCOMES
from acquire.screens.result_view import OUTCOME_INKS
from acquire.screens.rows import (
    EMPTY,
    Bit,
    Ink,
    Row,
    cut,
    fit,
    offer,
    row,
    spread,
    strips_of,
    tail,
    wrapped,
)
from acquire.screens.seal_told import seal_told
from acquire.screens.search_words import HINT
from acquire.shelf.entry import RunEntry

EDGE = " "
WIDE = 110
HEADING = "  began, UTC     serial       unit         stage     job      outcome"
NOT_ENDED = {True: "Goes on", False: "Cut off", None: "Not ended"}
"""A run that says running, by whether somebody writes it."""
WIDE_HEADING = (
    f"{'  began, UTC     serial       unit           stage     job':<64}{'rated curve':<31}outcome"
)
UNIT, WIDE_UNIT = 12, 14
"""Columns of the unit: in a narrow window those that outcome and SIMULATED leave."""


def past_rows(facts: PastFacts, width: int, height: int) -> list[Row]:
    """The list, windowed about the run picked."""
    top = _top(facts, width)
    bottom = _bottom(facts, width)
    heading = row(EDGE, (HEADING if width < WIDE else WIDE_HEADING, "dim"))
    if not facts.all_runs:
        heading = EMPTY
    room = max(height - len(top) - len(bottom) - 1, 1)
    first = max(0, min(facts.at - room // 2, max(facts.total, facts.at + 1) - room))
    lines = [_line(facts, place, width) for place in range(first, first + room)]
    rows = [*top, cut(heading, width), *lines]
    return [*rows, *([EMPTY] * (height - len(rows) - len(bottom))), *bottom][:height]


def _top(facts: PastFacts, width: int) -> list[Row]:
    place = EMPTY
    if facts.total and not facts.searching:
        more = "" if facts.exact else " and more"
        place = row((f"{facts.at + 1} of {facts.total}{more}", "dim"))
    line: Row = EMPTY
    if facts.searching:
        shown = tail(facts.search, width - 20)
        line = row(EDGE, "search for  ", (f"{shown}_", "field"))
    out = [row(EDGE, one) for one in wrapped(facts.sentence, width - 2, "strong")][:3]
    out.append(spread(line, place, width - 1))
    if facts.complaint:
        out += [row(EDGE, one) for one in wrapped(facts.complaint, width - 2, "warn")]
    out += [cut(row(EDGE, (one, "warn")), width - 1) for one in facts.states]
    return out + [row(EDGE, one) for one in wrapped(facts.said, width - 2, "warn")]


def _line(facts: PastFacts, place: int, width: int) -> Row:
    run = facts.run_at(place)
    if run is None:
        return row(EDGE, ("  ...", "dim")) if place < facts.total else EMPTY
    partner = facts.partner
    picked = place == facts.at
    mark = ">" if picked else " "
    if not picked and partner is not None and run.run_id == partner.run_id:
        mark = "&"
    if run.run_id == facts.marked:
        mark = "+"
    written = facts.written.get(run.run_id)
    return _run(run, place, mark, picked, width, written)


def _run(
    run: RunEntry, place: int, mark: str, picked: bool, width: int, written: bool | None
) -> Row:
    sign, word = OUTCOMES.get(run.outcome, (".", run.outcome_word))
    if not run.outcome:
        word = NOT_ENDED[written] if run.state == "running" else "No verdict"
    ink: Ink = "picked" if picked else "before" if mark == "&" else "plain"
    began = run.began_utc[:16].replace("T", " ")
    names = [
        (run.serial, 12),
        (run.what_unit, WIDE_UNIT if width >= WIDE else UNIT),
        (run.stage, 9),
        (run.job_number, 8),
    ]
    if width >= WIDE:
        names.append((run.rated, 30))
    pieces = "".join(fit_text(name, size) + " " for name, size in names)
    text = row(Bit(f"{mark} {began[2:]} {pieces}", ink, f"open {place}"))
    simulated = (
        row((" SIMULATED" if width >= WIDE else " sim.", "warn")) if run.simulated else EMPTY
    )
    outcome = row((f"{sign} {word}", OUTCOME_INKS.get(run.outcome, "plain")))
    return cut(row(EDGE, text, outcome, simulated), width - 1)


def fit_text(text: str | None, size: int) -> str:
    """A name in exactly `size` columns."""
    return "".join(bit.text for bit in fit(row(text or "-"), size))


def _bottom(facts: PastFacts, width: int) -> list[Row]:
    if facts.searching:
        offers = [
            row(("[up] [down]", "key")),
            offer("[Enter] ends the search", "end search"),
            offer("[Esc] shows all", "all"),
        ]
        lines = [*wrapped(HINT, width - 2, "dim"), *strips_of(offers, width - 2)]
        return [row(EDGE, line) for line in lines]
    if facts.read and not facts.all_runs:
        offers = [offer("[?] help", "help"), offer("[Esc] back", "back")]
        return [row(EDGE, line) for line in strips_of(offers, width - 2)]
    pair = _pair(facts)
    offers = [
        row(("[up] [down]", "key")),
        offer("[Enter] opens", "open"),
        offer("[/] changes the search" if facts.search else "[/] search", "search"),
        offer("[c]ompare with the marked one" if facts.marked else "mark to [c]ompare", "compare"),
        offer("[r]eport", "report"),
        offer("[f]ile this view", "file"),
        offer("[?] help", "help"),
        offer("[Esc] shows all" if facts.search else "[Esc] back", "back"),
    ]
    lines = [*_seal(facts), *([pair] if pair else []), *strips_of(offers, width - 2)]
    return [row(EDGE, cut(line, width - 2)) for line in lines]


def _seal(facts: PastFacts) -> list[Row]:
    """The seal of the run picked, once the list has been still on it for a moment."""
    if facts.picked is None:
        return []
    sign, words, ink = seal_told(facts.seal)
    return [row(("its seal  ", "dim"), (f"{sign} {words}", ink))]


def _pair(facts: PastFacts) -> Row:
    """The run that the one picked is to be seen with."""
    picked, partner = facts.picked, facts.partner
    if picked is None or partner is None:
        return EMPTY
    outcome = f", {partner.outcome}" if partner.outcome else ""
    words = f"  & {partner.stage} of {partner.began_utc[:10]}{outcome}"
    return row(offer("[b]efore and after together", "together"), (words, "before"))
