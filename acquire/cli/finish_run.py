"""Going on with a run that has every speed measured: judged and sealed, the rig untouched."""

from __future__ import annotations

from acquire.asked_checks import asked
from acquire.cli.answers import Answers
from acquire.cli.check_questions import ask_all, left_to_ask
from acquire.cli.plain_run import exit_of, tell_end
from acquire.cli.voice import Voice
from acquire.ending import NothingLeft
from acquire.record.signing import workshop_key
from acquire.resuming import NOTHING_LEFT_WORDS, Interrupted


def finish_run(voice: Voice, going_on: Interrupted, *, confirmed: bool) -> int:
    """Judge and seal; `confirmed`: nobody is asked the checks that come after a sweep.

    Raises:
        RunFileError: If the run is complete, being written elsewhere, or damaged.
    """
    voice.talk(NOTHING_LEFT_WORDS)
    with NothingLeft(going_on, key=workshop_key()) as run:
        checks = left_to_ask(asked(run.order.method.profile, "after"), going_on.answers)
        if checks and not confirmed:
            voice.talk("Checks after the sweep, at standstill:")
            for name, answer in ask_all(voice, Answers(), checks).items():
                run.answer(name, answer)
        end = run.end()
    tell_end(voice, going_on.order, end)
    return exit_of(end)
