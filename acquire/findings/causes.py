"""The causes that change the whole curve: what each would make of it, and how common each is."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from acquire.curve.model import FloatArray
from acquire.findings.bridge_faults import (
    OPEN_DIODE,
    OPEN_PHASE,
    SOUND,
    TWO_OPEN_DIODES,
    UNEVEN_PHASE,
    BridgeFault,
)
from acquire.findings.case import Case
from acquire.findings.expected import Expected
from acquire.plain_sum import plain_sum

Cause = Literal[
    "sound",
    "open diode",
    "two open diodes",
    "open phase",
    "uneven phase",
    "weak field",
    "shorted turns",
    "speed read wrong",
    "other",
]

# Our choices, set on simulated units of two makes; no published source.
LEVEL_SD = 0.06
"""Spread of level among sound units of one make, and of ratings."""
POINT_SD = 0.03
"""What the shape of a sound unit's curve may differ from that of its rating, speed by speed."""
FAULT_POINT_SD = 0.05
FIELD_LOG_SD = 0.22
"""Spread of the rotor's resistance among makes, as a share."""

PRIOR: dict[Cause, float] = {
    "sound": 0.82,
    "open diode": 0.05,
    "two open diodes": 0.01,
    "open phase": 0.02,
    "uneven phase": 0.01,
    "weak field": 0.03,
    "shorted turns": 0.03,
    "speed read wrong": 0.05,
    "other": 0.02,
}
"""Before anything is read (our choice: most units that come back are sound or have one fault)."""


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One cause in one degree."""

    cause: Cause
    prior: float
    amps: Callable[[Expected, FloatArray], FloatArray]
    bridge: BridgeFault = SOUND
    point_sd: float = FAULT_POINT_SD
    level_sd: float = LEVEL_SD
    n0_sd: float = 0.0
    field_log_ohm: float = 0.0
    field_log_sd: float = FIELD_LOG_SD


def hypotheses(case: Case) -> list[Hypothesis]:
    """Every cause in every degree that this case allows."""

    def bridge(fault: BridgeFault) -> Callable[[Expected, FloatArray], FloatArray]:
        def amps(expected: Expected, rpm: FloatArray) -> FloatArray:
            share = fault.share_at(rpm / expected.cut_in_rpm)
            gross = expected.amps(rpm) + expected.field_amps
            return share * gross - expected.field_amps

        return amps

    found = [Hypothesis("sound", PRIOR["sound"], bridge(SOUND), point_sd=POINT_SD)]
    for cause, fault in _BRIDGE.items():
        found.append(Hypothesis(cause, PRIOR[cause], bridge(fault), bridge=fault))
    found += _weak_fluxes("weak field", 0.76, 0.12, field=0.7, field_sd=0.35)
    found += _weak_fluxes("shorted turns", 0.84, 0.07, field=-0.29, field_sd=0.25)
    found.append(
        Hypothesis("other", PRIOR["other"], bridge(SOUND), level_sd=0.5, n0_sd=0.15, point_sd=0.1)
    )
    if case.speed_source != "shaft_rpm":
        found += _wrong_speeds()
    return found


_BRIDGE: dict[Cause, BridgeFault] = {
    "open diode": OPEN_DIODE,
    "two open diodes": TWO_OPEN_DIODES,
    "open phase": OPEN_PHASE,
    "uneven phase": UNEVEN_PHASE,
}


def _weak_fluxes(
    cause: Cause, middle: float, spread: float, *, field: float, field_sd: float
) -> list[Hypothesis]:
    """The same cause in degrees: flux at so many shares of what it should be."""
    fluxes = [0.5 + 0.03 * k for k in range(15)]
    weights = [math.exp(-0.5 * (math.log(f / middle) / spread) ** 2) for f in fluxes]
    whole = plain_sum(weights)

    def at(flux: float) -> Callable[[Expected, FloatArray], FloatArray]:
        return lambda expected, rpm: expected.amps(rpm, flux=flux)

    return [
        Hypothesis(
            cause,
            PRIOR[cause] * weight / whole,
            at(flux),
            field_log_ohm=field,
            field_log_sd=field_sd,
        )
        for flux, weight in zip(fluxes, weights, strict=True)
    ]


def _wrong_speeds() -> list[Hypothesis]:
    """Speed from W, engine or motor: a wrong number of poles or pulley scales it."""
    scales = (0.75, 6 / 7, 7 / 8, 8 / 7, 7 / 6, 4 / 3)

    def at(scale: float) -> Callable[[Expected, FloatArray], FloatArray]:
        return lambda expected, rpm: expected.amps(rpm, speed=scale)

    return [
        Hypothesis(
            "speed read wrong",
            PRIOR["speed read wrong"] / len(scales),
            at(scale),
            point_sd=POINT_SD,
        )
        for scale in scales
    ]
