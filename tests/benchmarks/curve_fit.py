"""How long a fit takes, against another fitter on the same model, and how honest its bands are.

    python -m tests.benchmarks.curve_fit [trials] [repeats]

`trials` are for the bands: in how many of them the nominal 95 % band held the truth. `repeats` are
for the times: in each of them every curve is fitted by all fitters in turn, so that whatever else
the machine does falls on all of them alike.

One fit is compared with one fit: the same model, points, weights, loss, bounds and start, down to
parameters and their covariance. The other fitter's Minimizer and its parameters are built outside
the clock. It calls the very same model. It is asked three ways: by its default, `leastsq`
(Levenberg-Marquardt of MINPACK, derivatives by differences), by `leastsq` with our derivatives
handed to it, and by `least_squares` (trust region of scipy, derivatives by differences).
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import lmfit
import numpy as np

from acquire.curve import bridge_map
from acquire.curve.bridge_map import BRIDGE_MAP
from acquire.curve.fit import fit_curve
from acquire.curve.hyperbola import HYPERBOLA
from acquire.curve.model import CurveModel, FloatArray
from acquire.curve.one_model import SOFTNESS, fit_model, fit_once, ground, starts
from acquire.curve.points import CurvePoint
from acquire.curve.weighing import WeighedPoints, weigh
from tests.benchmarks.__main__ import machine
from tests.benchmarks.figures import Figure, Size
from tests.curve.coverage import ASKED, DESIGNS, TRUTHS, coverage
from tests.curve.published_tables import TABLES
from tests.curve.random_curves import random_curve

RPM = np.array([1200, 1350, 1500, 1700, 1900, 2200, 2600, 3000, 3600, 4300, 5100, 6000], float)
SIGMA_AMPS = 0.4
REPEATS = 20
MOST_MS = 30.0
LEAST_TIMES = 3.0
METHODS = {
    "leastsq": "leastsq, its default",
    "leastsq with derivatives": "leastsq with our derivatives",
    "least_squares": "least_squares (trf)",
}
Job = Callable[[], object]


def twelve_points(seed: int) -> list[CurvePoint]:
    """A sweep of twelve noisy readings."""
    truth = bridge_map.current(RPM, i_max_amps=93.0, n0_rpm=985.0, r=0.34)
    amps = truth + np.random.default_rng(seed).normal(0, SIGMA_AMPS, len(RPM))
    return [CurvePoint(*pair, u_amps=SIGMA_AMPS) for pair in zip(RPM, amps, strict=True)]


@dataclass(frozen=True)
class Task:
    """One model to be fitted to the points of one curve from one start."""

    kind: str
    model: CurveModel
    points: WeighedPoints
    start: FloatArray

    def ours(self) -> FloatArray:
        """Parameters by our fit; their covariance comes with them."""
        return fit_once(
            self.model,
            self.points,
            sigma=self.points.sigma_amps,
            starts=self.start[None],
            softness=SOFTNESS,
        ).parameters

    def whole(self) -> object:
        """Our whole fit of the model: the search for a start, and a second round where needed."""
        return fit_model(self.model, self.points)

    def cost(self, parameters: Sequence[float]) -> float:
        """The robust sum that both fitters bring down, in squares of sigma."""
        residuals = ground(self.model, self.points, self.points.sigma_amps)(parameters)[0]
        root = np.append(np.sqrt(1 + (residuals[:-1] / SOFTNESS) ** 2), 1.0)
        return float(residuals @ (residuals / (1 + root)))


def tasks(size: Size) -> list[Task]:
    """Printed tables, sweeps of twelve points, and random curves, with both models each."""
    count = {"tiny": 1, "short": 12, "full": 24}[size]
    curves = [
        ("printed table", table.points()) for table in TABLES[: 2 if size == "tiny" else None]
    ]
    curves += [("sweep of 12 points", twelve_points(seed)) for seed in range(count)]
    curves += [("random curve", random_curve(seed)) for seed in range(5000, 5000 + count)]
    return [
        Task(kind, model, weighed, starts(model, weighed)[0])
        for kind, points in curves
        for weighed in [weigh(points, common_gain=0.0)]
        for model in (BRIDGE_MAP, HYPERBOLA)
    ]


class Other:
    """The other fitter, built for one task; only `fit` is timed."""

    def __init__(self, task: Task) -> None:
        self._task = task
        self._weights = 1.0 / task.points.sigma_amps
        self._limited = bool(task.points.censored.any())
        points, model = task.points, task.model
        start = lmfit.Parameters()
        top, foot = points.top_amps, points.flowing_rpm
        start.add("i", value=task.start[0], min=0.7 * top, max=3.0 * top)
        start.add("n", value=task.start[1], min=0.2 * foot, max=foot)
        start.add("r", value=task.start[2], min=model.shape_bounds[0], max=model.shape_bounds[1])
        self._minimizer = lmfit.Minimizer(self._residuals, start, scale_covar=False)
        self._look = ground(model, points, points.sigma_amps)

    def fit(self, method: str) -> Any:
        """What the other fitter finds."""
        if method == "leastsq with derivatives":
            return self._minimizer.leastsq(Dfun=self._derivatives, col_deriv=1)
        return self._minimizer.minimize(method=method)

    def _residuals(self, p: lmfit.Parameters) -> FloatArray:
        """Residuals whose squares are the soft L1 loss; the shape is known as in our fit."""
        points, model = self._task.points, self._task.model
        shape = p["r"].value
        amps = model.current(points.shaft_rpm, (p["i"].value, p["n"].value, shape))  # type: ignore[arg-type]
        misses = (amps - points.amps) * self._weights
        if self._limited:
            misses = np.where(points.censored, np.minimum(misses, 0.0), misses)
        bent = np.empty(len(misses) + 1)
        bent[:-1] = misses * np.sqrt(2 / (1 + np.sqrt(1 + (misses / SOFTNESS) ** 2)))
        bent[-1] = np.log(shape / model.shape_centre) / model.shape_log_sd
        return bent

    def _derivatives(self, p: lmfit.Parameters) -> FloatArray:
        residuals, rows = self._look((p["i"].value, p["n"].value, p["r"].value))
        root = np.sqrt(1 + (residuals[:-1] / SOFTNESS) ** 2)
        rows[:, :-1] *= np.sqrt((1 + root) / 2) / root
        return rows


@dataclass
class Race:
    """The times of one task, ms, by fitter, and where each fitter ended."""

    task: Task
    times: dict[str, list[float]] = field(default_factory=dict)
    costs: dict[str, float] = field(default_factory=dict)

    def ms(self, fitter: str) -> float:
        return statistics.median(self.times[fitter])

    def ratio(self, method: str, *, ours: str = "ours") -> float:
        """How many times as long the other fitter takes."""
        return self.ms(method) / self.ms(ours)

    def lead(self, method: str) -> float:
        """By how many squares of sigma the other fitter ended above us, beyond a thousandth."""
        gap = self.costs[method] - self.costs["ours"]
        slack = 0.001 + 0.001 * min(self.costs[method], self.costs["ours"])
        return gap if abs(gap) > slack else 0.0


def raced(task: Task, repeats: int) -> Race:
    """Time all fitters on one task, in turn."""
    other, race = Other(task), Race(task)
    race.costs["ours"] = task.cost(task.ours().tolist())
    jobs: dict[str, Job] = {"ours": task.ours, "whole": task.whole}
    for method in METHODS:
        found = other.fit(method).params
        race.costs[method] = task.cost([found[name].value for name in ("i", "n", "r")])
        jobs[method] = lambda method=method: other.fit(method)  # type: ignore[misc]
    for _ in range(repeats):
        for fitter, job in jobs.items():
            race.times.setdefault(fitter, []).append(milliseconds(job))
    return race


def milliseconds(job: Job) -> float:
    began = time.perf_counter()
    job()
    return 1000 * (time.perf_counter() - began)


@dataclass(frozen=True)
class Score:
    """How many times as long the other fitter took, over the curves that it ended as low on."""

    median: float
    worst: float
    slow: int
    """Curves on which the other fitter took less than the asked multiple of our time."""
    whole_median: float
    whole_worst: float
    equal: int
    lower: int
    """Curves on which we ended lower; there and where the other did so times are not compared."""
    higher: int


def score(races: Sequence[Race], method: str) -> Score:
    equal = [race for race in races if race.lead(method) == 0]
    alone = [race.ratio(method) for race in equal]
    whole = [race.ratio(method, ours="whole") for race in equal]
    leads = [race.lead(method) for race in races]
    return Score(
        median=statistics.median(alone),
        worst=min(alone),
        slow=sum(ratio < LEAST_TIMES for ratio in alone),
        whole_median=statistics.median(whole),
        whole_worst=min(whole),
        equal=len(equal),
        lower=sum(lead > 0 for lead in leads),
        higher=sum(lead < 0 for lead in leads),
    )


def groups(races: Sequence[Race]) -> Iterator[tuple[str, list[Race]]]:
    """The races by model and kind of curve, then all of them."""
    names = dict.fromkeys((race.task.model.name, race.task.kind) for race in races)
    for model, kind in names:
        yield (
            f"{model}, {kind}",
            [race for race in races if (race.task.model.name, race.task.kind) == (model, kind)],
        )
    yield "all", list(races)


def show_times(races: Sequence[Race]) -> None:
    """Times side by side, of one run."""
    print("  ".join(f"{name} {value}" for name, value in machine().items()))
    print(f"Whole fit of 12 points, both models and their band: {whole_ms(REPEATS):.1f} ms")
    for method, words in METHODS.items():
        print(f"\nlmfit, {words}: how many times as long as ours, over fits with the same optimum")
        for name, some in groups(races):
            print(f"  {name:<32} {_line(some, method)}")
        found = score(races, method)
        reached = "reached" if found.median >= LEAST_TIMES else "NOT reached"
        print(f"  {LEAST_TIMES:g} times: {reached} by the median of all fits,")
        print(f"  and on all but {found.slow} of {found.equal} fits; worst {found.worst:.1f}")


def _line(races: Sequence[Race], method: str) -> str:
    found = score(races, method)
    ours = statistics.median(race.ms("ours") for race in races)
    theirs = statistics.median(race.ms(method) for race in races)
    return (
        f"{theirs:6.2f} / {ours:5.2f} ms  median {found.median:5.1f}  worst {found.worst:4.1f}"
        f"  (with our search for a start and second round: {found.whole_median:4.1f},"
        f" worst {found.whole_worst:4.1f})  optimum equal {found.equal}, ours lower {found.lower},"
        f" lmfit's lower {found.higher}"
    )


def whole_ms(repeats: int) -> float:
    """Median time of a whole fit over several sweeps, ms."""
    sweeps = [twelve_points(seed) for seed in range(repeats)]
    fit_curve(sweeps[0])
    return statistics.median(milliseconds(lambda points=points: fit_curve(points))  # type: ignore[misc]
                             for points in sweeps)  # fmt: skip


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
    repeats = {"tiny": 1, "short": 10, "full": REPEATS}[size]
    races = [raced(task, repeats) for task in tasks(size)]
    told = [Figure("fit of 12 points, both models and their band", whole_ms(2 * repeats), "ms",
                   at_most=MOST_MS)]  # fmt: skip
    for method, words in METHODS.items():
        found = score(races, method)
        least = None if size == "tiny" or "with" in method else LEAST_TIMES
        slow = f"less than {LEAST_TIMES:g} on {found.slow} of {found.equal} fits"
        told.append(
            Figure(
                f"one model fitted by lmfit, {words}",
                found.median,
                "times as long",
                at_least=least,
                note=f"{slow}, worst {found.worst:.1f}",
            )
        )
    return told


def main() -> None:
    """Measure and print."""
    trials, repeats = [*map(int, sys.argv[1:]), *(150, REPEATS)[len(sys.argv) - 1 :]]
    show_times([raced(task, repeats) for task in tasks("full")])
    print()
    show_coverage(trials)


if __name__ == "__main__":
    main()
