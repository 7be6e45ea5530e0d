"""The layout of the match page: figures on the left as they are typed, answers beside them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from acquire.screens.match_figures import FIGURES
from acquire.screens.rows import (
    EMPTY,
    Bit,
    Ink,
    Row,
    beside,
    cut,
    offer,
    row,
    scrolled,
    spread,
    strips_of,
    wrapped,
)

if TYPE_CHECKING:
    from acquire.match.matching import AtEngineSpeed, Match, Matched

EDGE = " "


def match_rows(
    *,
    typed: Mapping[str, str],
    at: int,
    units: Sequence[str],
    result: Match | None,
    wants: str,
    width: int,
    height: int,
    first: int = 0,
    said: str = "",
) -> list[Row]:
    """The whole page; `wants`: what is still missing, in words; `first`: answers scrolled past."""
    top = _top(result, wants, said, width)
    bottom = _bottom(width)
    left_width = _left_width(width)
    left = [*_figures(typed, at, left_width), EMPTY, *_units(units, left_width)]
    right = _answers(result, width - left_width - 4)
    room = max(height - len(top) - 1 - len(bottom), 0)
    most = _most(right, room)
    shown = right if not most else scrolled(right, room - 1, min(first, most))
    body = beside(left[:room], shown[:room], left_width=left_width, gap=2)
    body = [cut(row(EDGE, one), width) for one in body]
    if most and room:
        body += [EMPTY] * (room - len(body))
        body[room - 1] = spread(body[room - 1], _more(min(first, most), most), width - 1)
    return [*top, EMPTY, *body, *([EMPTY] * (room - len(body))), *bottom][:height]


def most_scroll(*, result: Match | None, wants: str, said: str, width: int, height: int) -> int:
    """How far the answers may be scrolled in this window."""
    top, bottom = _top(result, wants, said, width), _bottom(width)
    room = max(height - len(top) - 1 - len(bottom), 0)
    return _most(_answers(result, width - _left_width(width) - 4), room)


def _left_width(width: int) -> int:
    return 48 if width < 110 else 52


def _most(answers: Sequence[Row], room: int) -> int:
    """Rows that can be scrolled past; one row of the room tells that there are more."""
    return len(answers) - room + 1 if len(answers) > room > 1 else 0


def _more(first: int, most: int) -> Row:
    below = row(f"{most - first} lines more  ") if first < most else row("the end  ")
    return row(" ", below, offer("[PgUp]", "answers up"), " ", offer("[PgDn]", "answers down"))


def _top(result: Match | None, wants: str, said: str, width: int) -> list[Row]:
    lines = wrapped(_sentence(result, wants), width - 2, "strong")
    lines += wrapped(said, width - 2, "warn") if said else []
    return [row(EDGE, line) for line in lines]


def _sentence(result: Match | None, wants: str) -> str:
    if result is None:
        return wants or "One moment."
    by_title = {one.title: one for one in result.candidates}
    best = by_title[result.ranking[0]]
    sentence = f"{best.title} gives {best.cruise_amps:.0f} A when cruising"
    sentence += f", {best.idle.given.amps:.0f} A at idle."
    if len(result.ranking) > 1:
        second = by_title[result.ranking[1]]
        why = ", but the shaft would turn too fast" if second.overspeeds else ""
        sentence += f" {second.title}: {second.cruise_amps:.0f} A{why}."
    return sentence


def _figures(typed: Mapping[str, str], at: int, width: int) -> list[Row]:
    out = []
    for number, figure in enumerate(FIGURES):
        here = number == at
        text = typed.get(figure.name, "")
        mark = ">" if here else " "
        ink: Ink = "strong" if here else "plain"
        value = f"{text}_" if here else text or ("?" if figure.needed else "")
        words = Bit(f"{mark} {figure.words:<34}", ink, f"at {number}")
        line = row(words, (f"{value:>8}", "field"), (f" {figure.unit_of_measure}", "dim"))
        out.append(cut(line, width))
    return out


def _units(units: Sequence[str], width: int) -> list[Row]:
    head = row(
        ("units  ", "dim"),
        offer("[a]dd one", "add"),
        "   ",
        offer("[x] takes the last off", "drop"),
    )
    return [head, *(cut(row(f"  {title}"), width) for title in units)]


def _answers(result: Match | None, width: int) -> list[Row]:
    if result is None:
        return []
    out = [row((f"ratio {result.ratio:.2f}", "plain"))]
    by_title = {one.title: one for one in result.candidates}
    for place, title in enumerate(result.ranking, start=1):
        out += _one(place, by_title[title], width)
    for warning in result.warnings:
        out += wrapped(f"! {warning}", width, "warn", hang=2)
    return out


def _one(place: int, one: Matched, width: int) -> list[Row]:
    out = [EMPTY, cut(row((f"{place}. {one.title}", "strong")), width)]
    speeds = [("idle", one.idle), *(("cruise", c) for c in one.cruise), ("top", one.top)]
    out += [cut(_speed(name, speed), width) for name, speed in speeds]
    if one.needed_ratio is not None:
        out.append(row(f"ratio needed {one.needed_ratio:.2f}"))
    if one.charge is not None and one.charge.hours is not None:
        out += wrapped(f"about {one.charge.hours:.1f} h put it back (an estimate)", width)
    for warning in one.warnings:
        out += wrapped(f"! {warning}", width, "warn", hang=2)
    return out


def _speed(name: str, speed: AtEngineSpeed) -> Row:
    given = speed.given
    doubt = "" if given.low == given.high else f" {given.low:.0f}..{given.high:.0f}"
    return row(f"{name:<7}{given.shaft_rpm:6.0f} rpm{given.amps:6.0f} A", (doubt, "dim"))


def _bottom(width: int) -> list[Row]:
    offers = [
        row(("[up] [down]", "key"), (" choose a figure, then type it", "act")),
        offer("[f]ile this view", "file"),
        offer("[?] help", "help"),
        offer("[Esc] back", "back"),
    ]
    return [row(EDGE, line) for line in strips_of(offers, width - 2)]
