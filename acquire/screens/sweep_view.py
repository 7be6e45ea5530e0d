"""The layout of the sweep page, from 80 x 24 up: a sentence first, numbers prove it below."""

from __future__ import annotations

from acquire.screens.curve_chart import chart_with_legend
from acquire.screens.figures_facts import Figure
from acquire.screens.hands_view import hands_rows
from acquire.screens.look import Look
from acquire.screens.numerals import Size, large, rows_of
from acquire.screens.rows import (
    EMPTY,
    Ink,
    Row,
    beside,
    column,
    cut,
    fit,
    offer,
    row,
    spread,
    stop_offer,
    strip_of,
    strips_of,
    tail,
    width_of,
    wrapped,
)
from acquire.screens.sweep_facts import StepLine, SweepFacts

STATE_INKS: dict[str, Ink] = {"=": "good", "^": "warn", "v": "warn", "~": "warn", "!": "bad"}
EDGE = " "
WIDE_ENOUGH, SENTENCE_ROWS = 100, 2
"""In narrower windows a sentence takes one row or two: it keeps both, so that nothing jumps."""
FEW_NOTE_ROWS, MANY_NOTE_ROWS = 3, 5
"""Rows of a note in a low and in a high window; the curve keeps the rest."""


def sweep_rows(facts: SweepFacts, width: int, height: int, look: Look) -> list[Row]:
    """The whole page in `height` rows of `width` columns."""
    top = _top(facts, width)
    figures = _figures(facts, width, height, look)
    hands = _hands(facts, width, height, look)
    notes = _notes(facts, width, height)
    bottom = [*_margins(facts, width), *_strip(facts, width)]
    left = height - len(top) - len(figures) - len(hands) - len(notes) - len(bottom)
    middle = _middle(facts, width, max(left, 0), look)
    return [*top, *figures, *hands, *notes, *middle, *bottom][:height]


# ---- sentence --------------------------------------------------------------------------------


def _top(facts: SweepFacts, width: int) -> list[Row]:
    load_ink: Ink = "bad" if facts.load_pressing else "strong"
    load = row((facts.load, load_ink)) if facts.load else EMPTY
    room = width - 2 - (width_of(load) + 2 if load else 0)
    lines = wrapped(facts.sentence, room, "strong") or [EMPTY]
    if width < WIDE_ENOUGH and len(lines) < SENTENCE_ROWS:
        lines.append(EMPTY)
    out = [spread(row(EDGE, lines[0]), load, width - 1)]
    out += [row(EDGE, line) for line in lines[1:]]
    simulated = row(("SIMULATED", "warn")) if facts.simulated else EMPTY
    second = wrapped(facts.advice, width - 14) if facts.advice else [row((facts.title, "dim"))]
    out.append(spread(row(EDGE, second[0]), simulated, width - 1))
    return [*out, *(row(EDGE, line) for line in second[1:])]


# ---- the big figures -------------------------------------------------------------------------


def _figures(facts: SweepFacts, width: int, height: int, look: Look) -> list[Row]:
    """Values large, each over its unit of measure and its state."""
    if not facts.figures:
        return []
    size = _size(facts, width, height, look)
    share = width // len(facts.figures)
    blocks = [_figure(figure, share - 1, size, look) for figure in facts.figures]
    rows = []
    for number in range(len(blocks[0])):
        pieces = [fit(block[number], share) for block in blocks]
        rows.append(row(*pieces))
    return [*rows, EMPTY] if height >= 30 else rows


def _size(facts: SweepFacts, width: int, height: int, look: Look) -> Size:
    """The largest size in which every figure fits its share of the width."""
    if height < 32 or look.ascii:
        return "three"
    share = width // len(facts.figures) - 2
    longest = max((figure.text or "----" for figure in facts.figures), key=len)
    sizes: tuple[Size, ...] = ("five", "four") if height >= 40 else ("four",)
    for size in sizes:
        if len(large(longest, size)[0]) + 1 <= share:
            return size
    return "three"


def _figure(figure: Figure, width: int, size: Size, look: Look) -> list[Row]:
    ink = STATE_INKS.get(figure.sign, "plain")
    if figure.text is None:
        named = row(EDGE, (f"! {figure.words}", "bad")) if size == "three" else EMPTY
        big = [EMPTY] * (rows_of(size) - 2)
        big += [named, row(EDGE, ("! no live value", "bad"))]
    else:
        signs = large(figure.text, size, "ascii" if look.ascii else "full")
        big = [row(EDGE, (line, "strong")) for line in signs]
        big[-1] = row(big[-1], f" {figure.unit_of_measure}")
    state = row((f"{figure.sign} {figure.state}", ink)) if figure.state else EMPTY
    words = row(EDGE, (figure.words, "dim"))
    if size == "three":
        return [*big, cut(row(EDGE, state) if state else words, width)]
    return [*big, cut(words, width), row(EDGE, state) if state else EMPTY]


# ---- hands and typed readings ----------------------------------------------------------------


def _hands(facts: SweepFacts, width: int, height: int, look: Look) -> list[Row]:
    """What the hands must do, larger than what the program does; and the line for typing."""
    out = hands_rows(facts.hands, facts.hands_detail, width, height, look)
    if facts.typing is not None:
        out += _typing(facts, width)
    return [*out, EMPTY] if out else []


def _typing(facts: SweepFacts, width: int) -> list[Row]:
    typing = facts.typing
    if typing is None:
        return []
    takes = "[Enter] takes it" if typing.typed or not typing.hint else "[Enter] leaves it out"
    offers = strip_of([offer(takes, "take typed"), offer("[Bksp] corrects", "rub out")], gap=2)
    shown = tail(typing.typed, width - width_of(offers) - 8)
    unit = f" {typing.unit_of_measure}" if typing.unit_of_measure else ""
    field = row((f"[{shown + '_':<9}]", "field"), f"{unit}  ", offers)
    if len(typing.question) + width_of(field) + 3 <= width:
        out = [row(EDGE, (f"{typing.question} ", "strong"), field)]
    else:
        out = [row(EDGE, line) for line in wrapped(typing.question, width - 2, "strong")]
        out.append(row(EDGE, field))
    said = f"! {typing.complaint}" if typing.complaint else typing.hint
    ink: Ink = "bad" if typing.complaint else "plain"
    return [*out, *(row(EDGE, line) for line in wrapped(said, width - 2, ink))]


# ---- notes -----------------------------------------------------------------------------------


def _notes(facts: SweepFacts, width: int, height: int) -> list[Row]:
    """The newest note of the run; what does not fit stands in the record."""
    if not facts.notes or facts.is_stopping:
        return []
    most = MANY_NOTE_ROWS if height >= 30 else FEW_NOTE_ROWS - bool(facts.hands or facts.typing)
    count = len(facts.notes)
    which = f"({count} of {count}) " if count > 1 else ""
    lines = wrapped(f"~ {which}{facts.notes[-1]}", width - 2, "warn", hang=2)
    if len(lines) > most:
        cut_off = cut(lines[most - 1], width - 5)
        lines = [*lines[: most - 1], row(cut_off, (" ...", "warn"))]
    return [row(EDGE, line) for line in lines]


# ---- chart and table -------------------------------------------------------------------------


def _middle(facts: SweepFacts, width: int, height: int, look: Look) -> list[Row]:
    if facts.is_stopping:
        return _stopping(facts, width, height)
    table_width = _table_width(width)
    chart_width = width - table_width - 2
    table = _table(facts, table_width, height)
    chart: list[Row] = []
    if facts.picture is not None:
        chart = chart_with_legend(
            facts.picture, width=chart_width, height=height, glyphs=look.dots,
            legend_width=width if len(table) < height else chart_width,
        )  # fmt: skip
    rows = beside(chart, table, left_width=chart_width)
    return [*rows, *([EMPTY] * height)][:height]


def _table_width(width: int) -> int:
    if width >= 150:
        return 78
    return 54 if width >= 110 else 34


def _table(facts: SweepFacts, width: int, height: int) -> list[Row]:
    """The steps, windowed about the one at work; what is to the right of wide tables says more."""
    heading = cut(_heading(width, facts), width)
    foot = [EMPTY, row((facts.progress, "dim"))] if facts.progress else []
    room = max(height - 1 - len(foot), 1)
    at = next((n for n, step in enumerate(facts.steps) if step.state == "now"), 0)
    first = max(0, min(at - room // 2, len(facts.steps) - room))
    shown = facts.steps[first : first + room]
    side = (
        []
        if width < 50 or height - 1 - len(foot) - len(shown) < len(facts.side) + 1
        else _side(facts)
    )
    return [heading, *(cut(_step(step, width, facts), width) for step in shown), *foot, *side]


def _has_before(facts: SweepFacts) -> bool:
    return any(step.before is not None for step in facts.steps)


def _heading(width: int, facts: SweepFacts) -> Row:
    words = "  speed      amps  allowed"
    if width >= 50:
        words = "  speed       amps          rated allowed"
        words += "  before" if _has_before(facts) else ""
        words += "    volts  case  took" if width >= 64 else ""
    return row((words, "dim"))


def _step(step: StepLine, width: int, facts: SweepFacts) -> Row:
    ink: Ink = {"now": "strong", "done": "plain", "to do": "dim", "nothing": "bad"}[step.state]  # type: ignore[assignment]
    arrow = ">" if step.state == "now" else " "
    amps = column(step.amps, 0)
    half = "" if step.half is None else f"±{step.half:.1f}"
    if step.state == "nothing":
        amps, half = "not", "read"
    state = row((f" {step.sign} {step.word}".rstrip(), STATE_INKS.get(step.sign, ink)))
    speed = f"{arrow}{step.set_rpm:6.0f}"
    allowed = column(step.allowed, 6)
    if width < 50:
        return row((f"{speed} {amps:>6} {half:<5}{allowed}", ink), state)
    base = f"{speed}    {amps:>6} {half:<6}{column(step.rated, 7)} {allowed} "
    base += column(step.before, 7) if _has_before(facts) else ""
    if width >= 64:
        base += f" {column(step.volts, 8, 2)} {column(step.case_c, 5, 0)}"
        base += f" {step.settle_s:4.0f} s" if step.settle_s is not None else " " * 7
    return row((base, ink), state)


def _side(facts: SweepFacts) -> list[Row]:
    rows = [EMPTY]
    for figure in facts.side:
        value = figure.text if figure.text is not None else "--"
        ink: Ink = "plain" if figure.live else "bad"
        words = f"  {figure.words:<20} {value:>8} {figure.unit_of_measure:<4} "
        rows.append(row((words, ink), (f"{figure.sign} {figure.state}".strip(), ink)))
    return rows


def _stopping(facts: SweepFacts, width: int, height: int) -> list[Row]:
    """What the stop did, line by line; keep clear until the shaft stands."""
    rows = [EMPTY]
    for words, worked in facts.stopping:
        asked = words.partition(":")[0].isupper()  # of hands; not yet done
        sign = "!" if not worked else ">" if asked else "="
        ink: Ink = "bad" if not worked else "hands" if asked else "good"
        rows += wrapped(f"{sign} {words}", width - 6, ink, hang=2)
    rows.append(EMPTY)
    rows += wrapped(facts.keep_clear, width - 6)
    return [*(row("   ", one) for one in rows), *([EMPTY] * height)][:height]


# ---- margins and actions ---------------------------------------------------------------------


def _margins(facts: SweepFacts, width: int) -> list[Row]:
    """How near each limit of the guard is, in one row."""
    if not facts.margins:
        return []
    pieces = []
    for margin in sorted(facts.margins, key=lambda one: (one.live, -one.used)):
        if not margin.live:
            words = f"! {margin.words} not read (limit {margin.limit})"
            pieces.append(row((words, "bad")))
            continue
        ink: Ink = "bad" if margin.used > 0.95 else "warn" if margin.used > 0.85 else "dim"
        mark = "! " if margin.used > 0.95 else ""
        words = f"{mark}{margin.words} {margin.value} of {margin.limit}"
        words += f" ({100 * margin.used:.0f} %)" if width >= 100 else ""
        pieces.append(row((words, ink)))
    while len(pieces) > 1 and width_of(strip_of(pieces)) + 9 > width:
        pieces.pop()
    return [cut(row(EDGE, ("limits  ", "dim"), strip_of(pieces)), width)]


def _strip(facts: SweepFacts, width: int) -> list[Row]:
    """The actions, in words, with the stop set apart."""
    stop = stop_offer()
    if facts.is_stopping:
        said = "stopping" if facts.hands else "stopping; nothing needs to be pressed"
        return [row(EDGE, (said, "dim"))]
    offers = []
    if facts.typing is not None and facts.typing.takes_letters:
        words = row(("letters are your answer; a space stops", "dim"))
        offers = [stop, words, offer("[?]", "help")]
        return [row(EDGE, line) for line in strips_of(offers, width - 2, gap=3)]
    if facts.warming:
        offers.append(offer("end warm-up, s[k]ip to the sweep", "skip"))
    else:
        if facts.can_hold:
            offers.append(offer("[h]old longer" if width >= WIDE_ENOUGH else "[h]old", "hold"))
        offers += [offer("[t]ake now", "take"), offer("s[k]ip", "skip")]
    offers += [offer("[n]ote", "note"), offer("[i]nstruments", "instruments")]
    offers += [offer("[f]ile", "file"), offer("[?]", "help")]
    gap = 3 if width >= 100 else 2
    return [row(EDGE, line) for line in strips_of([stop, *offers], width - 2, gap=gap)]
