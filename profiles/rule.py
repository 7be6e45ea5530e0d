"""The acceptance rule: how far below rated is still accepted, and how doubt is treated."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from profiles.table import Fault, NotNegative, ProfileFile, Table, Words

Decision = Literal["guarded", "simple"]


class Accept(Table):
    """The table [accept]. Of several limits the strictest counts."""

    below_percent: Annotated[float, Field(ge=0, lt=100)] | None = None
    below_amps: NotNegative | None = None
    at_least_percent: Annotated[float, Field(gt=0, le=150)] | None = None
    on_or_above: bool | None = None
    decision: Decision = "guarded"
    """guarded: doubt counts against passing; simple: as read (JCGM 106:2012, 8.2, 8.3)."""
    confidence: Annotated[float, Field(ge=0.5, lt=1.0)] = 0.95
    at: Literal["rated speeds", "measured speeds"] = "rated speeds"

    def faults(self) -> Iterator[Fault]:
        """At least one limit must be stated: nothing is accepted by default."""
        limits = (self.below_percent, self.below_amps, self.at_least_percent)
        if all(limit is None for limit in limits) and not self.on_or_above:
            yield Fault(
                "",
                "states no limit.",
                "Add below_percent, below_amps, at_least_percent, or on_or_above = true.",
                ("below_percent", "below_amps", "at_least_percent", "on_or_above"),
            )


class Rule(ProfileFile):
    """A file of the folder `rules`."""

    accept: Accept = Field(description="the table [accept], such as below_percent = 10")
    source: Words | None = None
