"""What a reader of the verdict should know besides: assumptions, conditions, what is missing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from acquire.judge.budget import HALF_WIDTH_K
from acquire.judge.circumstances import Circumstances
from acquire.judge.figure import SAME_SPEED_RPM, Figure
from acquire.judge.steady_point import SteadyPoint
from acquire.judge.verdict_words import Told, rpm_list
from profiles.rule import Accept


def all_cautions(
    told: Told,
    *,
    points: Sequence[SteadyPoint],
    figures: Sequence[Figure],
    circumstances: Circumstances,
    lenient: float | None,
    accept: Accept,
) -> tuple[str, ...]:
    """Give every caution once, the weightiest first."""
    lines = [
        *about_stop(circumstances),
        *about_load(circumstances),
        *_about_scale(told),
        *_about_state(told, circumstances),
        *_about_volts(told, points, circumstances),
        *_about_doubt(told, figures, accept),
        *_about_unsteady(circumstances),
        *_about_widths(told),
        *_about_speeds(told, figures),
        *_about_limits(told, figures, lenient, accept),
        *_about_checks(told),
    ]
    return tuple(dict.fromkeys(lines))


def about_stop(circumstances: Circumstances) -> Iterator[str]:
    """The next unit must not find the bench so."""
    if circumstances.did_not_stop:
        yield (
            "At the end the bench did not stop by itself and the emergency stop was called for: "
            "see to the drive before the next unit."
        )


def about_load(circumstances: Circumstances) -> Iterator[str]:
    """What was read without a load is no output curve."""
    if circumstances.load_off:
        yield (
            "No test voltage was known, so the load stayed off: what was read is what the battery "
            "took, not what the unit can give."
        )


def _about_scale(told: Told) -> Iterator[str]:
    if told.far_above:
        yield (
            f"{told.far_above}: its scale or the rated curve is wrong, and no figure here says "
            "anything of the unit."
        )
    if told.high_above:
        yield told.high_above


def _about_state(told: Told, circumstances: Circumstances) -> Iterator[str]:
    state, wanted = circumstances.state, told.rated.state
    if state is None:
        yield f"Whether it was tested warm or cold is not given: taken as {wanted}, as rated."
    elif state == "warm" and wanted == "cold":
        yield "Tested warm against a cold rating: stricter than the rating asks."
    elif state == "cold" and wanted == "warm":
        yield f"Tested cold against a warm rating: heat will take {_losses(told)} from it."
    if state == "cold" and circumstances.gone_on_warm_c is not None:
        began_c, later_c = circumstances.gone_on_warm_c
        less = " The heat is deducted in full all the same." if wanted == "warm" else ""
        yield (
            f"Begun cold, gone on with warm: the case was at {began_c:.0f} °C at the first step, "
            f"at {later_c:.0f} °C when the run went on; neither cold nor warm.{less}"
        )


NO_AMPS = 1.0
"""What gives no more than that has nothing that heat could take [A]."""


def _losses(told: Told) -> str:
    shares = [
        f"about {100.0 * (1.0 - r.hot_amps / r.amps):.0f} % at {r.shaft_rpm:.0f} rpm"
        for r in told.results
        if r.hot_amps is not None and r.amps is not None and r.amps > NO_AMPS
    ]
    return ", ".join(shares) if shares else "some"


def _about_volts(
    told: Told, points: Sequence[SteadyPoint], circumstances: Circumstances
) -> Iterator[str]:
    rated, test = told.rated.volts, told.test_volts
    if abs(test - rated) > 1e-9:
        yield f"Tested at {test:g} V, rated at {rated:g} V: the currents are not the same."
    known = [point.volts is not None for point in points if point.usable]
    if known and not any(known):
        what = "not given" if circumstances.from_elsewhere else "not measured"
        yield f"The test voltage was {what}: taken as {test:g} V, as rated."
    elif not all(known):
        yield "At some speeds the voltage was not read: taken as the test voltage there."


def _about_doubt(told: Told, figures: Sequence[Figure], accept: Accept) -> Iterator[str]:
    bare = [figure.shaft_rpm for figure in figures if figure.budget is None]
    if bare:
        places = "" if len(bare) == len(figures) else f" at {rpm_list(bare)}"
        yield f"No uncertainty is known{places}: judged as read, and no chance can be given."
    elif accept.decision == "simple":
        yield "Judged as read: doubt was not counted, as the rule says."
    sure = [figure.shaft_rpm for figure in figures if figure.budget and figure.budget.u == 0.0]
    if sure:
        yield f"An uncertainty of 0 A at {rpm_list(sure)} is taken as given; no meter is so good."
    missing = dict.fromkeys(
        word for figure in figures if figure.budget for word in figure.budget.missing
    )
    if missing:
        yield f"Not known, so not in the doubt: {', '.join(missing)}."
    unsettled = [figure.shaft_rpm for figure in figures if figure.settled == "no"]
    if unsettled:
        yield f"Not settled when time was up, doubt widened: {rpm_list(unsettled)}."


def _about_unsteady(circumstances: Circumstances) -> Iterator[str]:
    if circumstances.unsteady_rpm:
        yield f"Unsteady, the current came and went: {rpm_list(circumstances.unsteady_rpm)}."


def _about_widths(told: Told) -> Iterator[str]:
    """The sentence tells how far from the limit decides; beside a reading stands its 95 % bar."""
    weighed = [r for r in told.results if r.outcome == "undecided" and r.u_amps]
    if told.bar.guarded and any(r.why in ("doubt", "not settled") for r in weighed):
        yield (
            f"± in the sentence: what the decision needs, {told.bar.pass_z:.2f} times the standard "
            f"uncertainty to pass and {told.bar.fail_z:.2f} times to fail; beside a reading: "
            f"{HALF_WIDTH_K:g} times."
        )


def _about_speeds(told: Told, figures: Sequence[Figure]) -> Iterator[str]:
    for figure in figures:
        if not figure.slope_known and figure.moved_rpm > SAME_SPEED_RPM:
            read_at = rpm_list(figure.measured_rpm)
            yield (
                f"The {figure.shaft_rpm:.0f} rpm reading was taken at {read_at}, and how the "
                "current rises there is not known: it stands as read."
            )
    if told.at == "measured speeds":
        yield from _about_span(told, figures)


def _about_span(told: Told, figures: Sequence[Figure]) -> Iterator[str]:
    first, last = told.rated.points[0][0], told.rated.points[-1][0]
    outside = [r.shaft_rpm for r in told.results if r.why == "outside"]
    if outside:
        yield f"Outside the rated speeds, not judged: {rpm_list(outside)}."
    speeds = [figure.shaft_rpm for figure in figures]
    if speeds and min(speeds) > first * 1.02:
        yield (
            f"Nothing was judged from {first:.0f} to {min(speeds):.0f} rpm: "
            "an open diode shows only at low speed."
        )
    if speeds and max(speeds) < last * 0.98:
        yield f"Nothing was judged from {max(speeds):.0f} to {last:.0f} rpm."


def _about_limits(
    told: Told, figures: Sequence[Figure], lenient: float | None, accept: Accept
) -> Iterator[str]:
    if told.rated.derived:
        yield "The rated curve is derived from the marking: judged at its speeds only."
    if told.at == "measured speeds" and figures:
        share = "by how much cannot be told from so few rated speeds"
        if lenient is not None:
            share = f"here by up to about {lenient:.1f} A"
        yield (
            "Between rated speeds the limit is a straight line, which is too lenient where the "
            f"true curve bends above it: {share}."
        )
    elif accept.at == "measured speeds":
        yield "The rule asks for measured speeds; a derived curve has limits at its own only."
    nothing = [r.shaft_rpm for r in told.results if r.limit_amps is not None and r.limit_amps <= 0]
    if nothing:
        yield f"At {rpm_list(nothing)} the rule allows no current at all: any unit passes there."


def _about_checks(told: Told) -> Iterator[str]:
    undone = [check.name for check in told.checks if check.outcome == "not done"]
    if undone:
        yield f"Not done: {', '.join(undone)}."
