"""The contract between a port and what speaks through it.

A driver writes three things: what to do after each opening (`opened`), what is asked again and
again (`polls`), and, for instruments that talk by themselves, what is made of the bytes
(`heard`). Timing, time-outs, qualities, statistics and reopening are the port's.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from drivers.burst import Burst
from drivers.exchange import Exchange
from drivers.readings import Reading


@dataclass(frozen=True, slots=True)
class Poll:
    """A question asked every `every_s` seconds of the rig's clock."""

    channel: str
    every_s: float
    ask: Callable[[Exchange], float]
    """Gives the value; raises NoAnswer, BadAnswer, Overloaded, CommandRefused or LinkLost."""


class PortDriver:
    """All instruments of one port, speaking one way.

    Methods are called from the port's thread only, and never after it has closed the link, unless
    they say otherwise.
    """

    settle_s: float = 0.0
    """Time an instrument needs after its port was opened [s]."""
    listens: bool = False
    """True for instruments that talk by themselves."""

    @property
    def channels(self) -> Sequence[str]:
        """Channels that get a `link lost` reading when the port is gone."""
        return [poll.channel for poll in self.polls]

    @property
    def polls(self) -> Sequence[Poll]:
        """What is asked, each at its own rate."""
        return ()

    def opened(self, exchange: Exchange) -> None:
        """Prove synchrony, identify, set up; called after each opening.

        Raises:
            InstrumentError: The port is closed again and tried later.
        """

    def heard(self, exchange: Exchange, data: bytes) -> Sequence[Reading]:
        """Readings that `data` completes; called with b"" while nothing comes."""
        del exchange, data
        return ()

    def burst(self, channel: str) -> Burst | None:
        """The newest burst of a channel that gives bursts; may be called from any thread."""
        del channel
        return None

    def identities(self) -> dict[str, str]:
        """What the instruments said about themselves, by channel or actuator."""
        return {}
