"""B+ and everything that hangs on it: cable, battery, and the loads."""

from __future__ import annotations

import math
from collections.abc import Sequence

_FARAD = 1.0
"""Smooths the node so that a 10 ms step is stable; too small to be seen in a reading."""
_REST_VOLTS = 12.7
_BATTERY_OHM = 0.008
_CABLE_OHM = 0.001
BAD_CABLE_OHM = 0.012
"""A corroded joint in the charging cable."""
_CHARGE_VOLTS, _DISCHARGE_VOLTS, _ELBOW_AMPS, _POLARISATION_S = 0.65, 0.12, 3.0, 20.0
_HOLD_AMPS_PER_VOLT_S = 250.0
_HOLD_MOST_AMPS = 400.0
_PILE_SINK, _PILE_HEAT_S = 0.05, 12.0
"""A carbon pile loses resistance as it warms (common practice, no source)."""
BANK_AMPS = (5.0, 10.0, 20.0, 40.0, 40.0)
"""Steps of the switched bank, each at the machine's test voltage."""


class Bus:
    """Voltage at B+, with a battery that is always there."""

    def __init__(self, *, scale: float, test_volts: float) -> None:
        self._scale = scale
        self._test_volts = test_volts
        self.cable_ohm = _CABLE_OHM * scale
        self._battery_ohm = _BATTERY_OHM * scale
        self._polarised_volts = 0.0
        self.node_volts = _REST_VOLTS * scale
        self.volts = self.node_volts
        self.hold_volts = test_volts
        self.hold_on = False
        self.bank_amps: dict[int, float] = dict(enumerate(BANK_AMPS))
        self.bank_steps: tuple[bool, ...] = (False,) * len(BANK_AMPS)
        self.pile_ohm: float | None = None
        self._pile_heat = 0.0
        self._hold_amps = 0.0
        self._siemens = 0.0

    @property
    def source_ohm(self) -> float:
        """What ripple current meets: battery and cable [ohm]."""
        return self._battery_ohm + self.cable_ohm

    @property
    def load_amps(self) -> float:
        """What the loads take now [A]."""
        return self._hold_amps + self._siemens * self.node_volts

    def switch_hold(self, on: bool) -> None:
        """The electronic load's input."""
        self.hold_on = on
        if not on:
            self._hold_amps = 0.0

    def switch_bank(self, steps: Sequence[bool]) -> None:
        """Which resistors of the bank are in."""
        self.bank_steps = tuple(steps)
        self._sum_up()

    def set_pile(self, ohm: float | None) -> None:
        """Screw the carbon pile to `ohm`, or open it (`None`)."""
        self.pile_ohm = ohm
        self._sum_up()

    def _sum_up(self) -> None:
        amps = sum(self.bank_amps.get(n, 0.0) for n, on in enumerate(self.bank_steps) if on)
        self._siemens = amps / self._test_volts
        if self.pile_ohm:
            self._siemens += 1.0 / (self.pile_ohm * (1.0 - _PILE_SINK * self._pile_heat))

    def step(self, dt_s: float, net_amps: float) -> float:
        """Voltage at B+ after `dt_s` of `net_amps` from the machine [V]."""
        if self.hold_on:
            # the load holds what its sense leads see, and they are at B+
            ahead = (self.volts - self.hold_volts) / self._scale
            amps = self._hold_amps + _HOLD_AMPS_PER_VOLT_S * dt_s * ahead
            self._hold_amps = 0.0 if amps < 0.0 else min(amps, _HOLD_MOST_AMPS)
        ohm = self._battery_ohm
        rest = _REST_VOLTS * self._scale + self._polarised_volts
        part = dt_s / _FARAD
        into = net_amps - self._hold_amps + rest / ohm
        self.node_volts = (self.node_volts + part * into) / (
            1.0 + part * (1.0 / ohm + self._siemens)
        )
        self.volts = self.node_volts + self.cable_ohm * net_amps
        return self.volts

    def age(self, dt_s: float) -> None:
        """The slow things: polarisation of the battery, warmth of the pile."""
        battery_amps = (
            self.node_volts - _REST_VOLTS * self._scale - self._polarised_volts
        ) / self._battery_ohm
        most = _CHARGE_VOLTS if battery_amps > 0.0 else _DISCHARGE_VOLTS
        aim = most * self._scale * math.asinh(battery_amps / _ELBOW_AMPS)
        self._polarised_volts += (aim - self._polarised_volts) * dt_s / _POLARISATION_S
        warm = 1.0 if self.pile_ohm else 0.0
        self._pile_heat += (warm - self._pile_heat) * dt_s / _PILE_HEAT_S
        if self.pile_ohm:
            self._sum_up()
