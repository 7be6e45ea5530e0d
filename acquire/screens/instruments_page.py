"""Instruments: what each port brought last, how it behaves, who is at its other end."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from typing import ClassVar

from acquire.opened_rig import OpenedRig
from acquire.readiness import Item
from acquire.screens.figures_facts import figure_of
from acquire.screens.help_page import ScrollPage
from acquire.screens.keeper import Keeper, reasons_of
from acquire.screens.rows import EMPTY, Ink, Row, cut, fit, offer, row, wrapped
from drivers.readings import Reading
from drivers.statistics import PortStatistics
from profiles.channels import CHANNELS
from profiles.plain_text import visible

TRAFFIC_ROWS = 12
WIRE_ROWS = 4
COUNTED: tuple[tuple[str, str], ...] = (
    ("received", "got"),
    ("timeouts", "no answer"),
    ("bad", "not understood"),
    ("late", "too late"),
    ("overloads", "overload"),
    ("refused", "refused"),
    ("skipped", "left out"),
    ("dropped", "not sent"),
    ("reopened", "reopened"),
    ("faults", "faults"),
)


class InstrumentsPage(ScrollPage):
    """Looked at on its own or while a run is on."""

    name_in_words: ClassVar[str] = "instruments"
    keys: ClassVar[dict[str, str]] = {
        **{key: act for key, act in ScrollPage.keys.items() if key != "l"},
        "a": "again",
    }

    def __init__(self) -> None:
        super().__init__()
        self.traffic: deque[tuple[str, str]] = deque(maxlen=200)
        self._seen: dict[str, Reading] = {}

    def offers(self) -> list[Row]:
        offers = [offer("[Esc] back", "back")]
        if not self.bench_app.busy and self.bench_app.choices.rig is not None:
            offers.append(offer("look [a]t the rig again", "again"))
        return [*offers, offer("[f]ile this view", "file")]

    def act_again(self) -> None:
        """Open the rig again: identities, zero, stop path."""
        if not self.bench_app.busy:
            self.bench_app.open_rig()

    def text_rows(self, width: int) -> list[Row]:
        keeper = self.bench_app.keeper
        opened = keeper.opened
        if opened is None or opened.wiring is None:
            why = [line for reason in reasons_of(keeper.trouble)
                   for line in wrapped(f"! {reason}", width - 2, "bad", hang=2)]  # fmt: skip
            return [EMPTY, row(" ", (self._not_open(), "strong")), EMPTY,
                    *(row(" ", line) for line in why)]  # fmt: skip
        self._follow(keeper, opened)
        return [
            row(" ", (f"Instruments of {opened.rig.title}", "strong")),
            EMPTY,
            *_channels(keeper, opened, width),
            *_ports(opened, width),
            *_wires(opened, width),
            *_found([*self.reference_items(), *keeper.items], width),
            *_traffic(self.traffic, width),
        ]

    def _not_open(self) -> str:
        if self.bench_app.choices.rig is None:
            return "No rig is chosen yet: r on the ready page chooses it."
        if self.bench_app.keeper.state == "opening":
            return "The rig is being opened; this takes some seconds."
        return "The rig is not open."

    def reference_items(self) -> list[Item]:
        """How the chart of the rig's reference unit stands."""
        memory = self.bench_app.memory
        if memory.watch_trouble:
            return [Item("reference unit", "look", memory.watch_trouble.rstrip("."))]
        if memory.watch is None:
            return []
        from acquire.study.reference_text import reference_item

        return [reference_item(memory.watch)]

    def _follow(self, keeper: Keeper, opened: OpenedRig) -> None:
        """Write down what arrived since the last look."""
        for name, reading in keeper.latest().items():
            if self._seen.get(name) is reading:
                continue
            self._seen[name] = reading
            raw = visible(reading.raw[:60].decode("latin-1")) if reading.raw else ""
            value = "" if reading.value is None else f"{reading.value:g}"
            what = " ".join(
                part for part in (value, reading.quality.value, reading.note, raw) if part
            )
            self.traffic.append((f"{reading.t_s:10.2f} {name:<14}", what))


def _channels(keeper: Keeper, opened: OpenedRig, width: int) -> list[Row]:
    latest, now_s = keeper.latest(), keeper.now_s()
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
        quality = figure.state if not figure.live else "ok"
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
        out.append(cut(row(" ", fit(row(visible(address)), 34), _counts(counted)), width))
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
        ink: Ink = "plain" if " ok" in what else "bad"
        out.append(cut(row(" ", (head, "dim"), (what, ink)), width))
    return out
