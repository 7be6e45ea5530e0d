"""What a sweep needs to know before it starts, as plain numbers from the profiles."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from acquire.settle.tolerance import ChannelPlan
from acquire.sweep.channel_plans import channel_plans, typed_channels
from acquire.sweep.commands import Direction
from profiles.alternator import RatedCurve
from profiles.drive import FieldHand, LoadBank, LoadHand, LoadHolds
from profiles.errors import BenchError
from profiles.method import Method
from profiles.rig import Rig

LoadKind = Literal["holds", "bank", "hand", "none"]
SpeedSource = Literal["shaft_rpm", "w_hz", "engine_rpm", "drive_rpm"]

BY_HAND_VOLTS_WITHIN = 0.3
"""How near a hand or a bank brings the voltage, where the method says nothing of it [V]."""
DEFAULT_RAMP_RPM_PER_S = 400.0
"""Where no drive states its own; without a drive nothing is ramped and it is never used."""


class PlanError(BenchError):
    """Rig, rated curve and method do not make a sweep together."""


@dataclass(frozen=True, slots=True)
class Step:
    """One speed of the sweep."""

    number: int
    """1 for the first."""
    set_rpm: float
    direction: Direction = "up"


@dataclass(frozen=True, slots=True)
class WarmUp:
    """Running warm before the first step."""

    shaft_rpm: float
    for_s: float
    until_steady: bool


@dataclass(frozen=True, slots=True)
class HandLoad:
    """A load set by hand, good for a short time."""

    max_on_s: float | None
    rest_s: float


@dataclass(frozen=True, slots=True)
class SweepPlan:
    """Everything the state machine decides by, apart from the readings."""

    steps: tuple[Step, ...]
    test_volts: float | None
    volts_within: float
    driven: bool
    ramp_rpm_per_s: float
    speed_source: SpeedSource
    speed_ratio: float
    """Shaft speed for one unit of the speed source: pulley ratio, or 60 / pole pairs (`w_hz`)."""
    load: LoadKind
    channels: Mapping[str, ChannelPlan]
    typed: frozenset[str]
    """Channels whose readings are typed by the operator."""
    warm_up: WarmUp | None = None
    has_field_switch: bool = False
    fed_by_hand: str = ""
    """What hands switch on between the zero and the first turn: `ignition`, `field` or nothing."""
    bank_amps: tuple[float, ...] = ()
    hand_load: HandLoad | None = None
    horizon_s: float = 10.0
    give_up_s: float = 120.0
    predict: bool = True
    fast: bool = False
    """Predict in the fast form, with a wider doubt."""
    thermal: bool = False
    speed_within_percent: float = 2.0
    """A hand on the throttle counts as there inside this band."""
    rated_points: tuple[tuple[float, float], ...] = ()
    volts_max: float | None = None
    """What this rig's voltage may not exceed [V]; None where no limit is stated."""

    @property
    def load_stays_off(self) -> bool:
        """True where no test voltage is known that the load could hold."""
        return self.load == "holds" and self.test_volts is None

    @property
    def trims(self) -> bool:
        """True when the set speed can be corrected by what the tachometer reads."""
        return self.driven and self.speed_source in ("shaft_rpm", "w_hz")

    def rated_amps_near(self, shaft_rpm: float) -> float | None:
        """Rated current at the rated speed nearest to this one [A]; None without a rated curve."""
        near = min(self.rated_points, key=lambda point: abs(point[0] - shaft_rpm), default=None)
        return None if near is None else near[1]


def plan_sweep(
    *,
    rig: Rig,
    method: Method,
    rated: RatedCurve | None,
    steps: Sequence[float] | None = None,
) -> SweepPlan:
    """Join rig, method, rated curve and the operator's own steps into a plan.

    Raises:
        PlanError: If no speeds are known, a speed is above what rig or unit may run, the channel
            that gives the speed cannot be turned into shaft speed, or the load cannot be followed.
    """
    source, ratio = _speed_source(rig, rated)
    load = load_kind(rig)
    volts = _test_volts(rig, method, rated)
    _check_load(rig, load, volts)
    channels = channel_plans(rig, method, speed_source=source, ratio=ratio)
    return SweepPlan(
        steps=_steps(rig=rig, method=method, rated=rated, wanted=steps),
        test_volts=volts,
        volts_within=volts_within(method, load),
        driven=rig.drive is not None,
        ramp_rpm_per_s=rig.drive.max_rpm_per_s if rig.drive else DEFAULT_RAMP_RPM_PER_S,
        speed_source=source,
        speed_ratio=ratio,
        load=load,
        channels=channels,
        typed=typed_channels(rig, speed_source=source),
        warm_up=_warm_up(method),
        has_field_switch=rig.field is not None,
        fed_by_hand=fed_by_hand(rig, rated),
        bank_amps=_bank_amps(rig),
        hand_load=_hand_load(rig),
        horizon_s=method.settle.horizon_s,
        give_up_s=method.settle.give_up_s,
        predict=method.settle.predict,
        fast=method.settle.early == "fast",
        rated_points=rated.points if rated else (),
        volts_max=rig.limits.volts_max,
    )


def fed_by_hand(rig: Rig, rated: RatedCurve | None) -> str:
    """What hands must keep off while the zero of the current is read, and then switch on.

    Empty where no zero is read: without a drive, of a current that is typed; and in software.
    """
    amps = next((one for name, one in rig.channels.items() if name == "amps"), None)
    if rig.drive is None or rig.simulated is not None or amps is None or amps.driver == "hand":
        return ""
    if rated is not None and any(is_ignition(need) for need in rated.needs):
        return "ignition"
    return "field" if isinstance(rig.field, FieldHand) else ""


def is_ignition(need: str) -> bool:
    """True for what is fed by the ignition switch, among what a unit needs."""
    return "ignition" in need.lower()


def speed_source_of(rig: Rig) -> SpeedSource:
    """The channel the shaft speed comes from."""
    for name in ("shaft_rpm", "w_hz", "engine_rpm"):
        if name in rig.channels:
            return name
    return "drive_rpm"


def _speed_source(rig: Rig, rated: RatedCurve | None) -> tuple[SpeedSource, float]:
    if "shaft_rpm" in rig.channels:
        return "shaft_rpm", 1.0
    if "w_hz" in rig.channels:
        if rated is None or rated.pole_pairs is None:
            raise PlanError(
                f"Rig '{rig.title}' reads speed from the W terminal (w_hz), but the number of pole"
                " pairs is not known.",
                what_to_do="Give --rated with alternator.pole_pairs, or add a shaft_rpm channel.",
            )
        return "w_hz", 60.0 / rated.pole_pairs
    if "engine_rpm" in rig.channels:
        return "engine_rpm", rig.ratio
    return "drive_rpm", rig.ratio


def load_kind(rig: Rig) -> LoadKind:
    """What kind of load a rig has."""
    match rig.load:
        case LoadHolds():
            return "holds"
        case LoadBank():
            return "bank"
        case LoadHand():
            return "hand"
        case _:
            return "none"


def _bank_amps(rig: Rig) -> tuple[float, ...]:
    return tuple(step.amps for step in rig.load.steps) if isinstance(rig.load, LoadBank) else ()


def _hand_load(rig: Rig) -> HandLoad | None:
    if not isinstance(rig.load, LoadHand):
        return None
    return HandLoad(max_on_s=rig.load.max_on_s, rest_s=rig.load.rest_s)


def _test_volts(rig: Rig, method: Method, rated: RatedCurve | None) -> float | None:
    volts = method.test.volts or (rated.volts if rated else None)
    highest = rig.limits.volts_max
    if volts is not None and highest is not None and volts >= highest:
        raise PlanError(
            f"The test voltage is {volts:g} V, but rig '{rig.title}' may not see more than"
            f" {highest:g} V (limits.volts_max).",
            what_to_do="Choose a rig for this system voltage, or another rated curve.",
        )
    return volts


def _check_load(rig: Rig, load: LoadKind, test_volts: float | None) -> None:
    """A bank and a pile are set by the voltage and the current that are read meanwhile."""
    if load not in ("bank", "hand"):
        return
    kind = "a bank of resistors" if load == "bank" else "a load set by hand"
    for name in ("volts", "amps"):
        if not any(n == name and c.driver != "hand" for n, c in rig.channels.items()):
            raise PlanError(
                f"Rig '{rig.title}' has {kind} ([load]), which is set by {name}, and no instrument"
                f" that talks gives them (channels.{name}).",
                what_to_do=f"Add a talking channel {name}; or take [load] out of the rig file, set"
                " the load yourself and type what the meters show.",
            )
    if load == "bank" and test_volts is None:
        raise PlanError(
            f"Rig '{rig.title}' has a bank of resistors, and no test voltage is known to switch it"
            " towards.",
            what_to_do="Give --rated NAME, or volts in the method's table [test].",
        )


def volts_within(method: Method, load: LoadKind) -> float:
    """How near the voltage must be [V]: a hand or a bank cannot hold it as close as other loads."""
    if "volts_within" in method.test.model_fields_set or load == "holds":
        return method.test.volts_within
    return max(method.test.volts_within, BY_HAND_VOLTS_WITHIN)


def _warm_up(method: Method) -> WarmUp | None:
    if method.warm_up is None:
        return None
    return WarmUp(
        shaft_rpm=method.warm_up.rpm,
        for_s=method.warm_up.for_s,
        until_steady=method.warm_up.until == "steady",
    )


def _steps(
    *, rig: Rig, method: Method, rated: RatedCurve | None, wanted: Sequence[float] | None
) -> tuple[Step, ...]:
    speeds = _speeds(method, rated, wanted)
    _check_ceiling(speeds, rig, rated)
    up = [Step(number, rpm) for number, rpm in enumerate(speeds, start=1)]
    if method.sweep.direction == "up":
        return tuple(up)
    down = [Step(len(up) + n, rpm, "down") for n, rpm in enumerate(reversed(speeds), start=1)]
    return (*up, *down)


def _speeds(
    method: Method, rated: RatedCurve | None, wanted: Sequence[float] | None
) -> list[float]:
    if wanted:
        return sorted(set(wanted))
    if rated is None and method.sweep.speeds() is None:
        raise PlanError(
            f"Method '{method.title}' names no speeds and no rated curve is given.",
            what_to_do="Give --steps 1500,2000,3000,6000, or --rated NAME, or another --method.",
        )
    rated_speeds = tuple(rpm for rpm, _amps in rated.points) if rated else ()
    return list(method.sweep.speeds_for(rated_speeds))


def _check_ceiling(speeds: Sequence[float], rig: Rig, rated: RatedCurve | None) -> None:
    ceilings = [
        (rig.rig.max_shaft_rpm, f"rig '{rig.title}'"),
        (rated.max_shaft_rpm if rated else None, f"unit '{rated.title}'" if rated else ""),
    ]
    for ceiling, whose in ceilings:
        above = [rpm for rpm in speeds if ceiling is not None and rpm > ceiling]
        if above:
            raise PlanError(
                f"A step at {above[0]:g} rpm is above the {ceiling:g} rpm that {whose} may run.",
                what_to_do="Leave that speed out (--steps), or correct max_shaft_rpm in the file.",
            )
