"""Settling, ours and published methods side by side on the same simulated signals.

    python -m tests.benchmarks.settling --n 400 --families A,B,C,R1-R10,sweeps

Nothing here is a bench record: magnitudes are invented, see `settling_signals`.
"""

from __future__ import annotations

import argparse
import re
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import replace

from tests.benchmarks.figures import Figure, Size
from tests.benchmarks.settling_methods import METHODS, recorded, track_of
from tests.benchmarks.settling_ours import Declared, declare, plan_of
from tests.benchmarks.settling_score import HEADER, Outcome, line, outcome_of, score
from tests.benchmarks.settling_signals import FAMILIES, Signal, make_signal
from tests.benchmarks.settling_sweeps import (
    RULES,
    SWEEP_HEADER,
    draw_sweep,
    run_sweep,
    sweep_line,
)

SWEEPS = {"sweeps5": 5.0, "sweeps20": 20.0}


def _seer(signal: Signal) -> Declared:
    at_s = signal.ideal_s
    return Declared(at_s, signal.lag_free_at(at_s), float("inf"))


def _ours(*, predict: bool, fast: bool = False) -> Callable[[Signal], Declared | None]:
    return lambda signal: declare(signal, plan_of(signal, predict=predict, fast=fast))


def _equivalence_alone(signal: Signal) -> Declared | None:
    """The test on the current by itself: no speed, nothing taken out."""
    plan = plan_of(signal, predict=False, with_slope=False)
    rpm = replace(plan.channels["shaft_rpm"], must_hold=False)
    return declare(signal, replace(plan, channels={**plan.channels, "shaft_rpm": rpm}))


OURS: dict[str, Callable[[Signal], Declared | None]] = {
    "seer": _seer,
    "equivalence test, amps alone": _equivalence_alone,
    "equivalence test": _ours(predict=False),
    "ours, cautious": _ours(predict=True),
    "ours, fast": _ours(predict=True, fast=True),
}


def run_family(family: str, n: int, seed: int) -> dict[str, list[Outcome]]:
    """All methods on `n` signals of one family."""
    out: dict[str, list[Outcome]] = {name: [] for name in (*METHODS, *OURS)}
    for index in range(n):
        signal = make_signal(family, index, seed)
        track = track_of(signal)
        for name, method in METHODS.items():
            at_s = method(track)
            declared = None
            if at_s is not None and at_s <= signal.limit_s:
                declared = Declared(at_s, *recorded(track, at_s))
            out[name].append(outcome_of(signal, declared))
        for name, ours in OURS.items():
            out[name].append(outcome_of(signal, ours(signal)))
    return out


def _names(text: str) -> Iterator[str]:
    """`A,R1-R3,sweeps` spelt out."""
    for part in text.split(","):
        spread = re.fullmatch(r"R(\d+)-R(\d+)", part)
        if spread:
            yield from (f"R{k}" for k in range(int(spread[1]), int(spread[2]) + 1))
        elif part == "sweeps":
            yield from SWEEPS
        elif part in FAMILIES or part in SWEEPS:
            yield part
        else:
            sys.exit(f"no family {part}: one of {', '.join([*FAMILIES, *SWEEPS])}")


def _print_family(family: str, n: int, seed: int) -> None:
    began = time.perf_counter()
    rows = run_family(family, n, seed)
    print(f"\n**{family}** ({FAMILIES[family]}), {n} signals, seed {seed}\n\n{HEADER}")
    for name, outcomes in rows.items():
        print(line(name, score(outcomes)))
    print(f"\n{time.perf_counter() - began:.0f} s", flush=True)


def _print_sweeps(name: str, n: int, seed: int) -> None:
    began = time.perf_counter()
    machines = [draw_sweep(index, seed, SWEEPS[name]) for index in range(n)]
    print(f"\n**sweeps, lag up to {SWEEPS[name]:g} s**, {n} sweeps of 10 steps, seed {seed}\n")
    print(SWEEP_HEADER)
    seer = [run_sweep(m, RULES["seer"]) for m in machines]
    for rule in RULES:
        swept = seer if rule == "seer" else [run_sweep(m, RULES[rule]) for m in machines]
        print(sweep_line(rule, swept, seer), flush=True)
    print(f"\n{time.perf_counter() - began:.0f} s", flush=True)


def figures(size: Size) -> list[Figure]:
    """Our cautious form on the three families."""
    n, seed = {"tiny": 1, "short": 20, "full": 400}[size], 2028
    told: list[Figure] = []
    for family in "ABC":
        ours = score([outcome_of(signal, OURS["ours, cautious"](signal))
                      for signal in (make_signal(family, k, seed) for k in range(n))])  # fmt: skip
        head = f"settling, family {family}:"
        told += [
            Figure(f"{head} false", ours.false_percent, "%", note=f"n {n}"),
            Figure(f"{head} median time", ours.median_s, "s",
                   note=f"{ours.times_ideal:.2f} times ideal"),
        ]  # fmt: skip
    return told


def main() -> None:
    """Read the command line, print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--n", type=int, default=100, help="signals of each family")
    parser.add_argument("--sweeps", type=int, default=0, help="sweeps (default: n / 10)")
    parser.add_argument("--families", default="A,B,C,R1-R10,sweeps")
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    for name in _names(args.families):
        if name in SWEEPS:
            _print_sweeps(name, args.sweeps or max(args.n // 10, 1), args.seed)
        else:
            _print_family(name, args.n, args.seed)


if __name__ == "__main__":
    main()
