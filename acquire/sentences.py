"""What is happening, in one sentence: the same words in plain output, screens and journal."""

from __future__ import annotations

import math

from acquire.settle.looks import ChannelLook, HoldLook
from acquire.sweep.bank_load import BankLoaded
from acquire.sweep.checking import Checking
from acquire.sweep.holding import Holding
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


def now_doing(sweep: Sweep, t_s: float) -> str:
    """The top line: what happens, what is waited for, how long about."""
    phase = sweep.phase
    match phase:
        case Turning():
            return f"Turning to {phase.shaft_rpm:.0f} rpm."
        case Checking():
            return _checking(phase, t_s)
        case Warming():
            return _warming(phase, t_s)
        case Holding():
            return holding_sentence(phase.step.set_rpm, phase.look)
        case BankLoaded():
            return _bank(phase)
        case _:
            return _PLAIN.get(phase.name, "")


_PLAIN = {
    "waiting": "Waiting for the first readings.",
    "zeroing": "Reading the zero of the current sensor; nothing turns yet.",
    "loading": "Connecting the load.",
    "throttle": "Waiting for the speed to be set and held.",
}


def _checking(phase: Checking, t_s: float) -> str:
    held = f"Held at {phase.check.set_rpm:.0f} rpm for the check: {phase.check.name}."
    left_s = phase.due_s - t_s
    return f"{held} {_duration(left_s)} left." if 0.0 < left_s < math.inf else held


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


def holding_sentence(set_rpm: float, look: HoldLook | None) -> str:
    """As in `Holding at 2000 rpm. Output current still rises 0.3 A in 10 s; about 6 s more.`"""
    start = f"Holding at {set_rpm:.0f} rpm."
    if look is None:
        return f"{start} Collecting the first readings."
    if look.taken in ("yes", "predicted"):
        return f"{start} {_TAKEN[look.taken]}"
    channel = look.channels.get(look.waiting_for)
    told = look.about_s is not None and look.about_s >= 0.5
    more = f"; about {_duration(look.about_s or 0.0)} more" if told else ""
    if channel is None:
        return f"{start} Nearly there{more}."
    return f"{start} {_why_waiting(look.waiting_for, channel)}{more}."


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
            return f"{words} has too few readings yet"
        case _:
            return f"{words} looks still; making sure"


def _duration(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 90 else f"{seconds / 60:.0f} min"


def channel_state(look: HoldLook | None, name: str) -> tuple[str, str]:
    """(state word, sign) of a channel for the screen."""
    if look is None or name not in look.channels:
        return "", ""
    state = look.channels[name].state
    return state, SIGNS[state]
