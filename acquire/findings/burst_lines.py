"""From the last burst of a step's hold to the ripple lines in the journal, or why there are none.

The lines need the EMF frequency: read at W, or the shaft speed times the pole pairs of the unit.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from acquire.findings.seen import RIPPLE_LINES
from acquire.settle.looks import HoldLook
from acquire.sweep.commands import StepTaken

NOT_TOLD = "ripple lines not told"
CHANNEL = "ripple_volts"
"""The channel whose bursts are looked at."""
TURNING_HZ = 1.0
"""A W terminal that gives less than this stands still, or is not connected [Hz]."""
NO_FREQUENCY = (
    "nobody says the number of pole pairs: give alternator.pole_pairs in the rated curve, or read"
    " w_hz"
)


@dataclass(frozen=True, slots=True)
class BurstSeen:
    """A burst of samples, with its time in the run."""

    t_s: float
    sample_s: float
    samples: Sequence[float]


@dataclass(frozen=True, slots=True)
class Note:
    """An entry for the journal; `words` are for the operator, "" when they were said before."""

    kind: str
    data: Mapping[str, object]
    words: str = ""


class BurstLines:
    """The lines of one run's bursts, step by step; says each reason why not once."""

    def __init__(self, pole_pairs: int | None, *, fresh_s: float) -> None:
        """`fresh_s`: a burst older than this when the point is taken says nothing of it [s]."""
        self._pole_pairs = pole_pairs
        self._fresh_s = fresh_s
        self._said: set[str] = set()

    def of(self, step: StepTaken, burst: BurstSeen | None, *, now_s: float) -> Note | None:
        """What the journal keeps of a burst at a step just taken; None where there was none."""
        if burst is None or step.look is None:
            return None
        if now_s - burst.t_s > min(step.settle_s, self._fresh_s):
            return None
        emf_hz = self._emf_hz(step.look)
        if emf_hz is None:
            return self._not_told(step, "poles", NO_FREQUENCY)
        return self._lines(step, burst, emf_hz)

    def _lines(self, step: StepTaken, burst: BurstSeen, emf_hz: float) -> Note:
        from acquire.findings.ripple_lines import CannotResolve, lines_of

        try:
            lines = lines_of(burst.samples, samples_per_s=1.0 / burst.sample_s, emf_hz=emf_hz)
        except CannotResolve as error:
            return self._not_told(step, error.kind, str(error))
        data = {
            "step": step.step,
            "lines": {str(line): amplitude for line, amplitude in lines.items()},
            "emf_hz": emf_hz,
            "samples": len(burst.samples),
            "sample_s": burst.sample_s,
        }
        return Note(RIPPLE_LINES, data)

    def _emf_hz(self, look: HoldLook) -> float | None:
        """What W gives, else speed times pole pairs [Hz]; None where neither is known."""
        at_w, shaft = look.channels.get("w_hz"), look.channels.get("shaft_rpm")
        if at_w is not None and at_w.mean > TURNING_HZ:
            return at_w.mean
        if shaft is None or self._pole_pairs is None:
            return None
        return self._pole_pairs * shaft.mean / 60.0

    def _not_told(self, step: StepTaken, kind: str, why: str) -> Note:
        words = "" if kind in self._said else f"The lines of the ripple cannot be told: {why}."
        self._said.add(kind)
        return Note(NOT_TOLD, {"step": step.step, "why": why}, words)
