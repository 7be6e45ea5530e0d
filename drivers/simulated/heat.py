"""Three bodies that warm up: winding, case and rotor.

Time constants are engineering values (about 50 s winding to case, 5 min case to room), chosen to be
consistent with soaks of about half an hour asked for by workshop manuals.
"""

from __future__ import annotations

from drivers.simulated.machine import Losses, Machine

_ROTOR_S = 120.0


class Heat:
    """Temperatures of a machine [degC]."""

    def __init__(self, machine: Machine, ambient_c: float) -> None:
        self._machine = machine
        self.ambient_c = ambient_c
        self.winding_c = self.case_c = self.rotor_c = ambient_c

    def soak(self, *, winding_c: float, case_c: float, rotor_c: float) -> None:
        """Put the machine at given temperatures: a warm start without the wait."""
        self.winding_c, self.case_c, self.rotor_c = winding_c, case_c, rotor_c

    def step(self, dt_s: float, shaft_rpm: float, lost: Losses) -> None:
        """Warm and cool for `dt_s`."""
        machine = self._machine
        fans = machine.case_w_per_k + machine.fan_w_per_k * (shaft_rpm / 1000.0) ** 0.8
        to_case = machine.winding_w_per_k * (self.winding_c - self.case_c)
        into_case = to_case + 0.7 * lost.diodes + lost.field + lost.iron + 0.6 * lost.friction
        rotor_aim = self.case_c + machine.rotor_k_per_w * lost.field
        self.winding_c += dt_s * (lost.winding - to_case) / machine.winding_j_per_k
        self.case_c += (
            dt_s * (into_case - fans * (self.case_c - self.ambient_c)) / machine.case_j_per_k
        )
        self.rotor_c += dt_s * (rotor_aim - self.rotor_c) / _ROTOR_S
