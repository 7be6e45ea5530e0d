"""Output that fades with heat by more than copper explains."""

from __future__ import annotations

import math

from acquire.findings.case import Case
from acquire.findings.finding import Finding

COPPER_TAKES, COPPER_S = 0.12, 400.0
"""Most that heat takes from a sound unit near 5000 rpm, and the time it takes: 0.12 in air of
90 °C, 0.07 in a room (see `acquire.judge.hot_loss` for the source); the time is computed."""
MARGIN = 0.03
"""Share of the current by which sound units differ in what heat takes (our choice, no source)."""
SETTLE = (
    "Run it warm and measure the rotor from ring to ring while hot, then again cold: copper gains"
    " 4 % in 10 K and no more; a joint that opens with heat gains far more. Do the same with the"
    " regulator full-fielded."
)


def hot_fade(case: Case) -> list[Finding]:
    """By the current at the beginning and at the end of the warm-up."""
    warming = case.seen.warming
    if warming is None or warming.amps_first < 0.1 * case.top_amps:
        return []
    kept = warming.amps_last / warming.amps_first
    sound = 1.0 - COPPER_TAKES * (1.0 - math.exp(-warming.lasted_s / COPPER_S))
    if kept >= sound - MARGIN:
        return []
    return [
        Finding(
            name="hot fade",
            words="The output fades with heat by more than copper explains.",
            evidence=(
                f"In the warm-up the current fell from {warming.amps_first:.1f} to"
                f" {warming.amps_last:.1f} A in {warming.lasted_s:.0f} s: to {100 * kept:.0f} %; a"
                f" sound unit keeps {100 * sound:.0f} % or more.",
            ),
            sure="likely",
            rests_on="the current at both ends of the warm-up, at one speed and one voltage",
            what_would_settle=SETTLE,
            caution="It is hot: let it cool before touching it.",
            advice="It fades with heat: measure the rotor hot and cold, and the regulator hot.",
        )
    ]
