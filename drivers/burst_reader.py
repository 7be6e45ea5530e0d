"""From the samples of one answer to a channel's value, its AC rms; keeps the newest burst."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from drivers.burst import HEAD, LONGEST_NUMBER, Burst, ac_rms
from drivers.channel_value import plausible_value
from drivers.errors import BadAnswer
from drivers.exchange import LONGEST_ANSWER, Exchange
from profiles.instrument import BurstChannel

ROOM = 256
"""Bytes of an answer beside its samples: a block's header, what a pattern has round the list."""


class BurstReader:
    """The bursts of one channel."""

    def __init__(self, name: str, channel: BurstChannel) -> None:
        if channel.burst_samples is None or channel.burst_sample_s is None:
            raise ValueError(f"{name} gives no bursts")
        self.count = channel.burst_samples
        self.latest: Burst | None = None
        """The newest that was a good reading; replaced as a whole."""
        self._name = name
        self._channel = channel
        self._sample_s = channel.burst_sample_s
        self._last: tuple[float, ...] = ()

    @property
    def longest(self) -> int:
        """Bytes that an answer in text may take."""
        return self.count * LONGEST_NUMBER + ROOM

    def take(self, said: Sequence[float], exchange: Exchange, raw: bytes) -> float:
        """The channel's value [V AC rms] of the samples that an instrument said.

        Raises:
            BadAnswer: The value is not plausible, or the burst is the last one over again.
        """
        samples = tuple(self._channel.value_of(self._name, sample) for sample in said)
        repeated = samples == self._last and len(set(samples)) > 1
        self._last = samples
        if repeated:
            raise BadAnswer(
                self._name,
                "the instrument repeats its last burst to the last digit.",
                raw[:HEAD],
                what_to_do="The query must begin a new measurement (as READ? does, not FETC?).",
            )
        value = plausible_value(self._name, self._channel, ac_rms(samples), raw[:HEAD])
        t_s = (exchange.sent_t_s + exchange.answered_t_s) / 2
        self.latest = Burst(t_s, self._sample_s, samples)
        return value


def longest_of(readers: Mapping[str, BurstReader]) -> int:
    """Bytes that the longest answer on a port may take, a late one too: it must come whole."""
    return max([LONGEST_ANSWER, *(reader.longest for reader in readers.values())])
