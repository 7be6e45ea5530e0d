"""What a port counted since it was opened first."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(slots=True)
class PortStatistics:
    """Counters of one port; only its thread adds to them."""

    sent: int = 0
    """Messages written."""
    received: int = 0
    """Answers or lines understood."""
    timeouts: int = 0
    bad: int = 0
    """Answers or lines that could not be understood."""
    overloads: int = 0
    refused: int = 0
    late: int = 0
    """Answers that came after their time and were thrown away."""
    proofs: int = 0
    """Times that question and answer had to be proved in step again."""
    skipped: int = 0
    """Polls left out because the one before took too long; never caught up in a burst."""
    dropped: int = 0
    """Commands that were not sent: too old, the link lost, or overtaken by a stop."""
    reopened: int = 0
    faults: int = 0
    """Faults of our own in a driver, caught and reported."""
