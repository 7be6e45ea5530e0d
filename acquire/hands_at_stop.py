"""What hands are told while a rig comes to rest, and whether the pile was opened meanwhile."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Protocol

from acquire.stop_path import EMERGENCY, OPEN_PILE, TO_IDLE, StopEvent, StopReport
from acquire.sweep.commands import HandsOn
from acquire.sweep.intake import VOLTS
from drivers.readings import Reading

OPENED_RAISES = 0.015
"""Opening a pile raises the voltage by more than this share: it pulled it down by twice
`load_watch.LOAD_DROPS_VOLTS` at the very least. A shaft that slows down lowers it."""
DETAILS = {TO_IDLE: "then open the pile", OPEN_PILE: "little by little"}


class Hand(Protocol):
    """Somebody who does what the hands are told: on a simulated rig, the program itself."""

    def told(self, words: HandsOn, t_s: float) -> None: ...

    def moves(self, t_s: float) -> None:
        """Called at every turn."""
        ...


class HandsView(Protocol):
    """What the screens show of hands and load; written to here."""

    hands: HandsOn | None
    load_on: bool | None
    load_since_s: float


class HandsAtStop:
    """Passes on what the stop path wants of hands; notices an opened pile by the voltage.

    The current says nothing of a pile that a battery feeds once the shaft is slow.
    """

    def __init__(
        self,
        view: HandsView,
        *,
        by_hand: bool,
        hand: Hand | None,
        note: Callable[[str, Mapping[str, object], float], object],
    ) -> None:
        """`by_hand`: only hands can open the load. `note` writes to the journal; it may raise."""
        self._view = view
        self._by_hand = by_hand
        self._hand = hand
        self._note = note
        self._said = ""
        self._lowest_volts: float | None = None

    @property
    def pile_closed(self) -> bool:
        """True while a load that only hands can open is closed."""
        return self._by_hand and self._view.load_on is True

    def look(self, report: StopReport | None, readings: Sequence[Reading], now_s: float) -> None:
        """One look, at the run's time [s]."""
        if self._hand is not None:
            self._hand.moves(now_s)
        if self.pile_closed and any(self._opened(reading) for reading in readings):
            self._view.load_on, self._view.load_since_s = False, now_s
            self._note("load noticed", {"on": False}, now_s)
        wanted = report.hands if report is not None and report.hands != EMERGENCY else ""
        if wanted != self._said:
            self._said = wanted
            self._tell(wanted, now_s)

    def _opened(self, reading: Reading) -> bool:
        if reading.channel != VOLTS or not reading.usable or reading.value is None:
            return False
        volts = reading.value
        self._lowest_volts = min(volts, self._lowest_volts or volts)
        return volts > self._lowest_volts * (1 + OPENED_RAISES)

    def _tell(self, wanted: str, now_s: float) -> None:
        if not wanted:
            self._view.hands = None
            return
        words = HandsOn(wanted, DETAILS.get(wanted, "") if self.pile_closed else "")
        self._view.hands = words
        self._note("hands", {"words": words.words, "detail": words.detail}, now_s)
        if self._hand is not None:
            self._hand.told(words, now_s)

    def last_call(self, report: StopReport | None, now_s: float) -> None:
        """A load that only hands can open is not left closed without a word."""
        if report is None or not self.pile_closed:
            return
        if report.hands != EMERGENCY:
            report.hands = OPEN_PILE
        words = HandsOn(OPEN_PILE, "the run is over, and it was not seen to be opened")
        self._view.hands = words
        event = StopEvent(now_s, f"{words.words}: {words.detail}.", ok=False)
        report.events.append(event)
        self._note("hands", {"words": words.words, "detail": words.detail}, now_s)
