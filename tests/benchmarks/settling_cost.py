"""What one reading through settle costs, in processor time.

    python -m tests.benchmarks.settling_cost

Noise that is never called steady, at 50 Hz, one to four channels, with and without prediction.
"""

from __future__ import annotations

import random
import time

from acquire.settle.hold import ChannelPlan, Hold, HoldPlan
from tests.benchmarks.figures import Figure, Size

MOST_US = 30.0
RATE_HZ = 50
SECONDS = 60


def cost_us(channels: int, *, predict: bool) -> float:
    """Mean time of one reading through a hold that never settles [microseconds]."""
    names = ["amps", "shaft_rpm", "volts", "case_c"][:channels]
    plan = HoldPlan(
        began_s=0.0,
        set_rpm=3000.0,
        channels={name: ChannelPlan(0.0, 1e-9, 0.01) for name in names},
        predict=predict,
        slope_amps_per_rpm=0.01,
    )
    rng = random.Random(1)
    stream = [
        (name, (k + 1) / RATE_HZ, 100.0 + rng.gauss(0.0, 0.4))
        for k in range(RATE_HZ * SECONDS)
        for name in names
    ]
    hold = Hold(plan)
    began = time.process_time()
    for name, t_s, value in stream:
        hold.push(name, t_s, value)
    return (time.process_time() - began) / len(stream) * 1e6


def figures(size: Size) -> list[Figure]:
    """With prediction, at 50 Hz; the same whatever the size."""
    del size
    cost_us(1, predict=True)  # loads numpy
    what = "one reading through settle with prediction,"
    return [
        Figure(f"{what} {words}", cost_us(channels, predict=True), "us", at_most=MOST_US)
        for words, channels in (("amps alone", 1), ("three channels", 3))
    ]


def main() -> None:
    """Measure and print."""
    cost_us(1, predict=True)  # loads numpy
    for channels in (1, 2, 3, 4):
        for predict in (False, True):
            cost = cost_us(channels, predict=predict)
            print(f"{channels} channels, predict={predict}: {cost:.1f}")


if __name__ == "__main__":
    main()
