"""A whole sweep on the in-process simulated rig with a hand-moved clock: no wires, no threads.

Fast, for trying rules on many units; the state machine is the one of the live bench.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from acquire.findings.seen import WARM_UP_OVER
from acquire.hands_at_stop import Hand
from acquire.judging import WarmUpRan, warm_up_of
from acquire.points import PointMaker
from acquire.sweep.commands import (
    Command,
    FieldSwitch,
    HandsOn,
    HoldVolts,
    LoadSwitch,
    Remark,
    RunDrive,
    SetBank,
    SetShaftRpm,
    StepTaken,
    ZeroTaken,
)
from acquire.sweep.plan import SweepPlan
from acquire.sweep.sweep import Sweep
from drivers.readings import Reading
from profiles.rig import Rig
from tests.in_process_rig import InProcessRig

TICK_S = 0.1


@dataclass(slots=True)
class Rehearsal:
    """What came of it."""

    points: PointMaker
    sweep: Sweep
    commands: list[tuple[float, Command]] = field(default_factory=list)
    readings: list[Reading] = field(default_factory=list)
    warm_up: WarmUpRan | None = None
    lasted_s: float = 0.0


def rehearse(
    plan: SweepPlan,
    rig: Rig,
    simulated: InProcessRig,
    *,
    at_most_s: float = 7200.0,
    hand: Hand | None = None,
) -> Rehearsal:
    """Run the sweep of `plan` on `simulated`; stops at the end or after `at_most_s` [s]."""
    result = Rehearsal(PointMaker(plan, rig), Sweep(plan))
    began_s = simulated.clock.monotonic_s()
    while not result.sweep.finished and result.lasted_s < at_most_s:
        readings = simulated.advance(TICK_S)
        result.readings += readings
        result.lasted_s = simulated.clock.monotonic_s() - began_s
        if hand is not None:
            hand.moves(result.lasted_s)
        for command in result.sweep.step(simulated.clock.monotonic_s(), readings):
            result.commands.append((result.lasted_s, command))
            _carry_out(command, simulated, result, hand)
    simulated.set_run(False)
    return result


def _carry_out(command: Command, rig: InProcessRig, result: Rehearsal, hand: Hand | None) -> None:
    match command:
        case HandsOn() if hand is not None:
            hand.told(command, result.lasted_s)
        case ZeroTaken():
            result.points.zero = command
            result.points.seen.see("zero taken", {"amps": command.amps, "volts": command.volts})
        case StepTaken():
            result.points.take(command)
        case Remark(kind, data):
            result.points.seen.see(kind, data)
            if kind == WARM_UP_OVER:
                result.warm_up = warm_up_of(data)
        case _:
            tell_rig(command, rig)


def tell_rig(command: Command, rig: InProcessRig) -> None:
    """Do to the simulated rig what its drive, load and field would be told; nothing for others."""
    match command:
        case RunDrive():
            rig.set_run(True)
        case SetShaftRpm(shaft_rpm):
            rig.set_motor_rpm(shaft_rpm / rig.ratio)
        case HoldVolts(volts):
            rig.load_hold(volts)
        case LoadSwitch(on):
            rig.load_switch(on)
        case SetBank(closed):
            rig.bank(closed)
        case FieldSwitch(on):
            rig.field_switch(on)
        case _:
            pass
