"""Readings that the operator types."""

from __future__ import annotations

from drivers.channel_value import channel_value
from drivers.clock import Clock
from drivers.errors import CommandRefused
from drivers.readings import Reading
from profiles.instrument import HandChannel


class Hand:
    """The channels of a rig that are typed in."""

    def __init__(self, channels: dict[str, HandChannel], clock: Clock) -> None:
        self._channels = channels
        self._clock = clock

    @property
    def channels(self) -> tuple[str, ...]:
        """Names of the channels that are typed in."""
        return tuple(self._channels)

    def reading(self, channel: str, shown: float) -> Reading:
        """The reading for what the operator reads off an instrument.

        Raises:
            CommandRefused: This channel is not typed in on this rig.
            BadAnswer: The value is not plausible, as the rig file has it.
        """
        described = self._channels.get(channel)
        if described is None:
            raise CommandRefused(
                channel,
                "this channel is read by an instrument, not typed in.",
                what_to_do='To type it, give the channel driver = "hand" in the rig file.',
            )
        value = channel_value(channel, described, shown, f"{shown:g}".encode())
        return Reading(channel, self._clock.monotonic_s(), value)
