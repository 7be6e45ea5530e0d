"""The same model and data through an independent fitter (lmfit, its MINPACK driver)."""

from __future__ import annotations

import lmfit
import numpy as np
import pytest

from acquire.curve import bridge_map
from acquire.curve.fit import fit_curve
from acquire.curve.points import CurvePoint

RPM = np.array([1200, 1350, 1500, 1700, 1900, 2200, 2600, 3000, 3600, 4300, 5100, 6000], float)
SIGMA = 0.4


def _readings() -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    truth = bridge_map.current(RPM, i_max_amps=93.0, n0_rpm=985.0, r=0.34)
    noise = np.random.default_rng(20).normal(0, SIGMA, len(RPM))
    return np.asarray(truth + np.clip(noise, -0.5, 0.5))


def test_an_independent_fitter_finds_the_same_curve() -> None:
    amps = _readings()
    ours = fit_curve([CurvePoint(*pair, u_amps=SIGMA) for pair in zip(RPM, amps, strict=True)])

    def residuals(p: lmfit.Parameters) -> object:
        current = bridge_map.current(
            RPM, i_max_amps=p["i"].value, n0_rpm=p["n"].value, r=p["r"].value
        )
        # The knowledge of the shape enters as one more residual, as documented.
        return np.append((current - amps) / SIGMA, np.log(p["r"].value / 0.35) / 0.6)

    start = lmfit.Parameters()
    start.add("i", value=95, min=50, max=300)
    start.add("n", value=1000, min=300, max=1190)
    start.add("r", value=0.35, min=1e-3, max=4)
    theirs = lmfit.minimize(residuals, start, method="leastsq", scale_covar=False)
    for name, short in (("i_max_amps", "i"), ("n0_rpm", "n"), ("r", "r")):
        part = ours.parameters[name]
        assert part.value == pytest.approx(theirs.params[short].value, abs=0.2 * part.u)
        assert part.u == pytest.approx(theirs.params[short].stderr, rel=0.15)
