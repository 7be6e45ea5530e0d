"""The rig's own wiring: voltage lost in the charging cable, and a clamp that was not zeroed."""

from __future__ import annotations

from acquire.findings.case import Case, rpm_words
from acquire.findings.finding import Finding

DROP_VOLTS = 0.5
"""Largest drop in the load circuit, 12 V system (SAE J56-1999)."""
DROP_OHM = 0.010
"""0.3 V at 30 A, 12 V system (Mitsubishi Attrage 2018 workshop manual)."""
ENOUGH_AMPS = 10.0
"""With less current a bad joint drops less than two voltmeters differ [A]."""
ZERO_AMPS = 0.6
"""A clamp reading so far from zero at standstill was not zeroed (our choice),"""
ZERO_LIMITS = 2.0
"""or one that is off by so many times what its data sheet allows."""


def cable(case: Case) -> list[Finding]:
    """B+ against the battery."""
    rows = []
    for p in case.usable:
        battery = case.mean(p, "battery_volts")
        if battery is not None and p.volts is not None and (p.amps or 0.0) >= ENOUGH_AMPS:
            rows.append((p.amps or 0.0, p.volts - battery, p))
    if not rows:
        return []
    amps, drop, point = max(rows, key=lambda row: row[0])
    ohm = drop / amps
    if drop < case.volts_at(DROP_VOLTS) and ohm < DROP_OHM * case.scale:
        return []
    return [
        Finding(
            name="cable drop",
            words="Too much voltage is lost between B+ and the battery.",
            evidence=(
                f"At {rpm_words(point)} and {amps:.0f} A, B+ stands {drop:.2f} V above the battery:"
                f" {1000 * ohm:.1f} mohm.",
                f"Allowed are {case.volts_at(DROP_VOLTS):g} V (SAE J56-1999), or"
                f" {case.volts_at(0.3):g} V at 30 A (Mitsubishi Attrage 2018 workshop manual).",
            ),
            sure="likely",
            rests_on="two voltmeters, if both are right at no current",
            what_would_settle="With current flowing, measure the drop over each joint of the cable"
            " in turn: the bad one shows most of it.",
            caution="A bad joint gets hot enough to burn. Stop the drive and take off the battery's"
            " negative lead before loosening it.",
            about="rig",
        )
    ]


def clamp_zero(case: Case) -> list[Finding]:
    """What the current sensor read when nothing flowed."""
    zero = case.seen.zero_amps
    if zero is None or abs(zero) < _zero_allowed(case):
        return []
    return [
        Finding(
            name="clamp zero off",
            words="The current sensor did not read zero at standstill.",
            evidence=(
                f"At standstill it read {zero:+.2f} A; its data sheet allows"
                f" {_data_sheet_amps(case):.2f} A. That was taken off every reading of this run.",
            ),
            sure="certain",
            rests_on="the reading at standstill",
            what_would_settle="Zero the clamp with no current in it, away from iron and magnets,"
            " and read again at the end: it must still be zero.",
            caution="The figures stand only as long as the zero has not moved during the run; a"
            " charger or a lamp on the battery at standstill looks the same.",
            about="readings",
        )
    ]


def _data_sheet_amps(case: Case) -> float:
    channel = None if case.rig is None else case.rig.channels.get("amps")
    accuracy = channel.accuracy if channel is not None else None
    return accuracy.limit(0.0) if accuracy is not None else 0.0


def _zero_allowed(case: Case) -> float:
    return max(ZERO_AMPS, ZERO_LIMITS * _data_sheet_amps(case))
