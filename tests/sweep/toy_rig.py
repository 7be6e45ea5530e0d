"""A rig of three lines of arithmetic with a hand-moved clock: enough to test the sweep."""

from __future__ import annotations

import math
import random
from collections.abc import Iterator
from dataclasses import dataclass, field

from acquire.sweep.commands import (
    Command,
    HaltDrive,
    HandsOn,
    LoadSwitch,
    RunDrive,
    SetShaftRpm,
    StepTaken,
    TypeReading,
)
from acquire.sweep.sweep import Sweep
from drivers.readings import Quality, Reading

EVERY_S = 0.1


@dataclass
class ToyRig:
    """Shaft follows the set speed with slip and lag; amps = 100 (1 - 900 / rpm) with lag."""

    slip: float = 0.012
    zero_amps: float = 0.0
    lag_s: float = 0.6
    noise_amps: float = 0.03
    silent: set[str] = field(default_factory=set)
    t_s: float = 0.0
    set_rpm: float = 0.0
    running: bool = False
    loaded: bool = False
    rpm: float = 0.0
    amps: float = 0.0
    random: random.Random = field(default_factory=lambda: random.Random(7))
    said: list[Command] = field(default_factory=list)

    def true_amps(self, rpm: float) -> float:
        return 100 * (1 - 900 / rpm) if rpm > 900 and self.loaded else 0.0

    def advance(self) -> list[Reading]:
        self.t_s = round(self.t_s + EVERY_S, 6)
        wanted = self.set_rpm * (1 - self.slip) if self.running else 0.0
        self.rpm += (wanted - self.rpm) * (1 - math.exp(-EVERY_S / 0.3))
        self.amps += (self.true_amps(self.rpm) - self.amps) * (1 - math.exp(-EVERY_S / self.lag_s))
        values = {
            "shaft_rpm": round(self.rpm + self.random.gauss(0, 0.4), 1),
            "amps": round(self.amps + self.zero_amps + self.random.gauss(0, self.noise_amps), 2),
            "volts": round(13.5 + self.random.gauss(0, 0.003), 3),
        }
        return [Reading(name, self.t_s, v) for name, v in values.items() if name not in self.silent]

    def carry_out(self, commands: list[Command]) -> None:
        self.said += commands
        for command in commands:
            match command:
                case RunDrive():
                    self.running = True
                case HaltDrive():
                    self.running, self.set_rpm = False, 0.0
                case SetShaftRpm(rpm):
                    self.set_rpm = rpm
                case LoadSwitch(on):
                    self.loaded = on


def drive_through(sweep: Sweep, rig: ToyRig, at_most_s: float = 2000.0) -> list[StepTaken]:
    """Run until the sweep has finished; the steps taken."""
    while not sweep.finished and rig.t_s < at_most_s:
        rig.carry_out(sweep.step(rig.t_s, rig.advance()))
    return [command for command in rig.said if isinstance(command, StepTaken)]


def hands(rig: ToyRig) -> list[str]:
    return [command.words for command in rig.said if isinstance(command, HandsOn)]


def questions(commands: list[Command]) -> Iterator[TypeReading]:
    return (command for command in commands if isinstance(command, TypeReading))


def bad(channel: str, t_s: float) -> Reading:
    return Reading(channel, t_s, None, Quality.TIMEOUT)
