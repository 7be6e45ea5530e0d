"""The layout of the ready page: what is chosen, what the rig shows, what is still to be done."""

from __future__ import annotations

from acquire.screens.look import Look
from acquire.screens.ready_facts import Field, Live, ReadyFacts
from acquire.screens.rows import (
    EMPTY,
    Ink,
    Row,
    beside,
    cut,
    fit,
    offer,
    row,
    spread,
    strips_of,
    text_of,
    width_of,
    wrapped,
)

EDGE = " "
WIDE = 100
STATE_INKS: dict[str, Ink] = {"=": "good", "~": "warn", "!": "bad"}


def ready_rows(facts: ReadyFacts, width: int, height: int, look: Look) -> list[Row]:
    """The whole page in `height` rows of `width` columns.

    Where it would not fit, blank rows give way; then what to do about a warning, the earlier run.
    """
    columns = _columns(facts, width)
    for tight in (0, 1, 2):
        bottom = _bottom(facts, width, tight)
        top = _top(facts, width, tight)
        fields = _fields(facts, width, tight)
        room = height - len(top) - len(fields) - len(bottom)
        if room >= len(columns):
            break
    middle = _middle(facts, width, max(room, 0), columns)
    return [*top, *fields, *middle, *bottom][:height]


def _top(facts: ReadyFacts, width: int, tight: int) -> list[Row]:
    ink: Ink = "strong" if facts.ready else "plain"
    lines = wrapped(facts.sentence, width - 2, ink)[:4]
    for words, what_to_do in facts.warnings:
        text = f"~ {words}" if tight > 1 else f"~ {words} {what_to_do}".rstrip()
        lines += wrapped(text, width - 2, "warn", hang=2)[: 2 if tight > 1 else 5]
    if facts.said:
        lines += wrapped(facts.said, width - 2, "warn")
    return [*(row(EDGE, line) for line in lines), *([] if tight else [EMPTY])]


def _fields(facts: ReadyFacts, width: int, tight: int) -> list[Row]:
    """Unit, serial, job, stage and operator share rows; what is chosen from files has its own."""
    small, large = facts.fields[:5], facts.fields[5:]
    half = width // 2
    unit, serial, job, stage, operator = small
    rows = [
        _pair(_field(unit, 10), half, _field(serial, 10), width),
        _pair(
            row(_field(job, 10), "  ", *_of_the_job(facts.job_words)),
            half,
            row(cut(_field(stage, 7), 20), "  ", _field(operator, 0)),
            width,
        ),
    ]
    rows += [_wide(field, width) for field in large]
    return rows if tight else [*rows, EMPTY]


def _pair(left: Row, half: int, right: Row, width: int) -> Row:
    return cut(row(EDGE, fit(cut(left, half - 2), half - 1), right), width - 1)


def _of_the_job(words: str) -> tuple[Row, str, Row]:
    """Customer and so on, beside the job's number."""
    if not words:
        return offer("[v] customer", "job facts"), "", EMPTY
    return offer("[v]", "job facts"), " ", row((words, "field"))


def _field(field: Field, label: int) -> Row:
    words = offer(field.words, field.act)
    value = row((field.value or "-", "field" if field.value else "dim"))
    padded = fit(words, max(label, width_of(words))) if label else words
    return row(padded, "  ", value)


def _wide(field: Field, width: int) -> Row:
    """Label, value, and a note that gives way first."""
    room = width - 16
    note = f" · {field.note}" if field.value else field.note
    value_room = max(room - min(len(note), 34), 20)
    value = cut(row((field.value, "field")), value_room)
    ink: Ink = "warn" if field.missing else "dim"
    note_row = row((note, "warn" if note.startswith(" · SIMULATED") else ink))
    return row(EDGE, fit(offer(field.words, field.act), 12), cut(row(value, note_row), room + 2))


# ---- the rig and the wiring, side by side ----------------------------------------------------


def _columns(facts: ReadyFacts, width: int) -> list[Row]:
    """The rig on the left, the wiring of this unit and what must be accepted on the right."""
    half = width // 2
    left = [*_rig_head(facts), *map(_live, facts.live)]
    for reason in facts.reasons:
        left += wrapped(f"! {reason}", half - 4, "bad", hang=2)
    right = [
        *_cautions(facts),
        *_checks(facts),
        row(("wiring of this unit   ", "dim"), offer("[w] ticks all", "tick all")),
        *_wiring(facts, width - half - 4),
    ]
    rows = beside(left, right, left_width=half - 2, gap=2)
    return [cut(row(EDGE, one), width - 1) for one in rows]


def _middle(facts: ReadyFacts, width: int, height: int, rows: list[Row]) -> list[Row]:
    notes: list[Row] = []
    for sign, ink, words in facts.notes:
        notes += [row(EDGE, line) for line in wrapped(f"{sign} {words}", width - 2, ink, hang=2)]
    spare = height - len(rows)
    if spare < 0:
        more = row(EDGE, (f"and {1 - spare} lines more in a higher window", "warn"))
        return [*rows[: max(height - 1, 0)], more][:height]
    if spare == 0:
        return rows
    shown = notes if len(notes) < spare else [
        *notes[: max(spare - 2, 0)],
        row(EDGE, (f"and {len(notes) - max(spare - 2, 0)} lines more: [i]nstruments", "dim")),
    ]  # fmt: skip
    gap = [EMPTY] if len(rows) + len(shown) < height else []
    return [*rows, *gap, *shown, *([EMPTY] * height)][:height]


def _rig_head(facts: ReadyFacts) -> list[Row]:
    head = row((f"rig {facts.rig_state}   ", "dim"))
    return [row(head, offer("[l]ook again", "look again")) if facts.reasons else head]


def _live(live: Live) -> Row:
    figure = live.figure
    ink = STATE_INKS.get(figure.sign, "plain")
    if figure.text is None:
        return row((f"! {figure.words:<16} ", "bad"), (f"{'--':>7} {figure.state}", "bad"))
    sign = figure.sign or "="
    value = f"{figure.text:>7} {figure.unit_of_measure:<4}" if figure.text else ""
    tail = figure.state or live.age
    return row((f"{sign} ", ink if figure.sign else "good"), f"{figure.words:<16} {value}",
               (f" {tail}", "dim"))  # fmt: skip


def _wiring(facts: ReadyFacts, width: int) -> list[Row]:
    out = []
    for number, (line, ticked) in enumerate(facts.wiring, start=1):
        tick = row(("= ", "good")) if ticked else row(("_ ", "warn"))
        first, *more = wrapped(line, width - 6, "act")
        words = offer(f"[{number}] {text_of(first)}", f"tick {number}")
        out += [row(tick, words), *(row(" " * 6, part) for part in more)]
    return out


def _cautions(facts: ReadyFacts) -> list[Row]:
    if facts.cautions_accepted:
        return [row(("= ", "good"), offer("[c]autions are accepted", "cautions"))]
    return [row(("_ ", "warn"), offer("[c]autions: read and accept", "cautions"))]


def _checks(facts: ReadyFacts) -> list[Row]:
    """Checks may be left out; that is said in the result."""
    if not facts.checks:
        return []
    tick = row((". ", "dim"))
    return [row(tick, offer("chec[k]s before it:", "checks"), f" {facts.checks}")]


# ---- the foot of the page --------------------------------------------------------------------


def _bottom(facts: ReadyFacts, width: int, tight: int) -> list[Row]:
    out: list[Row] = []
    if facts.interrupted:
        what = "[g] a new run instead" if facts.going_on else "[g]o on with it"
        head = row(offer(what, "go on"), "  ")
        lines = wrapped(facts.interrupted, width - 2 - width_of(head), "warn")
        out.append(row(EDGE, head, lines[0]))
        out += [row(" " * (width_of(head) + 1), line) for line in lines[1:]]
    if facts.earlier and tight < 2:
        out.append(cut(row(EDGE, (facts.earlier, "before")), width - 1))
    begin = offer("[b]egin", "begin", on=facts.ready)
    offers = [
        begin,
        offer("[p]ast tests", "past"),
        offer("match [e]ngine", "match"),
        offer("[i]nstruments", "instruments"),
        offer("[f]ile", "file"),
        offer("[?] help", "help"),
        offer("[q]uit", "quit"),
    ]
    room = width - (14 if facts.simulated else 2)
    lines = strips_of(offers, room, gap=2 if width < WIDE else 3)
    out += [row(EDGE, line) for line in lines]
    if facts.simulated:
        out[-1] = spread(out[-1], row(("SIMULATED", "warn")), width - 1)
    return out
