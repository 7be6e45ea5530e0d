"""Invented machines of the simulated rig, fitted to invented ratings (see `machine.calibrate`)."""

from __future__ import annotations

import difflib
from dataclasses import replace

from drivers.simulated.machine import Machine
from profiles.errors import Problem, ProfileError

_SMALL = Machine(
    name="small-frame-14v-90a",
    title="14 V 45/90 A, small frame (invented)",
    nominal_volts=12.0,
    test_volts=13.5,
    pole_pairs=6,
    flux_wb=0.016297113,
    phase_henry=146.61363e-6,
    phase_ohm=0.026,
    field_ohm=2.6,
    field_tau_s=0.10,
    field_knee_amps=2.3,
    idle=(1500.0, 45.0),
    rated=(6000.0, 90.0),
    hot_net_amps={1500.0: 45.0, 2000.0: 63.97, 3000.0: 78.83, 4000.0: 84.75, 6000.0: 90.0},
)
_MID = Machine(
    name="mid-frame-14v-120a",
    title="14 V 60/120 A, mid frame (invented)",
    nominal_volts=12.0,
    test_volts=13.5,
    pole_pairs=6,
    flux_wb=0.016130584,
    phase_henry=110.04259e-6,
    phase_ohm=0.019,
    field_ohm=2.2,
    field_tau_s=0.11,
    field_knee_amps=2.6,
    winding_j_per_k=520.0,
    case_j_per_k=2600.0,
    winding_w_per_k=13.0,
    case_w_per_k=3.0,
    fan_w_per_k=4.0,
    iron_watts=12.0,
    friction_watts=13.0,
    windage_watts=0.18,
    belt_grip_nm=18.0,
    idle=(1500.0, 60.0),
    rated=(6000.0, 120.0),
    hot_net_amps={1500.0: 60.0, 2000.0: 85.41, 3000.0: 105.21, 4000.0: 113.06, 6000.0: 120.0},
)
_SMALL_28 = replace(
    _MID,
    name="small-frame-28v-80a",
    title="28 V 30/80 A, small frame (invented)",
    nominal_volts=24.0,
    test_volts=27.0,
    flux_wb=0.026140605,
    phase_henry=272.69452e-6,
    phase_ohm=0.042,
    field_ohm=9.0,
    field_tau_s=0.12,
    field_knee_amps=1.3,
    brush_volts=0.8,
    set_volts_25=28.4,
    set_volts_per_k=-0.020,
    case_j_per_k=2700.0,
    winding_w_per_k=14.0,
    case_w_per_k=3.4,
    fan_w_per_k=3.6,
    idle=(1500.0, 30.0),
    rated=(6000.0, 80.0),
    hot_net_amps={1500.0: 30.0, 2000.0: 53.55, 3000.0: 69.55, 4000.0: 75.28, 6000.0: 80.0},
)
_FAST = replace(
    _MID,
    name="fast-frame-14v-180a",
    title="14 V 95/180 A, fast frame (invented)",
    pole_pairs=8,
    flux_wb=0.0096861912,
    phase_henry=45.105402e-6,
    phase_ohm=0.0085,
    field_ohm=2.0,
    field_knee_amps=2.8,
    winding_w_per_k=22.0,
    case_w_per_k=3.0,
    fan_w_per_k=4.6,
    belt_grip_nm=22.0,
    idle=(1800.0, 95.0),
    rated=(6000.0, 180.0),
    hot_net_amps={1500.0: 53.13, 2000.0: 112.95, 3000.0: 154.11, 4000.0: 168.54, 6000.0: 180.0},
)
_SLOW = replace(
    _MID,
    name="slow-frame-14v-150a",
    title="14 V 62/150 A, large slow frame (invented)",
    flux_wb=0.014458024,
    phase_henry=74.179929e-6,
    phase_ohm=0.014,
    field_ohm=2.4,
    winding_j_per_k=900.0,
    case_j_per_k=5200.0,
    winding_w_per_k=16.0,
    case_w_per_k=4.0,
    fan_w_per_k=5.0,
    iron_watts=16.0,
    friction_watts=18.0,
    windage_watts=0.3,
    belt_grip_nm=22.0,
    idle=(1500.0, 62.0),
    rated=(4000.0, 150.0),
    hot_net_amps={1500.0: 62.0, 2000.0: 105.66, 3000.0: 137.8, 4000.0: 150.0, 6000.0: 160.18},
)

MACHINES: dict[str, Machine] = {
    machine.name: machine for machine in (_SMALL, _MID, _SMALL_28, _FAST, _SLOW)
}


def find_machine(name: str) -> Machine:
    """The machine of that name.

    Raises:
        ProfileError: If there is none; names the nearest.
    """
    machine = MACHINES.get(name)
    if machine is not None:
        return machine
    near = difflib.get_close_matches(name, MACHINES, n=1)
    hint = f"Did you mean '{near[0]}'?" if near else f"Known: {', '.join(MACHINES)}."
    message = f"There is no simulated machine '{name}'."
    raise ProfileError([Problem("simulated rig", "simulated.machine", message, hint)])
