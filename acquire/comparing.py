"""Two runs of one unit side by side: what the rebuild did, with the doubt of the difference."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from acquire.curve.compare import Comparison, compare, compared_rows
from acquire.curve.fit import CurveFit
from acquire.judge.budget import HALF_WIDTH_K
from acquire.judge.hot_loss import hot_loss
from acquire.judging import fit_of, held_volts_of, state_of, warm_up_in
from acquire.record.read_run import Run
from acquire.record.run_header import RunHeader
from acquire.rejudging import points_of_run
from acquire.shelf.search_keys import search_key
from acquire.snapshots import snapshots_of


@dataclass(frozen=True, slots=True)
class RunsCompared:
    """The comparison and both curves."""

    before: Run
    after: Run
    changes: Comparison
    before_fit: CurveFit | None
    after_fit: CurveFit | None
    same_instruments: bool

    def as_json(self) -> dict[str, Any]:
        """The document of `compare`."""
        return {
            "before": str(self.before.folder),
            "after": str(self.after.folder),
            "same_instruments": self.same_instruments,
            **self.changes.as_json(),
            "words": self.changes.words(),
            "cautions": list(self.cautions()),
            "curves": {
                "before": self.before_fit.as_json() if self.before_fit else None,
                "after": self.after_fit.as_json() if self.after_fit else None,
            },
        }

    def cautions(self) -> Iterator[str]:
        """What else than the rebuild is different between the two runs."""
        first, second = snapshots_of(self.before.header), snapshots_of(self.after.header)
        states = [
            state_of(profiles.method, warm_up_in(run.journal))
            for profiles, run in ((first, self.before), (second, self.after))
        ]
        volts = held_volts_of(first), held_volts_of(second)
        names = other_units(self.before.header, self.after.header)
        if names is not None:
            yield f"The two runs are of different units: {names[0]} and {names[1]}."
        if states[0] != states[1]:
            yield self._state_words(states[0], states[1])
        if None not in volts and volts[0] != volts[1]:
            yield (
                f"Held at different voltages, {volts[0]:g} V and {volts[1]:g} V: their currents are"
                " not the same thing."
            )

    def _state_words(self, before: str, after: str) -> str:
        losses = [100 * hot_loss(change.shaft_rpm).fraction for change in self.changes.points]
        span = f" about {min(losses):.0f} to {max(losses):.0f} % of the current" if losses else ""
        more = "more" if before == "cold" else "less"
        return (
            f"Before was tested {before}, after {after}: heat alone takes{span}, so the rebuild"
            f" gained {more} than is shown."
        )


def other_units(before: RunHeader, after: RunHeader) -> tuple[str, str] | None:
    """What the two units are called, where they are not one; a serial that was not said is `?`.

    Where neither run says a serial, by what the unit is.
    """
    names = before.serial, after.serial
    if not any(names):
        names = before.unit, after.unit
    if search_key(names[0]) == search_key(names[1]):
        return None
    return names[0] or "?", names[1] or "?"


def compare_runs(before: Run, after: Run) -> RunsCompared:
    """Compare two runs; where both were read by the same instruments common doubt cancels."""
    same = same_instruments(before, after)
    first, second = points_of_run(before), points_of_run(after)
    changes = compare(
        compared_rows(first, same_instruments=same), compared_rows(second, same_instruments=same)
    )
    return RunsCompared(before, after, changes, fit_of(first), fit_of(second), same)


def same_instruments(before: Run, after: Run) -> bool:
    """True when rig and instruments of both runs say they are the same ones."""
    if before.header.rig is None or after.header.rig is None:
        return False
    first, second = before.header.rig.values, after.header.rig.values
    same_channels = first.get("channels") == second.get("channels")
    return same_channels and _identities(before) == _identities(after)


def _identities(run: Run) -> dict[str, str | None]:
    return {name: facts.identity for name, facts in run.header.instruments.items()}


def comparison_lines(result: RunsCompared) -> list[str]:
    """The gain in words, then a row a speed."""
    lines = [result.changes.words(), "", "   speed   before    after   change"]
    for change in result.changes.points:
        u = change.u_change_amps
        doubt = f" ±{HALF_WIDTH_K * u:.1f}" if u is not None else ""
        word = {True: "changed", False: "within doubt", None: ""}[change.significant]
        lines.append(
            f"{change.shaft_rpm:8.0f} {change.before_amps:8.1f} {change.after_amps:8.1f}"
            f" {change.change_amps:+8.1f}{doubt}  {word}".rstrip()
        )
    for words, speeds in (
        ("only before", result.changes.only_before_rpm),
        ("only after", result.changes.only_after_rpm),
    ):
        if speeds:
            lines.append(f"  {words}: {', '.join(f'{rpm:.0f}' for rpm in speeds)} rpm")
    if result.same_instruments:
        lines.append("Read by the same instruments: their common error cancels.")
    else:
        lines.append("Not read by the same instruments: nothing cancels.")
    return [*lines, *(f"  ! {caution}" for caution in result.cautions())]
