"""What is said while a rig comes to rest and after it, on screens and in plain lines.

Nothing is called at rest that was not seen to stand still.
"""

from __future__ import annotations

from acquire.stop_path import EMERGENCY, OPEN_PILE, TO_IDLE, StopReport


def stopping_sentence(report: StopReport) -> str:
    """The top line while it is brought to rest: what must be pressed goes before the reason."""
    if report.hands == EMERGENCY:
        return f"PRESS THE EMERGENCY STOP. {_turns_on(report)} {_stopping(report)}"
    if report.reason.kind == "complete":
        return "All speeds are measured; the rig is brought to rest."
    return _stopping(report)


def _stopping(report: StopReport) -> str:
    return f"Stopping: {report.reason.words}"


def _turns_on(report: StopReport) -> str:
    if report.last_rpm is None:
        return "The drive does not say that it stops, and the shaft speed is not seen."
    return f"The shaft does not come to rest: {report.last_rpm:.0f} rpm."


def rest_sentence(report: StopReport) -> str:
    """How it ended: at rest, or what is left to do and to keep clear of."""
    if report.stands:
        return "The rig is at rest."
    seen = "the shaft speed is not read."
    if report.last_rpm is not None:
        seen = f"the shaft was last seen at {report.last_rpm:.0f} rpm."
    if report.hands == EMERGENCY:
        return f"PRESS THE EMERGENCY STOP: {seen} Keep clear until it stands still."
    if report.hands == TO_IDLE:
        return f"Bring it to idle: {seen} Keep clear until it stands still."
    if report.hands == OPEN_PILE:
        return f"OPEN THE PILE: it was not seen to be opened, and {seen}"
    return f"Keep clear until it stands still: {seen}"


def left_to_do(report: StopReport, *, stopped: bool) -> tuple[str, str]:
    """What hands must do once all is over: in large words, and in a sentence; empty at rest.

    Who ended a test by hand (not `stopped`) is not shouted at to bring the engine down.
    """
    if report.stands:
        return "", ""
    loud = stopped or report.hands != TO_IDLE
    return report.hands if loud else "", rest_sentence(report)
