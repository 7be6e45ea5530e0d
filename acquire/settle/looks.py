"""What a hold is asked and what it answers: plain values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from acquire.settle.equivalence import State
from acquire.settle.lore import Lore
from acquire.settle.tolerance import HORIZON_S, ChannelPlan

Taken = Literal["yes", "predicted", "no"]
SPEED = "shaft_rpm"
CURRENT = "amps"


@dataclass(frozen=True, slots=True)
class HoldPlan:
    """What one step waits for, from one speed command to the next."""

    began_s: float
    """Clock time of the speed command [s]."""
    set_rpm: float
    """Shaft speed asked for [rpm]."""
    channels: Mapping[str, ChannelPlan]
    horizon_s: float = HORIZON_S
    """Look-ahead over which the drift is judged [s]."""
    give_up_s: float = 120.0
    """For the estimate on the screen; whoever owns the clock calls `give_up` [s]."""
    predict: bool = False
    """May take a point before it is settled, when its final value is known well enough."""
    thermal: bool = False
    """The warming itself must have died out: tighter tolerance, twice as many looks."""
    slope_amps_per_rpm: float | None = None
    """Slope of the output curve near this speed, to take out a hunting speed [A/rpm]."""
    fast: bool = False
    """Predict in the fast form: for methods that must be quick and say so."""
    lore: Lore | None = None
    """What the steps before have taught of the machine; learns from this one when it is taken."""


@dataclass(frozen=True, slots=True)
class ChannelLook:
    """One channel at one look, in its own unit of measure."""

    state: State
    drift: float
    """Drift over the look-ahead."""
    half_width: float
    """95 % doubt of the drift."""
    tolerance: float
    mean: float
    """The value the step would be given now."""
    u: float
    """Its standard uncertainty: scatter, display step, drift or prediction; not the instrument."""
    dof: float
    window_s: float
    readings: int
    rejected: int
    """Readings left out as spikes since the step began."""
    unsteady: bool
    """Bursts of low values: not to be reported as a clean reading."""


@dataclass(frozen=True, slots=True)
class HoldLook:
    """All channels of a step at one look."""

    t_s: float
    channels: Mapping[str, ChannelLook]
    """Those that have given a reading since the step began."""
    taken: Taken | None
    about_s: float | None
    """How much longer it may take, a rough estimate [s]; None when nothing can be said."""
    waiting_for: str
    """The channel that holds the step up; empty when none does."""
    evidence: Mapping[str, float] = field(default_factory=dict)
    """What the prediction rests on, for the journal: probabilities, check, lag."""
