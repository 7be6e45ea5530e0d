"""Candidates at an engine's speeds: amps at idle, cruise and top, what warns, and who serves best.

What a unit gives at the top of its curve says little: it is ranked by what it gives where the
engine runs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from acquire.curve.points import BandPoint
from acquire.match.belt import belt_words
from acquire.match.candidate import Candidate, told_apart
from acquire.match.charge import ChargeTime, charge_time
from acquire.match.pulley import BeltDrive
from profiles.errors import BenchError


@dataclass(frozen=True, slots=True)
class EngineSpeeds:
    """Engine rpm at idle, when cruising (slowest and fastest), and at full throttle."""

    idle_rpm: float
    cruise_rpm: tuple[float, float]
    top_rpm: float

    def __post_init__(self) -> None:
        low, high = self.cruise_rpm
        if not 0 < self.idle_rpm <= low <= high <= self.top_rpm:
            raise BenchError(
                "The engine's speeds must rise from idle over cruise to top, all above zero.",
                what_to_do="Check --idle, --cruise and --top.",
            )

    def cruising(self) -> tuple[float, ...]:
        """Both ends and the middle of the cruising range [engine rpm], or its one speed."""
        low, high = self.cruise_rpm
        return (low,) if low == high else (low, (low + high) / 2, high)


@dataclass(frozen=True, slots=True)
class Bank:
    """The battery and the ampere-hours taken out of it."""

    bank_ah: float
    used_ah: float


@dataclass(frozen=True, slots=True)
class AtEngineSpeed:
    """What a unit gives at one engine speed."""

    engine_rpm: float
    given: BandPoint

    def as_json(self) -> dict[str, float]:
        """Engine and shaft speed, amps, and the ends of the band."""
        return {
            "engine_rpm": self.engine_rpm,
            "shaft_rpm": self.given.shaft_rpm,
            "amps": self.given.amps,
            "low": self.given.low,
            "high": self.given.high,
        }


@dataclass(frozen=True, slots=True)
class Matched:
    """One candidate on the engine."""

    title: str
    idle: AtEngineSpeed
    cruise: tuple[AtEngineSpeed, ...]
    top: AtEngineSpeed
    needed_ratio: float | None
    overspeeds: bool
    warnings: tuple[str, ...]
    charge: ChargeTime | None = None

    @property
    def cruise_amps(self) -> float:
        """Mean amps over the cruising speeds."""
        return sum(speed.given.amps for speed in self.cruise) / len(self.cruise)

    def as_json(self) -> dict[str, object]:
        """The candidate with the keys of `match`; `charge` only where a bank was given."""
        document: dict[str, object] = {
            "title": self.title,
            "idle": self.idle.as_json(),
            "cruise": [speed.as_json() for speed in self.cruise],
            "top": self.top.as_json(),
            "needed_ratio": self.needed_ratio,
            "warnings": list(self.warnings),
        }
        if self.charge is not None:
            document["charge"] = self.charge.as_json()
        return document


@dataclass(frozen=True, slots=True)
class Match:
    """All candidates on one engine."""

    ratio: float
    candidates: tuple[Matched, ...]
    ranking: tuple[str, ...]
    warnings: tuple[str, ...]
    """What holds for all of them: the pulleys."""

    def as_json(self) -> dict[str, object]:
        """The match with the keys of the command `match`."""
        return {
            "ratio": self.ratio,
            "candidates": [candidate.as_json() for candidate in self.candidates],
            "ranking": list(self.ranking),
            "warnings": list(self.warnings),
        }


def match(
    candidates: Sequence[Candidate],
    *,
    drive: BeltDrive,
    engine: EngineSpeeds,
    need_amps: float | None = None,
    bank: Bank | None = None,
) -> Match:
    """Put every candidate on the engine and rank them.

    Raises BenchError for speeds, pulleys or ampere-hours that cannot be.
    """
    placed = tuple(
        _placed(candidate, drive, engine, need_amps=need_amps, bank=bank)
        for candidate in told_apart(candidates)
    )
    about_pulleys = drive.diameter_warning()
    return Match(
        ratio=drive.ratio,
        candidates=placed,
        ranking=tuple(candidate.title for candidate in sorted(placed, key=_rank)),
        warnings=(about_pulleys,) if about_pulleys else (),
    )


def _rank(candidate: Matched) -> tuple[bool, float, float]:
    """Overspeeding ones last, then by amps when cruising, then at idle, most first."""
    return candidate.overspeeds, -candidate.cruise_amps, -candidate.idle.given.amps


def _placed(
    candidate: Candidate,
    drive: BeltDrive,
    engine: EngineSpeeds,
    *,
    need_amps: float | None,
    bank: Bank | None,
) -> Matched:
    cruising = engine.cruising()
    speeds = (engine.idle_rpm, *cruising, engine.top_rpm)
    given = candidate.curve.at([drive.shaft_rpm(speed) for speed in speeds])
    idle, *cruise, top = (
        AtEngineSpeed(speed, point) for speed, point in zip(speeds, given, strict=True)
    )
    ratio, about_need = _needed(candidate, drive, engine, need_amps)
    overspeeds = _too_fast(candidate, top.given.shaft_rpm)
    return Matched(
        title=candidate.title,
        idle=idle,
        cruise=tuple(cruise),
        top=top,
        needed_ratio=ratio,
        overspeeds=overspeeds,
        warnings=(*_warnings(candidate, (idle, *cruise, top), overspeeds), *about_need),
        charge=_charge(bank, cruise[len(cruise) // 2].given),
    )


def _charge(bank: Bank | None, given: BandPoint) -> ChargeTime | None:
    if bank is None:
        return None
    return charge_time(
        bank_ah=bank.bank_ah,
        used_ah=bank.used_ah,
        amps=given.amps,
        low_amps=given.low,
        high_amps=given.high,
    )


def _too_fast(candidate: Candidate, shaft_rpm: float) -> bool:
    return candidate.max_shaft_rpm is not None and shaft_rpm > candidate.max_shaft_rpm


def _needed(
    candidate: Candidate, drive: BeltDrive, engine: EngineSpeeds, need_amps: float | None
) -> tuple[float | None, tuple[str, ...]]:
    """The smallest ratio that gives the amps at the slowest cruise, and why there is none."""
    if need_amps is None:
        return None, ()
    speed = candidate.curve.speed_for(need_amps)
    if speed is None:
        return None, (f"{need_amps:g} A are more than this unit gives at any speed.",)
    ratio = drive.ratio_for(shaft_rpm=speed, engine_rpm=engine.cruise_rpm[0])
    at_top = speed * engine.top_rpm / engine.cruise_rpm[0]
    if _too_fast(candidate, at_top):
        return None, (
            f"{need_amps:g} A when cruising would ask for a ratio of {ratio:.2f}, which turns the "
            f"shaft at {at_top:.0f} rpm at full throttle: more than the unit bears.",
        )
    if candidate.curve.at([speed])[0].extrapolated:
        return ratio, (
            f"The ratio for {need_amps:g} A rests on {speed:.0f} rpm, outside the known speeds.",
        )
    return ratio, ()


def _warnings(
    candidate: Candidate, speeds: Sequence[AtEngineSpeed], overspeeds: bool
) -> tuple[str, ...]:
    idle, top = speeds[0].given, speeds[-1].given
    said = [_speed_words(candidate, top.shaft_rpm, overspeeds)]
    if idle.amps <= 0:
        said.append(f"At idle ({idle.shaft_rpm:.0f} shaft rpm) it gives nothing.")
    outside = [f"{point.given.shaft_rpm:.0f}" for point in speeds if point.given.extrapolated]
    if outside:
        said.append(f"Outside the known speeds, a guess: {', '.join(outside)} shaft rpm.")
    if candidate.volts is not None:
        most = max(point.given.amps for point in speeds)
        if most > 0:
            said.append(belt_words(amps=most, volts=candidate.volts))
    return (*(words for words in said if words), *candidate.curve.warnings)


def _speed_words(candidate: Candidate, shaft_rpm: float, overspeeds: bool) -> str:
    """What a unit bears differs more than threefold, so nothing is assumed: 5000 to 6000 rpm for
    6.5 in frames (Prestolite pulley selection guide), 18000 for small ones (Fiat 312 data)."""
    if candidate.max_shaft_rpm is None:
        return (
            f"Full throttle turns the shaft at {shaft_rpm:.0f} rpm; what this unit bears is not "
            "stated (5000 to 18000 rpm, depending on the frame). Find out before it turns."
        )
    if overspeeds:
        return (
            f"Too fast: full throttle turns the shaft at {shaft_rpm:.0f} rpm, the unit bears "
            f"{candidate.max_shaft_rpm:.0f} rpm. Take a smaller ratio."
        )
    return ""
