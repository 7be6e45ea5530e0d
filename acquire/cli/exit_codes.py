"""The exit codes of every command."""

from __future__ import annotations

from enum import IntEnum


class Exit(IntEnum):
    """What a caller may rely on."""

    OK = 0
    """Passed, done, or not judged because no rating was given."""
    FAIL = 1
    """The unit, a seal, a replay that differs, a readiness item."""
    USAGE = 2
    """Usage, a bad file, cautions not confirmed, resuming a complete run."""
    UNDECIDED = 3
    STOPPED = 4
    """Stopped by the operator, a guard, or a lost instrument after the drive was told to run."""
    NOT_USABLE = 5
    """An instrument or port is not usable before that."""


def exit_for(outcome: str) -> Exit:
    """The exit code of a verdict."""
    return {
        "pass": Exit.OK,
        "not judged": Exit.OK,
        "fail": Exit.FAIL,
        "undecided": Exit.UNDECIDED,
        "stopped": Exit.STOPPED,
    }[outcome]
