"""The bytes that went over a port lately, for whoever wants to look at the wire itself."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

KEPT = 64
LONGEST = 200
LINE_ENDS = (b"\n", b"\r")


@dataclass(frozen=True, slots=True)
class Passed:
    """Some bytes that were sent, or came."""

    t_s: float
    """Clock time [s]."""
    sent: bool
    data: bytes
    """At most the first 200 of them."""


class Traffic:
    """The last messages of one port. Only its thread adds to it; any thread may look."""

    def __init__(self) -> None:
        self._last: deque[tuple[float, bool, bytes]] = deque(maxlen=KEPT)
        self._unfinished = False
        """True while the last bytes that came are no whole line yet."""

    def sent(self, t_s: float, data: bytes) -> None:
        """A message was written."""
        self._last.append((t_s, True, data[:LONGEST]))
        self._unfinished = False

    def came(self, t_s: float, data: bytes) -> None:
        """Bytes came; what follows in pieces belongs to what came before."""
        if self._unfinished:
            began_s, _sent, before = self._last[-1]
            if len(before) + len(data) <= LONGEST:
                t_s, data = began_s, before + data
                self._last.pop()
        self._unfinished = not data.endswith(LINE_ENDS)
        self._last.append((t_s, False, data[:LONGEST]))

    def last(self) -> list[Passed]:
        """What passed lately, the newest last."""
        return [Passed(*one) for one in list(self._last)]
