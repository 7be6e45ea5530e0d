"""The big figures of the sweep: value, state in words and sign, and never an old one as if live."""

from __future__ import annotations

from dataclasses import dataclass

from acquire.freshness import EVERY_S, fresh_s
from acquire.sentences import channel_state
from acquire.settle.looks import HoldLook
from drivers.readings import Reading
from profiles.channels import CHANNELS

SHORT = {
    "shaft_rpm": "shaft speed",
    "amps": "output current",
    "volts": "output voltage",
    "case_c": "case",
    "engine_rpm": "engine speed",
    "ambient_c": "ambient",
}
SIDE = ("battery_volts", "field_amps", "field_volts", "ripple_volts", "drive_rpm", "engine_rpm",
        "w_hz", "ambient_c", "torque_nm")  # fmt: skip
"""Channels shown small, where there is room."""


@dataclass(frozen=True, slots=True)
class Figure:
    """One value to be read from two metres."""

    channel: str
    words: str
    text: str | None
    """None: there is no value that could be shown as live."""
    unit_of_measure: str
    sign: str
    state: str

    @property
    def live(self) -> bool:
        """True when the value may be shown as live."""
        return self.text is not None


def figure_of(
    channel: str,
    reading: Reading | None,
    *,
    now_s: float,
    look: HoldLook | None,
    every_s: float = EVERY_S,
    scale: float = 1.0,
    less: float = 0.0,
    limit_near: bool = False,
) -> Figure:
    """A figure from the latest reading; `scale` and `less` turn it into what a result would use."""
    kind = CHANNELS[channel]
    words = SHORT.get(channel, kind.words)
    empty = Figure(channel, words, None, kind.unit_of_measure, "!", "no reading yet")
    if reading is None:
        return empty
    age_s = now_s - reading.t_s
    if not reading.usable or reading.value is None:
        return _with_state(empty, "!", f"{reading.quality.value}")
    if age_s > fresh_s(every_s):
        return _with_state(empty, "!", f"stale {age_s:.0f} s")
    text = f"{reading.value * scale - less:.{kind.decimals}f}"
    sign, state = ("!", "near its limit") if limit_near else state_words(look, channel)
    return Figure(channel, words, _no_minus_zero(text), kind.unit_of_measure, sign, state)


def _with_state(figure: Figure, sign: str, state: str) -> Figure:
    return Figure(
        figure.channel, figure.words, None, figure.unit_of_measure, sign, state
    )  # fmt: skip


def _no_minus_zero(text: str) -> str:
    return text[1:] if text.startswith("-") and not text.strip("-0.") else text


def state_words(look: HoldLook | None, channel: str) -> tuple[str, str]:
    """Sign and words, as in `^ rising 0.3`."""
    word, sign = channel_state(look, channel)
    if look is not None and word in ("rising", "falling"):
        drift = abs(look.channels[channel].drift)
        decimals = max(CHANNELS[channel].decimals, 1)
        return sign, f"{word} {drift:.{decimals}f}"
    return sign, word
