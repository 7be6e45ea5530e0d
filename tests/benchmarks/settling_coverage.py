"""Do intervals hold what they promise, at every level? A table, and a picture to look at.

    python -m tests.benchmarks.settling_coverage --families A,B,C --n 300 --out coverage.svg

Coverage beyond the promise means that the stated doubt is too wide, below it that it is too narrow.
"""

from __future__ import annotations

import argparse
import math
from pathlib import Path

import numpy as np

from acquire.settle.student import student_quantile
from tests.benchmarks.figures import Figure, Size
from tests.benchmarks.settling_ours import at_set_speed, hold_signal, plan_of
from tests.benchmarks.settling_signals import make_signal

LEVELS = (0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.99)
INKS = ("#0072b2", "#d55e00", "#009e73", "#cc79a7")
SIZE = 420
SEED = 2028
"""Others were used in tuning."""


def doubt_factors(family: str, n: int, seed: int) -> list[tuple[float, int]]:
    """For each signal: error in its own standard uncertainties, and degrees of freedom."""
    found = []
    for index in range(n):
        signal = make_signal(family, index, seed)
        plan = plan_of(signal, predict=True)
        look = hold_signal(signal, plan)
        if look.taken in (None, "no"):
            continue
        value, u95 = at_set_speed(look, plan)
        dof = max(int(look.channels["amps"].dof), 1)
        u = u95 / student_quantile(0.975, dof)
        found.append((abs(value - signal.lag_free_at(look.t_s)) / max(u, 1e-12), dof))
    return found


def coverage(factors: list[tuple[float, int]]) -> list[float]:
    """Share of intervals that hold the truth, for each level."""
    return [
        float(np.mean([error <= student_quantile((1 + level) / 2, dof) for error, dof in factors]))
        for level in LEVELS
    ]


def picture(rows: dict[str, list[float]]) -> str:
    """Promised against kept; on the diagonal the two are the same."""

    def at(x: float, y: float) -> str:
        across, up = ((one - 0.4) / 0.6 * (SIZE - 60) for one in (x, y))
        return f"{40 + across:.1f},{SIZE - 40 - up:.1f}"

    lines = [f'<polyline points="{at(0.4, 0.4)} {at(1, 1)}" stroke="#888" stroke-dasharray="4"/>']
    for (name, kept), ink in zip(rows.items(), INKS, strict=False):
        points = " ".join(at(level, k) for level, k in zip(LEVELS, kept, strict=True))
        x, y = at(LEVELS[0], kept[0]).split(",")
        lines.append(f'<polyline points="{points}" fill="none" stroke="{ink}" stroke-width="2"/>')
        lines.append(f'<text x="{float(x) - 16}" y="{y}" fill="{ink}">{name}</text>')
    for level in (0.5, 0.7, 0.9):
        x, y = at(level, 0.4).split(",")
        lines.append(f'<text x="{x}" y="{float(y) + 18}" fill="#444">{level:.0%}</text>')
        x, y = at(0.4, level).split(",")
        lines.append(f'<text x="2" y="{y}" fill="#444">{level:.0%}</text>')
    head = f'<svg xmlns="http://www.w3.org/2000/svg" width="{SIZE}" height="{SIZE}"'
    return f'{head} font-family="sans-serif" font-size="12">' + "".join(lines) + "</svg>"


def figures(size: Size) -> list[Figure]:
    """What is kept of a promise of 95 %."""
    n = {"tiny": 2, "short": 40, "full": 300}[size]
    return [
        Figure(
            f"settling, family {family}: kept of a promised 95 %",
            100 * coverage(doubt_factors(family, n, SEED))[LEVELS.index(0.95)],
            "%",
            note=f"n {n}",
        )
        for family in "ABC"
    ]


def main() -> None:
    """Print the table; write the picture where it is asked for."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--families", default="A,B,C")
    parser.add_argument("--n", type=int, default=300)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--out", type=Path)
    wanted = parser.parse_args()
    print("| family | " + " | ".join(f"{level:.0%}" for level in LEVELS) + " |")
    print("|---" * (len(LEVELS) + 1) + "|")
    rows: dict[str, list[float]] = {}
    for family in wanted.families.split(","):
        factors = doubt_factors(family, wanted.n, wanted.seed)
        rows[family] = coverage(factors)
        error = math.sqrt(0.25 / max(len(factors), 1))
        cells = " | ".join(f"{100 * kept:.1f}" for kept in rows[family])
        print(f"| {family} (n {len(factors)}, ± {100 * error:.1f} at most) | {cells} |", flush=True)
    if wanted.out is not None:
        wanted.out.write_text(picture(rows), encoding="utf-8")


if __name__ == "__main__":
    main()
