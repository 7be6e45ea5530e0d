"""The layout of the result page: the sentence, the curve and the table, then the proof."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from acquire.judge.verdict_words import chance_words
from acquire.screens.curve_chart import chart_with_legend
from acquire.screens.look import Look
from acquire.screens.result_facts import OUTCOMES, ResultFacts, ResultLine
from acquire.screens.rows import (
    EMPTY,
    Ink,
    Row,
    beside,
    column,
    cut,
    offer,
    row,
    scrolled,
    spread,
    strips_of,
    wrapped,
)
from acquire.screens.seal_told import seal_told
from acquire.screens.speed_words import speed_word

EDGE = " "
OUTCOME_INKS: dict[str, Ink] = {
    "pass": "good",
    "fail": "bad",
    "undecided": "warn",
    "stopped": "bad",
    "not judged": "plain",
    "": "dim",
}
CHECK_SIGNS: dict[str, tuple[str, Ink]] = {
    "pass": ("=", "good"),
    "fail": ("!", "bad"),
    "not done": ("_", "warn"),
}


@dataclass(frozen=True, slots=True)
class Told:
    """The words of a result, broken into rows of one width."""

    sentence: list[Row]
    proof: list[Row]


def told_of(facts: ResultFacts, width: int) -> Told:
    """Sentence and proof; the costly part of the page, for one draw."""
    sentence = _sentence(facts, width)
    return Told(sentence, _proof(facts, width, whole=len(sentence) <= TOP_ROWS))


def result_rows(
    facts: ResultFacts,
    width: int,
    height: int,
    look: Look,
    *,
    first: int = 0,
    live: bool = True,
    said: str = "",
    told: Told | None = None,
) -> list[Row]:
    """The whole page; `first`: how far the proof is scrolled; `live`: the run has just ended.

    `told`: its words, where they are broken into rows already.
    """
    told = told or told_of(facts, width)
    top = _top(facts, told.sentence, width, said)
    bottom = _bottom(facts, width, live)
    room = max(height - len(top) - len(bottom), 0)
    proof = told.proof
    shown = _curve_and_table(facts, width, _share(room, len(facts.lines), len(proof)), look)
    left = max(room - len(shown), 0)
    below = scrolled(proof, left, first)
    if len(proof) > left > 0:
        more = len(proof) - left - min(first, len(proof) - left)
        hint = f"{more} line{'s' if more > 1 else ''} more: " if more > 0 else ""
        below[-1] = row(EDGE, (hint, "dim"), offer("[up] [down] moves it", "proof down"))
    return [*top, *shown, *below, *([EMPTY] * (left - len(below))), *bottom][:height]


def _share(room: int, lines: int, proof: int) -> int:
    """Rows for curve and table: what the proof leaves, at least nine of them."""
    return min(max(room - proof, min(max(lines + 2, 12), room), room * 3 // 5), room)


TOP_ROWS = 6
"""For the sentence and what to do next; what is longer ends in a sign and stands whole below."""


def _top(facts: ResultFacts, lines: list[Row], width: int, said: str) -> list[Row]:
    out = [row(EDGE, line) for line in lines[:TOP_ROWS]]
    if len(lines) > TOP_ROWS:
        more = row(("... (more below)", "dim"))
        out[-1] = spread(cut(out[-1], width - 20), more, width - 1)
    title = row(EDGE, (facts.title, "dim"))
    simulated = row(("  SIMULATED", "warn")) if facts.simulated else EMPTY
    out.append(spread(title, (*row((facts.began, "dim")), *simulated), width - 1))
    out += [row(EDGE, line) for line in wrapped(said, width - 2, "warn")] if said else []
    return out


def _sentence(facts: ResultFacts, width: int) -> list[Row]:
    sign, _ = OUTCOMES.get(facts.outcome, (".", ""))
    ink = OUTCOME_INKS.get(facts.outcome, "plain")
    lines = _record_warning(facts, width) + wrapped(
        f"{sign} {facts.sentence}", width - 2, ink, hang=2
    )
    return lines + (wrapped(facts.what_next, width - 4) if facts.what_next else [])


def _record_warning(facts: ResultFacts, width: int) -> list[Row]:
    """The first thing to know of a record that is not finished, or not as it was sealed."""
    if facts.not_finished:
        return wrapped(f"! {facts.not_finished}", width - 2, "bad", hang=2)[:3]
    if facts.seal is None or not facts.seal.broken:
        return []
    words = f"! {facts.seal.words} This may not be what was measured."
    return wrapped(words, width - 2, "bad", hang=2)[:2]


# ---- curve and table -------------------------------------------------------------------------


def _curve_and_table(facts: ResultFacts, width: int, height: int, look: Look) -> list[Row]:
    wide = width >= 110
    with_before = any(line.before is not None for line in facts.lines)
    table_width = (69 if with_before else 62) if wide else 44
    table = [_heading(wide, with_before)]
    table += [_line(line, wide, with_before) for line in facts.lines]
    if not facts.lines:
        table = [row(("No speed was measured.", "dim"))]
    chart_width = width - table_width - 2
    chart: list[Row] = []
    if facts.picture is not None and height >= 8:
        chart = chart_with_legend(
            facts.picture, width=chart_width, height=height, glyphs=look.dots,
            legend_width=width if len(table) < height else chart_width,
        )  # fmt: skip
    if not chart:
        return [cut(row(EDGE, one), width) for one in table][:height]
    rows = beside(chart, [cut(one, table_width) for one in table], left_width=chart_width)
    return rows[:height]


def _heading(wide: bool, with_before: bool) -> Row:
    if not wide:
        return row((" speed      amps  allowed   sure", "dim"))
    before = " before" if with_before else ""
    return row((f" speed       amps     rated allowed  margin{before}    sure", "dim"))


def _line(line: ResultLine, wide: bool, with_before: bool) -> Row:
    sign, word = speed_word(line.outcome, line.why)
    ink: Ink = {"=": "good", "!": "bad", "~": "warn"}.get(sign, "plain")  # type: ignore[assignment]
    amps = "    --" if line.amps is None else column(line.amps, 6)
    half = "" if line.half is None else f"±{line.half:.1f}"
    base = f"{line.shaft_rpm:6.0f} {amps} {half:<5}"
    if not wide:
        base += f"{column(line.allowed, 6)} {chance_words(line.sure):>7} "
        return row(base, (f"{sign} {word}".strip(), ink))
    base += (
        f" {column(line.rated, 6)} {column(line.allowed, 7)} {column(line.margin, 7, sign=True)}"
    )
    base += f" {column(line.before, 6)}" if with_before else ""
    return row(f"{base} {chance_words(line.sure):>7}  ", (f"{sign} {word}".strip(), ink))


# ---- the proof -------------------------------------------------------------------------------


def _proof(facts: ResultFacts, width: int, *, whole: bool) -> list[Row]:
    """Checks, findings, doubt, cautions, record: one subject after another, each named once.

    `whole`: the sentence stands whole above.
    """
    out: list[Row] = [EMPTY]
    last = ""
    if not whole:
        out += _told("do next", "", facts.what_next, "plain", width)
    for subject, sign, words, ink in _subjects(facts):
        out += _told("" if subject == last else subject, sign, words, ink, width)
        last = subject
    return out


def _subjects(facts: ResultFacts) -> Iterator[tuple[str, str, str, Ink]]:
    """(subject, sign, words, ink) in the order of the page."""
    for words in facts.trouble:
        yield "stopped", "!", words, "bad"
    yield "seal", *seal_told(facts.seal)
    if facts.bench:
        yield "bench", "!", facts.bench, "warn"
    for words in facts.changes:
        yield "change", "", words, "before"
    if facts.allowed_words:
        yield "allowed", "", facts.allowed_words, "plain"
    for outcome, words in facts.checks:
        sign, ink = CHECK_SIGNS.get(outcome, ("", "plain"))
        yield "check", sign, words, ink
    for words in facts.findings:
        yield "finding", "~", words, "warn"
    for words in facts.doubt:
        yield "doubt", "", words, "plain"
    for words in facts.cautions:
        yield "caution", "!", words, "warn"
    yield "record", "", f"{facts.folder.name}, {facts.state}", "dim"


def _told(subject: str, sign: str, words: str, ink: Ink, width: int) -> list[Row]:
    """A subject beside its words; a row of figures keeps its columns."""
    if "  " in words:
        lines = [row((words, ink))]
    else:
        lines = wrapped(f"{sign} {words}".strip(), width - 12, ink, hang=2 if sign else 0)
    head = row(EDGE, (f"{subject:<9}", "dim"))
    rest = row(EDGE, " " * 9)
    return [row(head if n == 0 else rest, cut(line, width - 11)) for n, line in enumerate(lines)]


# ---- what next -------------------------------------------------------------------------------


def _bottom(facts: ResultFacts, width: int, live: bool) -> list[Row]:
    offers: list[Row] = []
    if live:
        offers += [offer("[n]ext unit", "next"), offer("[s]ame unit again", "same")]
    if facts.goes_on:
        offers.append(offer("[g]o on with it", "go on"))
    offers.append(offer("[r]eport", "report"))
    offers += [
        offer("n[o]te", "note"),
        offer("match [e]ngine", "match"),
        offer("[p]ast tests", "past"),
    ]
    offers += [offer("[f]ile this view", "file"), offer("[?] help", "help")]
    offers.append(offer("[q]uit", "quit") if live else offer("[Esc] back", "back"))
    return [row(EDGE, line) for line in strips_of(offers, width - 2)]
