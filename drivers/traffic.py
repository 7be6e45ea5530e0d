"""The bytes that went over a port lately, for whoever wants to look at the wire itself."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

KEPT = 64
LONGEST = 200


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
        self._last: deque[Passed] = deque(maxlen=KEPT)

    def sent(self, t_s: float, data: bytes) -> None:
        """A message was written."""
        self._last.append(Passed(t_s, True, data[:LONGEST]))

    def came(self, t_s: float, data: bytes) -> None:
        """Bytes came; what follows in pieces belongs to what came before."""
        before = self._last[-1] if self._last else None
        if before is not None and not before.sent and len(before.data) + len(data) <= LONGEST:
            ended = before.data.endswith((b"\n", b"\r"))
            if not ended:
                self._last[-1] = Passed(before.t_s, False, before.data + data)
                return
        self._last.append(Passed(t_s, False, data[:LONGEST]))

    def last(self) -> list[Passed]:
        """What passed lately, the newest last."""
        return list(self._last)
