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

    def sent(self, t_s: float, data: bytes) -> None:
        """A message was written."""
        self._last.append((t_s, True, data[:LONGEST]))

    def came(self, t_s: float, data: bytes) -> None:
        """Bytes came; what follows in pieces belongs to what came before."""
        if self._last:
            began_s, sent, before = self._last[-1]
            whole = sent or before.endswith(LINE_ENDS)
            if not whole and len(before) + len(data) <= LONGEST:
                self._last[-1] = (began_s, False, before + data)
                return
        self._last.append((t_s, False, data[:LONGEST]))

    def last(self) -> list[Passed]:
        """What passed lately, the newest last."""
        return [Passed(*one) for one in list(self._last)]
