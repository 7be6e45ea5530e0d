"""Findings from the weighing of causes: open diode, open phase, weak field, shorted turns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from acquire.findings.case import Case, rpm_words
from acquire.findings.causes import Cause
from acquire.findings.finding import Finding, sure_of
from acquire.findings.side_evidence import checked_ripple_volts
from acquire.findings.weigh import Weighed
from acquire.plain_sum import plain_sum

REPORT_FROM = 0.5
"""A cause is named where it and its like are likelier together than all the rest."""
MOST_SURE = 0.99
"""Causes that nobody thought of keep at least a hundredth."""
SECOND_FROM = 0.2
"""Another cause is named beside the first from this chance on."""


@dataclass(frozen=True, slots=True)
class _Text:
    """What is said of a cause."""

    name: str
    words: str
    advice: str
    settle: str
    caution: str
    before_warm: str = ""
    """What comes before a long run, where the fault forbids one."""


RIPPLE_TEST = (
    "Measure AC volts from B+ to the case at the unit, at 3000 rpm under load: a sound unit shows"
    " a few hundredths of a volt, at most 0.5 V (StarTuned, Mercedes-Benz, September 2007)"
)
HOT_PARTS = "Rectifier and stator are hot after a run; stop the drive and let it cool first."

OPEN_DIODE_TEXT = (
    "One diode of the rectifier is open: the current is missing at low speed, and at the top it"
    " looks healthy."
)

_TEXTS: dict[Cause, _Text] = {
    "open diode": _Text(
        "open diode",
        OPEN_DIODE_TEXT,
        "An open diode does this: check the ripple.",
        f"{RIPPLE_TEST}; then test each diode both ways with the meter's diode range, stator leads"
        " off.",
        "Do not run it long at full load: the other diodes carry more than their share (common"
        f" practice, no source). {HOT_PARTS}",
        "Before it runs warm look for an open diode: check the ripple, then each diode.",
    ),
    "two open diodes": _Text(
        "two open diodes",
        "Two diodes of the same side of the rectifier are open.",
        "Two open diodes of one side do this: check the ripple, then each diode.",
        f"{RIPPLE_TEST}; then test each diode both ways, stator leads off.",
        "Do not run it at full load: the diodes that are left carry more than their share (common"
        f" practice, no source). {HOT_PARTS}",
        "Before it runs warm look for two open diodes: check the ripple, then each diode.",
    ),
    "open phase": _Text(
        "open phase",
        "One phase does not reach the rectifier: about half of the current at every speed above"
        " idle.",
        "An open phase does this: check the stator leads at the rectifier, and the ripple.",
        "Measure between the three stator leads, rectifier off: all three pairs must read the same"
        f" (a fraction of an ohm). {RIPPLE_TEST}.",
        f"The two phases left carry all of it: do not run it long. {HOT_PARTS}",
        "Before it runs warm look for an open phase: check the stator leads at the rectifier, and"
        " the ripple.",
    ),
    "uneven phase": _Text(
        "uneven phase",
        "One phase gives less than the other two: shorted turns in the stator, or a bad joint.",
        "An uneven phase does this: check the stator's leads and joints.",
        "Measure between the three stator leads with a milliohm meter: all pairs must be alike;"
        " look for a burnt place on the winding.",
        f"Shorted stator turns run hot: do not run it long. {HOT_PARTS}",
        "Before it runs warm look for the uneven phase: measure between the three stator leads.",
    ),
    "weak field": _Text(
        "weak field",
        "The field is too weak: too little field current, so less output at every speed and a"
        " higher cut-in speed.",
        "A weak field does this: measure the rotor's resistance and the drop at the brushes.",
        "Measure from slip ring to slip ring, then from brush to brush: more than the maker's"
        " figure means a bad winding joint, dirty rings or short brushes; or read the field current"
        " with a meter in series.",
        "In a full-field test hold the voltage at 16 V or less on a 12 V system (Chrysler 1982,"
        " current output test).",
    ),
    "shorted turns": _Text(
        "shorted turns",
        "Turns of the rotor are shorted: less flux although the field draws its current or more.",
        "Shorted rotor turns do this: measure the rotor's resistance and field current.",
        "Measure from slip ring to slip ring: less than the maker's figure means shorted turns; the"
        " field current is then above its figure.",
        "The field draws too much: the regulator may have suffered; check it before it goes back"
        " (common practice, no source).",
    ),
    "speed read wrong": _Text(
        "wrong pulley ratio or pole count",
        "The curve has the right height but stands at the wrong speeds: the shaft turns faster or"
        " slower than the figures say.",
        "A wrong pulley ratio or number of poles does this: check the speed with a tachometer.",
        "Read the shaft with a hand tachometer at one speed and compare.",
        "Keep hands, hair and cloth off belt and shaft when reading a speed by hand.",
    ),
    "other": _Text(
        "low output, cause not told",
        "The output is too low, and its shape fits none of the usual causes.",
        "The readings do not tell the cause: measure rotor, stator and diodes one by one.",
        "Measure ripple, field current, rotor resistance and the stator's three leads; then sweep"
        " again.",
        HOT_PARTS,
    ),
}


def from_curve(case: Case, weighed: Weighed | None) -> list[Finding]:
    """The most likely cause, and another one that comes near it."""
    if weighed is None:
        return []
    faults = sorted(
        ((cause, p) for cause, p in weighed.chance.items() if cause != "sound"),
        key=lambda pair: -pair[1],
    )
    together = plain_sum(p for _, p in faults)
    if together < REPORT_FROM:
        return []
    found = []
    for place, (cause, chance) in enumerate(faults[:3]):
        if place and chance < SECOND_FROM:
            break
        if cause == "other" and not _too_low(weighed):
            continue
        found.append(_finding(case, weighed, cause, chance))
    return found


def _too_low(weighed: Weighed) -> bool:
    """An output that is merely odd, or too high, is no fault."""
    return min(weighed.shares) < 0.9


def _finding(case: Case, weighed: Weighed, cause: Cause, chance: float) -> Finding:
    text = _TEXTS[cause]
    chance = min(chance, MOST_SURE)
    return Finding(
        name=text.name,
        words=text.words,
        evidence=tuple(_evidence(case, weighed, cause)),
        sure=sure_of(chance),
        rests_on=_rests_on(weighed, chance),
        what_would_settle=text.settle,
        caution=text.caution,
        advice=text.advice,
        before_warm=text.before_warm,
        probability=chance,
        about="readings" if cause == "speed read wrong" else "unit",
    )


def _evidence(case: Case, weighed: Weighed, cause: Cause) -> list[str]:
    said = [_shares_words(case, weighed)]
    if cause != "other":
        said.append(_predicted_words(case, weighed, cause))
    said += _bend_words(case, cause)
    if cause in ("open diode", "two open diodes", "open phase", "uneven phase"):
        said += ripple_words(case)
        said += _lines_words(weighed)
    if cause in ("weak field", "shorted turns"):
        said += _field_words(case, weighed)
    return said


def _ends(weighed: Weighed) -> list[int]:
    last = len(weighed.points) - 1
    return [0] if last == 0 else [0, last]


def _shares_words(case: Case, weighed: Weighed) -> str:
    rows = []
    for k in _ends(weighed):
        point, share = weighed.points[k], weighed.shares[k]
        rpm, amps = case.in_table(point)
        sound = amps / share if share > 0 else 0.0
        rows.append(
            f"at {rpm:.0f} rpm it gives {amps:.1f} A of about {sound:.1f} A ({100 * share:.0f} %)"
        )
    state = f", {case.state}," if case.state else ""
    said = " and ".join(rows)
    return f"{said[0].upper()}{said[1:]}{state} that a sound unit would give."


def _predicted_words(case: Case, weighed: Weighed, cause: Cause) -> str:
    shares = weighed.predicted.get(cause, ())
    speeds = {k: case.in_table(weighed.points[k])[0] for k in _ends(weighed)}
    rows = [f"{100 * shares[k]:.0f} % at {rpm:.0f} rpm" for k, rpm in speeds.items()]
    return f"This cause would leave {' and '.join(rows)}."


def _bend_words(case: Case, cause: Cause) -> list[str]:
    """An open diode makes the curve bend late: the shape figure of the fit is too large."""
    if case.fit is None or cause not in ("open diode", "two open diodes"):
        return []
    r = case.fit.parameters.get("r")
    if r is None or r.value < 0.7:
        return []
    return [f"The curve bends late: shape figure r = {r.value:.2f}; sound units have 0.2 to 0.5."]


def ripple_words(case: Case) -> list[str]:
    """What the ripple is, at the highest current it was read with."""
    rows = [
        (p.amps or 0.0, case.mean(p, "ripple_volts"), p)
        for p in case.usable
        if case.mean(p, "ripple_volts") is not None and (p.amps or 0.0) > 1.0
    ]
    checked = checked_ripple_volts(case)
    if not rows and checked is not None:
        return [f"The check of the ripple gave {checked:.3f} V AC."]
    if not rows:
        return ["The ripple was not read."]
    amps, volts, point = max(rows, key=lambda row: row[0])
    per_amp = 1000.0 * (volts or 0.0) / amps
    least, most = 0.2 * case.scale, 0.8 * case.scale
    return [
        f"Ripple {volts:.3f} V AC at {rpm_words(point)} and {amps:.0f} A: {per_amp:.1f} mV for each"
        f" ampere, where a sound bridge on a battery gives about {least:.1f} to {most:.1f}."
    ]


def _lines_words(weighed: Weighed) -> list[str]:
    if weighed.lines is None:
        return []
    first, second, sixth = (100 * part for part in weighed.lines)
    return [
        f"Of the ripple's lines at 1, 2 and 6 times the EMF frequency the amplitudes are as"
        f" {first:.0f} : {second:.0f} : {sixth:.0f}; a sound bridge has the sixth alone, an open"
        " diode brings out the first, an open or uneven phase the second."
    ]


def _field_words(case: Case, weighed: Weighed) -> list[str]:
    if weighed.field_ohm is None:
        return ["Neither field current nor the rotor's resistance was read."]
    usual = 2.4 * case.scale**2
    return [
        f"The rotor draws as {weighed.field_ohm:.1f} ohm at 20 °C would; rotors of this voltage"
        f" usually have about {0.7 * usual:.1f} to {1.5 * usual:.1f} ohm (common practice, no"
        " source)."
    ]


def _rests_on(weighed: Weighed, chance: float) -> str:
    kinds: Sequence[str] = [
        f"the shape of {len(weighed.points)} points against the rated curve"
        if len(weighed.points) > 1
        else "one point against the rated curve",
        *(["the ripple"] if weighed.with_ripple else []),
        *(["its lines"] if weighed.lines else []),
        *(["the field's resistance"] if weighed.with_field else []),
    ]
    return f"{100 * chance:.0f} % of all causes weighed, from {', '.join(kinds)}"


def not_ruled_out(case: Case, weighed: Weighed | None, found: Sequence[Finding]) -> list[Finding]:
    """An open diode that these readings could not have shown: said, never passed over."""
    if weighed is None or any(one.name == "open diode" for one in found):
        return []
    if weighed.open_diode_odds < MISSED_ODDS:
        return []
    return [
        Finding(
            name="open diode not ruled out",
            words="These readings cannot tell an open diode from a sound unit.",
            evidence=(_why_not_ruled_out(case, weighed),),
            sure="possible",
            rests_on=_not_measured(weighed),
            what_would_settle=_what_rules_out(weighed),
            caution="A unit that gives its rated amps at 6000 rpm may still have an open diode.",
            accuses=False,
        )
    ]


def _at_low_speed(weighed: Weighed) -> bool:
    return min(weighed.speed_ratios) <= LOW_SPEED


def _not_measured(weighed: Weighed) -> str:
    if not _at_low_speed(weighed):
        return "what was not measured: a low speed, or the ripple"
    if not weighed.with_ripple:
        return "what was not measured: the ripple"
    return "how well these readings tell the two apart"


def _what_rules_out(weighed: Weighed) -> str:
    if _at_low_speed(weighed):
        return f"{RIPPLE_TEST}."
    return (
        "Measure at a low speed as well, about one and a half times the cut-in speed"
        f" (1500 to 1800 rpm on most units). Or: {RIPPLE_TEST}."
    )


def _why_not_ruled_out(case: Case, weighed: Weighed) -> str:
    speeds = ", ".join(f"{p.shaft_rpm or 0.0:.0f}" for p in weighed.points)
    left = 100 * min(weighed.predicted["open diode"])
    doubt = max(2 * (p.u_amps or 0.0) / max(p.amps or 0.0, 1.0) for p in weighed.points)
    ripple = "" if weighed.with_ripple else ", without ripple"
    if doubt > TOO_DOUBTFUL:
        return f"The readings are good to ±{100 * doubt:.0f} % only{ripple}: that hides a diode."
    if _at_low_speed(weighed):
        return _low_speed_words(case, weighed)
    return (
        f"Measured at {speeds} rpm only{ripple}: an open diode would still leave {left:.0f} % of"
        " the current there, too near to what sound units give."
    )


def _low_speed_words(case: Case, weighed: Weighed) -> str:
    """A low speed was measured, and still it is open: most often by a rating of few points."""
    low = min(range(len(weighed.points)), key=lambda k: weighed.speed_ratios[k])
    shares = (
        f"At {rpm_words(weighed.points[low])} it gives {100 * weighed.shares[low]:.0f} % of what a"
        " sound unit of this rating is likely to give; an open diode would leave about"
        f" {100 * weighed.predicted['open diode'][low]:.0f} %"
    )
    if case.rated is not None and len(case.rated.points) <= FEW_RATED:
        return f"{shares}. How a sound unit's curve runs is hardly known from so few rated points."
    return f"{shares}. Sound units differ too much for that to rule it out."


LOW_SPEED = 2.0
"""Up to so many times the cut-in speed a speed is low: an open diode takes a quarter and more."""
FEW_RATED = 2
"""From so few rated points the cut-in speed of a sound unit is hardly known."""
TOO_DOUBTFUL = 0.1
"""Doubt of a current, as a share of it, that hides what an open diode takes at high speed."""
MISSED_ODDS = 0.05
"""An open diode counts as ruled out below these odds against a sound unit."""
