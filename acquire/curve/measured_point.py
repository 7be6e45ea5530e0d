"""One measured point of an output curve as a file gives it, before anything is added to it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class MeasuredPoint:
    """A current at a shaft speed, `u_` its standard uncertainty (k = 1); None: nothing was said."""

    shaft_rpm: float
    amps: float
    """Net current at B+ [A]."""
    u_amps: float | None = None
    u_shaft_rpm: float | None = None
    volts: float | None = None
    u_volts: float | None = None
