"""How long the engine must run to put back the ampere-hours used: an estimate.

The battery, not the alternator, decides most of it. A lead-acid battery should not be charged
with more than a fifth of its capacity per hour, and its last fifth cannot be hurried: there the
current it takes falls with the charge still missing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from profiles.errors import BenchError

ACCEPTED_SHARE = 0.2
"""Charging current a flooded lead-acid battery takes well, as a share of its capacity per hour
(sailboatowners.com, "How fast can an AGM battery be charged": best under 0.25, preferably 0.2)."""
SLOW_SHARE = 0.2
"""The last fifth of the charge cannot be hurried (PowerTech Systems, "Lead acid battery
downsides")."""
DONE_SHARE = 0.02
"""Charge still missing when the battery is called full: the last of it takes for ever."""
CHARGE_FACTOR = 1.15
"""Ampere-hours to put in for one taken out (common practice, no source)."""

ASSUMPTIONS = (
    "lead-acid, full before the ampere-hours were used",
    f"takes at most {ACCEPTED_SHARE:g} of its capacity per hour",
    f"the last {SLOW_SHARE:.0%} go in ever more slowly; {1 - DONE_SHARE:.0%} counts as full",
    f"{CHARGE_FACTOR:g} Ah are put in for 1 Ah used",
    "nothing else draws on the alternator",
)


@dataclass(frozen=True, slots=True)
class ChargeTime:
    """Hours at one current: the estimate, and what the band of the current makes of it."""

    hours: float | None
    low_hours: float | None
    high_hours: float | None
    limited_by: str
    """"the battery" or "the alternator", whichever holds the current down at first."""

    def as_json(self) -> dict[str, object]:
        """The estimate with its assumptions."""
        return {
            "hours": self.hours,
            "low_hours": self.low_hours,
            "high_hours": self.high_hours,
            "limited_by": self.limited_by,
            "assumptions": list(ASSUMPTIONS),
        }


def charge_time(
    *, bank_ah: float, used_ah: float, amps: float, low_amps: float, high_amps: float
) -> ChargeTime:
    """Hours to put `used_ah` back into a bank of `bank_ah`; None where no current flows."""
    if not (bank_ah > 0 and 0 < used_ah <= bank_ah):
        raise BenchError(
            f"{used_ah:g} Ah used of a bank of {bank_ah:g} Ah cannot be.",
            what_to_do="Give --bank-ah the capacity and --used-ah what was taken out of it.",
        )
    return ChargeTime(
        hours=_hours(bank_ah, used_ah, amps),
        low_hours=_hours(bank_ah, used_ah, high_amps),
        high_hours=_hours(bank_ah, used_ah, low_amps),
        limited_by="the alternator" if amps < ACCEPTED_SHARE * bank_ah else "the battery",
    )


def _hours(bank_ah: float, used_ah: float, amps: float) -> float | None:
    """Constant current down to the knee, then a current in proportion to what is missing."""
    if amps <= 0:
        return None
    flowing = min(amps, ACCEPTED_SHARE * bank_ah)
    # What the battery takes falls below `flowing` once less than this is missing.
    knee_ah = bank_ah * SLOW_SHARE * flowing / (ACCEPTED_SHARE * bank_ah)
    done_ah = DONE_SHARE * bank_ah
    quick_ah = max(used_ah - max(knee_ah, done_ah), 0.0)
    slow_from = min(used_ah, knee_ah)
    hours_per_fold = SLOW_SHARE / ACCEPTED_SHARE
    slow = hours_per_fold * math.log(slow_from / done_ah) if slow_from > done_ah else 0.0
    return CHARGE_FACTOR * (quick_ah / flowing + slow)
