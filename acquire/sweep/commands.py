"""What a sweep says (commands) and what an operator tells it (acts)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from acquire.judge.slopes import Slope
from acquire.settle.looks import HoldLook

Direction = Literal["up", "down"]
"""Which way the speeds go when a step is reached."""


@dataclass(frozen=True, slots=True)
class HoldVolts:
    """Set the load to the voltage it must hold [V]."""

    volts: float


@dataclass(frozen=True, slots=True)
class LoadSwitch:
    """Connect or shed the load."""

    on: bool


@dataclass(frozen=True, slots=True)
class SetBank:
    """Close the bank's steps named true, open the others."""

    closed: tuple[bool, ...]


@dataclass(frozen=True, slots=True)
class FieldSwitch:
    """Feed the field from the bench, or stop feeding it."""

    on: bool


@dataclass(frozen=True, slots=True)
class RunDrive:
    """Let the motor turn."""


@dataclass(frozen=True, slots=True)
class HaltDrive:
    """Run off and speed 0: the shaft turns before the test has begun."""


@dataclass(frozen=True, slots=True)
class SetShaftRpm:
    """Set the speed the shaft would have without slip [rpm]."""

    shaft_rpm: float


@dataclass(frozen=True, slots=True)
class ZeroTaken:
    """The current sensor's reading at standstill, subtracted from now on [A]."""

    amps: float
    u_amps: float
    readings: int
    volts: float | None = None
    """Voltage at B+ then: the battery's own [V]."""


@dataclass(frozen=True, slots=True)
class HandsOn:
    """What the operator's hands must do now; larger on the screen than what the program does."""

    words: str
    """As in `THROTTLE TO 1500`, `MORE LOAD`, `OPEN THE PILE`."""
    detail: str = ""


@dataclass(frozen=True, slots=True)
class LoadNoticed:
    """A load set by hand was seen to be closed, or open again."""

    on: bool


@dataclass(frozen=True, slots=True)
class TypeReading:
    """Ask the operator to type what an instrument shows."""

    channel: str
    set_rpm: float
    again: bool
    """True for the second reading of the pair."""


@dataclass(frozen=True, slots=True)
class AskCheck:
    """Ask the operator for a check that belongs to the speed now held."""

    check: str
    set_rpm: float


@dataclass(frozen=True, slots=True)
class StepTaken:
    """A step is over: what each channel gave, or nothing usable (`look` None)."""

    step: int
    """1 for the first step."""
    set_rpm: float
    settle_s: float
    """From the moment the speed was reached to the point [s]."""
    look: HoldLook | None
    slope: Slope | None
    """Amps over speed known when the point was taken: of the rated curve or the steps before."""
    direction: Direction = "up"
    told_rpm: float | None = None
    """Shaft speed the drive was told, without slip [rpm]; None without a drive."""


@dataclass(frozen=True, slots=True)
class TickDecided:
    """Time alone decided something; a replay needs to know."""

    t_s: float


@dataclass(frozen=True, slots=True)
class Remark:
    """Something for the journal: a decision and its reason."""

    kind: str
    data: dict[str, object]
    words: str = ""
    """A sentence for the operator, where it concerns him."""


@dataclass(frozen=True, slots=True)
class CannotSee:
    """An instrument no longer shows what happens; the rig is brought to rest."""

    words: str


@dataclass(frozen=True, slots=True)
class Refused:
    """This unit must not be turned on this rig; the rig is brought to rest."""

    words: str
    for_good: bool = False
    """True where nothing that is done to unit or rig lets this run go on."""


@dataclass(frozen=True, slots=True)
class Finished:
    """All steps are over; the rig may be brought to rest."""


Command = (
    HoldVolts
    | LoadSwitch
    | SetBank
    | FieldSwitch
    | RunDrive
    | HaltDrive
    | SetShaftRpm
    | ZeroTaken
    | HandsOn
    | LoadNoticed
    | TypeReading
    | AskCheck
    | StepTaken
    | TickDecided
    | Remark
    | Refused
    | CannotSee
    | Finished
)


@dataclass(frozen=True, slots=True)
class HoldLonger:
    """Keep on holding this step: give no point before the operator says so or time is up."""

    for_s: float = 30.0


@dataclass(frozen=True, slots=True)
class SkipStep:
    """Leave this step without a point."""


@dataclass(frozen=True, slots=True)
class TakeNow:
    """Take the point as it stands, settled or not."""


@dataclass(frozen=True, slots=True)
class CheckAnswered:
    """The check that was asked at its speed has its answer, or is left out."""

    check: str


Act = HoldLonger | SkipStep | TakeNow | CheckAnswered
