"""Which serial port is meant: by device name, by the adapter's identity, or by its place.

`usb:VID:PID:SERIAL` (or `usb:VID:PID` when only one such adapter is plugged in) and
`usb-place:1-2.3` are looked up at every opening, because a name may change after a re-plug.
"""

from __future__ import annotations

import contextlib
import sys
import threading
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from drivers.errors import CannotOpen

opening = threading.Lock()
"""Held while a port is opened or ports are listed: one blocks the other on some systems."""


class FoundPort(Protocol):
    """What pyserial tells about a port."""

    device: str
    vid: int | None
    pid: int | None
    serial_number: str | None
    location: str | None
    description: str


@dataclass(frozen=True, slots=True)
class SerialPlace:
    """One serial port as the operator may name it in a rig file."""

    device: str
    by_identity: str
    """`usb:VID:PID:SERIAL`; empty when it is no USB adapter."""
    by_place: str
    """`usb-place:1-2.3`; empty when the place is not known."""
    description: str
    twins: bool = False
    """True when another adapter has the same identity: only the place tells them apart."""


def list_places() -> list[SerialPlace]:
    """Serial ports of this computer; those that exist by name only are left out."""
    with opening:
        return places(_found())


def places(found: Iterable[FoundPort]) -> list[SerialPlace]:
    """Describe `found`, and say which cannot be told apart by identity."""
    real = [port for port in found if port.vid is not None or not _name_only(port.device)]
    identities = [_identity(port) for port in real]
    return [
        SerialPlace(
            device=port.device,
            by_identity=identity,
            by_place=_place(port),
            description=port.description if port.description != "n/a" else "",
            twins=bool(identity) and identities.count(identity) > 1,
        )
        for port, identity in zip(real, identities, strict=True)
    ]


def device_for(port: str, *, instrument: str, found: Iterable[FoundPort] | None = None) -> str:
    """The device name to open for `port` as the rig file writes it.

    Raises:
        CannotOpen: No such adapter is plugged in, or several look the same.
    """
    if not port.lower().startswith(("usb:", "usb-place:")):
        return port
    known = list(_found() if found is None else found)
    matching = [candidate for candidate in known if _answers_to(candidate, port)]
    matching = matching or [candidate for candidate in known if _same_chip(candidate, port)]
    if len(matching) == 1:
        return matching[0].device
    if not matching:
        plugged = ", ".join(sorted(filter(None, map(_identity, known)))) or "none"
        raise CannotOpen(
            instrument,
            f"no adapter answers to {port} (plugged in: {plugged}).",
            what_to_do="Plug it in, or take the name from `steadyamps ports`.",
        )
    names = ", ".join(candidate.device for candidate in matching)
    raise CannotOpen(
        instrument,
        f"{len(matching)} adapters answer to {port} ({names}).",
        what_to_do="Name it by its place instead: usb-place:... as `steadyamps ports` lists it.",
    )


def how_to_be_allowed(device: str) -> str:
    """What a user without permission for `device` must do on this system."""
    if sys.platform == "win32":
        return "Close the other program that uses it."
    if sys.platform == "darwin":
        return f"Look at its rights with `ls -l {device}`, or unplug it and plug it in again."
    group = "dialout"
    with contextlib.suppress(OSError, KeyError, NotImplementedError):
        group = Path(device).group()
    return f"Run `sudo usermod -aG {group} $USER`, then log out and in again."


def _found() -> list[FoundPort]:
    from serial.tools import list_ports

    return list(list_ports.comports())


FTDI = "usb:0403:"
"""Start of the identity of an adapter with a chip of FTDI."""
NAMES_ONLY = (
    "/dev/ttyS",
    "/dev/cu.Bluetooth-Incoming-Port",
    "/dev/cu.debug-console",
    "/dev/cu.wlan-debug",
)
"""Beginnings of names that Linux and macOS list whether there is hardware behind them or not."""


def _name_only(device: str) -> bool:
    return device.startswith(NAMES_ONLY)


def _identity(port: FoundPort) -> str:
    if port.vid is None or port.pid is None:
        return ""
    serial_number = f":{port.serial_number}" if port.serial_number else ""
    return f"usb:{port.vid:04X}:{port.pid:04X}{serial_number}"


def _place(port: FoundPort) -> str:
    return f"usb-place:{port.location.partition(':')[0]}" if port.location else ""


def _answers_to(candidate: FoundPort, port: str) -> bool:
    wanted = port.lower()
    if wanted.startswith("usb-place:"):
        return _place(candidate).lower() == wanted
    identity = _identity(candidate).lower()
    return bool(identity) and (identity == wanted or identity.startswith(wanted + ":"))


def _same_chip(candidate: FoundPort, port: str) -> bool:
    """FTDI's driver for Windows ends the serial number with the letter of the chip's port.

    So a rig file made on Linux finds the same adapter on Windows, and the other way round.
    """
    wanted, identity = port.lower(), _identity(candidate).lower()
    if not wanted.startswith(FTDI) or wanted.count(":") != identity.count(":"):
        return False
    longer, shorter = sorted((wanted, identity), key=len, reverse=True)
    return longer[:-1] == shorter and longer[-1] in "abcd"
