"""What the steps of a sweep teach the next one: how this machine's current answers.

A second, slower lag is what a short record can least rule out, and so what a prediction mostly
waits for. A machine that has shown one lag at the steps before is believed to have one again, and
about the same; but never wholly, so that readings that say otherwise win.
"""

from __future__ import annotations

from dataclasses import dataclass

TWO_LAGS_PRIOR = 0.1
"""How likely a second lag is, where nothing is known of the machine."""
LEAST, MOST = 0.01, 0.5
"""Bounds of the belief in a second lag."""
CLEAR_SPREAD = 0.3
"""A lag is passed on only when its logarithm is known as well as this."""


@dataclass(slots=True)
class Lore:
    """Grows from step to step of one sweep; the same readings teach the same."""

    two_lags: float = TWO_LAGS_PRIOR
    """How likely a second, slower lag is."""
    lag_s: float | None = None
    """The lag of the last step that told it clearly [s]."""

    def learn(self, two_lags: float, lag_s: float, lag_spread: float) -> None:
        """Take over what a step ended with; `lag_spread` is the doubt of the lag's logarithm."""
        self.two_lags = min(max(two_lags, LEAST), MOST)
        if lag_spread <= CLEAR_SPREAD:
            self.lag_s = lag_s
