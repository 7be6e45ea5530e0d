"""A meter that does not measure says nothing of the unit: nothing else is concluded from it."""

from __future__ import annotations

from acquire.findings.case import Case
from acquire.findings.finding import Finding
from acquire.judge.far_off import like_kiloamps

LOOK_AT_AMMETER = (
    "look whether all of the unit's current goes through the shunt or clamp, whether the meter's"
    " leads are on the shunt, and whether `scale` is right"
)


def current_not_measured(why: str) -> Finding:
    """The one finding of a run whose current was no measurement; `why` with its figures."""
    return Finding(
        name="current not measured",
        words="The current was not measured; nothing is known of what the unit gives.",
        evidence=(why,),
        sure="certain",
        rests_on="a reading that no unit can cause by its output",
        what_would_settle="See the meter move, and the right way, as the load is switched,"
        " and test anew.",
        advice="Mend the current meter and test anew.",
        about="readings",
        put_right_first=True,
    )


def current_hardly_read(case: Case, *, nothing: tuple[str, ...], lowest_volts: float) -> Finding:
    """Next to no current at any speed, on a bus that is fed up to the test voltage.

    `nothing`: what was read, in words; `lowest_volts`: of the bus over the speeds.
    """
    evidence = [
        *nothing,
        f"B+ stands at {lowest_volts:.2f} V or more at every speed, where the test asks for"
        f" {case.test_volts or 0.0:.2f} V: a unit that gives nothing does not raise it so far.",
    ]
    if case.rated is not None and like_kiloamps(case.usable, case.rated):
        evidence.append("A thousand times these currents would be about those rated.")
    return Finding(
        name="current hardly read",
        words="Next to no current is read although the bus is fed up to the test voltage: the"
        " ammeter, its shunt or clamp, or its scale.",
        evidence=tuple(evidence),
        sure="likely" if case.load_holds else "possible",
        rests_on="a voltage that the battery alone does not have; a charger on the battery, or a"
        " regulator set to just this voltage, would show the same",
        what_would_settle="Hold a second clamp round the B+ cable and compare; no charger may stand"
        f" on the battery. Then {LOOK_AT_AMMETER}.",
        caution="Stop the drive before touching B+ or the shunt: the battery stands behind them.",
        advice=f"The ammeter hardly reads: {LOOK_AT_AMMETER}.",
        about="readings",
    )
