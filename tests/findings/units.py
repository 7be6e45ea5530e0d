"""Simulated units for the findings: every one a little different, each with one known fault.

Two families of machines that share nothing: rules are made on one, measured on the other.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from random import Random
from typing import Literal

from acquire.findings.ripple_lines import lines_of
from acquire.findings.seen import Seen
from acquire.judge.steady_point import SteadyPoint
from acquire.judging import Judgement, WarmUpRan, judge_run
from acquire.snapshots import Snapshots
from acquire.sweep.commands import StepTaken
from acquire.sweep.plan import plan_sweep
from drivers.simulated.belt import LOOSE_GRIP
from drivers.simulated.faults import fault_names
from drivers.simulated.machine import Machine
from drivers.simulated.machines import MACHINES
from drivers.simulated.sensors import CLAMP_ZERO_AMPS
from profiles.accuracy import Accuracy
from profiles.alternator import AlternatorProfile
from profiles.catalogue import load_method, load_rated, load_rig
from profiles.instrument import LinesChannel
from profiles.method import WarmUp
from profiles.rig import Rig
from tests.in_process_rig import DEFAULT_EVERY_S, InProcessRig
from tests.rehearsal import Rehearsal, rehearse

FOR_RULES = ("small-frame-14v-90a", "mid-frame-14v-120a")
FOR_MEASURING = ("small-frame-28v-80a", "fast-frame-14v-180a", "slow-frame-14v-150a")
RIG_OF = {12.0: "simulated", 24.0: "simulated-24"}

UNIT_FAULTS = (
    "not-excited",
    "dead",
    "open-diode",
    "two-open-diodes",
    "open-phase",
    "uneven-phase",
    "weak-field",
    "shorted-turns",
    "worn-brush",
    "regulator-low",
    "hot-fade",
)
RIG_FAULTS = ("slipping-belt", "cable-drop", "clamp-zero-off", "wrong-pulley", "wrong-poles")
FAULTS = ("healthy", *UNIT_FAULTS, *RIG_FAULTS)

MORE_CHANNELS = ("battery_volts", "field_amps", "field_volts", "ripple_volts", "w_hz")
"""What a well-equipped rig reads besides speed, amps, volts, case and drive."""
TOP_ONLY = 0.6
"""Share of the rated top speed above which a sweep of high speeds begins."""


class UnitRig(InProcessRig):
    """A rig whose unit may also fade as it warms (a joint in the rotor that opens with heat)."""

    fade_per_k: float = 0.0
    fade_from_c: float = 45.0
    file_ratio: float | None = None
    """What the rig file says of the pulleys, where that is not so."""

    def __init__(
        self,
        machine: Machine,
        fault: str | None,
        seed: int,
        *,
        every_s: Mapping[str, float],
        ambient_c: float,
    ) -> None:
        self.lines_log: list[dict[int, float]] = []
        super().__init__(machine, fault, seed, every_s=every_s, ambient_c=ambient_c)

    @property
    def ratio(self) -> float:
        """What the bench turns a wanted shaft speed into a motor speed by."""
        return self.file_ratio or super().ratio

    def _slow_step(self, dt_s: float) -> None:
        super()._slow_step(dt_s)
        if int(self.now_s) > len(self.lines_log):
            self.lines_log.append(self.ripple_lines())

    def _remember_temperatures(self) -> None:
        super()._remember_temperatures()
        warm_k = max(self.heat.rotor_c - self.fade_from_c, 0.0)
        if self.fade_per_k:
            self.field.ohm_factor = 1.0 + self.fade_per_k * warm_k


@dataclass(frozen=True, slots=True)
class Setting:
    """How the test is made."""

    warm: bool = False
    """The unit comes warm from an hour's run."""
    warm_up_s: float = 0.0
    """A warm-up at 5000 rpm within the run."""
    top_only: bool = False
    """Only the highest rated speeds, at most two."""


@dataclass(frozen=True, slots=True)
class Swept:
    """A unit that has been through a sweep on a rig that reads everything."""

    fault: str
    setting: Setting
    profiles: Snapshots
    points: tuple[SteadyPoint, ...]
    seen: Seen
    warm_up: WarmUpRan | None


Reads = Literal["plain", "full", "fast"]
"""What of it a rig reads: speed, amps, volts, case, drive; more channels; a fast channel too."""


def swept(fault: str, seed: int, machines: tuple[str, ...], setting: Setting) -> Swept:
    """Make a unit with `fault`, put it on a rig of its own, and sweep it."""
    rng = Random(f"{fault}/{seed}")
    name = rng.choice(machines)
    rated = load_rated(name).profile
    method = load_method("quick").profile
    if setting.warm_up_s:
        top_rpm = rated.rated_curve().points[-1][0]
        warm_up = WarmUp(rpm=min(5000.0, top_rpm), for_s=setting.warm_up_s)
        method = method.model_copy(update={"warm_up": warm_up})
    simulated = _simulated(fault, seed, _varied(MACHINES[name], rng), rng)
    profiles = _mistaken(fault, Snapshots(_full_rig(rated), method, rated, None), simulated, rng)
    plan = plan_sweep(
        rig=profiles.rig,
        method=method,
        rated=profiles.rated_curve,
        steps=_steps(rated, setting),
    )
    if setting.warm:
        simulated.soak()
    run = rehearse(plan, profiles.rig, simulated)
    _bursts(run, simulated, rng)
    warm_up_ran = WarmUpRan(1800.0, True) if setting.warm else run.warm_up
    if setting.warm:
        profiles = replace(profiles, method=load_method("warm").profile)
    points = tuple(run.points.with_own_slopes())
    return Swept(fault, setting, profiles, points, run.points.seen, warm_up_ran)


def judged(unit: Swept, reads: Reads) -> Judgement:
    """The judgement of a run by what such a rig reads."""
    return judge_run(
        unit.profiles, points=unit.points, warm_up=unit.warm_up, seen=_seen_by(unit.seen, reads)
    )


def _seen_by(seen: Seen, reads: Reads) -> Seen:
    if reads == "fast":
        return seen
    steps = seen.steps
    if reads == "plain":
        steps = {
            number: replace(
                step,
                channels={n: c for n, c in step.channels.items() if n not in MORE_CHANNELS},
            )
            for number, step in steps.items()
        }
    return replace(seen, steps=steps, ripple_lines={})


def _bursts(run: Rehearsal, rig: UnitRig, rng: Random) -> None:
    """A tenth of a second of ripple at each step, as a fast channel samples it."""
    for t_s, command in run.commands:
        if not isinstance(command, StepTaken):
            continue
        point = next((p for p in run.points.points if p.step == command.step), None)
        if point is None or not point.shaft_rpm or (point.amps or 0.0) < 3.0:
            continue
        emf_hz = rig.machine.pole_pairs * point.shaft_rpm / 60.0
        lines = rig.lines_log[min(int(t_s), len(rig.lines_log) - 1)]
        samples = _samples(lines, emf_hz, rng)
        found = lines_of(samples, samples_per_s=BURST_PER_S, emf_hz=emf_hz * rng.gauss(1.0, 5e-4))
        run.points.seen.see("ripple lines", {"step": command.step, "lines": found})


BURST_PER_S, BURST_S = 25_000.0, 0.1


def _samples(lines: dict[int, float], emf_hz: float, rng: Random) -> list[float]:
    parts = [(2.0 * math.pi * emf_hz * k, a, rng.uniform(0.0, 6.28)) for k, a in lines.items()]
    return [
        1.0
        + sum(a * math.cos(w * i / BURST_PER_S + phase) for w, a, phase in parts)
        + rng.gauss(0.0, 0.003)
        for i in range(int(BURST_PER_S * BURST_S))
    ]


def _varied(machine: Machine, rng: Random) -> Machine:
    """One unit of a make: what decides the output within 5 %, all else within 10 %."""

    def near(value: float, part: float = 0.10) -> float:
        return value * (1.0 + rng.uniform(-part, part))

    return replace(
        machine,
        flux_wb=near(machine.flux_wb, 0.05),
        phase_henry=near(machine.phase_henry, 0.05),
        phase_ohm=near(machine.phase_ohm),
        field_ohm=near(machine.field_ohm),
        field_tau_s=near(machine.field_tau_s),
        field_knee_amps=near(machine.field_knee_amps),
        diode_volts=near(machine.diode_volts),
        winding_j_per_k=near(machine.winding_j_per_k),
        case_j_per_k=near(machine.case_j_per_k),
        winding_w_per_k=near(machine.winding_w_per_k),
        rotor_k_per_w=near(machine.rotor_k_per_w),
        set_volts_25=machine.set_volts_25 + machine.scale * rng.uniform(-0.1, 0.2),
        belt_grip_nm=near(machine.belt_grip_nm),
    )


def _simulated(fault: str, seed: int, machine: Machine, rng: Random) -> UnitRig:
    every = DEFAULT_EVERY_S | dict.fromkeys(MORE_CHANNELS, 0.25)
    known = fault if fault in fault_names() else None
    rig = UnitRig(machine, known, seed, every_s=every, ambient_c=rng.uniform(10.0, 35.0))
    rig.bus._battery_ohm *= rng.uniform(0.6, 1.8)
    rig.sensors["amps"].gain *= 1.0 + rng.gauss(0.0, 0.005)
    _grade(fault, rig, rng)
    return rig


def _grade(fault: str, rig: UnitRig, rng: Random) -> None:
    """Faults come in all degrees."""
    if fault == "weak-field":
        rig.field.ohm_factor = rng.uniform(1.7, 2.8)
    elif fault == "shorted-turns":
        rig._flux_factor = rng.uniform(0.75, 0.88)
        rig.field.ohm_factor = rng.uniform(0.65, 0.85)
    elif fault == "regulator-low":
        rig.field.set_offset_volts = -rng.uniform(1.0, 1.6) * rig.machine.scale
    elif fault == "slipping-belt":
        rig.belt.grip_nm *= rng.uniform(0.85, 1.35)
        assert rig.belt.grip_nm < 0.6 * rig.machine.belt_grip_nm, LOOSE_GRIP
    elif fault == "cable-drop":
        rig.bus.cable_ohm *= rng.uniform(0.8, 1.5)
    elif fault == "clamp-zero-off":
        sign = rng.choice((-1.0, 1.0))
        rig.sensors["amps"].zero_off = sign * CLAMP_ZERO_AMPS * rng.uniform(0.6, 2.0)
    elif fault == "dead":
        rig._flux_factor = 0.0
    elif fault == "hot-fade":
        rig.fade_per_k = rng.uniform(0.03, 0.08)


def _mistaken(fault: str, profiles: Snapshots, rig: UnitRig, rng: Random) -> Snapshots:
    """Faults of the files: a pulley or a number of poles that is not so."""
    if fault == "wrong-pulley":
        rig.file_ratio = profiles.rig.ratio
        rig.set_ratio(profiles.rig.ratio * rng.choice((0.87, 0.93, 0.96, 1.04, 1.08, 1.15)))
    if fault == "wrong-poles":
        assert profiles.rated is not None
        pairs = profiles.rated.alternator.pole_pairs or 6
        wrong_pairs = rng.choice([p for p in (6, 7, 8) if p != pairs])
        unit = profiles.rated.alternator.model_copy(update={"pole_pairs": wrong_pairs})
        return replace(profiles, rated=profiles.rated.model_copy(update={"alternator": unit}))
    return profiles


def _full_rig(rated: AlternatorProfile) -> Rig:
    rig = load_rig(RIG_OF[float(rated.alternator.system_volts)]).profile
    thermometer = rig.channels["case_c"]
    assert isinstance(thermometer, LinesChannel)
    more = {name: thermometer.model_copy(update={"accuracy": Accuracy()}) for name in MORE_CHANNELS}
    return rig.model_copy(update={"channels": {**rig.channels, **more}})


def _steps(rated: AlternatorProfile, setting: Setting) -> tuple[float, ...] | None:
    if not setting.top_only:
        return None
    speeds = [rpm for rpm, _ in rated.rated_curve().points]
    return tuple(rpm for rpm in speeds if rpm >= TOP_ONLY * speeds[-1])[-2:]
