"""From what an instrument said to a value in the channel's own unit of measure."""

from __future__ import annotations

import math

from drivers.errors import BadAnswer, visible
from profiles.instrument import Channel


def channel_value(name: str, channel: Channel, raw_value: float, raw: bytes) -> float:
    """The channel's value in its unit of measure; `raw` are the bytes it came in.

    Raises:
        BadAnswer: The value is outside what the rig file calls plausible, or not finite.
    """
    return plausible_value(name, channel, channel.value_of(name, raw_value), raw)


def plausible_value(name: str, channel: Channel, value: float, raw: bytes) -> float:
    """`value` itself, in the channel's own unit of measure; `raw` are the bytes it came of.

    Raises:
        BadAnswer: As for `channel_value`.
    """
    low, high = channel.plausible or (-math.inf, math.inf)
    if not low <= value <= high or not math.isfinite(value):
        raise BadAnswer(
            name,
            f"{value:g} is not plausible ({low:g} to {high:g}); it came as {visible(raw)}.",
            raw,
            what_to_do="Check scale, offset and plausible in the rig file, and the wiring.",
        )
    return value
