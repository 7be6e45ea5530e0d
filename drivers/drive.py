"""The drive: shaft rpm turned into motor rpm and registers, run and stop, all read back."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from drivers.actuator import STOP_WAITS_S, Actuator
from drivers.errors import (
    CannotOpen,
    CommandRefused,
    InstrumentClosed,
    InstrumentError,
    LinkLost,
    NoAnswer,
)
from drivers.exchange import Exchange
from drivers.modbus import ModbusDriver, Place
from drivers.modbus_frame import words_of
from drivers.pending import Pending, failed_already
from drivers.port_driver import Poll
from drivers.wall import RealWall

if TYPE_CHECKING:
    from profiles.drive import Drive
    from profiles.register import Register

DRIVE_RPM = "drive_rpm"
NAME = "drive"
DEADLINE_S = 5.0
"""A stop is tried for so long, also after a reconnect, before the caller hears of it [s]."""


class DriveLine(Actuator):
    """One motor drive on Modbus.

    `ratio` is shaft speed over motor speed. Commands give a `Pending`; `halt` waits.
    """

    def __init__(
        self, drive: Drive, modbus: ModbusDriver, *, ratio: float, max_shaft_rpm: float | None
    ) -> None:
        super().__init__(NAME)
        self._drive = drive
        self._modbus = modbus
        self._ratio = ratio
        self._max_shaft_rpm = max_shaft_rpm
        self._run = _place(drive.device, drive.run)
        self._speed = _place(drive.device, drive.speed)
        self.found_running: bool | None = None
        """True when it was running as it was opened first; None before."""
        modbus.add_opening(NAME, drive.device, self._prepare)
        if drive.output is not None:
            modbus.add_poll(Poll(DRIVE_RPM, drive.every_s, self._read_output), drive.device)

    # From any thread

    def run(self) -> Pending[None]:
        """Let the motor turn at the speed that is set."""
        on = words_of(self._drive.run.on, self._drive.run.type, self._drive.run.order)
        return self._command("run", lambda line: self._write(line, self._run, on))

    def set_shaft_rpm(self, shaft_rpm: float) -> Pending[None]:
        """Set the speed the shaft would have without slip [rpm]; refused beyond the rig's limit."""
        what = f"speed {shaft_rpm:g} rpm"
        try:
            words = self._speed_words(shaft_rpm)
        except CommandRefused as error:
            return failed_already(error, what)
        return self._command(what, lambda line: self._write(line, self._speed, words))

    def begin_halt(self, deadline_s: float = DEADLINE_S) -> Pending[None]:
        """As `halt`, but returns at once."""
        return self._urgent("run off, speed 0", self._halt, deadline_s, before_others=True)

    def halt(self, deadline_s: float = DEADLINE_S) -> None:
        """Stop: run = off first, then speed 0, both read back; from any thread.

        It goes before everything else on the port, cuts an exchange in progress short, and is
        tried again, also after a reconnect, until `deadline_s` wall seconds have passed.

        Raises:
            InstrumentError: It did not get through, or the drive reads back that it still runs.
        """
        pending = self.begin_halt(deadline_s)
        pending.wait(deadline_s + self._drive.timeout_s + STOP_WAITS_S)

    def begin_look(self) -> Pending[bool]:
        """Ask whether it is told to run; between polls, and returns at once."""
        what = "is it running?"
        if self._port is not None:
            return self._port.call(self.name, what, self._is_running)
        pending: Pending[bool] = Pending(self.name, what, math.inf, RealWall())
        pending.fail(InstrumentClosed(self.name, "the rig is not open."))
        return pending

    def running(self, timeout_s: float = 2.0) -> bool:
        """Whether the drive is told to run, read from the drive.

        Raises:
            InstrumentError: It cannot be read within `timeout_s` wall seconds.
        """
        if self._port is None:
            raise InstrumentClosed(self.name, "the rig is not open.")
        pending = self._port.call(self.name, "is it running?", self._is_running, timeout_s)
        return bool(pending.wait(timeout_s))

    # In the port's thread

    def _write(self, line: Exchange, place: Place, words: tuple[int, ...]) -> None:
        self._modbus.write_and_read_back(line, place, words, self._drive.timeout_s)

    def _halt(self, line: Exchange) -> None:
        timeout_s = self._drive.timeout_s
        off = words_of(self._drive.run.off, self._drive.run.type, self._drive.run.order)
        rest = self._raw_speed_words(0.0)
        trouble: InstrumentError | None = None
        for place, words in ((self._run, off), (self._speed, rest)):
            try:
                self._modbus.write_now(line, place, words, timeout_s)
            except LinkLost:
                raise
            except InstrumentError as error:  # speed 0 is sent even when "off" was not echoed
                trouble = trouble or error
        try:
            self._modbus.get_in_step(line, self._drive.device, 2 * timeout_s)
            self._modbus.must_hold(line, self._run, off, timeout_s)
            self._modbus.must_hold(line, self._speed, rest, timeout_s)
        except NoAnswer as error:
            raise trouble or error from None

    def _is_running(self, line: Exchange) -> bool:
        held = self._modbus.read(line, self._run, self._drive.timeout_s)
        return round(held) != self._drive.run.off

    def _read_output(self, line: Exchange) -> float:
        output = self._drive.output
        if output is None:
            raise CommandRefused(
                self.name,
                "the rig file names no register for the speed it gives out.",
                what_to_do="Add [drive.output] to the rig file.",
            )
        place = _place(self._drive.device, output)
        raw = self._modbus.read(line, place, self._drive.timeout_s)
        return output.quantity(raw) * self._drive.output_rpm_per_unit()

    def _prepare(self, line: Exchange) -> None:
        """After each opening: the drive's own time-out, and whether it was found running."""
        timeout = self._drive.comm_timeout
        if timeout is not None:
            self._set_timeout(line, _place(self._drive.device, timeout), timeout.raw_set)
        running = self._is_running(line)
        if self.found_running is None:
            self.found_running = running

    def _set_timeout(self, line: Exchange, place: Place, raw: int) -> None:
        """Written only when it differs: such registers may bear a limited number of writes."""
        words = words_of(raw, place.value_type, place.order)
        held = self._modbus.read_words(line, place, self._drive.timeout_s)
        if held == words:
            return
        try:
            self._write(line, place, words)
        except CommandRefused as error:
            raise CannotOpen(
                self.name,
                f"its communication time-out cannot be set: {error.message}",
                what_to_do="Without it the motor runs on when this computer dies; mend the "
                "register, or set it on the drive and leave comm_timeout out.",
            ) from error

    # Speeds

    def _speed_words(self, shaft_rpm: float) -> tuple[int, ...]:
        if not math.isfinite(shaft_rpm) or shaft_rpm < 0:
            raise CommandRefused(
                self.name,
                f"{shaft_rpm:g} rpm is no speed to be set.",
                what_to_do="Ask for a speed of 0 rpm or above.",
            )
        if self._max_shaft_rpm is not None and shaft_rpm > self._max_shaft_rpm:
            raise CommandRefused(
                self.name,
                f"{shaft_rpm:g} rpm is above the rig's limit of {self._max_shaft_rpm:g} rpm.",
                what_to_do="Ask for less; the limit is rig.max_shaft_rpm in the rig file.",
            )
        return self._raw_speed_words(shaft_rpm / self._ratio)

    def _raw_speed_words(self, motor_rpm: float) -> tuple[int, ...]:
        speed = self._drive.speed
        try:
            return words_of(speed.raw_of_rpm(motor_rpm), speed.type, speed.order)
        except ValueError as error:
            raise CommandRefused(
                self.name,
                f"a motor speed of {motor_rpm:g} rpm cannot be set: {error}.",
                what_to_do="Check speed.scale, rpm_per_unit and the pulleys in the rig file.",
            ) from error


def _place(device: int, register: Register) -> Place:
    return Place(device, register.register_, register.table, register.type, register.order)
