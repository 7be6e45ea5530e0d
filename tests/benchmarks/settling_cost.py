"""What one reading costs: `python -m tests.benchmarks.settling_cost`."""

from __future__ import annotations

import random
import time

from acquire.settle.hold import ChannelPlan, Hold, HoldPlan

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


if __name__ == "__main__":
    cost_us(1, predict=True)  # loads numpy
    for channels in (1, 2, 3, 4):
        for predict in (False, True):
            cost = cost_us(channels, predict=predict)
            print(f"{channels} channels, predict={predict}: {cost:.1f}")
