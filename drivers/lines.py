"""Instruments that send lines of text: by themselves, or one for each question."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from drivers.burst import Burst, samples_in_text
from drivers.burst_reader import BurstReader, longest_of
from drivers.channel_value import channel_value
from drivers.errors import BadAnswer, LinkLost, NoAnswer, Unreadable, visible
from drivers.exchange import LONGEST_ANSWER, Exchange
from drivers.line_pattern import NO_MATCH, LineFramer, LinePattern
from drivers.port_driver import Poll, PortDriver
from drivers.readings import Quality, Reading
from profiles.instrument import LinesChannel

LATE_S = 5.0
"""An answer that has not come after so long will not come [s]."""
QUIET_S = 1.0
"""After an answer that could not be read, the line must be quiet for so long [s]."""
MUTE_S = 10.0
"""A connection on which nothing at all has come for so long is opened anew [s]."""
LONGEST_PATIENCE_S = 2.0
"""An instrument that talks seldom is waited for up to so long before its channel is stale [s]."""
BAD_EVERY_S = 0.05
"""At most one refused reading of a channel in this time: noise must not fill the record [s]."""


@dataclass(slots=True)
class _Listener:
    """One channel of a talking instrument."""

    name: str
    read: Callable[[bytes], tuple[float, str | None] | None]
    """Value and counter in a line; None when the line is another channel's."""
    silent_s: float
    heard_s: float = 0.0
    every_s: float = 0.0
    """How long it was silent before its last reading [s]."""
    due_s: float = 0.0
    """When it is said to be stale, unless it is heard before [s]."""
    bad_s: float = -1.0
    count: str | None = None

    @property
    def patience_s(self) -> float:
        """Silence after which it is stale: its limit, or more when it talks seldom [s]."""
        return max(self.silent_s, min(1.5 * self.every_s, LONGEST_PATIENCE_S))

    def heard_at(self, now_s: float) -> None:
        """A good line came."""
        self.every_s = now_s - self.heard_s
        self.heard_s = now_s
        self.due_s = now_s + self.patience_s

    def opened_at(self, now_s: float) -> None:
        """Nothing was heard yet."""
        self.heard_s, self.every_s, self.count = now_s, 0.0, None
        self.due_s = now_s + self.patience_s


class StreamDriver(PortDriver):
    """Instruments that talk by themselves on one port; each line is offered to each channel.

    With `others_allowed` a sound line that is no channel's is no fault.
    """

    listens = True

    def __init__(self, settle_s: float, terminator: str, *, others_allowed: bool = False) -> None:
        self.settle_s = settle_s
        self._terminator = terminator.encode("latin-1")
        self._framer = LineFramer(self._end())
        self._heard_s = 0.0
        self._listeners: list[_Listener] = []
        self._others_allowed = others_allowed

    def _end(self) -> bytes:
        """Without a special terminator, carriage return and line feed both end a line."""
        return b"" if self._terminator in (b"\n", b"\r\n", b"\r") else self._terminator

    def listen(
        self,
        name: str,
        read: Callable[[bytes], tuple[float, str | None] | None],
        *,
        silent_s: float,
    ) -> None:
        """Add a channel."""
        self._listeners.append(_Listener(name, read, silent_s))

    @property
    def channels(self) -> Sequence[str]:
        return [listener.name for listener in self._listeners]

    def opened(self, exchange: Exchange) -> None:
        self._framer = LineFramer(self._end())
        self._heard_s = exchange.wall.now_s()
        for listener in self._listeners:
            listener.opened_at(self._heard_s)

    def tell(self, exchange: Exchange, text: str) -> None:
        """Send a command line; nothing answers it."""
        exchange.send(text.encode("latin-1") + self._terminator)

    def heard(self, exchange: Exchange, data: bytes) -> Sequence[Reading]:
        now_s = exchange.wall.now_s()
        if data:
            self._heard_s = now_s
        else:
            self._notice_mute(exchange, now_s)
        readings: list[Reading] = []
        overruns = self._framer.overruns
        lines = self._framer.feed(data)
        apart_s = (exchange.answered_t_s - exchange.since_t_s) / max(len(lines), 1)
        for left, line in enumerate(lines, 1 - len(lines)):
            # what gathered came evenly, as far as one can tell
            readings += self._readings(
                exchange, line, now_s, exchange.answered_t_s + left * apart_s
            )
        if self._framer.overruns > overruns:
            fault = Unreadable("a line without an end", data)
            readings += self._bad(exchange, self._listeners, fault, exchange.answered_t_s)
        return readings + self._silent(exchange, now_s)

    def _notice_mute(self, exchange: Exchange, now_s: float) -> None:
        """A connection whose far end lost its power looks open for hours."""
        silent_s = now_s - self._heard_s
        if self._listeners and silent_s > MUTE_S and silent_s > 3 * self._patience_s():
            raise LinkLost(
                ", ".join(self.channels),
                f"nothing at all comes from {exchange.where}.",
                what_to_do="Is it switched on and sending? Check the cable and the baud rate.",
            )

    def _patience_s(self) -> float:
        return max((listener.silent_s for listener in self._listeners), default=MUTE_S)

    def _readings(self, exchange: Exchange, line: bytes, now_s: float, t_s: float) -> list[Reading]:
        faults: list[Unreadable] = []
        readings: list[Reading] = []
        for listener in self._listeners:
            try:
                found = listener.read(line)
                if found is not None:
                    readings.append(self._heard(t_s, listener, now_s, *found))
            except BadAnswer as error:
                readings += self._bad(exchange, [listener], Unreadable(error.message, line), t_s)
            except Unreadable as error:
                faults.append(error)
        if readings or (self._others_allowed and not faults):
            return readings
        fault = faults[0] if faults else Unreadable(NO_MATCH, line)
        return self._bad(exchange, self._listeners, fault, t_s)

    @staticmethod
    def _heard(
        t_s: float, listener: _Listener, now_s: float, value: float, count: str | None
    ) -> Reading:
        if count is not None and count == listener.count:
            note = f"the instrument repeats its reading number {count}"
            return Reading(listener.name, t_s, None, Quality.STALE, note=note)
        listener.count = count
        listener.heard_at(now_s)
        return Reading(listener.name, t_s, value)

    @staticmethod
    def _bad(
        exchange: Exchange, listeners: Sequence[_Listener], fault: Unreadable, t_s: float
    ) -> list[Reading]:
        now_s = exchange.wall.now_s()
        due = [each for each in listeners if now_s - each.bad_s >= BAD_EVERY_S or each.bad_s < 0]
        for listener in due:
            listener.bad_s = now_s
        exchange.statistics.bad += not due
        note = f"{fault}: {visible(fault.raw)}"
        return [
            Reading(each.name, t_s, None, Quality.BAD, raw=fault.raw, note=note) for each in due
        ]

    def _silent(self, exchange: Exchange, now_s: float) -> list[Reading]:
        readings = []
        for listener in self._listeners:
            if now_s <= listener.due_s:
                continue
            listener.due_s = now_s + listener.patience_s
            note = f"nothing usable from {exchange.where} for {now_s - listener.heard_s:.1f} s"
            t_s = exchange.now_t_s()
            readings.append(Reading(listener.name, t_s, None, Quality.STALE, note=note))
        return readings


def line_reader(
    name: str, channel: LinesChannel
) -> Callable[[bytes], tuple[float, str | None] | None]:
    """What makes a value of a line of `channel`; None where it does not match.

    Raises Unreadable or BadAnswer.
    """
    pattern = LinePattern(channel.pattern)

    def read(line: bytes) -> tuple[float, str | None] | None:
        found = pattern.find(line)
        if found is None:
            return None
        value, count = found
        return channel_value(name, channel, value, line), count

    return read


def asked_line_reader(name: str, channel: LinesChannel) -> Callable[[bytes, Exchange], float]:
    """What makes a value of an answer; raises Unreadable or BadAnswer."""
    pattern = LinePattern(channel.pattern)

    def read(line: bytes, _exchange: Exchange) -> float:
        return channel_value(name, channel, pattern.read(line).value, line)

    return read


def burst_line_reader(
    channel: LinesChannel, burst: BurstReader
) -> Callable[[bytes, Exchange], float]:
    """What makes a value of a line that holds a burst; raises Unreadable or BadAnswer."""
    pattern = LinePattern(channel.pattern)

    def read(line: bytes, exchange: Exchange) -> float:
        text = pattern.read_text(line, burst.longest)
        return burst.take(samples_in_text(text, burst.count), exchange, line)

    return read


def stream_driver(
    channels: dict[str, LinesChannel], settle_s: float, terminator: str
) -> StreamDriver:
    """The driver for instruments that talk by themselves on one port."""
    driver = StreamDriver(settle_s, terminator)
    for name, channel in channels.items():
        driver.listen(name, line_reader(name, channel), silent_s=channel.timeout_s)
    return driver


class AskedLinesDriver(PortDriver):
    """Instruments that answer a question with one line, and know no token to prove synchrony by.

    Each question has one answer, in order. So after a time-out the next question waits until the
    late answer has come and was thrown away, or has not come for `LATE_S`.
    """

    def __init__(self, channels: dict[str, LinesChannel], settle_s: float, terminator: str) -> None:
        self.settle_s = settle_s
        self._end = terminator.encode("latin-1")
        self._bursts: dict[str, BurstReader] = {}
        self._polls = [self._poll(name, channel) for name, channel in channels.items()]
        self._longest = longest_of(self._bursts)
        self._owed = 0
        self._late_until_s = 0.0
        self._unreadable = False

    @property
    def polls(self) -> Sequence[Poll]:
        return self._polls

    def opened(self, exchange: Exchange) -> None:
        """What was asked before a reconnect may still be answered after it."""
        self._get_in_step(exchange)

    def tell(self, exchange: Exchange, text: str) -> None:
        """Send a command line; nothing answers it."""
        exchange.send(text.encode("latin-1") + self._end)

    def burst(self, channel: str) -> Burst | None:
        reader = self._bursts.get(channel)
        return None if reader is None else reader.latest

    def _poll(self, name: str, channel: LinesChannel) -> Poll:
        read: Callable[[bytes, Exchange], float]
        if channel.burst_samples is None:
            read, longest = asked_line_reader(name, channel), LONGEST_ANSWER
        else:
            burst = self._bursts[name] = BurstReader(name, channel)
            read, longest = burst_line_reader(channel, burst), burst.longest
        question = channel.query or ""

        def ask(exchange: Exchange) -> float:
            self._get_in_step(exchange)
            self._owed += 1
            self._late_until_s = exchange.wall.now_s() + LATE_S
            self.tell(exchange, question)
            line = exchange.collect(self._line, channel.timeout_s, asked=question, longest=longest)
            self._owed -= 1
            self._unreadable = True
            if exchange.left_over:
                raise BadAnswer(name, "more than one line came.", line + exchange.left_over)
            try:
                value = read(line, exchange)
            except Unreadable as error:
                raise BadAnswer(name, f"{error}: {visible(line)}.", line) from error
            self._unreadable = False
            return value

        return Poll(name, channel.every_s, ask)

    def _get_in_step(self, exchange: Exchange) -> None:
        if self._owed or self._unreadable:
            exchange.statistics.proofs += 1
        while self._owed:
            left_s = max(self._late_until_s - exchange.wall.now_s(), 0.0)
            try:
                exchange.collect(self._line, left_s, asked="a late answer", longest=self._longest)
                exchange.statistics.late += 1
                self._owed -= 1
            except NoAnswer:
                self._owed = 0
        if exchange.discard() or self._unreadable:
            exchange.silence(QUIET_S, LATE_S)
            exchange.discard()
        self._unreadable = False

    def _line(self, buffer: bytes) -> tuple[bytes, int] | None:
        end = b"\n" if self._end.endswith(b"\n") else self._end
        start = 0
        while (stop := buffer.find(end, start)) >= 0:
            line = buffer[start:stop].strip(b"\r\n")
            start = stop + len(end)
            if line:
                return line, start
        return None
