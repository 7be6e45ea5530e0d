"""Invented machines of the simulated rig, fitted to invented ratings.

A test fits them again and compares.
"""

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
    flux_wb=0.016140466,
    phase_henry=147.64373e-6,
    phase_ohm=0.026,
    field_ohm=2.6,
    field_tau_s=0.10,
    field_knee_amps=2.3,
    idle=(1500.0, 45.0),
    rated=(6000.0, 90.0),
    hot_net_amps={1500.0: 45.00, 2000.0: 66.08, 3000.0: 80.93, 4000.0: 86.07, 6000.0: 90.00},
)
_MID = Machine(
    name="mid-frame-14v-120a",
    title="14 V 60/120 A, mid frame (invented)",
    nominal_volts=12.0,
    test_volts=13.5,
    pole_pairs=6,
    flux_wb=0.015965157,
    phase_henry=110.80505e-6,
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
    hot_net_amps={1500.0: 60.00, 2000.0: 88.18, 3000.0: 107.95, 4000.0: 114.78, 6000.0: 120.00},
)
_SMALL_28 = replace(
    _MID,
    name="small-frame-28v-80a",
    title="28 V 30/80 A, small frame (invented)",
    nominal_volts=24.0,
    test_volts=27.0,
    flux_wb=0.026449532,
    phase_henry=276.84639e-6,
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
    hot_net_amps={1500.0: 30.00, 2000.0: 54.76, 3000.0: 70.68, 4000.0: 75.92, 6000.0: 80.00},
)
_FAST = replace(
    _MID,
    name="fast-frame-14v-180a",
    title="14 V 95/180 A, fast frame (invented)",
    pole_pairs=8,
    flux_wb=0.0096904316,
    phase_henry=45.134858e-6,
    phase_ohm=0.0085,
    field_ohm=2.0,
    field_knee_amps=2.8,
    winding_w_per_k=22.0,
    case_w_per_k=3.0,
    fan_w_per_k=4.6,
    belt_grip_nm=22.0,
    idle=(1800.0, 95.0),
    rated=(6000.0, 180.0),
    hot_net_amps={1500.0: 50.39, 2000.0: 114.05, 3000.0: 155.92, 4000.0: 169.53, 6000.0: 180.00},
)
_SLOW = replace(
    _MID,
    name="slow-frame-14v-150a",
    title="14 V 62/150 A, large slow frame (invented)",
    flux_wb=0.014733284,
    phase_henry=76.530921e-6,
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
    hot_net_amps={1500.0: 62.00, 2000.0: 107.70, 3000.0: 139.22, 4000.0: 150.00, 6000.0: 158.60},
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
