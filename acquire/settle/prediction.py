"""What must be known before a point is taken early, and what is known at a look: plain values."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class Form:
    """How much must be known before a point is taken."""

    known: float
    """Probability that the final value is within the tolerance."""
    slope_within: float
    """Probability that the thermal drift over the horizon is within `slope_tolerances`."""
    slope_tolerances: float
    slope_sd: float
    """Prior of the thermal drift over the horizon, as a share of the reading."""
    check: float
    """Largest error of the 2 s forecast, in its own standard deviations."""
    left_share: float
    """Share of the lag still to come that counts as doubt."""
    blocks: int
    """For so many half seconds in a row."""
    earliest_s: float


CAUTIOUS = Form(
    known=0.96,
    slope_within=0.8,
    slope_tolerances=1.25,
    slope_sd=0.0025,
    check=2.5,
    left_share=0.15,
    blocks=3,
    earliest_s=4.0,
)
FAST = replace(CAUTIOUS, known=0.95, slope_tolerances=3.0)
"""Lets the unit still be warming, and is a little sooner sure."""


@dataclass(frozen=True, slots=True)
class Prediction:
    """What the bank says at one look."""

    t_s: float
    value: float
    """Current once the lag is over, at the thermal state of now and the speed set [A]."""
    u: float
    """Standard uncertainty of `value`: fit, model, forecast misfit, display step."""
    u_wide: float
    """The same with all the doubt that decides when a point may be taken."""
    dof: float
    p_known: float
    """Probability that `value` is within the tolerance of what it stands for."""
    p_slope: float
    """Probability that the thermal drift is no more than the form lets pass."""
    check: float
    """Error of the forecast for the last 2 s, in its standard deviations (nan: none made)."""
    misfit: float
    """Factor on all standard deviations from the last forecasts (1 or more)."""
    left: float
    """Lag still to come [A]."""
    slope: float
    """Thermal drift over the horizon [A]."""
    u_slope: float
    lag_s: float
    """Time constant of the lag [s]."""
    lag_spread: float
    """Standard deviation of its logarithm."""
    two_lags: float
    """Probability that there is a second lag."""
    noise: float
    """Standard deviation of a half-second block [A]."""
    in_a_row: int = 0
    """Half seconds in a row for which all was good."""
    ready: bool = False
    """True when the point may be taken."""

    def evidence(self) -> dict[str, float]:
        """What the prediction rests on, for the journal; what is not known is left out."""
        told = {
            "p_known": self.p_known,
            "p_slope": self.p_slope,
            "check": self.check,
            "misfit": self.misfit,
            "lag_s": self.lag_s,
            "lag_left_amps": self.left,
            "thermal_drift_amps": self.slope,
            "u_thermal_drift_amps": self.u_slope,
            "two_lags": self.two_lags,
        }
        return {name: value for name, value in told.items() if math.isfinite(value)}
