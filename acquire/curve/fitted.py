"""The fitted output curve: amps with a band at any speed, slope, and what to be wary of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from acquire.curve.band import FAR_RATIO, below_measured_knee, extrapolated, half_width
from acquire.curve.model import FloatArray
from acquire.curve.one_model import ModelFit
from acquire.curve.points import NORMAL_95, BandPoint, Estimate
from acquire.curve.weighing import FOOT_SHARE, WeighedPoints

_FASTEST = 20.0
"""Speeds are looked for up to this many times the highest measured one."""

DRAWN = 80
"""Speeds of a curve that is drawn."""


@dataclass(frozen=True, slots=True)
class CurveFit:
    """The output curve through some steady points.

    The curve is the bridge map; the hyperbola stands beside it and widens the band. Parameters
    are strongly correlated: currents at the speeds asked for are sure where n0 and r are not.
    """

    model: str
    parameters: dict[str, Estimate]
    residual_sd_amps: float
    """Root of the squared residuals, A, over the degrees of freedom (over 1 where none is left)."""
    covariance: tuple[tuple[float, ...], ...]
    """Covariance of the parameters in their order, units of measure multiplied."""
    cut_in: Estimate | None
    warnings: tuple[str, ...]
    points: WeighedPoints
    bridge_map: ModelFit
    hyperbola: ModelFit
    common_gain: float

    def at(self, speeds: Sequence[float]) -> list[BandPoint]:
        """The curve at `speeds` (shaft rpm, >= 0), always in numbers."""
        shaft_rpm = np.asarray(speeds, float)
        return [
            BandPoint(float(speed), float(amps), float(low), float(high), bool(outside))
            for speed, amps, low, high, outside in zip(
                shaft_rpm,
                *self._band(shaft_rpm),
                extrapolated(shaft_rpm, self.points),
                strict=True,
            )
        ]

    def _band(self, shaft_rpm: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Amps, low and high. Above a limit the curve is the limit; what the unit could give
        without it stays within the band."""
        capable = self.bridge_map.amps(shaft_rpm)
        half = half_width(
            shaft_rpm,
            points=self.points,
            bridge_map=self.bridge_map,
            hyperbola=self.hyperbola,
            common_gain=self.common_gain,
        )
        half = np.maximum(half, self._before_it_begins(shaft_rpm, capable))
        limit = self.points.limit_amps
        amps = capable if limit is None else np.minimum(capable, limit)
        low = np.minimum(np.maximum(capable - half, 0.0), np.maximum(amps - half, 0.0))
        return amps, low, capable + half

    def _before_it_begins(self, shaft_rpm: FloatArray, capable: FloatArray) -> FloatArray:
        """What may flow where the curve gives nothing yet, A; 0 where it gives something.

        It may begin at a lower speed, by the doubt of that, and what is under 1 % of the top
        current counts as nothing: no more than that is promised.
        """
        nothing = FOOT_SHARE * self.points.top_amps
        variance = max(float(self.bridge_map.covariance[1, 1]), 0.0)
        sooner = self.bridge_map.amps(shaft_rpm + NORMAL_95 * np.sqrt(variance))
        return np.where(capable <= nothing, np.maximum(sooner, nothing), 0.0)

    def slope(self, shaft_rpm: float) -> float:
        """Amps per rpm at `shaft_rpm`, by which a reading is moved to a speed near by."""
        at = np.array([float(shaft_rpm)])
        limit = self.points.limit_amps
        if limit is not None and float(self.bridge_map.amps(at)[0]) >= limit:
            return 0.0
        return float(self.bridge_map.model.slope(at, self.bridge_map.parameters)[0])

    def speed_for(self, amps: float) -> float | None:
        """The lowest shaft speed [rpm] at which `amps` flow; None where they never do."""
        limit = self.points.limit_amps
        if limit is not None and amps > limit:
            return None
        low, high = 0.0, _FASTEST * float(self.points.shaft_rpm[-1])
        if not self._gives(high, amps):
            return None
        while high - low > 1e-3:
            middle = (low + high) / 2
            low, high = (low, middle) if self._gives(middle, amps) else (middle, high)
        return high

    def _gives(self, shaft_rpm: float, amps: float) -> bool:
        return float(self.bridge_map.amps(np.array([shaft_rpm]))[0]) >= amps

    def warnings_at(self, speeds: Sequence[float]) -> tuple[str, ...]:
        """What to be wary of at these speeds in particular."""
        shaft_rpm = np.asarray(speeds, float)
        top_rpm = float(self.points.shaft_rpm[-1])
        far = shaft_rpm[shaft_rpm > FAR_RATIO * top_rpm]
        steep = shaft_rpm[below_measured_knee(shaft_rpm, self.points)]
        foot_rpm = float(self.bridge_map.parameters[1])
        idle = shaft_rpm[(shaft_rpm < foot_rpm) & extrapolated(shaft_rpm, self.points)]
        said = []
        if far.size:
            said.append(
                f"At {_speeds(far)} the curve is a guess: more than {FAR_RATIO:g} times the "
                f"highest measured speed, {top_rpm:g} rpm."
            )
        if steep.size:
            said.append(f"At {_speeds(steep)} no point has measured the steep part.")
        if idle.size:
            said.append(
                f"At {_speeds(idle)} nothing was measured and the curve has not begun: "
                f"it begins at {foot_rpm:.0f} rpm."
            )
        return tuple(said)

    def drawn(self) -> list[BandPoint]:
        """The curve for a picture: from its foot to a little beyond the highest measured speed."""
        speeds = self.points.shaft_rpm.tolist()
        foot = self.parameters["n0_rpm"].value if "n0_rpm" in self.parameters else min(speeds) / 2
        low, high = min(foot, 0.9 * min(speeds)), 1.05 * max(speeds)
        grid = [low + (high - low) * k / (DRAWN - 1) for k in range(DRAWN)]
        return self.at(sorted({*grid, *speeds}))

    def as_json(self, speeds: Sequence[float] | None = None) -> dict[str, object]:
        """The fit as plain values; `at` holds `speeds`, or the measured speeds without them."""
        wanted = sorted(set(self.points.shaft_rpm.tolist())) if speeds is None else list(speeds)
        return {
            "model": self.model,
            "parameters": {name: part.as_json() for name, part in self.parameters.items()},
            "covariance": [list(row) for row in self.covariance],
            "residual_sd_amps": self.residual_sd_amps,
            "cut_in_rpm": None if self.cut_in is None else self.cut_in.as_json(),
            "at": [point.as_json() for point in self.at(wanted)],
            "warnings": [*self.warnings, *self.warnings_at(wanted)],
        }


def _speeds(shaft_rpm: FloatArray) -> str:
    return ", ".join(f"{speed:g}" for speed in shaft_rpm) + " rpm"
