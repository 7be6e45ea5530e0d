"""What drive, load and field have in common: a port to speak through."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from drivers.errors import InstrumentClosed
from drivers.exchange import Exchange
from drivers.pending import Pending, failed_already
from drivers.port import Port

T = TypeVar("T")
STOP_WAITS_S = 0.5
"""How much longer than its deadline a stop is waited for: the attempt under way may end [s]."""


class Actuator:
    """Something that takes commands; `name` is its table in the rig file."""

    def __init__(self, name: str) -> None:
        self.name = name
        self._port: Port | None = None

    def attach(self, port: Port) -> None:
        """Speak through `port` from now on."""
        self._port = port

    def _command(self, what: str, act: Callable[[Exchange], None]) -> Pending[None]:
        if self._port is None:
            return failed_already(InstrumentClosed(self.name, "the rig is not open."), what)
        return self._port.call(self.name, what, act)

    def _urgent(
        self,
        what: str,
        act: Callable[[Exchange], None],
        deadline_s: float,
        *,
        before_others: bool = False,
    ) -> Pending[None]:
        if self._port is None:
            return failed_already(InstrumentClosed(self.name, "the rig is not open."), what)
        return self._port.call_urgent(self.name, what, act, deadline_s, before_others=before_others)
