"""Serial ports through pyserial: local devices, and far ones by RFC 2217."""

from __future__ import annotations

import contextlib
import errno
import os
import select
import sys
from typing import Any

import serial

from drivers import serial_places
from drivers.errors import CannotOpen
from drivers.links import CHUNK, DRAINED_AT_MOST, SEND_S, SerialSettings, drained, lost, not_open

if sys.platform == "win32":

    class TerminalError(Exception):
        """Windows has no termios; never raised there."""

else:
    from termios import error as TerminalError  # noqa: N812

# An unplugged port gives any of these, depending on the call: pyserial's own error and plain
# OSError, termios.error (which is neither), and TypeError once its handle is None.
_PORT_ERRORS = (OSError, TerminalError, TypeError, AttributeError, ValueError)


class SerialLink:
    """A serial port held for ourselves; the terminal name is looked up at every opening."""

    def __init__(self, port: str, settings: SerialSettings, *, instrument: str) -> None:
        self._port = port
        self._settings = settings
        self._instrument = instrument
        self._serial: Any = None
        self._wait_s = 0.0
        self._descriptor: int | None = None

    @property
    def where(self) -> str:
        return f"{self._port} at {self._settings.baud} baud"

    def open(self) -> None:
        self.close()
        # Looking for ports while another thread opens one can block it on Windows.
        with serial_places.opening:
            device = serial_places.device_for(self._port, instrument=self._instrument)
            try:
                self._serial = self._opened(device)
            except _PORT_ERRORS as error:
                raise why_not_open(self._instrument, device, error) from error
        self._wait_s = 0.0
        self._descriptor = _descriptor(self._serial)
        with contextlib.suppress(*_PORT_ERRORS, NotImplementedError):
            if sys.platform == "linux":
                self._serial.set_low_latency_mode(True)  # 16 ms less on some USB adapters

    def _opened(self, device: str) -> serial.SerialBase:
        keys: dict[str, Any] = {
            "baudrate": self._settings.baud,
            "bytesize": self._settings.data_bits,
            "parity": self._settings.parity,
            "stopbits": self._settings.stop_bits,
            "timeout": 0,
            "write_timeout": SEND_S,
        }
        if "://" not in device:
            keys["exclusive"] = True
        return serial.serial_for_url(device, **keys)

    def send(self, data: bytes) -> None:
        port = self._port_opened()
        try:
            left = data if self._descriptor is None else _rest(self._descriptor, data)
            if left:
                port.write(left)
        except _PORT_ERRORS as error:
            raise lost(self._instrument, self.where, "write", error) from error

    def receive(self, wait_s: float) -> bytes:
        port, descriptor = self._port_opened(), self._descriptor
        try:
            if descriptor is None:
                return self._received(port, max(wait_s, 0.0))
            if not select.select([descriptor], [], [], max(wait_s, 0.0))[0]:
                return b""
            return _taken(descriptor)
        except BlockingIOError:  # somebody else was quicker
            return b""
        except _PORT_ERRORS as error:
            raise lost(self._instrument, self.where, "read", error) from error

    def _received(self, port: Any, wait_s: float) -> bytes:  # noqa: ANN401
        """Where the system cannot wait for the port itself: pyserial's own wait for one byte.

        Each change of its time-out sets the whole port anew, so it is changed as seldom as can be.
        """
        if wait_s != self._wait_s:
            port.timeout = self._wait_s = wait_s
        first: bytes = port.read(1)
        more = port.in_waiting if first else 0
        return first + port.read(min(more, CHUNK)) if more else first

    def drain(self, at_most: int = DRAINED_AT_MOST) -> bytes:
        if self._descriptor is None:
            far = "://" in self._port  # only a read tells that its other end is gone
            return drained(self.receive if far else self._there, at_most)
        first = self.receive(0.0)
        more = len(first) == CHUNK and at_most > CHUNK
        return first + drained(self.receive, at_most - CHUNK) if more else first

    def _there(self, _wait_s: float) -> bytes:
        """What pyserial holds already; it needs no other time-out than it has."""
        port = self._port_opened()
        try:
            waiting = port.in_waiting
            there: bytes = port.read(min(waiting, CHUNK)) if waiting else b""
        except _PORT_ERRORS as error:
            raise lost(self._instrument, self.where, "read", error) from error
        return there

    def close(self) -> None:
        closing, self._serial = self._serial, None
        if closing is not None:
            with contextlib.suppress(*_PORT_ERRORS):
                closing.close()

    def _port_opened(self) -> Any:  # noqa: ANN401 - pyserial leaves its ports untyped
        if self._serial is None:
            raise not_open(self._instrument, self.where)
        return self._serial


def _rest(descriptor: int, data: bytes) -> bytes:
    """What could not be written at once: nothing, as a rule; the rest is pyserial's to wait for."""
    try:
        return data[os.write(descriptor, data) :]
    except BlockingIOError:
        return data


def _taken(descriptor: int) -> bytes:
    """What is there, at once; an unplugged port has always something to read, and it is nothing."""
    data = os.read(descriptor, CHUNK)
    if not data:
        raise OSError("it was unplugged")
    return data


def _descriptor(port: serial.SerialBase) -> int | None:
    """What the system can wait for; None for far ports, and on Windows."""
    if sys.platform == "win32":
        return None
    try:
        return int(port.fileno())
    except _PORT_ERRORS:
        return None


def why_not_open(instrument: str, device: str, error: Exception) -> CannotOpen:
    """What the operator must do about a serial port that does not open."""
    text, number = str(error), _error_number(error)
    if _in_use(text):
        message = f"{device} is in use by another program."
        remedy = "Close the other program, or unplug the adapter and plug it in again."
    elif number == errno.EACCES or "Permission" in text:
        message = f"you are not allowed to use {device}."
        remedy = serial_places.how_to_be_allowed(device)
    elif number == errno.ENOENT or "FileNotFound" in text:
        message = f"there is no port {device}."
        remedy = "Plug the adapter in, or write the name as `steadyamps ports` lists it."
    else:
        message = f"{device} does not open ({text or type(error).__name__})."
        remedy = "Check the port's name, its plug and its settings in the rig file."
    return CannotOpen(instrument, message, what_to_do=remedy)


def _in_use(text: str) -> bool:
    # Windows says "access denied", in its own language, of a port that another program has open.
    refused = sys.platform == "win32" and "PermissionError" in text
    return refused or any(
        word in text.lower() for word in ("exclusive", "busy", "access is denied")
    )


def _error_number(error: Exception) -> int:
    number = getattr(error, "errno", None)
    return number if isinstance(number, int) else 0
