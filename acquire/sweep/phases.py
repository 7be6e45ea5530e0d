"""What every phase of a sweep has in common."""

from __future__ import annotations

import math
from typing import Protocol

from acquire.sweep.commands import Act, Command
from acquire.sweep.intake import Value


class Phase(Protocol):
    """One stretch of a sweep: it has begun, takes values, lets time pass, and is over."""

    name: str
    over: bool
    due_s: float
    """When the passing of time decides something next [s]; infinite when never."""

    def begin(self, now_s: float) -> list[Command]: ...

    def pass_time(self, now_s: float) -> list[Command]:
        """Called when `due_s` has come."""
        ...

    def take(self, value: Value) -> list[Command]: ...

    def act(self, now_s: float, act: Act) -> list[Command]: ...


class PlainPhase:
    """A phase that by itself waits for ever and takes nothing: the base of the real ones."""

    name = ""

    def __init__(self) -> None:
        self.over = False
        self.due_s = math.inf

    def begin(self, now_s: float) -> list[Command]:
        return []

    def pass_time(self, now_s: float) -> list[Command]:
        return []

    def take(self, value: Value) -> list[Command]:
        return []

    def act(self, now_s: float, act: Act) -> list[Command]:
        return []
