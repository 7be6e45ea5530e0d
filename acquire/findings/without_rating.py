"""Where no rated curve was given: what the curve's own shape and the ripple still tell."""

from __future__ import annotations

from acquire.findings.case import Case
from acquire.findings.curve_causes import OPEN_DIODE_TEXT, RIPPLE_TEST, ripple_words
from acquire.findings.finding import Finding

LATE_BEND, LATE_WITHIN = 0.95, 0.45
"""Shape figure of the fit from which on it bends later than any sound bridge (0.2 to 0.5), and
the standard uncertainty it may have at most."""
POINTS_AT_LEAST = 4
RIPPLE_OHM = 0.002
"""Ripple over current, 12 V system: sound bridges on a battery stay below 0.8 mV an ampere, open
diodes and phases begin at about 2 (computed for 5 to 16 mohm of battery and cable)."""


def without_rating(case: Case) -> list[Finding]:
    """An open diode or phase, from the bend of the curve or from the ripple alone."""
    if case.expected is not None or case.gives_nothing or not case.usable:
        return []
    late, rough = _bends_late(case), _rough(case)
    if not late and not rough:
        return []
    evidence = ["No rated curve was given, so the height of the curve says nothing."]
    if late and case.fit is not None:
        r = case.fit.parameters["r"].value
        evidence.append(
            f"The curve bends late: shape figure r = {r:.2f}; sound units have 0.2 to 0.5."
        )
    return [
        Finding(
            name="open diode" if late else "open diode or phase",
            words=OPEN_DIODE_TEXT
            if late
            else "The ripple is that of an open diode or an open phase.",
            evidence=(*evidence, *ripple_words(case)),
            sure="likely" if late and rough else "possible",
            rests_on="the bend of the curve and the ripple"
            if late and rough
            else "the bend of the curve alone"
            if late
            else "the ripple alone",
            what_would_settle=f"{RIPPLE_TEST}; then test each diode both ways, stator leads off.",
            caution="Rectifier and stator are hot after a run; let it cool first.",
            advice="An open diode does this: check the ripple.",
        )
    ]


def _bends_late(case: Case) -> bool:
    if case.fit is None or len(case.usable) < POINTS_AT_LEAST:
        return False
    r = case.fit.parameters.get("r")
    lowest, highest = case.usable[0].amps or 0.0, case.usable[-1].amps or 0.0
    late = r is not None and r.value > LATE_BEND and r.u < LATE_WITHIN
    return late and lowest < 0.6 * highest


def _rough(case: Case) -> bool:
    """Ripple over current at the highest current it was read with."""
    rows = [(p.amps or 0.0, case.mean(p, "ripple_volts")) for p in case.usable]
    read = [(amps, volts) for amps, volts in rows if volts is not None and amps > 5.0]
    if not read:
        return False
    amps, volts = max(read)
    return volts / amps > RIPPLE_OHM * case.scale
