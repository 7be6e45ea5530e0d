"""Repeatability and reproducibility of the bench, speed by speed, beside what the runs state."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from acquire.errors import OrderError
from acquire.study.anova import Anova, anova, scatters_more_than
from acquire.study.repeated_runs import NOT_SAID, RepeatedRun, cautions

Honest = Literal["yes", "too small", "larger than needed", "cannot tell"]

RISK = 0.05
"""Chance of a false alarm over all speeds together (shared out evenly: Bonferroni)."""
WORDS = {
    "yes": "as stated",
    "too small": "more than stated !",
    "larger than needed": "less than stated",
    "cannot tell": "cannot tell",
}


@dataclass(frozen=True, slots=True)
class SpeedStudy:
    """What the runs show at one set speed; currents in A."""

    set_rpm: float
    anova: Anova
    stated_u: float | None
    """Root mean square of the standard uncertainties stated, all parts."""
    compared_u: float | None
    """The part of it that the spread of these runs can show."""
    spread: float | None
    """Standard deviation that is compared: s_R, or s_r where there is one group."""
    dof: float | None
    honest: Honest

    def as_json(self) -> dict[str, Any]:
        """The figures, currents in A."""
        found = self.anova
        return {
            "set_rpm": self.set_rpm,
            "runs": found.results,
            "groups": found.groups,
            "mean_amps": found.mean,
            "repeatability_amps": found.repeatability,
            "between_groups_amps": found.between,
            "reproducibility_amps": found.reproducibility,
            "dof_within": found.dof_within,
            "dof_between": found.dof_between,
            "dof_reproducibility": found.dof_reproducibility,
            "f": found.f,
            "p": found.p,
            "stated_u_amps": self.stated_u,
            "compared_u_amps": self.compared_u,
            "stated_u_is": self.honest,
        }


@dataclass(frozen=True, slots=True)
class BenchStudy:
    """The whole study."""

    by: str
    runs: tuple[RepeatedRun, ...]
    speeds: tuple[SpeedStudy, ...]
    cautions: tuple[str, ...]

    @property
    def groups(self) -> dict[str, int]:
        """How many runs each operator, day or rig has."""
        names = [run.group(self.by) for run in self.runs]
        return {name: names.count(name) for name in sorted(set(names))}

    def as_json(self) -> dict[str, Any]:
        """The document of `rig study`."""
        return {
            "by": self.by,
            "unit": next((run.unit for run in self.runs if run.unit), None),
            "groups": self.groups,
            "runs": [run.run_id for run in self.runs],
            "speeds": [speed.as_json() for speed in self.speeds],
            "words": words(self),
            "cautions": list(self.cautions),
        }


def study(runs: Sequence[RepeatedRun], by: str) -> BenchStudy:
    """Study the runs by `operator`, `day` or `rig`.

    Raises:
        OrderError: If no speed was run at least twice.
    """
    speeds = sorted({rpm for run in runs for rpm in run.readings})
    often = [rpm for rpm in speeds if sum(rpm in run.readings for run in runs) >= 2]
    if not often:
        raise OrderError(
            "No set speed stands in two of these runs.",
            what_to_do="Repeat the unit at the same speeds (the same method, or --steps).",
        )
    studied = tuple(_speed(runs, rpm, by, risk=RISK / len(often)) for rpm in often)
    said = [*cautions(runs), *_grouping(runs, by)]
    once = [f"{rpm:.0f}" for rpm in speeds if rpm not in often]
    if once:
        said.append(f"Run only once, so left out: {', '.join(once)} rpm.")
    return BenchStudy(by, tuple(runs), studied, tuple(said))


def _grouping(runs: Sequence[RepeatedRun], by: str) -> list[str]:
    said = []
    groups = {run.group(by) for run in runs}
    if NOT_SAID in groups:
        said.append(f"Some runs do not say their {by}; they are taken as a group of their own.")
    if len(groups) == 1:
        said.append(f"All of one {by}: nothing can be said of what another {by} would get.")
    if by != "rig" and len({run.rig for run in runs}) > 1:
        said.append("Read on several rigs: their instruments differ too; see --by rig.")
    elif len({run.instruments for run in runs}) > 1:
        said.append("The instruments, or how they were set up, changed between these runs.")
    return said


def _speed(runs: Sequence[RepeatedRun], rpm: float, by: str, *, risk: float) -> SpeedStudy:
    groups: dict[str, list[float]] = {}
    there = [run for run in runs if rpm in run.readings]
    for run in there:
        groups.setdefault(run.group(by), []).append(run.readings[rpm].amps)
    found = anova(list(groups.values()))
    spread, dof = _spread(found)
    readings = [run.readings[rpm] for run in there]
    stated = _root_mean_square([one.u_amps for one in readings])
    one_bench = len({(run.rig, run.instruments) for run in there}) == 1
    compared = _root_mean_square([one.u_run_to_run for one in readings]) if one_bench else stated
    partial = one_bench and compared is not None
    compared = stated if compared is None else compared
    honest = _honest(spread, dof, compared, risk=risk, both_ways=partial or not one_bench)
    return SpeedStudy(rpm, found, stated, compared, spread, dof, honest)


def _spread(found: Anova) -> tuple[float | None, float | None]:
    """The standard deviation of a run of anybody, with its degrees of freedom."""
    if found.reproducibility is not None:
        return found.reproducibility, found.dof_reproducibility
    if found.repeatability is not None:
        return found.repeatability, float(found.dof_within)
    if found.between_square is not None:  # each group ran once: all that varies is in one figure
        return math.sqrt(found.between_square), float(found.dof_between)
    return None, None


def _root_mean_square(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    if not known or len(known) < len(values):
        return None
    return math.sqrt(math.fsum(value * value for value in known) / len(known))


def _honest(
    spread: float | None, dof: float | None, stated: float | None, *, risk: float, both_ways: bool
) -> Honest:
    """Whether the spread is what is stated; too little of it tells only where like meets like."""
    if spread is None or not dof or not stated:
        return "cannot tell"
    chance = scatters_more_than(spread, stated, dof)
    if chance < risk:
        return "too small"
    if both_ways and 1.0 - chance < risk:
        return "larger than needed"
    return "yes"


def smallest_shown(speed: SpeedStudy, risk: float = RISK) -> float | None:
    """The factor over the stated doubt at which this study would tell a spread; None if never."""
    if not speed.dof:
        return None
    from scipy.special import chdtri

    return math.sqrt(float(chdtri(speed.dof, risk)) / speed.dof)


def words(found: BenchStudy) -> str:
    """The answer in a sentence or two: who differs, and is the stated doubt honest?"""
    return f"{_who_differs(found)} {_is_it_honest(found)}"


def _who_differs(found: BenchStudy) -> str:
    if len(found.groups) < 2:
        return "One group only: this is repeatability, not reproducibility."
    tested = [speed for speed in found.speeds if speed.anova.p is not None]
    if not tested:
        return f"Each {found.by} ran once: repeatability cannot be told from the rest; run twice."
    apart = [s for s in tested if (s.anova.p or 0.0) < RISK / len(tested)]
    if not apart:
        return f"No {found.by} gets other figures than the rest, as far as these runs show."
    at = ", ".join(f"{speed.set_rpm:.0f}" for speed in apart)
    return f"The figures depend on the {found.by}, at {at} rpm: find out what is done differently."


def _is_it_honest(found: BenchStudy) -> str:
    told = [speed for speed in found.speeds if speed.honest != "cannot tell"]
    if not told:
        return "The stated uncertainty cannot be checked with these runs."
    small = [f"{s.set_rpm:.0f}" for s in told if s.honest == "too small"]
    if small:
        return (
            f"The runs scatter more than they state at {', '.join(small)} rpm: the stated"
            " uncertainty is too small there, or the unit itself changed from run to run."
        )
    shown = max(smallest_shown(s, RISK / len(found.speeds)) or 0.0 for s in told)
    honest = (
        "The stated uncertainty is honest as far as these runs show: a spread of"
        f" {shown:.1f} times as much would have stood out."
    )
    large = ", ".join(f"{s.set_rpm:.0f}" for s in told if s.honest == "larger than needed")
    if not large:
        return honest
    return (
        f"{honest} At {large} rpm they scatter less than they state: the figure is a careful one,"
        " or part of it is an error alike in all of these runs, which repeating cannot show."
    )


def lines(found: BenchStudy) -> list[str]:
    """The study as a table, with what it means."""
    unit = next((run.unit for run in found.runs if run.unit), NOT_SAID)
    groups = ", ".join(f"{name} {count}" for name, count in found.groups.items())
    table = [
        f"Unit {unit}: {len(found.runs)} runs by {found.by} ({groups})",
        "",
        "   speed  runs     mean   s_r   s_L   s_R  stated u   (compared u)      F      p",
        *map(_row, found.speeds),
        "",
        "s_r: one and the same " + found.by + " repeats; s_L: from one to another; s_R: both (A).",
        "Stated u: the doubt (one standard uncertainty, A) that the runs themselves state. It holds"
        " the instruments' constant error too, which repeats with the same instruments cannot show:"
        " the scatter is compared with the figure in brackets, which leaves that error out where"
        " all runs had the same instruments.",
        f"F: how far one {found.by} is from another, against how far repeats of one lie apart. p:"
        f" how often chance alone gives so large an F. A small p (below {RISK:g}, shared among the"
        f" speeds) says that the {found.by} makes a difference.",
        "",
        words(found),
    ]
    return [*table, *(f"  ! {caution}" for caution in found.cautions)]


def _row(speed: SpeedStudy) -> str:
    found = speed.anova
    cells = [
        f"{speed.set_rpm:8.0f} {found.results:5d} {found.mean:8.2f}",
        *(_amps(value, 5) for value in (found.repeatability, found.between, found.reproducibility)),
        _amps(speed.stated_u, 9),
        _amps(speed.compared_u, 13),
        _amps(found.f, 6),
        "     -" if found.p is None else f"{found.p:6.3f}",
        WORDS[speed.honest],
    ]
    return " ".join(cells)


def _amps(value: float | None, width: int) -> str:
    return "-".rjust(width) if value is None else f"{value:{width}.2f}"
