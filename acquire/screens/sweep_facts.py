"""All that the sweep page shows, as plain values: taken from the bench, or made up by a test."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from acquire.screens.curve_chart import CurvePicture
from acquire.screens.figures_facts import Figure

StepState = Literal["done", "now", "to do", "nothing"]


@dataclass(frozen=True, slots=True)
class StepLine:
    """One row of the step table."""

    set_rpm: float
    state: StepState
    amps: float | None = None
    half: float | None = None
    allowed: float | None = None
    rated: float | None = None
    before: float | None = None
    """What the earlier run of this unit gave here [A]."""
    volts: float | None = None
    case_c: float | None = None
    settle_s: float | None = None
    word: str = ""
    sign: str = ""


@dataclass(frozen=True, slots=True)
class Margin:
    """How much of a limit is used."""

    words: str
    value: str
    limit: str
    used: float
    """0 to 1; above 1 the guard has tripped."""
    live: bool = True
    """False: it is not known now."""


@dataclass(frozen=True, slots=True)
class Typing:
    """A question put to the operator, and what is typed so far."""

    question: str
    unit_of_measure: str
    typed: str = ""
    complaint: str = ""
    hint: str = ""
    takes_letters: bool = False
    """True where letters belong to the answer: no key of the page but the stop acts meanwhile."""


KEEP_CLEAR = "Keep clear until the shaft stands still. Do not open the battery or the load circuit."
KEEP_BATTERY = "Keep clear until the shaft stands still. Leave the battery connected until then."
"""Where hands have a load to open."""


@dataclass(frozen=True, slots=True)
class SweepFacts:
    """One look at a run."""

    sentence: str
    advice: str = ""
    """A second sentence: what the operator may do, or what is wrong."""
    title: str = ""
    figures: tuple[Figure, ...] = ()
    side: tuple[Figure, ...] = ()
    hands: str = ""
    hands_detail: str = ""
    typing: Typing | None = None
    load: str = ""
    """As in `load on 6 s`."""
    load_pressing: bool = False
    steps: tuple[StepLine, ...] = ()
    picture: CurvePicture | None = None
    margins: tuple[Margin, ...] = ()
    progress: str = ""
    notes: tuple[str, ...] = ()
    """What the run has had to say so far, the newest last."""
    simulated: bool = False
    stopping: tuple[tuple[str, bool], ...] = field(default_factory=tuple)
    """What the stop path did so far, and whether it worked."""
    is_stopping: bool = False
    keep_clear: str = KEEP_CLEAR
    """What not to do while it comes to rest."""
    can_hold: bool = True
    warming: bool = False
