"""A meter that does not measure says nothing of the unit: nothing else is concluded from it."""

from __future__ import annotations

from acquire.findings.finding import Finding


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
