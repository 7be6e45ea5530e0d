"""Current that drops out and comes back: a worn brush, a dirty ring, a loose joint."""

from __future__ import annotations

from acquire.findings.case import Case, rpm_words
from acquire.findings.finding import Finding, Sure
from acquire.judge.steady_point import SteadyPoint

ENOUGH_SHARE = 0.1
"""Share of the top current below which a point is near cut-in, where any current is restless."""
SCATTER_SHARE = 0.02
"""Doubt of the current as a share of it: a sound unit's is well below."""


def brush(case: Case) -> list[Finding]:
    """Bursts of low current at steady speed."""
    bursts = [p for p in case.usable if _bursts(case, p)]
    if not bursts or case.gives_nothing:
        return []
    worst = max(bursts, key=_scatter)
    field = _field_too(case, bursts)
    sure: Sure = "likely" if len(bursts) > 1 or field else "possible"
    evidence = [
        f"At {len(bursts)} of {len(case.usable)} speeds the current drops out for moments and comes"
        f" back; worst at {rpm_words(worst)}: {worst.amps or 0.0:.1f} A, good to"
        f" ±{2 * (worst.u_amps or 0.0):.1f} A only.",
        "The shaft speed held still meanwhile.",
    ]
    if field is True:
        evidence.append("The field current drops out with it.")
    elif field is False:
        evidence.append("The field current stays: then it is a joint in the output, not the brush.")
    else:
        evidence.append("The field current was not read.")
    return [
        Finding(
            name="worn brush",
            words="The current drops out in bursts, as with a worn brush or a dirty slip ring."
            if field is not False
            else "The current drops out in bursts while the field stays: a loose joint at B+ or"
            " in the ammeter's lead.",
            evidence=tuple(evidence),
            sure=sure if field is not False else "possible",
            rests_on="bursts of low readings at steady speed",
            what_would_settle="Measure brush length and spring, look at the rings, and turn the"
            " rotor by hand while reading its resistance at the brush leads: it must not jump.",
            caution="Sparks at a worn brush burn the ring; do not run it longer than the test needs"
            " (common practice, no source).",
            advice="A worn brush or dirty ring does this: look at brushes and rings, then test"
            " again.",
            put_right_first=True,
        )
    ]


def _scatter(point: SteadyPoint) -> float:
    return (point.u_amps or 0.0) / max(abs(point.amps or 0.0), 1.0)


def _bursts(case: Case, point: SteadyPoint) -> bool:
    step = case.step(point)
    if step is None:
        return False
    amps, speed = step.channels.get("amps"), step.channels.get("shaft_rpm")
    if amps is None or not amps.unsteady or _scatter(point) < SCATTER_SHARE:
        return False
    if (point.amps or 0.0) < ENOUGH_SHARE * case.top_amps:
        return False  # near cut-in any current is restless
    return speed is None or not speed.unsteady


def _field_too(case: Case, points: list[SteadyPoint]) -> bool | None:
    """Whether the field current has bursts too; None where it is not read."""
    steps = [case.step(p) for p in points]
    fields = [s.channels["field_amps"] for s in steps if s and "field_amps" in s.channels]
    if not fields:
        return None
    return any(f.unsteady or f.rejected > 2 for f in fields)
