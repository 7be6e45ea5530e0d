"""How long a fit takes, against another fitter on the same model, and how honest its bands are.

    python -m tests.benchmarks.curve_fit [trials]

`trials` are for the bands: in how many of them the nominal 95 % band held the truth.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable, Sequence
from functools import partial

import lmfit
import numpy as np

from acquire.curve import bridge_map
from acquire.curve.bridge_map import BRIDGE_MAP
from acquire.curve.fit import fit_curve
from acquire.curve.model import FloatArray
from acquire.curve.one_model import fit_model
from acquire.curve.points import CurvePoint
from acquire.curve.weighing import weigh
from tests.benchmarks.figures import Figure, Size
from tests.curve.coverage import ASKED, DESIGNS, TRUTHS, coverage

RPM = np.array([1200, 1350, 1500, 1700, 1900, 2200, 2600, 3000, 3600, 4300, 5100, 6000], float)
SIGMA_AMPS = 0.4
REPEATS = 40
MOST_MS = 30.0


def twelve_points(seed: int) -> list[CurvePoint]:
    """A sweep of twelve noisy readings."""
    truth = bridge_map.current(RPM, i_max_amps=93.0, n0_rpm=985.0, r=0.34)
    amps = truth + np.random.default_rng(seed).normal(0, SIGMA_AMPS, len(RPM))
    return [CurvePoint(*pair, u_amps=SIGMA_AMPS) for pair in zip(RPM, amps, strict=True)]


def by_lmfit(points: Sequence[CurvePoint], *, method: str) -> FloatArray:
    """The same model, prior and number of starts through lmfit; the best parameters."""
    rpm = np.array([point.shaft_rpm for point in points])
    amps = np.array([point.amps for point in points])

    def residuals(p: lmfit.Parameters) -> FloatArray:
        i_max_amps, n0_rpm, r = p["i"].value, p["n"].value, p["r"].value
        current = bridge_map.current(rpm, i_max_amps=i_max_amps, n0_rpm=n0_rpm, r=r)
        return np.append((current - amps) / SIGMA_AMPS, np.log(r / 0.35) / 0.6)

    best = None
    for share in (0.85, 0.7, 0.55):
        start = lmfit.Parameters()
        start.add("i", value=1.08 * amps.max(), min=0.7 * amps.max(), max=3 * amps.max())
        start.add("n", value=share * rpm[0], min=0.2 * rpm[0], max=rpm[0])
        start.add("r", value=0.35, min=1e-3, max=4)
        found = lmfit.minimize(residuals, start, method=method)
        if best is None or found.chisqr < best.chisqr:
            best = found
    return np.array([best.params[name].value for name in ("i", "n", "r")])  # type: ignore[union-attr]


def milliseconds(job: Callable[[list[CurvePoint]], object], repeats: int = REPEATS) -> float:
    """Median time of the job over several sweeps, ms."""
    sweeps = [twelve_points(seed) for seed in range(repeats)]
    job(sweeps[0])
    spent = []
    for points in sweeps:
        began = time.perf_counter()
        job(points)
        spent.append(1000 * (time.perf_counter() - began))
    return statistics.median(spent)


def ours_alone(points: list[CurvePoint]) -> FloatArray:
    """The bridge map alone: what the other fitter does."""
    return fit_model(BRIDGE_MAP, weigh(points, common_gain=0.0)).parameters


def show_times() -> None:
    """Times side by side, of one run."""
    whole, alone = milliseconds(fit_curve), milliseconds(ours_alone)
    print("Twelve points, median of", REPEATS, "sweeps:")
    print(f"  whole fit (both models, band, warnings)  {whole:6.1f} ms")
    print(f"  bridge map alone                         {alone:6.1f} ms")
    for method in ("leastsq", "least_squares"):
        other = milliseconds(partial(by_lmfit, method=method))
        print(f"  lmfit, same model, {method:<21} {other:6.1f} ms  {other / alone:4.1f} x", end="")
        print(f" (whole fit: {other / whole:4.1f} x)")


def show_coverage(trials: int) -> None:
    """Share of trials in which the nominal 95 % band held the truth."""
    print(f"Coverage of the 95 % band in {trials} trials, 1 A noise on 100 A, at", *ASKED, "rpm")
    for truth_name, truth in TRUTHS.items():
        for design, speeds in DESIGNS.items():
            found = coverage(truth, speeds, runs=trials, seed=7)
            band = " ".join(f"{share:.2f}" for share in found.band)
            delta = " ".join(f"{share:.2f}" for share in found.delta)
            print(
                f"  {truth_name:<21} {design:<20} band {band}  delta method alone {delta}"
                f"  half-width {found.half_width:.1f} A"
            )


def figures(size: Size) -> list[Figure]:
    """Time of a fit, beside another fitter on the same model."""
    sweeps = {"tiny": 2, "short": REPEATS, "full": REPEATS}[size]
    whole, alone = milliseconds(fit_curve, sweeps), milliseconds(ours_alone, sweeps)
    told = [Figure("fit of 12 points, both models and their band", whole, "ms", at_most=MOST_MS)]
    for method in ("leastsq", "least_squares"):
        other = milliseconds(partial(by_lmfit, method=method), sweeps)
        told.append(Figure(f"the same model fitted by lmfit, {method}", other / alone,
                           "times as long"))  # fmt: skip
    return told


def main() -> None:
    """Measure and print."""
    show_times()
    show_coverage(int(sys.argv[1]) if len(sys.argv) > 1 else 150)


if __name__ == "__main__":
    main()
