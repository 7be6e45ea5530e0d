"""How an instrument is reached: `port`, `resource`, and the settings of a serial line."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from profiles.plain_text import nearest, shown
from profiles.table import Fault, NotNegative, Positive, Table

SIMULATED = "simulated:"
"""Start of an address inside the simulated rig, filled in when the rig is started."""
SCHEMES = ("socket", "tcp", "udp", "rfc2217", "loop", "spy", "alt", "hwgrep")
_SCHEME = re.compile(r"([A-Za-z][A-Za-z0-9+.-]*)://(.*)", re.DOTALL)
_HOST_AND_PORT = re.compile(r"(?:\[[^\]]+\]|[^:/?\s]+):([0-9]{1,6})/?")
_BARE_ADDRESS = re.compile(r"(?:\[[\w.:%]+\]|[\w.-]+):[0-9]{1,5}")
_FAR_SERIAL_PORT = re.compile(_HOST_AND_PORT.pattern + r"(?:[/?].*)?")
"""Behind a port reached by RFC 2217 options of pyserial may stand."""
_USB = re.compile(r"usb:[0-9A-Fa-f]{4}:[0-9A-Fa-f]{4}(?::\S+)?")
_USB_PLACE = re.compile(r"usb-place:\S+")


def port_wrong(port: str) -> tuple[str, str] | None:
    """Say what is wrong with the way a port is written, if anything: (message, what to do)."""
    if not port.strip() or port != port.strip():
        return "is empty or has spaces around it.", "Name the port."
    if port.startswith("usb:") and not _USB.fullmatch(port):
        return f"{shown(port)} is not a USB identity.", "Write usb:VID:PID or usb:VID:PID:SERIAL."
    if port.startswith("usb-place:") and not _USB_PLACE.fullmatch(port):
        return f"{shown(port)} is not a USB place.", "Write it as in usb-place:1-2.3."
    if is_bare_address(port):
        ways = f"Write socket://{port}, or tcp://{port} for Modbus."
        return f"{shown(port)} does not say how the network is spoken to.", ways
    scheme = _SCHEME.fullmatch(port)
    return None if scheme is None else _network_wrong(port, scheme[1].lower(), scheme[2])


def is_bare_address(port: str) -> bool:
    """True for `host:port` without what must stand before it (`socket://`, `tcp://`)."""
    return not port.startswith(("usb:", SIMULATED)) and bool(_BARE_ADDRESS.fullmatch(port))


def _network_wrong(port: str, scheme: str, rest: str) -> tuple[str, str] | None:
    if scheme not in SCHEMES:
        near = nearest(scheme, ("socket", "tcp", "udp", "rfc2217"))
        hint = (
            f'Did you mean "{near}://"?'
            if near
            else "Known: socket://, tcp://, udp://, rfc2217://."
        )
        return f"{shown(port)} begins with an unknown {scheme[:20]}://.", hint
    if scheme not in {"socket", "tcp", "udp", "rfc2217"}:
        return None
    written = _FAR_SERIAL_PORT if scheme == "rfc2217" else _HOST_AND_PORT
    found = written.fullmatch(rest)
    if found is None or not 0 < int(found[1]) < 65536:
        return f"{shown(port)} lacks a host or a port number.", f"Write {scheme}://host:port."
    return None


class Wire(Table):
    """Keys that every instrument on a wire has in common."""

    port: str | None = None
    """A serial device name, `socket://host:port`, `tcp://…`, `rfc2217://…`, `usb:VID:PID:SERIAL`
    or `usb-place:1-2.3`."""
    resource: str | None = None
    """Any VISA resource name, instead of `port`."""
    baud: Annotated[int, Field(gt=0, le=4_000_000)] = 9600
    data_bits: Literal[7, 8] = 8
    parity: Literal["none", "even", "odd"] = "none"
    stop_bits: Literal[1, 2] = 1
    timeout_s: Positive = 0.5
    """How long one answer may take."""
    gap_ms: NotNegative | None = None
    """Silence kept between exchanges; default: what the protocol asks for."""
    settle_s: NotNegative = 0.0
    """Wait after opening, for instruments that restart when the port is opened."""

    @property
    def address(self) -> str:
        """The port or resource as written; empty when there is none."""
        return self.port or self.resource or ""

    def faults(self) -> Iterator[Fault]:
        """Exactly one of port and resource, well written."""
        if self.port is None and self.resource is None:
            yield Fault(
                "port",
                "is missing.",
                'Say where it is connected: port = "…" or resource = "…".',
                ("resource",),
            )
        elif self.port is not None and self.resource is not None:
            yield Fault("resource", "stands beside port.", "Give one of the two.", ("port",))
        if self.port is not None and (wrong := port_wrong(self.port)) is not None:
            yield Fault("port", *wrong)
