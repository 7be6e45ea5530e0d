"""The switch of a field that is fed from the bench: by text commands or a Modbus register."""

from __future__ import annotations

from typing import TYPE_CHECKING

from drivers.actuator import STOP_WAITS_S, Actuator
from drivers.exchange import Exchange
from drivers.lines import AskedLinesDriver, StreamDriver
from drivers.modbus import ModbusDriver, Place
from drivers.pending import Pending
from drivers.scpi import ScpiDriver

if TYPE_CHECKING:
    from profiles.drive import FieldRegister, FieldText

NAME = "field"
DEADLINE_S = 2.0
"""Switching off is tried for so long [s]; the drive's stop does not wait for it."""


class FieldLine(Actuator):
    """Feeds the field, or stops feeding it."""

    def __init__(self) -> None:
        super().__init__(NAME)

    def on(self) -> Pending[None]:
        """Feed the field."""
        return self._command("on", lambda line: self._switch(line, on=True, now=False))

    def off(self) -> Pending[None]:
        """Stop feeding the field."""
        return self._command("off", lambda line: self._switch(line, on=False, now=False))

    def begin_off(self, deadline_s: float = DEADLINE_S) -> Pending[None]:
        """Off before everything else on its port, also after a reconnect."""
        return self._urgent("off", lambda line: self._switch(line, on=False, now=True), deadline_s)

    def off_now(self, deadline_s: float = DEADLINE_S) -> None:
        """As `begin_off`, and waits for the end.

        Raises:
            InstrumentError: It did not get through.
        """
        self.begin_off(deadline_s).wait(deadline_s + 2 * STOP_WAITS_S)

    def _switch(self, line: Exchange, *, on: bool, now: bool) -> None:
        raise NotImplementedError


class ScpiField(FieldLine):
    """A supply or a relay that speaks SCPI; its error queue is asked."""

    def __init__(self, field: FieldText, scpi: ScpiDriver) -> None:
        super().__init__()
        self._field, self._scpi = field, scpi

    def _switch(self, line: Exchange, *, on: bool, now: bool) -> None:
        command = [self._field.on if on else self._field.off]
        if now:
            self._scpi.command_now(line, command, self._field.timeout_s)
        else:
            self._scpi.command(line, command, self._field.timeout_s)


class LinesField(FieldLine):
    """A relay that takes lines of text and answers nothing: it cannot be read back."""

    def __init__(self, field: FieldText, lines: StreamDriver | AskedLinesDriver) -> None:
        super().__init__()
        self._field, self._lines = field, lines

    def _switch(self, line: Exchange, *, on: bool, now: bool) -> None:
        del now
        self._lines.tell(line, self._field.on if on else self._field.off)


class RegisterField(FieldLine):
    """A relay behind a Modbus register; read back."""

    def __init__(self, field: FieldRegister, modbus: ModbusDriver) -> None:
        super().__init__()
        self._field, self._modbus = field, modbus
        self._place = Place(field.device, field.register_)
        modbus.add_device(field.device)

    def _switch(self, line: Exchange, *, on: bool, now: bool) -> None:
        words = (self._field.on if on else self._field.off,)
        if now:
            self._modbus.write_now(line, self._place, words, self._field.timeout_s)
            self._modbus.get_in_step(line, self._place.device, 2 * self._field.timeout_s)
            self._modbus.must_hold(line, self._place, words, self._field.timeout_s)
        else:
            self._modbus.write_and_read_back(line, self._place, words, self._field.timeout_s)
