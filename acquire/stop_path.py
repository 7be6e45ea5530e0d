"""The one place that owns the order in which a rig is brought to rest.

    field off (where the rig allows it) -> drive off, speed 0, both read back -> load and battery
    stay connected while it turns -> load shed -> the shaft stands still

A shaft that is seen to turn on calls for the emergency stop, and its load is never thrown off.
Where a hand holds the throttle there is no drive to stop: the hand is asked to bring the engine to
idle, and the load stays connected until the shaft turns slowly, or for the coasting time at most.
A pile that only hands can open is asked for last, and waited for.

The order runs in a thread that does nothing else, so that it needs neither the main thread, nor
the sweep, nor the screen. The first reason wins; a second one never cuts the order short.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from typing import Protocol

from acquire.stop_notes import StopNotes
from drivers.clock import Clock
from profiles.errors import BenchError

DRIVE_TRIES_S = (2.0, 5.0, 5.0)
"""A drive gets so long to read back its stop before it is told again [s]; within each of them the
port tries again and again."""
CALL_OUT_S = 1.0
"""A stop that is not read back after so long calls the operator to the emergency stop, while the
port still tries: the exchange of a drive in order takes a fraction of it [s]."""
SWITCH_S = 2.0
"""The same for field and load, which are told once [s]."""
SLOWING_S, SLOWED = 4.0, 0.9
"""After so long the shaft must have lost a tenth of its speed, or the operator is called."""
EMERGENCY_S = 40.0
"""A shaft that turns on after its coasting time: so much longer is waited for somebody to press the
emergency stop [s]."""
STILL_RPM = 60.0
"""A shaft below this stands still [rpm]."""
HAND_IDLE_S = 5.0
"""A hand gets so long to bring the engine to idle where no load must be held on for it [s]: a pile
is opened at speed after every step, so it need not get hot for longer."""
OPEN_WITHIN_S = 15.0
"""Hands get so long to open the pile [s]."""
IDLE_SHARE = 0.5
"""Half the speed it had at the stop, or less, counts as idle where a hand has the throttle."""
POLL_S = 0.02
"""Between two looks at the shaft speed while it runs out [s]."""
NOTES_S = 2.0
"""At the end of the order, for the journal; a disk that hangs does not get longer."""


EMERGENCY, TO_IDLE, OPEN_PILE = "EMERGENCY STOP NOW", "BRING IT TO IDLE", "OPEN THE PILE"
"""What hands must do while a rig comes to rest, in large words."""
DOES_NOT_STOP = "THE DRIVE DOES NOT STOP: PRESS THE EMERGENCY STOP"
NOT_SLOWING = "THE SHAFT DOES NOT SLOW DOWN"
STILL_TURNS = "the shaft still turns"
DRIVE_OFF = ("drive off", "drive told to stop again")
"""How the words of these events begin, or what stands in them: the record is read by them."""


class OnItsWay(Protocol):
    """Something told to an instrument, and how it ended."""

    def ended_within(self, timeout_s: float) -> bool:
        """Whether it ended, well or not, within so long [s]."""
        ...

    def wait(self, timeout_s: float) -> object:
        """Return when it is done and read back.

        Raises:
            InstrumentError: If it could not be told, or reads back something else.
        """
        ...


class Haltable(Protocol):
    """A drive that can be told to stop."""

    def begin_halt(self, deadline_s: float) -> OnItsWay:
        """Run = off first, then speed 0, both read back, within `deadline_s` wall seconds."""
        ...


class Switchable(Protocol):
    """A load or a field that can be switched off."""

    def begin_off(self, deadline_s: float) -> OnItsWay: ...


@dataclass(frozen=True, slots=True)
class StopReason:
    """Why the rig is brought to rest."""

    kind: str
    """`complete`, `operator`, `guard`, `signal`, `lost`, `error`."""
    words: str
    pile_too_long: bool = False
    """The pile has been closed for too long: it is opened first, before the shaft is slow."""


@dataclass(frozen=True, slots=True)
class StopEvent:
    """One thing the stop path did, for the journal."""

    t_s: float
    words: str
    ok: bool = True


@dataclass(slots=True)
class StopReport:
    """How it went; grows while the order runs."""

    reason: StopReason
    tripped_s: float
    events: list[StopEvent] = field(default_factory=list)
    drive_off: bool | None = None
    """None where the rig has no drive."""
    finished: bool = False
    hands: str = ""
    """What hands must do at this moment, in large words; at the end what is left to them."""
    last_rpm: float | None = None
    """The speed the shaft was last seen at since the stop [rpm]."""
    stands: bool = False
    """True once the shaft was seen to stand still."""


@dataclass(frozen=True, slots=True)
class RigAtStop:
    """What the stop path may touch and see."""

    drive: Haltable | None
    load: Switchable | None
    field: Switchable | None
    shaft_rpm: Callable[[], float | None]
    """The latest fresh shaft speed [rpm], None when it is not known."""
    shed_below_rpm: float
    """The load is shed below this speed (under cut-in) [rpm]."""
    coast_s: float
    """How long the shaft needs to stand still, when its speed is not known; without a drive the
    longest time that a hand is given to bring the engine to idle [s]."""
    clock: Clock
    pile_closed: Callable[[], bool] = lambda: False
    """True while a load that only hands can open is closed."""
    sees_standstill: bool = True
    """False where a speed of 0 does not mean that the shaft stands still: the output of a drive
    that lets it coast, or a W terminal without excitation."""


class StopPath:
    """Brings one rig to rest, once."""

    def __init__(
        self,
        rig: RigAtStop,
        *,
        note: Callable[[StopEvent], None] = lambda _event: None,
    ) -> None:
        """`note` is told of each event, in a thread of its own; an error it raises is ignored."""
        self._rig = rig
        self._notes = StopNotes(note, failed=self._not_noted)
        self._tripped = threading.Event()
        self._finished = threading.Event()
        self._first = threading.Lock()
        self._report: StopReport | None = None
        self._thread = threading.Thread(target=self._wait_and_stop, name="stop path", daemon=True)
        self._thread.start()

    # ---- from any thread -------------------------------------------------------------------

    def trip(self, reason: StopReason) -> bool:
        """Ask for the stop; returns at once. True for the first to ask."""
        with self._first:
            if self._report is not None:
                return False
            self._report = StopReport(reason, self._rig.clock.monotonic_s())
        self._tripped.set()
        return True

    @property
    def tripped(self) -> bool:
        """True from the first reason on."""
        return self._tripped.is_set()

    @property
    def report(self) -> StopReport | None:
        """How it goes, or None before the first reason."""
        return self._report

    def wait(self, timeout_s: float | None = None) -> StopReport | None:
        """Wait for the end of the order; None when it takes longer than `timeout_s` (wall)."""
        return self._report if self._finished.wait(timeout_s) else None

    # ---- in the stop thread ----------------------------------------------------------------

    def _wait_and_stop(self) -> None:
        self._tripped.wait()
        report = self._report
        if report is None:
            return
        try:
            self._notes.start()
            self._bring_to_rest(report)
        finally:
            self._notes.finish(NOTES_S)
            report.finished = True
            self._finished.set()

    def _bring_to_rest(self, report: StopReport) -> None:
        """The order itself. The field's answer is not waited for before the drive is told."""
        field_off = self._begin(report, "field off", self._rig.field, SWITCH_S)
        self._drive_off(report)
        self._finish(report, "field off", field_off, SWITCH_S)
        began_s = self._rig.clock.monotonic_s()
        if report.reason.pile_too_long and self._pile_closed():
            self._ask_for_the_pile(report)
        if self._wait_for_rest(report, began_s):
            load_off = self._begin(report, "load shed", self._rig.load, SWITCH_S)
            self._finish(report, "load shed", load_off, SWITCH_S)
        self._wait_for_the_pile(report)
        self._wait_for_standstill(report, began_s)

    def _drive_off(self, report: StopReport, *, again: bool = False) -> None:
        drive = self._rig.drive
        if drive is None:
            return
        before = report.hands
        for attempt, try_s in enumerate(DRIVE_TRIES_S, start=1):
            first = "drive told to stop again" if again else "drive off, speed 0"
            words = first if attempt == 1 else f"drive off again (try {attempt})"
            report.drive_off = self._try(report, words, partial(self._halt, report, drive, try_s))
            if report.drive_off:
                report.hands = before
                return
            self._call_to_emergency_stop(report)

    def _halt(self, report: StopReport, drive: Haltable, within_s: float) -> None:
        """Told to stop, and read back; who stands by is called out before the time is up.

        Raises:
            InstrumentError: If it could not be told, or reads back something else.
        """
        halt = drive.begin_halt(within_s)
        if not halt.ended_within(CALL_OUT_S):
            self._call_to_emergency_stop(report)
        halt.wait(2 * within_s)

    def _call_to_emergency_stop(self, report: StopReport) -> None:
        """Said once, however often it is tried."""
        if report.hands != EMERGENCY:
            report.hands = EMERGENCY
            self._event(report, DOES_NOT_STOP, ok=False)

    def _wait_for_rest(self, report: StopReport, began_s: float) -> bool:
        """Load and battery stay connected while the shaft turns; True when they may go off."""
        if self._rig.drive is None:
            self._wait_for_idle(report)
            return True
        clock, coast_s = self._rig.clock, self._rig.coast_s
        seen_s, called_out = began_s, False
        from_rpm = self._shaft_rpm(report)
        while True:  # it is looked at before time is called up: this thread may be held up
            for_s = clock.monotonic_s() - began_s
            rpm = self._shaft_rpm(report)
            self._see_pile_open(report)
            if rpm is not None:
                seen_s = clock.monotonic_s()
                if rpm < self._rig.shed_below_rpm:
                    report.hands = ""
                    self._event(report, f"shaft below {self._rig.shed_below_rpm:.0f} rpm")
                    return True
                called_out = called_out or self._call_out(report, from_rpm, rpm, for_s)
            elif report.drive_off and self._rig.load is None:
                return True  # nothing is there that could be shed too early
            elif clock.monotonic_s() - seen_s >= coast_s:
                self._event(report, f"speed not known; waited {coast_s:g} s for the shaft")
                return True
            if for_s >= coast_s + EMERGENCY_S:
                self._turns_on(report, coast_s + EMERGENCY_S)
                return False
            time.sleep(POLL_S)

    def _turns_on(self, report: StopReport, for_s: float) -> None:
        """All was tried; current is not cut off from a shaft that turns."""
        load = "" if self._rig.load is None else ": the load stays on until you switch it off"
        self._event(report, f"after {for_s:g} s {STILL_TURNS}{load}", ok=False)

    def _wait_for_idle(self, report: StopReport) -> None:
        """A load at full current is not thrown off while a hand still has the throttle open."""
        rpm = self._shaft_rpm(report)
        pile, loaded = self._pile_closed(), self._rig.load is not None
        if rpm == 0.0 or (rpm is None and not (loaded or pile)):
            report.hands = "" if rpm == 0.0 else TO_IDLE
            return
        if report.reason.pile_too_long and pile:
            return  # asked for already
        report.hands = TO_IDLE
        why = ": the load stays on until it turns slowly" if loaded or pile else ""
        self._event(report, f"BRING THE ENGINE TO IDLE{why}")
        slow_rpm = max(self._rig.shed_below_rpm, IDLE_SHARE * (rpm or 0.0))
        at_most_s = self._rig.coast_s if loaded else HAND_IDLE_S
        clock = self._rig.clock
        began_s = clock.monotonic_s()
        while clock.monotonic_s() - began_s < at_most_s:
            rpm = self._shaft_rpm(report)
            if rpm is not None and rpm < slow_rpm:
                report.hands = ""
                self._event(report, f"shaft below {slow_rpm:.0f} rpm")
                return
            if pile and not self._pile_closed():
                return
            time.sleep(POLL_S)
        if loaded:
            self._event(report, f"after {at_most_s:g} s the load goes off all the same")

    def _wait_for_the_pile(self, report: StopReport) -> None:
        """What only hands can open is asked for until it is seen open, for a while."""
        if not self._pile_closed():
            self._see_pile_open(report)
            return
        before = "" if report.hands == OPEN_PILE else report.hands
        self._ask_for_the_pile(report)
        clock = self._rig.clock
        began_s = clock.monotonic_s()
        while self._pile_closed():
            if clock.monotonic_s() - began_s >= OPEN_WITHIN_S:
                return
            self._shaft_rpm(report)
            time.sleep(POLL_S)
        self._see_pile_open(report)
        report.hands = before

    def _ask_for_the_pile(self, report: StopReport) -> None:
        if all(event.words != OPEN_PILE for event in report.events):
            self._event(report, OPEN_PILE)
        if report.hands != EMERGENCY:
            report.hands = OPEN_PILE

    def _see_pile_open(self, report: StopReport) -> None:
        if report.hands == OPEN_PILE and not self._pile_closed():
            report.hands = ""
            self._event(report, "the pile is open")

    def _wait_for_standstill(self, report: StopReport, began_s: float) -> None:
        """Until the shaft is seen to stand still, is seen no more, or its coasting time is over."""
        if self._rig.drive is None or not self._rig.sees_standstill:
            return
        clock = self._rig.clock
        while (rpm := self._shaft_rpm(report)) is not None:
            if rpm < STILL_RPM:
                report.stands = True
                self._event(report, "the shaft stands still")
                return
            if clock.monotonic_s() - began_s >= self._rig.coast_s:
                return
            time.sleep(POLL_S)

    def _pile_closed(self) -> bool:
        """Whether a pile is closed by hand; a bug in the telling leaves nobody waiting for it."""
        try:
            return self._rig.pile_closed()
        except Exception:  # noqa: BLE001 - the order goes on without it
            return False

    def _shaft_rpm(self, report: StopReport) -> float | None:
        """The shaft speed [rpm]; None too where asking fails: the order goes on without it."""
        try:
            rpm = self._rig.shaft_rpm()
        except Exception:  # noqa: BLE001 - a bug in a reading must not leave the load connected
            return None
        report.last_rpm = report.last_rpm if rpm is None else rpm
        return rpm

    def _call_out(
        self, report: StopReport, from_rpm: float | None, rpm: float, for_s: float
    ) -> bool:
        """A drive may acknowledge a stop and turn on: only the shaft tells."""
        kept_up = for_s > SLOWING_S and from_rpm is not None and rpm >= SLOWED * from_rpm
        if not kept_up and for_s < self._rig.coast_s:
            return False
        report.hands = EMERGENCY
        words = f"{NOT_SLOWING} ({rpm:.0f} rpm): PRESS THE EMERGENCY STOP"
        self._event(report, words, ok=False)
        self._drive_off(report, again=True)
        return True

    def _begin(
        self, report: StopReport, words: str, switch: Switchable | None, deadline_s: float
    ) -> OnItsWay | None:
        """Tell a switch to open; None where there is none, or it cannot even be told."""
        begun: list[OnItsWay] = []
        if switch is not None:
            self._try(report, "", lambda: begun.append(switch.begin_off(deadline_s)), tried=words)
        return begun[0] if begun else None

    def _finish(
        self, report: StopReport, words: str, begun: OnItsWay | None, deadline_s: float
    ) -> None:
        if begun is not None:
            self._try(report, words, lambda: begun.wait(2 * deadline_s))

    def _try(
        self, report: StopReport, words: str, act: Callable[[], object], *, tried: str = ""
    ) -> bool:
        """Do one thing; whatever it raises, the order goes on. No `words`: silent when it works."""
        try:
            act()
        except BenchError as error:
            self._event(report, f"{words or tried}: {error}", ok=False)
            return False
        except Exception as error:  # noqa: BLE001 - a bug in a driver must not end the order
            self._event(report, f"{words or tried}: {type(error).__name__}: {error}", ok=False)
            return False
        if words:
            self._event(report, words)
        return True

    def _event(self, report: StopReport, words: str, *, ok: bool = True) -> None:
        event = StopEvent(self._rig.clock.monotonic_s(), words, ok)
        report.events.append(event)
        self._notes.add(event)

    def _not_noted(self, event: StopEvent) -> None:
        if self._report is not None:
            words = "the journal could not be written"
            self._report.events.append(StopEvent(event.t_s, words, ok=False))
