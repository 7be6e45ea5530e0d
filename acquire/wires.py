"""Everything that talks on a rig, as the bench sees it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

from drivers.burst import Burst
from drivers.readings import Reading
from profiles.errors import BenchError


class Pending(Protocol):
    """A command on its way to an instrument."""

    @property
    def done(self) -> bool: ...

    @property
    def error(self) -> BenchError | None: ...


class DriveWires(Protocol):
    """What the bench asks of a drive; stopping it is the stop path's business."""

    def run(self) -> Pending: ...

    def begin_halt(self, deadline_s: float) -> Pending: ...

    def set_shaft_rpm(self, shaft_rpm: float) -> Pending: ...


class LoadWires(Protocol):
    """What the bench asks of a load."""

    def hold_volts(self, volts: float) -> Pending: ...

    def on(self) -> Pending: ...

    def off(self) -> Pending: ...

    def set_bank(self, closed: tuple[bool, ...]) -> Pending: ...


class FieldWires(Protocol):
    """What the bench asks of a field switch."""

    def on(self) -> Pending: ...

    def off(self) -> Pending: ...


class WireEvent(Protocol):
    """Something that happened to a port."""

    @property
    def t_s(self) -> float: ...

    @property
    def where(self) -> str: ...

    @property
    def kind(self) -> str: ...

    @property
    def words(self) -> str: ...


class Readings(Protocol):
    """Where readings come from, in order."""

    def take(self, wait_s: float) -> list[Reading]: ...

    def watched_by(self, see: Callable[[Reading], None]) -> None:
        """`see` is shown each reading as it comes in, in the thread that has it."""
        ...


def _no_burst(_channel: str) -> Burst | None:
    return None


@dataclass(frozen=True, slots=True)
class Wires:
    """Everything that talks on this rig."""

    readings: Readings
    events: Callable[[], Sequence[WireEvent]]
    """What happened to the ports since the last call."""
    burst: Callable[[str], Burst | None] = _no_burst
    """The newest burst of samples of a channel."""
    drive: DriveWires | None = None
    load: LoadWires | None = None
    field: FieldWires | None = None
