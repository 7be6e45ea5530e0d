"""The text of the instruments page: channels, ports, bytes on the wires, what was found."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from acquire.opened_rig import OpenedRig
from acquire.readiness import Item
from acquire.screens.figures_facts import figure_of
from acquire.screens.rows import EMPTY, Ink, Row, cut, fit, row, wrapped
from drivers.readings import Reading
from drivers.statistics import PortStatistics
from profiles.channels import CHANNELS
from profiles.plain_text import visible

TRAFFIC_ROWS = 12
WIRE_ROWS = 4
WIDE = 100
COUNTED: tuple[tuple[str, str], ...] = (
    ("received", "got"),
    ("timeouts", "no answer"),
    ("bad", "not understood"),
    ("late", "too late"),
    ("overloads", "overload"),
    ("refused", "refused"),
    ("skipped", "not asked in time"),
    ("dropped", "not sent"),
    ("reopened", "reopened"),
    ("faults", "faults"),
)


def instruments_text(
    opened: OpenedRig,
    latest: Mapping[str, Reading],
    *,
    now_s: float,
    found: Sequence[Item],
    traffic: Sequence[tuple[str, str]],
    width: int,
) -> list[Row]:
    """All of it, top to bottom; `now_s` in the rig's own time, `traffic` as (head, words)."""
    return [
        row(" ", (f"Instruments of {opened.rig.title}", "strong")),
        EMPTY,
        *_channels(opened, latest, now_s, width),
        *_ports(opened, width),
        *_wires(opened, width),
        *_found(found, width),
        *_traffic(traffic, width),
    ]


def _channels(
    opened: OpenedRig, latest: Mapping[str, Reading], now_s: float, width: int
) -> list[Row]:
    identities = opened.wiring.identities() if opened.wiring is not None else {}
    out = [row(" ", (f"{'channel':<20}{'now':>12}   {'quality':<12}instrument", "dim"))]
    for name, channel in opened.rig.channels.items():
        kind = CHANNELS[name]
        reading = latest.get(name)
        who = identities.get(name) or channel.model or channel.driver
        if channel.driver == "hand":
            out.append(row(" ", f"{kind.words:<20}{'':>12}   {'typed':<12}{who}"))
            continue
        figure = figure_of(name, reading, now_s=now_s, look=None,
                           every_s=float(getattr(channel, "every_s", 0.1)))  # fmt: skip
        value = f"{figure.text} {kind.unit_of_measure}" if figure.text is not None else "--"
        quality = f"! {figure.state}" if not figure.live else "ok"
        ink: Ink = "plain" if figure.live else "bad"
        line = f"{kind.words:<20}{value:>12}   "
        out.append(cut(row(" ", (line, ink), (f"{quality:<12}", ink), visible(who)), width))
    parts = [part for part in ("drive", "load", "field") if part in identities]
    out += [cut(row(" ", f"{part:<35}{visible(identities[part])}"), width) for part in parts]
    return [*out, EMPTY]


def _ports(opened: OpenedRig, width: int) -> list[Row]:
    statistics = opened.wiring.statistics() if opened.wiring is not None else {}
    out = [row(" ", ("ports, counted since they were opened first", "dim"))] if statistics else []
    for address, counted in statistics.items():
        out.append(
            cut(
                row(" ", fit(row(visible(address)), 34 if width >= WIDE else 26), _counts(counted)),
                width,
            )
        )
    return [*out, EMPTY]


def _counts(counted: PortStatistics) -> Row:
    """What was counted; trouble only where there was some."""
    pieces: list[Row] = []
    for name, words in COUNTED:
        count = getattr(counted, name) - (name == "reopened")
        if name == "received":
            pieces.append(row(f" sent {counted.sent}, {words} {count}"))
        elif count > 0:
            pieces.append(row((f"  ! {count} {words}", "warn")))
    return row(*pieces)


def _wires(opened: OpenedRig, width: int) -> list[Row]:
    """The bytes themselves: what was sent and what came, port by port."""
    traffic = opened.wiring.traffic() if opened.wiring is not None else {}
    out: list[Row] = []
    for address, passed in traffic.items():
        for one in passed[-WIRE_ROWS:]:
            way = "sent" if one.sent else "came"
            words = visible(one.data.decode("latin-1"))
            out.append(cut(row(" ", (f"{visible(address):<28} {way} ", "dim"), words), width))
    return [row(" ", ("on the wires", "dim")), *out, EMPTY] if out else []


def _found(items: Sequence[Item], width: int) -> list[Row]:
    """Everything found at standstill, line by line."""
    out: list[Row] = []
    signs: dict[str, tuple[str, Ink]] = {
        "good": ("=", "good"), "look": ("~", "warn"), "bad": ("!", "bad"),
    }  # fmt: skip
    for item in items:
        sign, ink = signs[item.state]
        text = f"{sign} {item.name}: {item.words}. {item.what_to_do}".rstrip()
        out += [row(" ", line) for line in wrapped(text, width - 2, ink, hang=2)]
    return [row(" ", ("found when the rig was opened", "dim")), *out, EMPTY] if out else []


def _traffic(traffic: Sequence[tuple[str, str]], width: int) -> list[Row]:
    """What arrived last, refused answers with their bytes."""
    out = [row(" ", ("what arrived last; refused answers with their bytes", "dim"))]
    for head, what in list(traffic)[-TRAFFIC_ROWS:]:
        good = " ok" in what
        words = row((what, "plain")) if good else row((f"! {what}", "bad"))
        out.append(cut(row(" ", (head, "dim"), words), width))
    return out
