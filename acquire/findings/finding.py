"""One finding: what is wrong, by what evidence, how sure, and what to do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Sure = Literal["certain", "likely", "possible"]
About = Literal["unit", "rig", "readings"]
RANK: dict[Sure, float] = {"certain": 0.99, "likely": 0.9, "possible": 0.4}
"""Where no probability was worked out: what the word stands for when findings are put in order."""
CERTAIN, LIKELY = 0.98, 0.75
"""Probabilities from which on a finding is called so; below them it is possible."""


@dataclass(frozen=True, slots=True)
class Finding:
    """What is wrong with the unit, the rig or the readings."""

    name: str
    words: str
    """One sentence."""
    evidence: tuple[str, ...]
    """Sentences with figures."""
    sure: Sure
    rests_on: str
    """What the sureness rests on, in words."""
    what_would_settle: str
    caution: str = ""
    advice: str = ""
    """What a failed verdict says next; empty for what cannot be the cause of a fail."""
    before_warm: str = ""
    """What an undecided verdict says instead of `run it warm`: the fault forbids a long run."""
    about: About = "unit"
    probability: float | None = None
    """Chance among the causes weighed against each other; None where none was worked out."""
    accuses: bool = True
    """False for a finding that only says what these readings cannot tell."""

    put_right_first: bool = False
    """True where no reading is worth having before this is put right."""
    in_rig_file: bool = False
    """True where it is the rig file that must be mended: a run that began with it keeps it."""

    @property
    def weight(self) -> float:
        """For putting findings in order, a number without unit: the most certain first."""
        chance = RANK[self.sure] if self.probability is None else self.probability
        return chance if self.accuses else chance - 1.0

    def to_data(self) -> dict[str, object]:
        """Give the finding as plain data."""
        return {
            "name": self.name,
            "words": self.words,
            "evidence": list(self.evidence),
            "sure": self.sure,
            "probability": None if self.probability is None else round(self.probability, 3),
            "rests_on": self.rests_on,
            "what_would_settle": self.what_would_settle,
            "caution": self.caution,
            "about": self.about,
            "accuses": self.accuses,
        }


def sure_of(probability: float) -> Sure:
    """The word for a probability."""
    if probability >= CERTAIN:
        return "certain"
    return "likely" if probability >= LIKELY else "possible"
