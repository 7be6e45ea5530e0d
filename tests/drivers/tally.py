"""What the contract suite counted; printed at the end of the run."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass
class Tally:
    """Counts over all tests of this run."""

    faulty_exchanges: int = 0
    wrong_readings: int = 0


tally = Tally()
