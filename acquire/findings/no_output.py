"""No output: not excited, or dead? And the regulator that holds the unit back."""

from __future__ import annotations

from dataclasses import dataclass

from acquire.findings.case import Case
from acquire.findings.finding import Finding
from acquire.findings.not_measured import current_hardly_read
from acquire.judge.steady_point import SteadyPoint

ABOVE_REST_VOLTS, ABOVE_TYPICAL_VOLTS = 0.05, 0.12
"""So far above the battery's own voltage something feeds the bus (12 V system): where that was
read at standstill, and where a typical one stands for it."""
TYPICAL_REST_VOLTS = 12.75
"""A full lead battery at rest, 12 V system (common practice, no source)."""
BELOW_TEST_VOLTS, BY_HAND_BELOW_VOLTS = 0.03, 0.15
"""So far below the test voltage the bus is not held by the load (12 V system)."""
HELD_SHARE = 0.6
FIELD_ON_AMPS = 0.2
"""From here on current reaches the field [A]: a rotor takes some amperes, a meter's zero less."""
SHUT = 0.8
"""Field voltage over bus voltage below which the regulator holds the field back."""
FALLS = 0.5
"""A current that falls below this share of that at a lower speed is held back."""
SAME_VOLTS = 0.25
"""A regulator holds one voltage: highest less lowest over the speeds (12 V system)."""

EXCITE = (
    "Check that ignition and charge lamp feed D+ (lamp lights at standstill, at least 2 W), then"
    " the brushes and the rotor's resistance; give D+ battery voltage through the lamp for a moment"
    " at 2000 rpm: if it comes up, it was not excited; if not, measure rotor, stator and diodes."
)
FULL_FIELD = (
    "In a full-field test hold the voltage at 16 V or less on a 12 V system (Chrysler 1982, current"
    " output test), and keep the battery connected."
)


@dataclass(frozen=True, slots=True)
class _Bus:
    """What the bus voltage did over the speeds [V]."""

    lowest: float
    highest: float
    rest: float
    rest_was_read: bool

    def fed(self, volts: float, scale: float) -> bool:
        """True when it takes more than the battery to be there."""
        above = ABOVE_REST_VOLTS if self.rest_was_read else ABOVE_TYPICAL_VOLTS
        return volts >= self.rest + above * scale


def no_output(case: Case) -> list[Finding]:
    """First of all: there is nothing at any speed."""
    if not case.gives_nothing:
        return []
    bus = _bus(case)
    if bus is not None and bus.fed(bus.highest, case.scale):
        return _hardly_read(case, bus)
    field_amps = _field_amps(case)
    if field_amps is None:
        return [_not_excited_or_dead(case, bus)]
    duty = _field_duty(case)
    if field_amps >= FIELD_ON_AMPS and duty is not None and duty < SHUT and bus is not None:
        return [_held_back(case, bus, case.usable, low=bus.lowest, high=bus.highest)]
    if field_amps >= FIELD_ON_AMPS:
        return [_dead(case, bus, field_amps)]
    return [_not_excited(case, bus, field_amps)]


def _hardly_read(case: Case, bus: _Bus) -> list[Finding]:
    """Something feeds the bus: up to the test voltage the ammeter's case, else the regulator's."""
    duty = _field_duty(case)
    below = case.volts_at(BELOW_TEST_VOLTS)
    held_back = bool(regulator(case)) or (duty is not None and duty < SHUT)
    if held_back or case.test_volts is None or bus.lowest < case.test_volts - below:
        return []
    field_amps = _field_amps(case) or 0.0
    excited = field_amps >= FIELD_ON_AMPS
    nothing = (*_nothing_words(case, None), *([_excited_words(field_amps)] if excited else []))
    return [current_hardly_read(case, nothing=nothing, lowest_volts=bus.lowest)]


def _not_excited_or_dead(case: Case, bus: _Bus | None) -> Finding:
    return Finding(
        name="no output: not excited or dead",
        words="No output at any speed: not excited, or dead?",
        evidence=_nothing_words(case, bus),
        sure="certain",
        rests_on="no current at any speed; which of the two it is these readings do not tell",
        what_would_settle=EXCITE,
        caution=FULL_FIELD,
        advice=f"No output: not excited, or dead? {EXCITE}",
    )


def _not_excited(case: Case, bus: _Bus | None, field_amps: float) -> Finding:
    return Finding(
        name="not excited",
        words="No output because no current reaches the field: not excited, or a regulator that"
        " stays shut.",
        evidence=(
            *_nothing_words(case, bus),
            f"Field current {field_amps:.2f} A: the field's circuit is open or not fed.",
        ),
        sure="likely",
        rests_on="no output and no field current",
        what_would_settle=EXCITE,
        caution=FULL_FIELD,
        advice=f"Not excited: no current reaches the field. {EXCITE}",
    )


def _dead(case: Case, bus: _Bus | None, field_amps: float) -> Finding:
    settle = (
        "Measure the three stator leads against each other and against the case, and each diode"
        " both ways; check the lead from the rectifier to B+."
    )
    return Finding(
        name="dead",
        words="No output although the field draws current: stator, rectifier or the lead to B+.",
        evidence=(
            *_nothing_words(case, bus),
            _excited_words(field_amps),
        ),
        sure="likely",
        rests_on="no output with field current",
        what_would_settle=settle,
        caution="Stop the drive before touching B+: the battery stands behind it.",
        advice=f"It is excited, but dead: {settle}",
    )


def _excited_words(field_amps: float) -> str:
    return f"Field current {field_amps:.2f} A: it is excited."


def _nothing_words(case: Case, bus: _Bus | None) -> tuple[str, ...]:
    most = max(case.usable, key=lambda p: p.amps or 0.0)
    low, high = case.usable[0].shaft_rpm or 0.0, case.usable[-1].shaft_rpm or 0.0
    span = f"from {low:.0f} to {high:.0f} rpm" if high > low else f"at {low:.0f} rpm"
    said = [f"{span[0].upper()}{span[1:]} at most {max(most.amps or 0.0, 0.0):.1f} A."]
    if bus is not None:
        own = "as before it turned" if bus.rest_was_read else "about a battery's own voltage"
        said.append(f"B+ stands at {bus.highest:.2f} V, {own} ({bus.rest:.2f} V).")
    return tuple(said)


def regulator(case: Case) -> list[Finding]:
    """At the top speed, where it could give most, the bus stays below the test voltage."""
    bus = _bus(case)
    held = [p for p in case.usable if _held(case, p, bus)]
    if bus is None or not held or held[-1] is not case.usable[-1]:
        return []
    low, high = min(p.volts or 0.0 for p in held), max(p.volts or 0.0 for p in held)
    if high - low > case.volts_at(SAME_VOLTS):
        return []
    if not case.load_holds and len(held) < 2:
        return []
    return [_held_back(case, bus, held, low=low, high=high)]


def _held(case: Case, point: SteadyPoint, bus: _Bus | None) -> bool:
    """Current far below what it should be, with the bus below the test voltage yet fed.

    A load that holds the test voltage takes nothing below it: so nothing but the regulator keeps
    the bus there. Other loads may be too heavy, so more is asked of them.
    """
    if bus is None or point.volts is None or case.test_volts is None:
        return False
    amps = point.amps or 0.0
    if not bus.fed(point.volts, case.scale) or amps > HELD_SHARE * case.sound_amps(point):
        return False
    below = case.volts_at(BELOW_TEST_VOLTS if case.load_holds else BY_HAND_BELOW_VOLTS)
    slower = [p.amps or 0.0 for p in case.usable if (p.shaft_rpm or 0) < (point.shaft_rpm or 0)]
    falls = bool(slower) and amps < FALLS * max(slower)
    duty = _duty_at(case, point)
    shut = duty is not None and duty < SHUT
    return point.volts < case.test_volts - below or falls or shut


def _held_back(
    case: Case, bus: _Bus, held: list[SteadyPoint], *, low: float, high: float
) -> Finding:
    duty = _field_duty(case)
    speeds = "every speed" if len(held) == len(case.usable) else "the higher speeds"
    most = max(p.amps or 0.0 for p in held)
    evidence = [
        f"B+ stays between {low:.2f} and {high:.2f} V at {speeds}, where the test asks for"
        f" {case.test_volts or 0.0:.2f} V, with {most:.1f} A at most.",
        f"The battery alone stands at {bus.rest:.2f} V.",
    ]
    if duty is not None:
        evidence.append(f"The field gets {100 * duty:.0f} % of the voltage at the least.")
    settle = (
        "Read the voltage at B+ at 4000 rpm with a light load and compare with the maker's"
        " regulating voltage, such as 13.7 to 14.6 V at 20 °C (Mitsubishi Attrage 2018 workshop"
        " manual); then full-field it, and the amps must come."
    )
    return Finding(
        name="regulator low or regulating",
        words=f"The regulator holds {high:.2f} V, so the unit is not let give its"
        " current at the test voltage.",
        evidence=tuple(evidence),
        sure="likely" if len(held) > 1 and case.load_holds else "possible",
        rests_on="a voltage held below the test voltage, above the battery's own",
        what_would_settle=settle,
        caution=FULL_FIELD,
        advice=f"The regulator holds it at {high:.2f} V: read the regulating voltage with a light"
        " load. The unit itself may be sound.",
    )


def _bus(case: Case) -> _Bus | None:
    volts = [p.volts for p in case.usable if p.volts is not None]
    if not volts:
        return None
    read = case.seen.rest_volts
    rest = read if read is not None else case.volts_at(TYPICAL_REST_VOLTS)
    return _Bus(min(volts), max(volts), rest, read is not None)


def _field_amps(case: Case) -> float | None:
    found = [case.mean(p, "field_amps") for p in case.usable]
    read = [amps for amps in found if amps is not None]
    return max(read) if read else None


def _field_duty(case: Case) -> float | None:
    """Field voltage over bus voltage, the lowest over the speeds."""
    found = [_duty_at(case, p) for p in case.usable]
    return min((duty for duty in found if duty is not None), default=None)


def _duty_at(case: Case, point: SteadyPoint) -> float | None:
    volts = case.mean(point, "field_volts")
    return None if volts is None or not point.volts else max(volts / point.volts, 0.0)
