"""Instruments: what each port brought last, how it behaves, who is at its other end."""

from __future__ import annotations

from collections import deque
from typing import ClassVar

from acquire.opened_rig import OpenedRig
from acquire.readiness import Item
from acquire.screens.help_page import ScrollPage
from acquire.screens.instruments_view import instruments_text
from acquire.screens.keeper import Keeper, reasons_of
from acquire.screens.rows import EMPTY, Row, offer, row, wrapped
from drivers.readings import Reading
from profiles.plain_text import visible


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
        return instruments_text(
            opened, keeper.latest(), now_s=keeper.now_s(),
            found=[*self.reference_items(), *keeper.items], traffic=self.traffic, width=width,
        )  # fmt: skip

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
