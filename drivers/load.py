"""The load: one that holds the voltage by itself (SCPI), or a bank of switched resistors (Modbus).

The order in which load and drive are switched is not decided here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from drivers.actuator import STOP_WAITS_S, Actuator
from drivers.errors import BadAnswer, CommandRefused, Unreadable, visible
from drivers.exchange import Exchange
from drivers.modbus import ModbusDriver, Place
from drivers.pending import Pending, failed_already
from drivers.scpi import ScpiDriver
from drivers.scpi_text import scpi_number
from profiles.template import filled

if TYPE_CHECKING:
    from profiles.drive import LoadBank, LoadHolds

NAME = "load"
DEADLINE_S = 2.0
"""Shedding is tried for so long [s]; the drive is off by then."""
OTHER_KIND = "Compare [load] in the rig file with the load that is there."
SET_WITHIN = 0.01
"""A set voltage must read back within this part of itself."""


class LoadLine(Actuator):
    """What every load on a wire takes; one that cannot do a thing refuses it."""

    def __init__(self) -> None:
        super().__init__(NAME)

    def hold_volts(self, volts: float) -> Pending[None]:
        """Set the voltage to be held [V]; does not switch it on."""
        return self._cannot(
            f"hold {volts:g} V", "it does not hold a voltage by itself.", OTHER_KIND
        )

    def set_bank(self, closed: Sequence[bool]) -> Pending[None]:
        """Close the steps that are true, open the others."""
        return self._cannot(f"{sum(closed)} steps on", "it is no bank of resistors.", OTHER_KIND)

    def on(self) -> Pending[None]:
        """Connect the load."""
        raise NotImplementedError

    def off(self) -> Pending[None]:
        """Shed the load."""
        raise NotImplementedError

    def begin_off(self, deadline_s: float = DEADLINE_S) -> Pending[None]:
        """Shed the load before everything else on its port, also after a reconnect."""
        raise NotImplementedError

    def off_now(self, deadline_s: float = DEADLINE_S) -> None:
        """As `begin_off`, and waits for the end.

        Raises:
            InstrumentError: It did not get through.
        """
        self.begin_off(deadline_s).wait(deadline_s + 2 * STOP_WAITS_S)

    def _cannot(self, what: str, why: str, what_to_do: str) -> Pending[None]:
        return failed_already(CommandRefused(self.name, why, what_to_do=what_to_do), what)


class HoldingLoad(LoadLine):
    """A load that holds the voltage by itself, commanded in SCPI."""

    def __init__(self, load: LoadHolds, scpi: ScpiDriver, volts_max: float | None) -> None:
        super().__init__()
        self._load = load
        self._scpi = scpi
        self._volts_max = volts_max
        self._mode_sent = False
        scpi.add_opening(NAME, self._reopened)

    def hold_volts(self, volts: float) -> Pending[None]:
        what = f"hold {volts:g} V"
        high = math.inf if self._volts_max is None else self._volts_max
        if not 0 < volts <= high or not math.isfinite(volts):
            remedy = "Ask for another voltage; the limit is limits.volts_max in the rig file."
            return self._cannot(what, f"{volts:g} V is outside 0 to {high:g} V.", remedy)
        return self._command(what, lambda line: self._hold(line, volts))

    def on(self) -> Pending[None]:
        return self._command("on", lambda line: self._switch(line, on=True))

    def off(self) -> Pending[None]:
        return self._command("off", lambda line: self._switch(line, on=False))

    def begin_off(self, deadline_s: float = DEADLINE_S) -> Pending[None]:
        def act(line: Exchange) -> None:
            self._scpi.command_now(line, [self._load.off], self._load.timeout_s)
            self._check_switch(line, on=False)

        return self._urgent("off", act, deadline_s)

    def _reopened(self, line: Exchange) -> None:
        """It may have been switched off meanwhile: the mode is sent again before a voltage."""
        del line
        self._mode_sent = False

    def _hold(self, line: Exchange, volts: float) -> None:
        setting = filled(self._load.set, volts)
        if self._load.mode is not None and not self._mode_sent:
            # Once only: on many loads a change of mode drops the load for a moment.
            self._scpi.command(line, [self._load.mode], self._load.timeout_s)
            self._mode_sent = True
        self._scpi.command(line, [setting], self._load.timeout_s)
        if self._load.set_query is not None:
            held = self._number(line, self._load.set_query)
            if abs(held - volts) > SET_WITHIN * abs(volts):
                raise CommandRefused(
                    self.name,
                    f"it holds {held:g} V after {setting}.",
                    what_to_do="Is it in local mode, or is another command its voltage?",
                )

    def _switch(self, line: Exchange, *, on: bool) -> None:
        command = self._load.on if on else self._load.off
        self._scpi.command(line, [command], self._load.timeout_s)
        self._check_switch(line, on=on)

    def _check_switch(self, line: Exchange, *, on: bool) -> None:
        if self._load.on_query is None:
            return
        answer = self._scpi.ask(line, self._load.on_query, self._load.timeout_s)
        said = answer.strip().upper().lstrip(b"+")
        if said not in ((b"1", b"ON") if on else (b"0", b"OFF")):
            wanted = "on" if on else "off"
            raise CommandRefused(
                self.name,
                f"told to be {wanted}, it answers {visible(answer)} to {self._load.on_query}.",
                what_to_do="Is it in local mode, or has one of its own protections tripped?",
            )

    def _number(self, line: Exchange, question: str) -> float:
        answer = self._scpi.ask(line, question, self._load.timeout_s)
        try:
            return scpi_number(answer)
        except Unreadable as error:
            raise BadAnswer(self.name, f"{error}: {visible(answer)}.", answer) from error


class BankLoad(LoadLine):
    """A bank of resistors, one bit of a register for each step."""

    def __init__(self, load: LoadBank, modbus: ModbusDriver) -> None:
        super().__init__()
        self._load = load
        self._modbus = modbus
        self._closed: tuple[bool, ...] = (False,) * len(load.steps)
        modbus.add_device(load.device)

    def set_bank(self, closed: Sequence[bool]) -> Pending[None]:
        wanted = tuple(closed)
        what = f"{sum(wanted)} steps on"
        if len(wanted) != len(self._load.steps):
            steps = len(self._load.steps)
            remedy = "Compare [[load.steps]] in the rig file with the bank."
            return self._cannot(what, f"it has {steps} steps, not {len(wanted)}.", remedy)
        self._closed = wanted
        return self._command(what, lambda line: self._set(line, wanted))

    def on(self) -> Pending[None]:
        """Close the steps that `set_bank` asked for last."""
        wanted = self._closed
        return self._command("on", lambda line: self._set(line, wanted))

    def off(self) -> Pending[None]:
        return self._command("off", lambda line: self._set(line, (False,) * len(self._closed)))

    def begin_off(self, deadline_s: float = DEADLINE_S) -> Pending[None]:
        opened = (False,) * len(self._closed)
        return self._urgent("off", lambda line: self._set(line, opened), deadline_s)

    def _set(self, line: Exchange, closed: Sequence[bool]) -> None:
        """Close first, then open: between two settings more is on, never nothing under current.

        Other bits of the registers keep what they have: each is read first, never remembered.
        """
        wanted = self._bits(closed)
        for register, (_steps, on) in wanted.items() if any(closed) else ():
            held = self._held(line, register)
            if on & ~held:
                self._write(line, register, held | on)
        for register, (steps, on) in wanted.items():
            held = self._held(line, register)
            word = (held & ~steps) | on
            if word != held:
                self._write(line, register, word)

    def _bits(self, closed: Sequence[bool]) -> dict[int, tuple[int, int]]:
        """Register -> (bits of all its steps, bits of those to be closed)."""
        bits: dict[int, tuple[int, int]] = {}
        for step, is_closed in sorted(
            zip(self._load.steps, closed, strict=True), key=lambda pair: pair[0].register_
        ):
            steps, on = bits.get(step.register_, (0, 0))
            bit = 1 << step.bit
            bits[step.register_] = (steps | bit, on | bit if is_closed else on)
        return bits

    def _held(self, line: Exchange, register: int) -> int:
        place = Place(self._load.device, register)
        (held,) = self._modbus.read_words(line, place, self._load.timeout_s)
        return held

    def _write(self, line: Exchange, register: int, word: int) -> None:
        place = Place(self._load.device, register)
        self._modbus.write_and_read_back(line, place, (word,), self._load.timeout_s)
