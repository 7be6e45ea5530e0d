"""A bench that did not come to rest when it was told to: the next unit must not find it so."""

from __future__ import annotations

from acquire.findings.case import Case
from acquire.findings.finding import Finding

DID_NOT_STOP = "The bench did not stop by itself at the end"


def bench_did_not_stop(case: Case) -> list[Finding]:
    """What went wrong while the rig was brought to rest at the end of the run."""
    if not case.seen.not_stopped:
        return []
    return [
        Finding(
            name="bench did not stop",
            words=f"{DID_NOT_STOP}: the emergency stop was called for.",
            evidence=tuple(case.seen.not_stopped.values()),
            sure="certain",
            rests_on="what was read while the bench was brought to rest",
            what_would_settle="Without a unit on the bench, see the drive stop when the program"
            " tells it to, and by its emergency stop.",
            caution="Mount no other unit before the drive stops when it is told to.",
            about="rig",
        )
    ]
