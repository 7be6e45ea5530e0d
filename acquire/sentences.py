"""What is happening, in one sentence: the same words in plain output, screens and journal."""

from __future__ import annotations

import math
from dataclasses import replace

from acquire.settle.looks import ChannelLook, HoldLook
from acquire.sweep.bank_load import BankLoaded
from acquire.sweep.checking import Checking
from acquire.sweep.feeding import Feeding
from acquire.sweep.hand_load import LIGHT_AT_MOST_S, HandLoaded
from acquire.sweep.holding import Holding
from acquire.sweep.standstill import Zeroing
from acquire.sweep.sweep import Sweep
from acquire.sweep.turning import Turning
from acquire.sweep.warming import Warming
from profiles.channels import CHANNELS

SIGNS = {
    "still": "=",
    "rising": "^",
    "falling": "v",
    "hunting": "~",
    "noisy": "~",
    "waiting": ".",
    "stale": "!",
    "limit": "!",
}
"""The sign that goes with each state word: never a word or a colour alone."""


ANSWERS_S = 1.0
"""A drive follows its set speed within about a second [s] (common practice, no source)."""


def now_doing(sweep: Sweep, t_s: float) -> str:
    """The top line: what happens, what is waited for, how long about."""
    if sweep.finished:
        return "All is measured; the rig is brought to rest."
    phase = sweep.phase
    match phase:
        case Zeroing():
            return _ZEROING[phase.found_turning]
        case Feeding():
            start = f"The zero of the current sensor is read. Switch the {phase.feed} on"
            return f"{start}; it turns in {_seconds(max(phase.due_s - t_s, 0.0))}."
        case Turning():
            return _turning(phase)
        case Checking():
            return _checking(phase, t_s)
        case Warming():
            return _warming(phase, t_s)
        case Holding():
            longer_s = phase.not_before_s - t_s
            return holding_sentence(phase.step.set_rpm, phase.look, at_least_s=longer_s)
        case HandLoaded():
            return _hand_load(phase, t_s)
        case BankLoaded():
            return _bank(phase)
        case _:
            return _PLAIN.get(phase.name, "One moment.")


_PLAIN = {
    "waiting": "Waiting for the first readings.",
    "loading": "Connecting the load.",
    "throttle": "Waiting for the speed to be set and held.",
    "no output": "Nothing comes at two speeds: not excited, or dead?",
    "left out": "This speed is left out.",
}
_ZEROING = {
    False: "Reading the zero of the current sensor; nothing turns yet.",
    True: "The shaft turns already. It must come to rest before the zero is read.",
}


def _turning(phase: Turning) -> str:
    """The ramp takes its time; a drive answers about a second after it."""
    start = f"Turning to {phase.shaft_rpm:.0f} rpm."
    left_s = phase.ramp_left_s
    return (
        f"{start} About {_seconds(left_s + ANSWERS_S)} more."
        if left_s
        else f"{start} Nearly there."
    )


def _hand_load(phase: HandLoaded, t_s: float) -> str:
    """The operator's hands close the pile, set it, and open it again."""
    speed = f"{phase.step.set_rpm:.0f} rpm"
    volts = f"{phase.test_volts:.1f} V" if phase.test_volts is not None else "the load asked for"
    match phase.stage:
        case "light":
            return f"Running light at {speed}; the pile stays open. {_light(phase, t_s, volts)}"
        case "loading" if phase.closed:
            return f"The pile is closed at {speed}. Set it to {volts}."
        case "loading":
            return f"Ready for the load at {speed}. Close the pile and set it to {volts}."
        case "holding":
            return holding_sentence(phase.step.set_rpm, _within(phase.look, phase.due_s - t_s))
        case _:
            return f"The speed of {speed} is done. Open the pile; then it goes on."


def _within(look: HoldLook | None, left_s: float) -> HoldLook | None:
    """The look of a load that must be opened in so long: no longer wait is told [s]."""
    if look is None or look.about_s is None:
        return look
    return replace(look, about_s=min(look.about_s, max(left_s, 0.0)))


def _light(phase: HandLoaded, t_s: float, volts: str) -> str:
    left_s = phase.ready_s - t_s
    if left_s > 0.0:
        return f"About {_seconds(left_s)} more."
    at_most_s = max(left_s + LIGHT_AT_MOST_S, 0.0)
    return f"First the voltage must stand above {volts}; at most {_seconds(at_most_s)} more."


def _checking(phase: Checking, t_s: float) -> str:
    held = f"Held at {phase.check.set_rpm:.0f} rpm for the check: {phase.check.name}."
    left_s = phase.due_s - t_s
    return f"{held} {_seconds(left_s)} left." if 0.0 < left_s < math.inf else held


def _bank(phase: BankLoaded) -> str:
    """`Holding at ...` once a setting is held; before, what is closed and what it is to bring."""
    if phase.holds:
        return holding_sentence(phase.step.set_rpm, phase.look)
    closed = f"{phase.amps_closed:g} A closed, on the way to {phase.test_volts:g} V"
    return f"Switching the bank at {phase.step.set_rpm:.0f} rpm. {closed}."


def _warming(phase: Warming, t_s: float) -> str:
    left = max(phase.due_s - t_s, 0.0)
    goal = "until nothing drifts, at most" if phase.warm_up.until_steady else "still"
    return f"Warming up at {phase.warm_up.shaft_rpm:.0f} rpm, {goal} {_duration(left)} to go."


def holding_sentence(set_rpm: float, look: HoldLook | None, *, at_least_s: float = 0.0) -> str:
    """As in `Holding at 2000 rpm. Output current still rises 0.3 A in 10 s; about 6 s more.`

    `at_least_s`: the operator wants it held so much longer [s].
    """
    start = f"Holding at {set_rpm:.0f} rpm."
    longer = f"held {_seconds(at_least_s)} longer, as asked" if at_least_s > 0.0 else ""
    if look is None:
        return f"{start} Collecting the first readings{'; ' if longer else ''}{longer}."
    if look.taken in ("yes", "predicted"):
        return f"{start} All still; {longer}." if longer else f"{start} {_TAKEN[look.taken]}"
    more = longer or _about(look.about_s)
    return f"{start} {_waits(look)}{'; ' if more else ''}{more}."


def _waits(look: HoldLook) -> str:
    """The channel that is farthest from settled, and what it does."""
    channel = look.channels.get(look.waiting_for)
    if channel is not None:
        return _why_waiting(look.waiting_for, channel)
    if look.waiting_for in CHANNELS:
        return f"No reading of the {CHANNELS[look.waiting_for].words} yet"
    return "All still; making sure"


def _about(about_s: float | None) -> str:
    if about_s is None:
        return ""
    return f"about {_seconds(about_s)} more" if about_s >= 1.0 else "any moment"


_TAKEN = {"yes": "All still: point taken.", "predicted": "Known well enough: point taken."}


def _why_waiting(name: str, look: ChannelLook) -> str:
    kind = CHANNELS[name]
    words = kind.words[0].upper() + kind.words[1:]
    amount = f"{abs(look.drift):.{max(kind.decimals, 1)}f} {kind.unit_of_measure} in 10 s"
    match look.state:
        case "rising":
            return f"{words} still rises {amount}"
        case "falling":
            return f"{words} still falls {amount}"
        case "hunting":
            return f"{words} hunts up and down"
        case "noisy":
            return f"{words} is noisy; a longer look is needed"
        case "waiting":
            return f"Too early to judge the {kind.words}"
        case _:
            return f"{words} looks still; making sure"


def _duration(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 90 else f"{seconds / 60:.0f} min"


def _seconds(seconds: float) -> str:
    """Rounded up: nobody is told of no time at all."""
    return f"{math.ceil(seconds)} s"


def channel_state(look: HoldLook | None, name: str) -> tuple[str, str]:
    """(state word, sign) of a channel for the screen."""
    if look is None or name not in look.channels:
        return "", ""
    state = look.channels[name].state
    return state, SIGNS[state]
