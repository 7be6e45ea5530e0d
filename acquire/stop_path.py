"""The one place that owns the order in which a rig is brought to rest.

    field off (where the rig allows it) -> drive off, speed 0, both read back -> load and battery
    stay connected while it turns -> load shed

Where a hand holds the throttle there is no drive to stop: the hand is asked to bring the engine to
idle, and the load stays connected until the shaft turns slowly, or for the coasting time at most.

The order runs in a thread that does nothing else, so that it needs neither the main thread, nor
the sweep, nor the screen. The first reason wins; a second one never cuts the order short.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Protocol

from acquire.stop_notes import StopNotes
from drivers.clock import Clock
from profiles.errors import BenchError

DRIVE_TRIES = 3
"""A drive that reads back no stop three times is left to the operator and the emergency stop."""
DRIVE_TRY_S = 5.0
"""A drive gets so long to read back its stop before it is told again [s]."""
SWITCH_S = 2.0
"""The same for field and load, which are told once [s]."""
SLOWING_S, SLOWED = 4.0, 0.9
"""After so long the shaft must have lost a tenth of its speed, or the operator is called."""
IDLE_SHARE = 0.5
"""Half the speed it had at the stop, or less, counts as idle where a hand has the throttle."""
POLL_S = 0.02
"""Between two looks at the shaft speed while it runs out [s]."""
NOTES_S = 2.0
"""At the end of the order, for the journal; a disk that hangs does not get longer."""


class OnItsWay(Protocol):
    """Something told to an instrument, and how it ended."""

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
        self._wait_for_rest(report)
        load_off = self._begin(report, "load shed", self._rig.load, SWITCH_S)
        self._finish(report, "load shed", load_off, SWITCH_S)

    def _drive_off(self, report: StopReport) -> None:
        drive = self._rig.drive
        if drive is None:
            return
        for attempt in range(1, DRIVE_TRIES + 1):
            words = "drive off, speed 0" if attempt == 1 else f"drive off again (try {attempt})"
            report.drive_off = self._try(
                report, words, lambda: drive.begin_halt(DRIVE_TRY_S).wait(2 * DRIVE_TRY_S)
            )
            if report.drive_off:
                return
        self._event(report, "THE DRIVE DOES NOT STOP: PRESS THE EMERGENCY STOP", ok=False)

    def _wait_for_rest(self, report: StopReport) -> None:
        """Load and battery stay connected while the shaft turns."""
        if self._rig.drive is None:
            self._wait_for_idle(report)
            return
        clock = self._rig.clock
        began_s = clock.monotonic_s()
        from_rpm, called_out = self._shaft_rpm(), False
        while clock.monotonic_s() - began_s < self._rig.coast_s:
            rpm = self._shaft_rpm()
            if not called_out and clock.monotonic_s() - began_s > SLOWING_S:
                called_out = self._call_out(report, from_rpm, rpm)
            if rpm is not None and rpm < self._rig.shed_below_rpm:
                self._event(report, f"shaft below {self._rig.shed_below_rpm:.0f} rpm")
                return
            if rpm is None and report.drive_off and self._rig.load is None:
                return  # nothing is there that could be shed too early
            time.sleep(POLL_S)
        rpm = self._shaft_rpm()
        if rpm is None:
            self._event(report, f"speed not known; waited {self._rig.coast_s:g} s for the shaft")
        else:
            self._event(report, f"after {self._rig.coast_s:g} s the shaft still turns", ok=False)

    def _wait_for_idle(self, report: StopReport) -> None:
        """A load at full current is not thrown off while a hand still has the throttle open."""
        from_rpm = self._shaft_rpm()
        if self._rig.load is None or from_rpm == 0.0:
            return
        self._event(report, "BRING THE ENGINE TO IDLE: the load stays on until it turns slowly")
        slow_rpm = max(self._rig.shed_below_rpm, IDLE_SHARE * (from_rpm or 0.0))
        clock = self._rig.clock
        began_s = clock.monotonic_s()
        while clock.monotonic_s() - began_s < self._rig.coast_s:
            rpm = self._shaft_rpm()
            if rpm is not None and rpm < slow_rpm:
                self._event(report, f"shaft below {slow_rpm:.0f} rpm")
                return
            time.sleep(POLL_S)
        self._event(report, f"after {self._rig.coast_s:g} s the load goes off all the same")

    def _shaft_rpm(self) -> float | None:
        """The shaft speed [rpm]; None too where asking fails: the order goes on without it."""
        try:
            return self._rig.shaft_rpm()
        except Exception:  # noqa: BLE001 - a bug in a reading must not leave the load connected
            return None

    def _call_out(self, report: StopReport, from_rpm: float | None, rpm: float | None) -> bool:
        """A drive may acknowledge a stop and turn on: only the shaft tells."""
        if from_rpm is None or rpm is None or rpm < SLOWED * from_rpm:
            return False
        words = f"THE SHAFT DOES NOT SLOW DOWN ({rpm:.0f} rpm): PRESS THE EMERGENCY STOP"
        self._event(report, words, ok=False)
        self._drive_off(report)
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
