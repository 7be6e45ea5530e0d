"""Instruments that only VISA reaches (USB-TMC, GPIB, VXI-11, HiSLIP), through PyVISA.

Message by message; the proof of synchrony is the one of `drivers.scpi`. PyVISA is imported here
and only here.
"""

from __future__ import annotations

import contextlib
import threading
from typing import TYPE_CHECKING, Any

from drivers.errors import CannotOpen, InstrumentClosed
from drivers.links import DRAINED_AT_MOST, lost, not_open

if TYPE_CHECKING:
    from collections.abc import Iterator

_OPEN_MS = 2000
_one_at_a_time = threading.Lock()
_manager: Any = None


def resource_manager(backend: str = "") -> Any:  # noqa: ANN401  PyVISA carries no types here
    """The one resource manager of this process: closing a second one would close all its ports.

    The system's VISA where there is one, else the pure-Python backend.

    Raises:
        CannotOpen: Neither is there; says why.
    """
    global _manager
    with _one_at_a_time:
        if backend:
            return _new_manager(backend)
        if _manager is None:
            try:
                _manager = _new_manager("")
            except CannotOpen:
                _manager = _new_manager("@py")
        return _manager


def _new_manager(backend: str) -> Any:  # noqa: ANN401
    try:
        import pyvisa

        return pyvisa.ResourceManager(backend)
    except (ImportError, OSError, ValueError, AttributeError) as error:
        raise CannotOpen(
            "VISA",
            f"no VISA backend can be used ({_on_one_line(error)}).",
            what_to_do="Install one, or reach the instrument by serial port or socket instead.",
        ) from error


def _on_one_line(error: Exception) -> str:
    """What a foreign library said, without its line breaks."""
    return " ".join(str(error).split()).rstrip(" :.") or "no reason given"


class VisaLink:
    """One VISA resource as a link.

    A message-based instrument may be upset by a read that is broken off, so a wait is as long
    as the instrument's own time-out and is not cut into slices.
    """

    def __init__(
        self, resource: str, *, timeout_s: float, instrument: str, backend: str = ""
    ) -> None:
        self._resource = resource
        self._timeout_s = timeout_s
        self._instrument = instrument
        self._backend = backend
        self._session: Any = None

    @property
    def where(self) -> str:
        return self._resource

    def open(self) -> None:
        self.close()
        manager = resource_manager(self._backend)
        try:
            session = manager.open_resource(self._resource, open_timeout=_OPEN_MS)
            session.timeout = self._timeout_s * 1000.0
        except Exception as error:  # backends raise their own, and those of usb, socket, serial
            raise CannotOpen(
                self._instrument,
                f"{self._resource} does not open ({type(error).__name__}: {_on_one_line(error)}).",
                what_to_do="Compare the name with `steadyamps ports`; is another program using it?",
            ) from error
        self._session = session

    def send(self, data: bytes) -> None:
        with self._translated("write") as session:
            session.write_raw(data)

    def receive(self, wait_s: float) -> bytes:
        del wait_s
        with self._translated("read") as session:
            try:
                message: bytes = session.read_raw()
            except Exception as error:
                if _is_timeout(error):
                    return b""
                raise
            return message if message.endswith(b"\n") else message + b"\n"

    def drain(self, at_most: int = DRAINED_AT_MOST) -> bytes:
        """Nothing to take: a message-based instrument speaks only when it is read."""
        del at_most
        if self._session is None:
            raise not_open(self._instrument, self.where)
        return b""

    def close(self) -> None:
        closing, self._session = self._session, None
        if closing is not None:
            with contextlib.suppress(Exception):
                closing.close()

    @contextlib.contextmanager
    def _translated(self, doing: str) -> Iterator[Any]:
        if self._session is None:
            raise not_open(self._instrument, self.where)
        try:
            yield self._session
        except InstrumentClosed:
            raise
        except Exception as error:
            raise lost(self._instrument, self.where, doing, error) from error


def _is_timeout(error: Exception) -> bool:
    from pyvisa import constants, errors

    code = constants.StatusCode.error_timeout
    return isinstance(error, errors.VisaIOError) and error.error_code == code
