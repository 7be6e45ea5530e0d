"""A meter that repeats itself says nothing of the unit, and nothing else is concluded from it."""

from __future__ import annotations

from acquire.findings.finding import Finding


def meter_frozen(why: str) -> Finding:
    """The one finding of a run whose current was no measurement; `why` with its figures."""
    return Finding(
        name="meter frozen",
        words="The current meter was on HOLD or frozen; nothing is known of the unit.",
        evidence=(why,),
        sure="certain",
        rests_on="the same digits at speeds at which no unit gives the same current",
        what_would_settle="Take the meter off HOLD, see the figure move as the load is switched,"
        " and test anew.",
        advice="Mend the current meter and test anew.",
        about="readings",
        put_right_first=True,
    )
