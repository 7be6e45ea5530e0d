"""What can go wrong with an instrument, cut by what the operator must do.

* `InstrumentError`: has `.instrument`, the name the rig file gives it
    * `CannotOpen`: plug it in, close the other program, join the group
    * `LinkLost`: it was there and is gone; reconnect
    * `NoAnswer`: switched on? cable, baud rate, terminator
    * `BadAnswer`: it answered nonsense; wrong model or wrong rig file (`.raw` holds the bytes)
        * `Overloaded`: it says that the quantity is out of its range
    * `CommandRefused`: a command outside its limits, or the instrument said no
    * `CommandExpired`: a command was too old to be sent, or a stop overtook it
    * `InstrumentClosed`: used after `close`; our own fault

`Unreadable` is what the pure formats raise: they know bytes, not instruments.
"""

from __future__ import annotations

from profiles.errors import BenchError


class InstrumentError(BenchError):
    """Something about one instrument; `failures` lists several that came at once."""

    usual_remedy = ""
    """What to do where whoever raises it knows nothing better."""

    def __init__(self, instrument: str, message: str, *, what_to_do: str = "") -> None:
        super().__init__(message, what_to_do=what_to_do or self.usual_remedy)
        self.instrument = instrument
        self.failures: tuple[InstrumentError, ...] = ()

    def __str__(self) -> str:
        if self.failures:
            return "\n".join(str(failure) for failure in self.failures)
        text = super().__str__()
        return f"{self.instrument}: {text}" if self.instrument else text

    @property
    def what_was_wrong(self) -> str:
        """What was wrong with which instrument; of several a line each."""
        if self.failures:
            return "\n".join(failure.what_was_wrong for failure in self.failures)
        return f"{self.instrument}: {self.message}" if self.instrument else self.message


class CannotOpen(InstrumentError):
    """The port or the instrument is not there, busy, not allowed, or not the one expected."""


class LinkLost(InstrumentError):
    """The link was open and is gone: unplugged, switched off, or taken by another program."""


class NoAnswer(InstrumentError, TimeoutError):
    """Nothing complete came in time."""


class BadAnswer(InstrumentError):
    """An answer came and cannot be understood; `raw` keeps its bytes."""

    def __init__(
        self, instrument: str, message: str, raw: bytes = b"", *, what_to_do: str = ""
    ) -> None:
        super().__init__(instrument, message, what_to_do=what_to_do)
        self.raw = raw


class Overloaded(BadAnswer):
    """The instrument says that the quantity is out of its range."""


class CommandRefused(InstrumentError):
    """A command outside its limits was not sent, or the instrument refused it."""


class CommandExpired(InstrumentError):
    """A command was not sent in time, or a stop overtook it; it will not be sent any more."""

    usual_remedy = "It is not sent any more: ask for it again once the rig is ready."


class InstrumentClosed(InstrumentError):
    """Used after `close`, or before `open`."""

    usual_remedy = "Open the rig again."


class Unreadable(ValueError):
    """Bytes that are not what the format says; `raw` keeps them."""

    def __init__(self, message: str, raw: bytes = b"") -> None:
        super().__init__(message)
        self.raw = raw


class OutOfRange(Unreadable):
    """A well-formed answer that says "overload" instead of a number."""


def visible(raw: bytes, limit: int = 60) -> str:
    """Bytes from a wire as text that cannot steer a terminal: control characters made visible."""
    text = raw[:limit].decode("latin-1").encode("unicode_escape").decode("ascii")
    return f"'{text}'" + (f" and {len(raw) - limit} bytes more" if len(raw) > limit else "")
