"""Whole sweeps of ten steps: one machine, its warmth carried on from step to step.

Every rule sees the same machines; its own speed decides how warm the later steps are. Times are
waiting only (no ramps).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from acquire.settle.lore import Lore
from tests.benchmarks.settling_methods import recorded, track_of
from tests.benchmarks.settling_ours import Declared, declare, plan_of
from tests.benchmarks.settling_score import Outcome, outcome_of
from tests.benchmarks.settling_signals import (
    GRID_S,
    HORIZON_S,
    SET_RPM,
    SPEED_NOISE_RPM,
    SPEED_RATE_HZ,
    Floats,
    Machine,
    Signal,
    draw_machine,
    ideal_time,
    meter,
)

STEPS = 10
LIMIT_S = 120.0
RATES_HZ = (2, 10, 50, 200)
HEAT_AT_TOP = 0.95


@dataclass(frozen=True, slots=True)
class SweptMachine:
    """One machine over ten speeds."""

    machine: Machine
    amps: Floats
    """Cold current at each step."""
    slopes: Floats
    lags_s: Floats
    slope_error: float
    seed: int


@dataclass(frozen=True, slots=True)
class State:
    """What a step leaves to the next."""

    heat: float = 0.0
    amps: float = 0.0


@dataclass(frozen=True, slots=True)
class Swept:
    """What one rule made of one sweep."""

    total_s: float
    outcomes: tuple[Outcome, ...]


Rule = Callable[[Signal, Lore], Declared | None]


def draw_sweep(index: int, seed: int, lag_max_s: float) -> SweptMachine:
    """Machine number `index`; the same for the same seed."""
    rng = np.random.default_rng([seed, index, 99])
    machine = draw_machine(rng, RATES_HZ[index % len(RATES_HZ)], cold=True, lag_max_s=lag_max_s)
    top, cut_in, bend = machine.amps, rng.uniform(900, 1300), rng.uniform(800, 2500)
    speeds = np.linspace(cut_in + 300, 6000, STEPS)
    amps = top * (1 - np.exp(-(speeds - cut_in) / bend))
    return SweptMachine(
        machine=machine,
        amps=amps,
        slopes=(top - amps) / bend,
        lags_s=machine.lag_s * rng.uniform(0.8, 1.2, STEPS),
        slope_error=rng.uniform(0.7, 1.3),
        seed=int(rng.integers(1 << 31)),
    )


def step_signal(swept: SweptMachine, number: int, state: State) -> Signal:
    """The signal of one step, beginning where the step before has left off."""
    rng = np.random.default_rng([swept.seed, number])
    whole, amps = swept.machine, float(swept.amps[number])
    share = amps / whole.amps
    machine = replace(
        whole,
        amps=amps,
        white=whole.white * share,
        linked=whole.linked * share,
        lag_s=float(swept.lags_s[number]),
        slope=float(swept.slopes[number]),
        phase=rng.uniform(0, 2 * math.pi),
    )
    grid = np.arange(0, LIMIT_S + HORIZON_S + 2, GRID_S)
    heat = _heat(machine, share, state, grid)
    lag_free = amps * (1 - machine.heat_loss * heat)
    true_amps = lag_free - (lag_free[0] - state.amps) * np.exp(-grid / machine.lag_s)
    swing = machine.hunting_rpm * np.sin(2 * np.pi * grid / machine.hunting_s + machine.phase)
    t = (np.arange(int(LIMIT_S * machine.rate_hz)) + 1) / machine.rate_hz
    clean = np.interp(t, grid, true_amps + machine.slope * swing)
    rate = min(machine.rate_hz, SPEED_RATE_HZ)
    rpm_t = (np.arange(int(LIMIT_S * rate)) + 1) / rate
    noise = SPEED_NOISE_RPM * rng.standard_normal(rpm_t.size)
    tolerance = max(0.005 * amps, 0.25 * machine.step)
    return Signal(
        family="sweep",
        machine=machine,
        limit_s=LIMIT_S,
        tolerance=tolerance,
        relative=0.005,
        t_s=t,
        amps=meter(t, clean, machine, rng),
        rpm_t_s=rpm_t,
        rpm=SET_RPM + np.interp(rpm_t, grid, swing) + noise,
        slope_known=machine.slope * swept.slope_error,
        grid_s=grid,
        true_amps=true_amps,
        lag_free=lag_free,
        ideal_s=ideal_time(grid, true_amps, tolerance, LIMIT_S),
    )


def _heat(machine: Machine, share: float, state: State, grid: Floats) -> Floats:
    """Warmth on the grid, 0 cold to 1 at full losses; losses go with the current squared."""
    goal = HEAT_AT_TOP * share**2
    return np.asarray(goal + (state.heat - goal) * np.exp(-grid / machine.heat_s))


def run_sweep(swept: SweptMachine, rule: Rule) -> Swept:
    """Ten steps, each as long as the rule makes it."""
    state, lore = State(), Lore()
    total_s, outcomes = 0.0, []
    for number in range(STEPS):
        signal = step_signal(swept, number, state)
        declared = rule(signal, lore)
        outcomes.append(outcome_of(signal, declared))
        spent_s = declared.t_s if declared is not None else LIMIT_S
        total_s += spent_s
        share = signal.machine.amps / swept.machine.amps
        heat = _heat(signal.machine, share, state, np.array([spent_s]))
        state = State(float(heat[0]), signal.true_at(spent_s))
    return Swept(total_s, tuple(outcomes))


def _dwell(seconds: int) -> Rule:
    def rule(signal: Signal, lore: Lore) -> Declared | None:
        amps, u95 = recorded(track_of(signal), seconds)
        return Declared(float(seconds), amps, u95)

    return rule


def _ours(*, predict: bool, fast: bool = False, learn: bool = False) -> Rule:
    def rule(signal: Signal, lore: Lore) -> Declared | None:
        plan = plan_of(signal, predict=predict, fast=fast, lore=lore if learn else None)
        return declare(signal, plan)

    return rule


RULES: dict[str, Rule] = {
    "seer": lambda signal, lore: Declared(
        signal.ideal_s, signal.lag_free_at(signal.ideal_s), math.inf
    ),
    "fixed dwell 10 s": _dwell(10),
    "fixed dwell 20 s": _dwell(20),
    "fixed dwell 30 s": _dwell(30),
    "fixed dwell 60 s": _dwell(60),
    "equivalence test": _ours(predict=False),
    "ours, cautious": _ours(predict=True),
    "ours, cautious, learning": _ours(predict=True, learn=True),
    "ours, fast": _ours(predict=True, fast=True),
    "ours, fast, learning": _ours(predict=True, fast=True, learn=True),
}

SWEEP_HEADER = (
    "| rule | total med / p95 s | x seer | step med s | false % | never % | bias p50 / p95 % |"
    " covered % | U95 % |\n|---|---|---|---|---|---|---|---|---|"
)


def sweep_line(name: str, swept: Sequence[Swept], seer: Sequence[Swept]) -> str:
    """One line of the table of sweeps, in Markdown."""
    totals = np.array([s.total_s for s in swept])
    outcomes = [o for s in swept for o in s.outcomes]
    told = [o for o in outcomes if not math.isnan(o.bias_percent)]
    n = len(outcomes)
    p = sum(o.false for o in outcomes) / n
    error = 100 * (math.sqrt(p * (1 - p) / n) if p > 0 else 1 / n)
    bias = [o.bias_percent for o in told]
    return (
        f"| {name} | {np.median(totals):.0f} / {np.percentile(totals, 95):.0f} |"
        f" {np.median(totals) / np.median([s.total_s for s in seer]):.2f} |"
        f" {np.median([o.t_s for o in outcomes]):.1f} | {100 * p:.2f} ± {error:.2f} |"
        f" {100 * sum(o.never for o in outcomes) / n:.1f} |"
        f" {np.percentile(bias, 50):.2f} / {np.percentile(bias, 95):.2f} |"
        f" {100 * sum(o.covered for o in told) / len(told):.1f} |"
        f" {np.median([o.u95_percent for o in told]):.2f} |"
    )
