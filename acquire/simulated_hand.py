"""A simulated hand at carbon pile and throttle: slow, a little clumsy, does what it is told."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Protocol

from acquire.sweep.commands import HandsOn

REACTION_S = 0.8
"""From what is asked to the hand's move [s] (our choice, no source)."""
FIRST_AMPS = 30.0
"""What the pile takes when it is first closed [A]."""
GAIN_AMPS_PER_VOLT = 14.0
"""How far the hand turns for a volt that is missing."""
LARGEST_MOVE = 0.35
"""And never by more than this share of what the pile takes."""
LEAST_SHARE = 0.5
"""Closed again it takes what it took before, but never less than this share of the first."""


class Controls(Protocol):
    """What a hand can set."""

    def pile(self, ohms: float | None) -> None: ...

    def throttle(self, rpm: float) -> None: ...


@dataclass(slots=True)
class SimulatedHand:
    """Sets the pile and the throttle by what is said; each move after a reaction time."""

    controls: Controls
    volts: float
    """Test voltage [V]; turns the wanted amps into ohms."""
    belt_ratio: float = 1.0
    """Shaft speed / speed of what the throttle moves."""
    first_amps: float = FIRST_AMPS
    reaction_s: float = REACTION_S
    amps: float = 0.0
    """What the pile takes at the test voltage now [A]."""
    closed_s: list[tuple[float, float]] = field(default_factory=list)
    """(closed, opened) times [s]."""
    _next: tuple[float, HandsOn] | None = None
    _since_s: float | None = None
    _before_amps: float = 0.0

    def told(self, words: HandsOn, t_s: float) -> None:
        """Hear what to do; acts after the reaction time."""
        self._next = (t_s + self.reaction_s, words)

    def moves(self, t_s: float) -> None:
        """Act, if it is time to."""
        if self._next is None or t_s < self._next[0]:
            return
        words, self._next = self._next[1], None
        self._act(words, t_s)

    def _act(self, words: HandsOn, t_s: float) -> None:
        match words.words:
            case "CLOSE THE PILE":
                self._since_s = t_s
                self._set(max(self._before_amps or self.first_amps, LEAST_SHARE * self.first_amps))
            case "MORE LOAD":
                self._set(self.amps + self._step(words.detail))
            case "LESS LOAD":
                self._set(self.amps - self._step(words.detail))
            case "BRING IT TO IDLE":
                self.controls.throttle(0.0)
            case "OPEN THE PILE":
                self._open(t_s)
            case text if text.startswith(("TURN TO", "THROTTLE TO")):
                self._turn_to(text)
            case _:
                pass

    def _turn_to(self, text: str) -> None:
        """`TURN TO 1500 RPM` is shaft speed, `THROTTLE TO 800 (engine rpm)` the engine's."""
        rpm = float(text.split()[2])
        self.controls.throttle(rpm if text.startswith("THROTTLE") else rpm / self.belt_ratio)

    def _step(self, detail: str) -> float:
        """How far to turn: by the volts still missing, never by more than a third."""
        found = re.match(r"([0-9.]+) V", detail)
        wanted = GAIN_AMPS_PER_VOLT * float(found[1]) if found else 3.0
        return min(wanted, LARGEST_MOVE * max(self.amps, 10.0))

    def _set(self, amps: float) -> None:
        self.amps = max(amps, 1.0)
        self.controls.pile(self.volts / self.amps)

    def _open(self, t_s: float) -> None:
        if self._since_s is not None:
            self.closed_s.append((self._since_s, t_s))
        self._since_s, self._before_amps, self.amps = None, self.amps, 0.0
        self.controls.pile(None)
