"""One question and its answer on a Modbus port, RTU or TCP, and the proof that they go together.

TCP answers carry the number of their question, so a late one is passed over. RTU answers carry
none: after a time-out, a bad frame, and each opening, a device must return a random token
(function 08, sub-function 00; or refuse it, exception 0x88, which proves the same), and whatever
comes before it was late. Several devices may hang on one bus; each is proved by itself.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from random import Random

from drivers.errors import (
    BadAnswer,
    CommandRefused,
    InstrumentError,
    LinkLost,
    NoAnswer,
    Unreadable,
)
from drivers.exchange import Exchange
from drivers.modbus_frame import (
    DIAGNOSTICS,
    EXCEPTION,
    Expected,
    FoundFrame,
    cut_tcp,
    exception_words,
    expected,
    find_rtu,
    has_rtu_damage,
    rtu_frame,
    tcp_frame,
)

PROOF_S = 5.0
"""Without a proof of synchrony for so long a device counts as lost [s]."""
TOKEN_AGAIN_S = 1.0
"""A token that is not returned within this is followed by another one [s]."""
STOP_AGAIN_S = 0.1
"""A stop that is not answered is sent a second time after so long [s]."""
STOP_SILENCE_S = 0.02
"""A stop waits no longer than this for the end of a frame that is on the bus [s]."""
TOKEN_LOST_S = 60.0
"""A token's answer that has not come after so long will not come [s]."""
REST_S = 2.0
"""A device that does not answer is left alone for so long, for the sake of the others [s]."""


@dataclass(slots=True)
class _DeviceState:
    in_step: bool = False
    rests_until_s: float = -1.0
    tokens_owed: deque[float] = field(default_factory=deque)
    """When tokens were sent whose answers have not come; survives a reopening, as they may."""


@dataclass(frozen=True, slots=True)
class _Question:
    """A frame on the wire and the answer it wants."""

    frame: bytes
    wanted: Expected

    @property
    def words(self) -> str:
        """For messages."""
        return f"function {self.wanted.function} of device {self.wanted.device}"


class ModbusDialogue:
    """What is said on one port, and which of its devices are known to answer in step."""

    def __init__(self, *, tcp: bool, gap_s: float, chance: Random) -> None:
        """`gap_s`: silence on the line before a question [s]; `chance` makes the tokens."""
        self._tcp = tcp
        self._gap_s = gap_s
        self._chance = chance
        self._devices: dict[int, _DeviceState] = {}
        self._transaction = chance.randrange(65_536)
        self._mute_since_s: float | None = None

    def add_device(self, device: int) -> None:
        """Let `device` be proved at each opening."""
        self._devices.setdefault(device, _DeviceState())

    def begin(self, exchange: Exchange) -> None:
        """The port was opened: what was known of its devices is so no longer.

        Raises:
            LinkLost, NoAnswer, BadAnswer: If none of them answers.
        """
        self._mute_since_s = None
        for state in self._devices.values():
            state.in_step, state.rests_until_s = self._tcp, -1.0
        failures = [self._failure(exchange, device) for device in self._devices]
        silent = [failure for failure in failures if failure is not None]
        if silent and len(silent) == len(failures):
            raise silent[0]

    def ask(self, exchange: Exchange, device: int, request: bytes, timeout_s: float) -> bytes:
        """The answer of `device` to `request` (both without frame), once it is in step.

        Raises:
            NoAnswer, BadAnswer, LinkLost: As for `Exchange.collect`.
            CommandRefused: The device answers with an exception, given in words.
        """
        if exchange.discard() and not self._tcp:
            self._state(device).in_step = False
        self._get_in_step(exchange, device)
        if not self._tcp:
            exchange.silence(self._gap_s, 10 * self._gap_s + STOP_SILENCE_S)
        elif self._gap_s:
            exchange.silence(self._gap_s, self._gap_s)
        return self._exchange(exchange, device, request, timeout_s)

    def insist(self, exchange: Exchange, device: int, request: bytes, timeout_s: float) -> bytes:
        """The answer to a request that serves a stop: sent at once, and again if need be.

        Synchrony is not proved first: the request must be one whose answer tells what was asked.

        Raises:
            NoAnswer, BadAnswer, CommandRefused, LinkLost: As for `ask`.
        """
        exchange.discard()
        if not self._tcp:
            exchange.silence(self._gap_s, STOP_SILENCE_S)
        self._state(device).in_step = self._tcp
        return self._exchange(exchange, device, request, timeout_s, for_a_stop=True)

    def get_in_step(self, exchange: Exchange, device: int, limit_s: float) -> None:
        """Prove that `device` answers in step, within `limit_s` wall seconds.

        Raises:
            NoAnswer: It gives no proof.
        """
        if not self._tcp and not self._state(device).in_step:
            self._prove(exchange, device, limit_s)

    # One exchange

    def _exchange(
        self,
        exchange: Exchange,
        device: int,
        request: bytes,
        timeout_s: float,
        *,
        for_a_stop: bool = False,
    ) -> bytes:
        state = self._state(device)
        was_in_step, state.in_step = state.in_step, self._tcp
        question = self._question(device, request)
        self._send(exchange, question)
        if for_a_stop:
            pdu = self._insist(exchange, question, timeout_s)
        else:
            pdu = self._answer(exchange, question, timeout_s)
        state.in_step = was_in_step
        if was_in_step:
            state.tokens_owed.clear()  # what was asked before this has been answered before it
        self._mute_since_s = None
        if pdu[0] & EXCEPTION:
            raise CommandRefused(
                exchange.instrument,
                f"device {device} at {exchange.where} refuses function {request[0]}, register "
                f"{int.from_bytes(request[1:3], 'big')}: {exception_words(pdu[1])}.",
                what_to_do="Compare register, table and device in the rig file with the manual.",
            )
        return pdu

    def _question(self, device: int, request: bytes) -> _Question:
        wanted = expected(device, request)
        if not self._tcp:
            return _Question(rtu_frame(device, request), wanted)
        self._transaction = (self._transaction + 1) & 0xFFFF
        return _Question(tcp_frame(self._transaction, device, request), wanted)

    def _send(self, exchange: Exchange, question: _Question) -> None:
        if self._mute_since_s is None:
            self._mute_since_s = exchange.wall.now_s()
        exchange.send(question.frame)

    def _mute_s(self, exchange: Exchange) -> float:
        """How long nobody has answered [s]."""
        since_s = self._mute_since_s
        return 0.0 if since_s is None else exchange.wall.now_s() - since_s

    def _insist(self, exchange: Exchange, question: _Question, timeout_s: float) -> bytes:
        """Send it a second time when the answer does not come at once.

        What was asked just before a stop cut it short may have made the device miss the first:
        some servers drop the second of two frames that arrive together.
        """
        first_s = min(STOP_AGAIN_S, timeout_s)
        try:
            return self._answer(exchange, question, first_s)
        except (NoAnswer, BadAnswer):
            self._send(exchange, question)
        return self._answer(exchange, question, timeout_s)

    def _answer(self, exchange: Exchange, question: _Question, timeout_s: float) -> bytes:
        if not self._tcp:
            find = _rtu_finder(question.wanted)
            return exchange.collect(find, timeout_s, asked=question.words)
        try:
            return self._tcp_answer(exchange, question, timeout_s)
        except NoAnswer as error:
            if self._mute_s(exchange) < PROOF_S:
                raise
            # A connection whose far end lost its power looks open for hours.
            raise LinkLost(error.instrument, error.message, what_to_do=error.what_to_do) from error

    def _tcp_answer(self, exchange: Exchange, question: _Question, timeout_s: float) -> bytes:
        until_s = exchange.wall.now_s() + timeout_s
        while True:
            left_s = max(until_s - exchange.wall.now_s(), 0.0)
            try:
                frame = exchange.collect(cut_tcp, left_s, asked=question.words)
            except BadAnswer as error:  # the stream has lost its place: only a new one helps
                raise LinkLost(
                    exchange.instrument,
                    error.message,
                    what_to_do="Is it a Modbus device, with Modbus TCP, that answers there?",
                ) from error
            if frame.transaction != self._transaction:
                exchange.statistics.late += 1
            elif question.wanted.fits(frame.device, frame.pdu):
                return frame.pdu
            else:
                raise BadAnswer(exchange.instrument, "the answer fits no question.", frame.pdu)

    # The proof of synchrony

    def _failure(self, exchange: Exchange, device: int) -> InstrumentError | None:
        try:
            self._get_in_step(exchange, device)
        except (NoAnswer, BadAnswer) as error:
            return error
        return None

    def _get_in_step(self, exchange: Exchange, device: int) -> None:
        state = self._state(device)
        if state.in_step:
            return
        alone = len(self._devices) == 1
        now_s = exchange.wall.now_s()
        if now_s < state.rests_until_s:
            raise _silent(exchange, device)
        try:
            self._prove(exchange, device, PROOF_S if alone else TOKEN_AGAIN_S)
        except NoAnswer as error:
            state.rests_until_s = exchange.wall.now_s() + REST_S
            if alone or self._mute_s(exchange) > PROOF_S:
                raise LinkLost(
                    error.instrument, error.message, what_to_do=error.what_to_do
                ) from error
            raise

    def _prove(self, exchange: Exchange, device: int, limit_s: float) -> None:
        """A token's echo proves it by itself; refusals are all alike and must be counted.

        As many refusals as there were tokens owed before belong to those; the next one proves it.
        """
        exchange.statistics.proofs += 1
        owed = self._state(device).tokens_owed
        while owed and exchange.wall.now_s() - owed[0] > TOKEN_LOST_S:
            owed.popleft()
        give_up_s = exchange.wall.now_s() + limit_s
        owed_before, refusals = len(owed), 0
        while (left_s := give_up_s - exchange.wall.now_s()) > 0:
            try:
                echoed = self._token(exchange, device, min(left_s, TOKEN_AGAIN_S))
            except (NoAnswer, BadAnswer):
                continue
            refusals += not echoed
            if echoed or refusals > owed_before:
                self._state(device).in_step = True
                self._mute_since_s = None
                return
        raise _silent(exchange, device)

    def _token(self, exchange: Exchange, device: int, timeout_s: float) -> bool:
        """Send a token; True for its echo, False for a refusal, which may be an older token's."""
        exchange.silence(self._gap_s, 10 * self._gap_s + STOP_SILENCE_S)
        request = bytes([DIAGNOSTICS, 0, 0]) + self._chance.randbytes(2)
        owed = self._state(device).tokens_owed
        self._send(exchange, self._question(device, request))
        owed.append(exchange.wall.now_s())
        find = _token_finder(expected(device, request))
        found = exchange.collect(find, timeout_s, asked="function 8")
        exchange.statistics.late += found.before > 0
        exchange.discard()  # a second refusal at the same time is not counted: it may be a double
        if found.pdu[0] & EXCEPTION:
            owed.popleft()
            return False
        owed.clear()
        return True

    def _state(self, device: int) -> _DeviceState:
        return self._devices.setdefault(device, _DeviceState())


def _rtu_finder(wanted: Expected) -> Callable[[bytes], tuple[bytes, int] | None]:
    def find(buffer: bytes) -> tuple[bytes, int] | None:
        found = find_rtu(buffer, wanted)
        if found is not None:
            return found.pdu, found.end
        if has_rtu_damage(buffer, wanted):
            raise Unreadable("a frame with a wrong CRC", buffer)
        return None

    return find


def _token_finder(wanted: Expected) -> Callable[[bytes], tuple[FoundFrame, int] | None]:
    def find(buffer: bytes) -> tuple[FoundFrame, int] | None:
        found = find_rtu(buffer, wanted)
        return None if found is None else (found, found.end)

    return find


def _silent(exchange: Exchange, device: int) -> NoAnswer:
    return NoAnswer(
        exchange.instrument,
        f"device {device} at {exchange.where} gives no sign of life.",
        what_to_do="Is it switched on? Check cable, device number, baud rate and parity.",
    )
