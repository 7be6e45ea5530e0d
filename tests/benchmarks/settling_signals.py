"""Simulated steps of one speed: what a current reads after a speed command, and the truth.

Invented magnitudes: a first-order lag from 10 to 70 % below the final value, cooling copper
(5 to 12 % less current over minutes), white and correlated noise, a display step, a hunting
drive, spikes and gaps. Families R1 to R10 break the assumptions on purpose.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.signal import lfilter

Floats = npt.NDArray[np.float64]

HORIZON_S = 10.0
GRID_S = 0.02
RATES_HZ = (2, 10, 50, 200, 1000)
SET_RPM = 3000.0
SPEED_RATE_HZ = 10
SPEED_NOISE_RPM = 2.0

FAMILIES = {
    "A": "lag up to 5 s, 0.5 % in 10 s",
    "B": "lag up to 20 s, 0.5 % in 10 s",
    "C": "lag up to 5 s, 0.2 % in 10 s",
    "R1": "two lags, 70 and 30 %, the second 3 to 5 times slower",
    "R2": "dead time of 1 to 2 s",
    "R3": "strong hunting, the current lagging behind the speed",
    "R4": "the drive ramps for 3 to 8 s",
    "R5": "brush drops, 0.05 to 0.5 s, 5 to 30 %, one in 3 s",
    "R6": "a meter that updates every 0.8 s",
    "R7": "a display of 1 A",
    "R8": "the trap: rising lag and cooling copper cancel, 0.2 %",
    "R9": "brush bursts, 1 to 5 s, 5 to 20 %, one in 25 s",
    "R10": "two lags, 60 and 40 %, the second 7 to 10 times slower",
}


@dataclass(frozen=True, slots=True)
class Machine:
    """What is drawn for one signal."""

    amps: float
    rate_hz: int
    start: float
    """Share of the final current at the start."""
    lag_s: float
    heat_loss: float
    heat_s: float
    warm_s: float
    """How long it has been warming before this step."""
    white: float
    linked: float
    linked_s: float
    step: float
    """Display step [A]."""
    hunting_rpm: float
    hunting_s: float
    slope: float
    """A/rpm."""
    phase: float
    spikes: float
    gaps: float


@dataclass(frozen=True, slots=True)
class Signal:
    """Readings of one step from t = 0, and the truth."""

    family: str
    machine: Machine
    limit_s: float
    tolerance: float
    """A over the horizon."""
    relative: float
    t_s: Floats
    amps: Floats
    """As the meter shows them; NaN where a reading is missing."""
    rpm_t_s: Floats
    rpm: Floats
    slope_known: float
    """Slope of the curve as the program believes it, 30 % wrong at most [A/rpm]."""
    grid_s: Floats
    true_amps: Floats
    lag_free: Floats
    ideal_s: float
    """When a seer would call it settled."""

    def true_at(self, t_s: float) -> float:
        """Current without noise and hunting [A]."""
        return float(np.interp(t_s, self.grid_s, self.true_amps))

    def lag_free_at(self, t_s: float) -> float:
        """Current once the lag is over, at the thermal state of `t_s` [A]."""
        return float(np.interp(t_s, self.grid_s, self.lag_free))

    def drift_at(self, t_s: float) -> float:
        """True drift over the horizon from `t_s` on [A]."""
        return self.true_at(t_s + HORIZON_S) - self.true_at(t_s)


def _log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    return math.exp(rng.uniform(math.log(low), math.log(high)))


def draw_machine(rng: np.random.Generator, rate_hz: int, cold: bool, lag_max_s: float) -> Machine:
    amps = _log_uniform(rng, 20, 200)
    machine = Machine(
        amps=amps,
        rate_hz=rate_hz,
        start=rng.uniform(0.3, 0.9),
        lag_s=_log_uniform(rng, 0.5, lag_max_s),
        heat_loss=rng.uniform(0.05, 0.12),
        heat_s=_log_uniform(rng, 180, 900),
        warm_s=0.0,
        white=amps * _log_uniform(rng, 5e-4, 1e-2),
        linked=amps * _log_uniform(rng, 2e-4, 3e-3),
        linked_s=_log_uniform(rng, 0.05, 1.0),
        step=float(rng.choice([0.01, 0.1, 1.0])),
        hunting_rpm=10.0 if rng.random() < 0.5 else 0.0,
        hunting_s=rng.uniform(2, 15),
        slope=_log_uniform(rng, 0.002, 0.06),
        phase=rng.uniform(0, 2 * math.pi),
        spikes=0.002 if rng.random() < 0.3 else 0.0,
        gaps=0.01 if rng.random() < 0.3 else 0.0,
    )
    return machine if cold else replace(machine, warm_s=rng.uniform(0, 2) * machine.heat_s)


def _special(machine: Machine, family: str, rng: np.random.Generator) -> Machine:
    match family:
        case "R3":
            return replace(machine, hunting_rpm=10.0, slope=rng.uniform(0.02, 0.06))
        case "R7":
            return replace(machine, step=1.0, white=machine.amps * 5e-4)
        case "R8":
            return replace(
                machine,
                lag_s=rng.uniform(2, 5),
                heat_loss=rng.uniform(0.10, 0.12),
                heat_s=rng.uniform(180, 250),
                warm_s=0.0,
            )
    return machine


def first_order(drive: Floats, lag_s: float) -> Floats:
    """`drive` on the grid, seen through a first-order lag that starts at 0."""
    keep = math.exp(-GRID_S / lag_s)
    delayed = np.concatenate([[0.0], drive[:-1]])
    return np.asarray(lfilter([1 - keep], [1, -keep], delayed), dtype=np.float64)


def linked_noise(rng: np.random.Generator, n: int, sd: float, phi: float) -> Floats:
    """AR(1) noise of standard deviation `sd`."""
    shocks = rng.standard_normal(n) * sd * math.sqrt(1 - phi * phi)
    shocks[0] /= math.sqrt(1 - phi * phi)
    return np.asarray(lfilter([1.0], [1.0, -phi], shocks), dtype=np.float64)


def _lag_left(machine: Machine, family: str, grid: Floats, rng: np.random.Generator) -> Floats:
    """Share of the final current still missing, on the grid."""
    jump, lag_s = 1 - machine.start, machine.lag_s
    match family:
        case "R1":
            slow = lag_s * rng.uniform(3, 5)
            return jump * (0.7 * np.exp(-grid / lag_s) + 0.3 * np.exp(-grid / slow))
        case "R10":
            slow = lag_s * rng.uniform(7, 10)
            return jump * (0.6 * np.exp(-grid / lag_s) + 0.4 * np.exp(-grid / slow))
        case "R2":
            dead = rng.uniform(1, 2)
            return jump * np.where(grid < dead, 1.0, np.exp(-(grid - dead) / lag_s))
        case "R4":
            ramp = np.minimum(grid / rng.uniform(3, 8), 1.0)
            return jump * (1 - first_order(ramp, lag_s))
    return jump * np.exp(-grid / lag_s)


def _brush(family: str, t: Floats, amps: Floats, rng: np.random.Generator) -> None:
    if family == "R5":
        shortest, longest, shallow, deep, rate = 0.05, 0.5, 0.05, 0.30, 0.3
    elif family == "R9":
        shortest, longest, shallow, deep, rate = 1.0, 5.0, 0.05, 0.20, 0.04
    else:
        return
    at = 0.0
    while True:
        at += rng.exponential(1 / rate)
        if at > t[-1]:
            return
        lasts = rng.uniform(shortest, longest)
        amps[(t >= at) & (t < at + lasts)] *= 1 - rng.uniform(shallow, deep)
        at += lasts


def meter(
    t: Floats,
    clean: Floats,
    machine: Machine,
    rng: np.random.Generator,
    *,
    family: str = "",
) -> Floats:
    """What the meter shows of `clean` at times `t`: noise, spikes, brush, display step, gaps."""
    n, rate_hz = t.size, machine.rate_hz
    phi = math.exp(-1 / (rate_hz * machine.linked_s))
    shown = clean + machine.white * rng.standard_normal(n)
    shown += linked_noise(rng, n, machine.linked, phi)
    if machine.spikes:
        hit = rng.random(n) < machine.spikes
        shown[hit] += machine.amps * rng.uniform(-0.5, 0.5, int(hit.sum()))
    _brush(family, t, shown, rng)
    if family == "R6":
        held = np.floor(t / 0.8) * 0.8
        index = np.clip(np.round(held * rate_hz).astype(int) - 1, 0, n - 1)
        shown = shown[np.where(held <= 0, 0, index)]
    shown = np.round(shown / machine.step) * machine.step
    if machine.gaps:
        shown[rng.random(n) < machine.gaps] = np.nan
        at = int(rng.integers(0, n))
        shown[at : at + 2 * rate_hz] = np.nan
    return shown


def ideal_time(grid: Floats, true_amps: Floats, tolerance: float, limit_s: float) -> float:
    """When the drift over the horizon has fallen within the tolerance for good [s]."""
    ahead = round(HORIZON_S / GRID_S)
    drift = np.abs(true_amps[ahead:] - true_amps[:-ahead])
    within = grid[: drift.size] < limit_s
    late = np.nonzero(drift[within] > tolerance)[0]
    return float(grid[late[-1]] + GRID_S) if late.size else 0.0


def make_signal(family: str, index: int, seed: int) -> Signal:
    """Signal number `index` of `family`; the same for the same seed."""
    rng = np.random.default_rng([seed, index, list(FAMILIES).index(family)])
    tight = family in ("C", "R8")
    percent, limit_s = (0.2, 600.0) if tight else (0.5, 300.0)
    rate_hz, cold = RATES_HZ[index % 5], (index // 5) % 2 == 0
    machine = draw_machine(rng, rate_hz, cold, 20.0 if family == "B" else 5.0)
    machine = _special(machine, family, rng)
    grid = np.arange(0, limit_s + HORIZON_S + 2, GRID_S)
    cooled = np.exp(-machine.warm_s / machine.heat_s)
    heat = 1 - machine.heat_loss * (cooled - cooled * np.exp(-grid / machine.heat_s))
    lag_free = machine.amps * heat
    true_amps = lag_free * (1 - _lag_left(machine, family, grid, rng))
    swing = machine.hunting_rpm * np.sin(2 * np.pi * grid / machine.hunting_s + machine.phase)
    felt = first_order(swing, machine.lag_s) if family == "R3" else swing
    t = (np.arange(int(limit_s * rate_hz)) + 1) / rate_hz
    clean = np.interp(t, grid, true_amps) + machine.slope * np.interp(t, grid, felt)
    amps = meter(t, clean, machine, rng, family=family)
    speed_rate = min(rate_hz, SPEED_RATE_HZ)
    rpm_t = (np.arange(int(limit_s * speed_rate)) + 1) / speed_rate
    noise = SPEED_NOISE_RPM * rng.standard_normal(rpm_t.size)
    tolerance = max(percent / 100 * machine.amps, 0.25 * machine.step)
    return Signal(
        family=family,
        machine=machine,
        limit_s=limit_s,
        tolerance=tolerance,
        relative=percent / 100,
        t_s=t,
        amps=amps,
        rpm_t_s=rpm_t,
        rpm=SET_RPM + np.interp(rpm_t, grid, swing) + noise,
        slope_known=machine.slope * rng.uniform(0.7, 1.3),
        grid_s=grid,
        true_amps=true_amps,
        lag_free=lag_free,
        ideal_s=ideal_time(grid, true_amps, tolerance, limit_s),
    )
