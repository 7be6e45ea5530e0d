"""What a run has shown besides its steady points: kept in its journal, read again from there.

One form for live runs, replays and judgements of old records: entries of the journal, by kind.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Protocol

from acquire.record.former_seals import RESUMED
from acquire.record.journal import JOURNAL_FILE
from acquire.record.other_hands import as_we_write, number, number_or_none
from acquire.settle.looks import ChannelLook
from acquire.stop_path import DOES_NOT_STOP, DRIVE_OFF, NOT_SLOWING, STILL_TURNS
from acquire.sweep.commands import StepTaken

STEADY_POINT = "steady point"
ZERO_TAKEN = "zero taken"
ZERO_NOT_TAKEN = "zero not taken"
WARM_UP_OVER = "warm-up over"
RIPPLE_LINES = "ripple lines"
"""Amplitudes of the first, second, third and sixth line of a burst at a step; of a fast channel."""
SPEED_NOT_REACHED = "speed not reached"
LOAD_STAYS_OFF = "load stays off"
REFUSED = "refused"
GUARD_TRIPPED = "guard tripped"
STOP_EVENT = "stop"
"""One thing the stop path did: `what`, and whether it went well."""
CANNOT_SEE = "cannot see"


@dataclass(frozen=True, slots=True)
class ChannelSeen:
    """What one channel gave while a step was held, in its own unit of measure."""

    mean: float
    u: float | None = None
    """Statistical standard uncertainty; None where nothing can be said."""
    unsteady: bool = False
    """Bursts of low values were seen."""
    readings: int = 0
    rejected: int = 0
    drift: float = 0.0
    """Drift over the method's look-ahead when the point was taken."""


@dataclass(frozen=True, slots=True)
class StepSeen:
    """What all channels gave at one step."""

    step: int
    set_rpm: float
    channels: Mapping[str, ChannelSeen]
    told_rpm: float | None = None
    """Shaft speed the drive was told, without slip [rpm]; None without a drive."""
    settle_s: float = 0.0

    def mean(self, channel: str) -> float | None:
        """Mean of a channel in its unit of measure; None where it was not read."""
        one = self.channels.get(channel)
        return None if one is None else one.mean


@dataclass(frozen=True, slots=True)
class Warming:
    """What the current did in the warm-up, at one speed."""

    amps_first: float
    amps_last: float
    lasted_s: float


@dataclass(slots=True)
class Seen:
    """Grows as the run goes; by step number, the latest counts."""

    steps: dict[int, StepSeen] = field(default_factory=dict)
    zero_amps: float | None = None
    """Reading of the current sensor at standstill [A]."""
    zero_not_taken: str = ""
    """Why there is none."""
    rest_volts: float | None = None
    """Voltage at B+ before anything turned: the battery's own [V]."""
    warming: Warming | None = None
    ripple_lines: dict[int, Mapping[int, float]] = field(default_factory=dict)
    """Step -> amplitude of each multiple of the EMF frequency in a burst of samples."""
    not_reached_rpm: list[float] = field(default_factory=list)
    """Speeds that were not reached."""
    load_stayed_off: bool = False
    """A load that holds the voltage was never connected: no test voltage was known."""
    went_on_after: list[frozenset[int]] = field(default_factory=list)
    """For each time the run was resumed, the steps that it had by then."""
    refused_for_good: bool = False
    """Rig and unit do not go together: nothing was turned, and going on cannot mend that."""
    trip: Mapping[str, Any] | None = None
    """What the guard said when it stopped the run."""
    current_not_seen: str = ""
    """Why the current that was read is no measurement; empty for a meter that measures."""

    not_stopped: dict[str, str] = field(default_factory=dict)
    """What kept the bench from coming to rest by itself when it was last told to, in sentences."""

    def unsteady(self, step: int) -> bool:
        """True where bursts of low current were seen at a step."""
        one = self.steps.get(step)
        amps = one.channels.get("amps") if one is not None else None
        return amps is not None and amps.unsteady

    def stopped_beyond_a_limit(self, why_stopped: str | None) -> bool:
        """True where that is why it stopped; a trip from before a resume is none of it."""
        trip = self.trip or {}
        return trip.get("kind") == "limit" and trip.get("words") == why_stopped

    def see(self, kind: str, data: Mapping[str, Any]) -> None:
        """Take an entry of the journal; those of other kinds pass by."""
        if kind == STEADY_POINT and "channels" in data:
            step = _step_of(data)
            self.steps[step.step] = step
        elif kind == ZERO_TAKEN:
            self.zero_amps, self.zero_not_taken = number(data["amps"]), ""
            self.rest_volts = number_or_none(data.get("volts"))
        elif kind == ZERO_NOT_TAKEN:
            self.zero_not_taken = str(data.get("why", ""))
        elif kind == WARM_UP_OVER and data.get("amps_first") is not None:
            figures = (number(data[name]) for name in ("amps_first", "amps_last", "lasted_s"))
            self.warming = Warming(*figures)
        elif kind == RIPPLE_LINES:
            lines = {int(line): number(amplitude) for line, amplitude in data["lines"].items()}
            self.ripple_lines[int(data["step"])] = lines
        elif kind == SPEED_NOT_REACHED:
            self.not_reached_rpm.append(number(data["wanted_rpm"]))
        elif kind == LOAD_STAYS_OFF:
            self.load_stayed_off = True
        elif kind == REFUSED:
            self.refused_for_good = data.get("for_good") is True
        elif kind == RESUMED:
            self.went_on_after.append(frozenset(int(step) for step in data.get("steps", ())))
            self.not_stopped.clear()
        elif kind == STOP_EVENT:
            self._see_stop(str(data.get("what", "")), well=data.get("ok") is True)
        elif kind == GUARD_TRIPPED:
            self.trip = data
        elif kind == CANNOT_SEE:
            self.current_not_seen = str(data.get("why", ""))

    def _see_stop(self, what: str, *, well: bool) -> None:
        """A drive that was called out and read its stop back after all has stopped by itself."""
        if well and what.startswith(DRIVE_OFF):
            self.not_stopped.pop("drive", None)
        elif what == DOES_NOT_STOP:
            self.not_stopped["drive"] = "The drive did not read its stop back."
        elif what.startswith(NOT_SLOWING):
            at = what.partition("(")[2].partition(")")[0]
            speed = f": it was still at {at}" if at else ""
            self.not_stopped["shaft"] = f"The shaft did not slow down{speed}."
        elif STILL_TURNS in what:
            self.not_stopped["rest"] = "It was never seen to come to rest."


class Entry(Protocol):
    """An entry of a journal."""

    @property
    def kind(self) -> str: ...

    @property
    def data(self) -> Mapping[str, Any]: ...


def seen_in(journal: Iterable[Entry]) -> Seen:
    """What a run has shown, by its journal."""
    seen = Seen()
    for entry in journal:
        with as_we_write(JOURNAL_FILE, f"the entry '{entry.kind[:40]}'"):
            seen.see(entry.kind, entry.data)
    return seen


def noted(step: StepTaken) -> dict[str, Any]:
    """What is kept of a step besides its row, as plain data for the journal."""
    channels = {} if step.look is None else step.look.channels
    return {
        "set_rpm": step.set_rpm,
        "told_rpm": step.told_rpm,
        "settle_s": step.settle_s,
        "channels": {name: _channel_data(look) for name, look in channels.items()},
    }


def _channel_data(look: ChannelLook) -> dict[str, Any]:
    return {
        "mean": look.mean,
        "u": look.u if math.isfinite(look.u) else None,
        "unsteady": look.unsteady,
        "readings": look.readings,
        "rejected": look.rejected,
        "drift": look.drift,
    }


def _step_of(data: Mapping[str, Any]) -> StepSeen:
    return StepSeen(
        step=int(data["step"]),
        set_rpm=number(data["set_rpm"]),
        channels={name: _channel_of(one) for name, one in data["channels"].items()},
        told_rpm=number_or_none(data.get("told_rpm")),
        settle_s=number(data.get("settle_s", 0.0)),
    )


def _channel_of(data: Mapping[str, Any]) -> ChannelSeen:
    return ChannelSeen(
        mean=number(data["mean"]),
        u=number_or_none(data.get("u")),
        unsteady=bool(data.get("unsteady", False)),
        readings=int(data.get("readings", 0)),
        rejected=int(data.get("rejected", 0)),
        drift=number(data.get("drift", 0.0)),
    )
