"""Which address stands for which port: one spelling for each, and the link that reaches it."""

from __future__ import annotations

import re
import sys

from drivers.links import Link, SerialSettings
from drivers.socket_links import SocketLink, UdpLink, host_and_port
from profiles.address import Wire

_TCPIP_SOCKET = re.compile(
    r"TCPIP[0-9]*::(?P<host>\S+?)::(?P<port>[0-9]{1,5})::SOCKET", re.IGNORECASE
)
_ASRL = re.compile(r"ASRL(?P<port>.+?)(?:::INSTR)?", re.IGNORECASE)
_COM = re.compile(r"(?:\\\\\.\\)?(?P<name>com\d+)", re.IGNORECASE)
VISA = "visa:"
"""Start of an address that only VISA reaches."""


def port_of(wire: Wire) -> str:
    """The address of `wire` in one spelling: equal for all that hang on the same port.

    VISA names of raw sockets and serial ports go through our own byte layer; other VISA names
    come back with `visa:` before them.
    """
    if wire.port is not None:
        return _one_spelling(wire.port)
    resource = wire.resource or ""
    socket_match = _TCPIP_SOCKET.fullmatch(resource)
    if socket_match is not None:
        return _one_spelling(f"socket://{socket_match['host']}:{socket_match['port']}")
    serial_match = _ASRL.fullmatch(resource)
    if serial_match is not None:
        device = _serial_device(serial_match["port"])
        if device:
            return _one_spelling(device)
    return VISA + resource


def _serial_device(name: str) -> str:
    """A numbered serial port means COMn on Windows, and is left to VISA elsewhere."""
    if not name.isdigit():
        return name
    return f"COM{name}" if sys.platform == "win32" else ""


def _one_spelling(port: str) -> str:
    if port.lower().startswith(("socket://", "tcp://", "udp://", "usb:", "usb-place:")):
        return port.lower().rstrip("/")
    windows = _COM.fullmatch(port)
    if windows is not None:
        return windows["name"].upper()
    if sys.platform == "darwin" and port.startswith("/dev/tty."):
        return port.replace("/dev/tty.", "/dev/cu.", 1)  # tty waits for a modem, cu does not
    return port


def is_modbus_tcp(address: str) -> bool:
    """True where Modbus frames have the TCP header; elsewhere they are RTU."""
    return address.startswith("tcp://")


def is_serial(address: str) -> bool:
    """True for a serial line, whose baud rate decides how long a frame's silence is."""
    return "://" not in address or address.startswith("rfc2217://")


def link_for(address: str, wire: Wire, instrument: str) -> Link:
    """The link that reaches `address`; not opened yet.

    Raises:
        CannotOpen: If the address cannot be understood.
    """
    if address.startswith(VISA):
        from drivers.visa import VisaLink  # pyvisa only where it is used

        return VisaLink(address[len(VISA) :], timeout_s=wire.timeout_s, instrument=instrument)
    settings = SerialSettings(
        baud=wire.baud,
        data_bits=wire.data_bits,
        parity=wire.parity[0].upper(),
        stop_bits=wire.stop_bits,
    )
    return open_link(address, settings, instrument=instrument)


def open_link(port: str, serial: SerialSettings, *, instrument: str) -> Link:
    """The link for `port` as a rig file writes it; it is not opened yet.

    Raises:
        CannotOpen: If `port` is not an address.
    """
    scheme = port.partition("://")[0].lower() if "://" in port else ""
    if scheme in ("socket", "tcp"):
        host, number = host_and_port(port, instrument)
        return SocketLink(host, number, instrument=instrument)
    if scheme == "udp":
        host, number = host_and_port(port, instrument)
        return UdpLink(host, number, instrument=instrument)
    from drivers.serial_link import SerialLink

    return SerialLink(port, serial, instrument=instrument)
