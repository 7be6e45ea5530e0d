"""How much a speed has to spare above what is allowed: the least of them decides a verdict."""

from __future__ import annotations

from typing import Protocol

SURE = 1e-6
"""A reading without a known doubt is taken as good to this share of its limit: of two such the one
nearer to its limit has less to spare, and beside one with a doubt it counts as certain."""


class AgainstLimit(Protocol):
    """A judged speed, as a verdict or a record has it; currents in amperes."""

    @property
    def amps(self) -> float | None: ...

    @property
    def u_amps(self) -> float | None: ...

    @property
    def limit_amps(self) -> float | None: ...

    @property
    def hot_amps(self) -> float | None:
        """What is left after the hot loss, where a cold run meets a warm rating."""
        ...

    @property
    def u_hot_amps(self) -> float | None: ...


def to_spare(row: AgainstLimit) -> float:
    """The margin as a number of standard uncertainties; of what is left warm where that decides."""
    cold = row.hot_amps is None
    amps, u_amps = (row.amps, row.u_amps) if cold else (row.hot_amps, row.u_hot_amps)
    limit_amps = row.limit_amps or 0.0
    margin = (amps or 0.0) - limit_amps
    return margin / (u_amps or SURE * max(abs(limit_amps), 1.0))
