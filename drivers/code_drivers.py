"""Drivers in code, found by their entry-point name; imported only when a rig file asks for one.

An entry point of the group `steadyamps.drivers` names a callable that takes the channels of one
port, by name, and gives a `PortDriver`. Its own keys stand in the channel's `options`.
"""

from __future__ import annotations

from importlib.metadata import entry_points
from typing import Protocol, cast

from drivers.errors import CannotOpen
from drivers.port_driver import PortDriver
from profiles.instrument import ENTRY_POINTS, CodeChannel


class MakesDriver(Protocol):
    """What an entry point must name."""

    def __call__(self, channels: dict[str, CodeChannel]) -> PortDriver:
        """The driver for all these channels, which share one port."""
        ...


def known_code_drivers() -> list[str]:
    """Names of the drivers in code that are installed."""
    return sorted(entry_points(group=ENTRY_POINTS).names)


def code_driver(channels: dict[str, CodeChannel]) -> PortDriver:
    """The driver that the channels of one port ask for.

    Raises:
        CannotOpen: There is no such driver, it cannot be imported, or it gives no driver.
    """
    names = ", ".join(channels)
    entries = {channel.entry for channel in channels.values()}
    if len(entries) > 1:
        raise CannotOpen(
            names,
            f"one port cannot have several drivers ({', '.join(sorted(entries))}).",
            what_to_do="Give these channels one `entry` in the rig file, or ports of their own.",
        )
    return _made(names, entries.pop(), channels)


def _made(names: str, entry: str, channels: dict[str, CodeChannel]) -> PortDriver:
    found = entry_points(group=ENTRY_POINTS, name=entry)
    if not found:
        known = ", ".join(known_code_drivers()) or "none"
        raise CannotOpen(
            names,
            f"there is no driver named {entry} (installed: {known}).",
            what_to_do="Install the package that has it, or mend `entry` in the rig file.",
        )
    try:
        driver = cast("MakesDriver", next(iter(found)).load())(channels)
    except Exception as error:  # whatever a foreign driver raises, the operator must be told
        raise CannotOpen(
            names,
            f"the driver {entry} cannot be used ({type(error).__name__}: {error}).",
            what_to_do="Ask its author, or install it anew.",
        ) from error
    if not isinstance(driver, PortDriver):
        raise CannotOpen(
            names,
            f"the driver {entry} is no driver for a port.",
            what_to_do="Ask its author: its entry point must give a PortDriver.",
        )
    return driver
