"""Modbus devices: registers read and written, RTU on a serial line or TCP."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from drivers.channel_value import channel_value
from drivers.errors import BadAnswer, CommandRefused, Unreadable
from drivers.exchange import Exchange
from drivers.modbus_dialogue import ModbusDialogue
from drivers.modbus_frame import (
    READ_HOLDING,
    READ_INPUT,
    read_request,
    value_of,
    word_count,
    words_in,
    write_request,
)
from drivers.port_driver import Poll, PortDriver
from profiles.instrument import ModbusChannel


@dataclass(frozen=True, slots=True)
class Place:
    """Where a value lives: device, register, type."""

    device: int
    register: int
    table: str = "holding"
    value_type: str = "u16"
    order: str = "ABCD"

    @property
    def words(self) -> int:
        """Registers it fills."""
        return word_count(self.value_type)


class ModbusDriver(PortDriver):
    """All Modbus devices on one port or connection."""

    def __init__(self, *, tcp: bool, gap_s: float, settle_s: float = 0.0) -> None:
        self.settle_s = settle_s
        self._polls: list[Poll] = []
        self._openings: list[tuple[str, Callable[[Exchange], None]]] = []
        self._dialogue = ModbusDialogue(tcp=tcp, gap_s=gap_s, chance=random.SystemRandom())

    @property
    def polls(self) -> Sequence[Poll]:
        return self._polls

    def add_channel(self, name: str, channel: ModbusChannel) -> None:
        """Read a channel from its register, at its own rate."""
        place = Place(channel.device, channel.register_, channel.table, channel.type, channel.order)

        def ask(exchange: Exchange) -> float:
            raw_value = self.read(exchange, place, channel.timeout_s)
            return channel_value(name, channel, raw_value, f"{raw_value!r}".encode())

        self.add_poll(Poll(name, channel.every_s, ask), channel.device)

    def add_poll(self, poll: Poll, device: int) -> None:
        """Ask something of `device` again and again."""
        self.add_device(device)
        self._polls.append(poll)

    def add_device(self, device: int) -> None:
        """Let `device` be proved at each opening."""
        self._dialogue.add_device(device)

    def add_opening(self, instrument: str, device: int, act: Callable[[Exchange], None]) -> None:
        """Do `act` after each opening, once `device` is in step."""
        self.add_device(device)
        self._openings.append((instrument, act))

    def opened(self, exchange: Exchange) -> None:
        self._dialogue.begin(exchange)
        for instrument, act in self._openings:
            exchange.instrument = instrument
            act(exchange)

    # Registers; in the port's thread

    def read_words(
        self, exchange: Exchange, place: Place, timeout_s: float, count: int | None = None
    ) -> tuple[int, ...]:
        """Registers at `place`.

        Raises:
            NoAnswer, BadAnswer, LinkLost: As for `Exchange.collect`.
            CommandRefused: The device answers with an exception, given in words.
        """
        function = READ_INPUT if place.table == "input" else READ_HOLDING
        request = read_request(function, place.register, count or place.words)
        return words_in(self._dialogue.ask(exchange, place.device, request, timeout_s))

    def read(self, exchange: Exchange, place: Place, timeout_s: float) -> float:
        """The value at `place`, before any scale.

        Raises:
            NoAnswer, BadAnswer, CommandRefused, LinkLost: As for `read_words`.
        """
        words = self.read_words(exchange, place, timeout_s)
        try:
            return value_of(words, place.value_type, place.order)
        except Unreadable as error:
            raise BadAnswer(exchange.instrument, f"{error}.", error.raw) from error

    def write(
        self, exchange: Exchange, place: Place, words: tuple[int, ...], timeout_s: float
    ) -> None:
        """Write registers; the device must echo them.

        Raises:
            NoAnswer, BadAnswer, CommandRefused, LinkLost: As for `read_words`.
        """
        request = write_request(place.register, words)
        self._dialogue.ask(exchange, place.device, request, timeout_s)

    def write_now(
        self, exchange: Exchange, place: Place, words: tuple[int, ...], timeout_s: float
    ) -> None:
        """Write registers for a stop: at once, without proving synchrony first.

        The echo holds register and value, so no late answer to a question is taken for it.

        Raises:
            NoAnswer, BadAnswer, CommandRefused, LinkLost: As for `read_words`.
        """
        request = write_request(place.register, words)
        self._dialogue.insist(exchange, place.device, request, timeout_s)

    def write_and_read_back(
        self, exchange: Exchange, place: Place, words: tuple[int, ...], timeout_s: float
    ) -> None:
        """Write registers and read them again.

        Raises:
            CommandRefused: They read back as something else.
        """
        self.write(exchange, place, words, timeout_s)
        self.must_hold(exchange, place, words, timeout_s)

    def must_hold(
        self, exchange: Exchange, place: Place, words: tuple[int, ...], timeout_s: float
    ) -> None:
        """Read registers back.

        Raises:
            CommandRefused: They hold something else than `words`.
        """
        held = self.read_words(exchange, place, timeout_s, len(words))
        if held != words:
            raise CommandRefused(
                exchange.instrument,
                f"register {place.register} holds {_shown(held)} after {_shown(words)} was "
                "written.",
                what_to_do="Is it in local mode, in a fault, or is the register another one?",
            )

    def get_in_step(self, exchange: Exchange, device: int, limit_s: float) -> None:
        """Prove that `device` answers in step, within `limit_s` wall seconds.

        Raises:
            NoAnswer: It gives no proof.
        """
        self._dialogue.get_in_step(exchange, device, limit_s)


def _shown(words: tuple[int, ...]) -> str:
    return " ".join(str(word) for word in words)
