"""Instruments that speak SCPI: questions, commands checked against the error queue.

After a time-out, an answer that cannot be read, and each opening, question and answer are proved
to be in step before anything is believed: `*ESE n;*ESE?` with a random n must come back as n,
twice with different n. Whatever comes in between was late and is thrown away.
"""

from __future__ import annotations

import random
import re
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field

from drivers.burst import (
    SAMPLE_BYTES,
    Burst,
    Form,
    block_finder,
    samples_in_block,
    samples_in_text,
)
from drivers.burst_reader import BurstReader, longest_of
from drivers.channel_value import channel_value
from drivers.errors import (
    BadAnswer,
    CannotOpen,
    CommandRefused,
    LinkLost,
    NoAnswer,
    OutOfRange,
    Overloaded,
    Unreadable,
    visible,
)
from drivers.exchange import LONGEST_ANSWER, Exchange, Find
from drivers.port_driver import Poll, PortDriver
from drivers.scpi_text import is_token, queued_error, scpi_number
from profiles.instrument import Identify, ScpiChannel

PROOF_S = 5.0
"""Without a proof of synchrony for so long the link counts as lost [s]."""
TOKEN_AGAIN_S = 1.7
"""A token that was not answered is followed by another one after so long [s]."""
OPENING_TIMEOUT_S = 2.0
"""Identification and set-up may take longer than a reading [s]."""
_QUEUE_LONGEST = 20


@dataclass(slots=True)
class ScpiSetting:
    """How one port speaks SCPI, gathered from all that hang on it."""

    terminator: str = "\n"
    settle_s: float = 0.0
    identify: dict[str, Identify] = field(default_factory=dict)
    """By channel or actuator."""
    setup: dict[str, Sequence[str]] = field(default_factory=dict)


class ScpiDriver(PortDriver):
    """One SCPI instrument on its port, with all channels it reads and commands it takes."""

    def __init__(self, channels: dict[str, ScpiChannel], setting: ScpiSetting) -> None:
        self.settle_s = setting.settle_s
        self._end = setting.terminator.encode("latin-1")
        self._setting = setting
        self._bursts: dict[str, BurstReader] = {}
        self._polls = [self._poll(name, channel) for name, channel in channels.items()]
        self._longest = longest_of(self._bursts)
        self._in_step = False
        self._identities: dict[str, str] = {}
        self._openings: list[tuple[str, Callable[[Exchange], None]]] = []
        self._random = random.SystemRandom()
        self._tokens_used: deque[int] = deque(maxlen=60)

    @property
    def polls(self) -> Sequence[Poll]:
        return self._polls

    def identities(self) -> dict[str, str]:
        return dict(self._identities)

    def add_opening(self, instrument: str, act: Callable[[Exchange], None]) -> None:
        """Do `act` at each opening, once the instrument is in step."""
        self._openings.append((instrument, act))

    def burst(self, channel: str) -> Burst | None:
        reader = self._bursts.get(channel)
        return None if reader is None else reader.latest

    def _poll(self, name: str, channel: ScpiChannel) -> Poll:
        if channel.burst_samples is not None:
            return self._burst_poll(name, channel)
        part = channel.field if "field" in channel.model_fields_set else None

        def ask(exchange: Exchange) -> float:
            answer = self.ask(exchange, channel.query, channel.timeout_s)
            raw_value = self._number(exchange, answer, part)
            return channel_value(name, channel, raw_value, answer)

        return Poll(name, channel.every_s, ask)

    def _burst_poll(self, name: str, channel: ScpiChannel) -> Poll:
        reader = self._bursts[name] = BurstReader(name, channel)
        samples = self._samples_in_text if channel.burst_form in (None, "text") else self._block

        def ask(exchange: Exchange) -> float:
            self._get_in_step(exchange)
            said, raw = samples(exchange, channel, reader)
            return reader.take(said, exchange, raw)

        return Poll(name, channel.every_s, ask)

    def _samples_in_text(
        self, exchange: Exchange, channel: ScpiChannel, reader: BurstReader
    ) -> tuple[list[float], bytes]:
        answer = self._ask(exchange, channel.query, channel.timeout_s, longest=reader.longest)
        with self._understood(exchange, answer):
            return samples_in_text(answer.decode("latin-1"), reader.count), answer

    def _block(
        self, exchange: Exchange, channel: ScpiChannel, reader: BurstReader
    ) -> tuple[list[float], bytes]:
        form: Form = "f64" if channel.burst_form == "f64" else "f32"
        find = block_finder(reader.count * SAMPLE_BYTES[form], self._answer_end)
        body = self._ask(
            exchange, channel.query, channel.timeout_s, find=find, longest=reader.longest
        )
        with self._understood(exchange, body):
            swapped = channel.burst_order == "swapped"
            return samples_in_block(body, reader.count, form=form, swapped=swapped), body

    # Questions and commands; in the port's thread

    def ask(self, exchange: Exchange, question: str, timeout_s: float) -> bytes:
        """Ask one question and give its answer, one line.

        Raises:
            NoAnswer, BadAnswer, LinkLost: As for `Exchange.collect`.
        """
        self._get_in_step(exchange)
        return self._ask(exchange, question, timeout_s)

    def command(self, exchange: Exchange, texts: Sequence[str], timeout_s: float) -> None:
        """Send commands, then ask the error queue whether all were accepted.

        Raises:
            CommandRefused: The error queue holds an entry; its words are in the message.
        """
        self._get_in_step(exchange)
        self._tell(exchange, texts)
        self._check_queue(exchange, timeout_s, ", ".join(texts))

    def command_now(self, exchange: Exchange, texts: Sequence[str], timeout_s: float) -> None:
        """The same for a stop: sends at once, and proves synchrony afterwards.

        Raises:
            CommandRefused: The error queue holds an entry.
        """
        self._tell(exchange, texts)
        self._get_in_step(exchange, clear=False)
        self._check_queue(exchange, timeout_s, ", ".join(texts))

    def _tell(self, exchange: Exchange, texts: Sequence[str]) -> None:
        self._in_step = False
        for text in texts:
            exchange.send(text.encode("latin-1") + self._end)

    def _ask(
        self,
        exchange: Exchange,
        question: str,
        timeout_s: float,
        *,
        find: Find[bytes] | None = None,
        longest: int = LONGEST_ANSWER,
    ) -> bytes:
        self._in_step = False
        exchange.send(question.encode("latin-1") + self._end)
        answer = exchange.collect(find or self._line, timeout_s, asked=question, longest=longest)
        if exchange.left_over:
            raise self._bad(exchange, "more than one line came", answer + exchange.left_over)
        self._in_step = True
        return answer

    def _check_queue(self, exchange: Exchange, timeout_s: float, what: str) -> None:
        words: list[str] = []
        for _ in range(_QUEUE_LONGEST):
            answer = self._ask(exchange, "SYST:ERR?", timeout_s)
            try:
                entry = queued_error(answer)
            except Unreadable as error:
                raise self._bad(exchange, str(error), answer) from error
            if entry.number == 0:
                break
            words.append(f"{entry.number} {entry.words}".strip())
        if words:
            raise CommandRefused(
                exchange.instrument,
                f"refused {what}: {visible('; '.join(words).encode('latin-1', 'replace'), 200)}.",
                what_to_do="Compare the command in the rig file with the instrument's manual.",
            )

    def _number(self, exchange: Exchange, answer: bytes, part: int | None) -> float:
        with self._understood(exchange, answer):
            return scpi_number(answer, part)

    @contextmanager
    def _understood(self, exchange: Exchange, answer: bytes) -> Iterator[None]:
        """What the pure formats raise, said of this instrument."""
        try:
            yield
        except OutOfRange as error:
            raise Overloaded(
                exchange.instrument,
                f"{error}.",
                answer[:LONGEST_ANSWER],
                what_to_do="The quantity is outside the instrument's range.",
            ) from error
        except Unreadable as error:
            raise self._bad(exchange, str(error), answer[:LONGEST_ANSWER]) from error

    def _bad(self, exchange: Exchange, why: str, answer: bytes) -> BadAnswer:
        self._in_step = False
        return BadAnswer(
            exchange.instrument,
            f"{why}: {visible(answer)} from {exchange.where}.",
            answer,
            what_to_do="Check query, field and terminator in the rig file.",
        )

    @property
    def _answer_end(self) -> bytes:
        """Whatever else is sent, a line feed ends an answer where the terminator has one."""
        return b"\n" if self._end.endswith(b"\n") else self._end

    def _line(self, buffer: bytes) -> tuple[bytes, int] | None:
        end = self._answer_end
        start = 0
        while (stop := buffer.find(end, start)) >= 0:
            line = buffer[start:stop].strip()
            start = stop + len(end)
            if line:
                return line, start
        return None

    # Opening and the proof of synchrony

    def opened(self, exchange: Exchange) -> None:
        self._in_step = False
        self._get_in_step(exchange)
        for name, identify in self._setting.identify.items():
            exchange.instrument = name
            self._identify(exchange, name, identify)
        for name, commands in self._setting.setup.items():
            exchange.instrument = name
            if commands:
                self.command(exchange, commands, OPENING_TIMEOUT_S)
        for name, act in self._openings:
            exchange.instrument = name
            act(exchange)

    def _identify(self, exchange: Exchange, name: str, identify: Identify) -> None:
        answer = self.ask(exchange, identify.send, OPENING_TIMEOUT_S).decode("latin-1")
        if identify.match and not re.search(identify.match, answer):
            raise CannotOpen(
                name,
                f"another instrument than expected answers at {exchange.where}: "
                f"{visible(answer.encode('latin-1'), 100)}.",
                what_to_do=f"Expected is {identify.match!r}; check plug, port and rig file.",
            )
        self._identities[name] = answer.strip()

    def _get_in_step(self, exchange: Exchange, *, clear: bool = True) -> None:
        unasked = exchange.discard()
        if self._in_step and not unasked:
            return
        self._in_step = False
        exchange.statistics.proofs += 1
        give_up_s = exchange.wall.now_s() + PROOF_S
        if clear:
            exchange.send(b"*CLS" + self._end)  # errors of before are not the next command's
        rounds = 0
        while rounds < 2:
            if exchange.wall.now_s() >= give_up_s:
                raise self._no_proof(exchange)
            came = self._token_comes(exchange, self._new_token(), give_up_s)
            rounds = rounds + 1 if came else 0
        self._in_step = True

    def _token_comes(self, exchange: Exchange, token: int, give_up_s: float) -> bool:
        exchange.send(f"*ESE {token};*ESE?".encode() + self._end)
        until_s = min(give_up_s, exchange.wall.now_s() + TOKEN_AGAIN_S)
        while (left_s := until_s - exchange.wall.now_s()) > 0:
            try:
                line = exchange.collect(self._line, left_s, asked="*ESE?", longest=self._longest)
            except NoAnswer:
                return False
            except BadAnswer:
                continue
            if is_token(line, token):
                return not exchange.discard()  # what comes with it belongs to nothing
            exchange.statistics.late += 1
        return False

    def _new_token(self) -> int:
        """One whose answer cannot be on its way from an earlier proof."""
        tokens = [token for token in range(1, 256) if token not in self._tokens_used]
        token = self._random.choice(tokens)
        self._tokens_used.append(token)
        return token

    @staticmethod
    def _no_proof(exchange: Exchange) -> LinkLost:
        return LinkLost(
            exchange.instrument,
            f"{exchange.where} does not answer *ESE? in step within {PROOF_S:g} s.",
            what_to_do="Is it switched on and set to remote? Check cable, baud rate, terminator.",
        )
