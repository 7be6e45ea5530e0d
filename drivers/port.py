"""One thread per port: it alone opens, asks, commands and closes; a stop goes before everything."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeVar

from drivers.clock import Clock
from drivers.errors import (
    BadAnswer,
    CannotOpen,
    CommandExpired,
    CommandRefused,
    InstrumentClosed,
    InstrumentError,
    LinkLost,
    NoAnswer,
    Overloaded,
)
from drivers.exchange import CutShort, Exchange
from drivers.gathering import Gathering
from drivers.links import Link
from drivers.pending import Pending
from drivers.poll_times import PollTimes
from drivers.port_driver import PortDriver
from drivers.readings import Quality, Reading
from drivers.statistics import PortStatistics
from drivers.traffic import Passed
from drivers.wall import RealWall, Wall, pace_of

T = TypeVar("T")
SLICE_S = 0.05
STOP_SLICE_S = 0.01
"""Slice of a port that an actuator hangs on."""
FIRST_BACK_OFF_S, LONGEST_BACK_OFF_S = 0.2, 3.0
URGENT_BACK_OFF_S = 0.1
COMMAND_EXPIRES_S = 2.0
IDLE_S = 1.0
"""How often a port on which nothing happens is looked at [s]."""
COUNTERS = {
    Quality.TIMEOUT: "timeouts",
    Quality.BAD: "bad",
    Quality.OVERLOAD: "overloads",
    Quality.REFUSED: "refused",
}
"""Which of the statistics counts a reading that is not ok."""


@dataclass(frozen=True, slots=True)
class PortEvent:
    """Something for the journal."""

    t_s: float
    where: str
    kind: str
    """`opened`, `lost`, `not opened`, `stop sent`, `stop failed`, `fault`, `closed`."""
    words: str


@dataclass(slots=True)
class _Call:
    pending: Pending[Any]
    act: Callable[[Exchange], Any]


class Port:
    """One port, its thread, and the instruments on it.

    `put` takes readings, `remark` takes events; both are called from the port's thread.
    """

    def __init__(
        self,
        link: Link,
        driver: PortDriver,
        *,
        clock: Clock,
        put: Callable[[Reading], None],
        remark: Callable[[PortEvent], None] = lambda event: None,
        wall: Wall | None = None,
        slice_s: float = SLICE_S,
    ) -> None:
        self.link = link
        self.driver = driver
        self.statistics = PortStatistics()
        self.trouble: InstrumentError | None = None
        """Why the port does not work now; None when it does."""
        self._clock, self._put, self._remark = clock, put, remark
        self._wall: Wall = wall or RealWall()
        self._lock = threading.Lock()
        self._wake = threading.Event()
        self._commands: deque[_Call] = deque()
        self._urgent: list[_Call] = []
        self._serving_urgent = False
        self._ready = False
        self._closing = threading.Event()
        self._closed = False
        self._polls_turn = False
        """A command was served last: those that come thick and fast must not starve the polls."""
        self._times = PollTimes(driver.polls, pace_of(clock))
        self._gathering = Gathering(slice_s, pace_of(clock))
        self._back_off_s = FIRST_BACK_OFF_S
        self._exchange = Exchange(
            link,
            clock=clock,
            wall=self._wall,
            statistics=self.statistics,
            slice_s=slice_s,
            cut=self._must_cut,
        )
        self._thread = threading.Thread(target=self.run, name=f"port {link.where}", daemon=True)

    # From any thread

    def traffic(self) -> list[Passed]:
        """The bytes that went over this port lately, the newest last."""
        return self._exchange.traffic.last()

    def start(self) -> None:
        """Start the port's thread."""
        self._thread.start()

    @property
    def ready(self) -> bool:
        """True while the link is open and the instruments on it have answered."""
        return self._ready

    def ask_to_close(self) -> None:
        """Have the thread end once a stop under way is finished; does not wait for it."""
        self._closing.set()
        self._wake.set()

    def close(self, join_s: float = 1.0) -> bool:
        """End the thread, which closes the link; True when it ended within `join_s`."""
        self.ask_to_close()
        if self._thread.ident is not None and self._thread is not threading.current_thread():
            self._thread.join(join_s)
        return not self._thread.is_alive()

    def call(
        self,
        instrument: str,
        what: str,
        act: Callable[[Exchange], T],
        expires_s: float = COMMAND_EXPIRES_S,
    ) -> Pending[T]:
        """Have `act` done once between polls, within `expires_s` wall seconds or not at all.

        It is refused at once when the link is not open or a stop is going on: nothing that was
        queued before a reconnect or a stop may go out after it.
        """
        pending: Pending[T] = Pending(instrument, what, self._wall.now_s() + expires_s, self._wall)
        with self._lock:
            refusal = self._refusal(instrument, what)
            if refusal is None:
                self._commands.append(_Call(pending, act))
        if refusal is not None:
            pending.fail(refusal)
        self._wake.set()
        return pending

    def call_urgent(
        self,
        instrument: str,
        what: str,
        act: Callable[[Exchange], T],
        deadline_s: float,
        *,
        before_others: bool = False,
    ) -> Pending[T]:
        """Have `act` done before everything else, again and again until it succeeds.

        It cuts an exchange in progress short, drops every queued command, and is tried again
        after a failure or a reconnect until `deadline_s` wall seconds have passed. With
        `before_others` it goes in front of other urgent calls.
        """
        pending: Pending[T] = Pending(instrument, what, self._wall.now_s() + deadline_s, self._wall)
        with self._lock:
            closed = self._closed or self._closing.is_set()
            if not closed:
                place = 0 if before_others else len(self._urgent)
                self._urgent.insert(place, _Call(pending, act))
        if closed:
            pending.fail(InstrumentClosed(instrument, f"{what}: the port is closed."))
        self._drop_commands(CommandExpired(instrument, "a stop overtook this command."))
        self._wake.set()
        return pending

    def _refusal(self, instrument: str, what: str) -> InstrumentError | None:
        if self._closed or self._closing.is_set():
            return InstrumentClosed(instrument, f"{what}: the port is closed.")
        if self._urgent:
            return CommandExpired(instrument, f"{what}: a stop is going on.")
        if not self._ready:
            return LinkLost(
                instrument,
                f"{what} was not sent: {self.link.where} is not open.",
                what_to_do="Wait until the instrument is back, then give the command again.",
            )
        return None

    # In the port's thread

    def run(self) -> None:
        """The thread: open, serve, back off, again; until `close`."""
        while not self._over():
            try:
                self._session()
            except CutShort:
                continue
            except InstrumentError as error:
                self._fell(error)
            except Exception as error:  # noqa: BLE001  a fault of ours must not end the thread silently
                self.statistics.faults += 1
                self._fell(_fault(self.link.where, error), kind="fault")
        self._end()

    def _session(self) -> None:
        self.link.open()
        self.statistics.reopened += 1
        self._exchange.instrument = self.link.where
        opened = False
        while not self._over():
            try:
                if self._urgent:
                    self._serve_urgent()
                elif not opened:
                    self._begin()
                    opened = True
                else:
                    self._step()
            except CutShort:
                continue

    def _begin(self) -> None:
        """After each opening: let the instrument wake up, then prove that it answers in step."""
        self._exchange.pause(self.driver.settle_s)
        self._exchange.discard(counted=not self.driver.listens)
        self.driver.opened(self._exchange)
        self._times.restart(self._wall.now_s())
        self._gathering.restart()
        self.trouble = None
        self._back_off_s = FIRST_BACK_OFF_S
        with self._lock:
            self._ready = True
        self._event("opened", self.link.where)

    def _step(self) -> None:
        if self._wake.is_set():
            self._wake.clear()
        wait_s = self._times.wait_s(self._wall.now_s())
        call = None if self._polls_turn and wait_s <= 0 else self._next_command()
        if call is not None:
            self._polls_turn = True
            self._serve(call)
            return
        self._polls_turn = False
        if wait_s <= 0:
            self._ask()
        elif self.driver.listens:
            self._hear(wait_s)
        elif not self._urgent:
            if self._wall.wait(self._wake, min(wait_s, IDLE_S)):
                return
            if wait_s > IDLE_S:
                self._exchange.look()
            else:  # what the next question notices too
                self._ask()

    def _hear(self, wait_s: float) -> None:
        if self._gathering.nap_s:
            self._wall.wait(self._wake, self._gathering.left_s(self._wall.now_s()))
            data = self._exchange.hear_gathered()
        else:
            data = self._exchange.hear(wait_s)
        self._gathering.heard(len(data), self._wall.now_s())
        try:
            readings = self.driver.heard(self._exchange, data)
        except InstrumentError:
            raise
        except Exception as error:  # noqa: BLE001  reported as readings, the thread lives on
            readings = [self._faulty(channel, error) for channel in self.driver.channels]
        for reading in readings:
            self._pass_on(reading)

    def _ask(self) -> None:
        """The question that is due."""
        poll = self._times.take(self._wall.now_s(), self.statistics)
        self._exchange.instrument = poll.channel
        began_s = self._clock.monotonic_s()
        try:
            value = poll.ask(self._exchange)
        except CutShort:
            raise
        except LinkLost:
            raise
        except InstrumentError as error:
            reading = self._failed(poll.channel, error)
        except Exception as error:  # noqa: BLE001  reported as a reading, the thread lives on
            reading = self._faulty(poll.channel, error)
        else:
            reading = self._good(poll.channel, value, began_s)
        self._pass_on(reading)

    def _good(self, channel: str, value: float, began_s: float) -> Reading:
        sent_s = max(self._exchange.sent_t_s, began_s)
        answered_s = max(self._exchange.answered_t_s, sent_s)
        return Reading(channel, (sent_s + answered_s) / 2, value, span_s=answered_s - sent_s)

    def _failed(self, channel: str, error: InstrumentError) -> Reading:
        raw = error.raw if isinstance(error, BadAnswer) else b""
        return Reading(
            channel, self._clock.monotonic_s(), None, _quality(error), raw=raw, note=str(error)
        )

    def _faulty(self, channel: str, error: Exception) -> Reading:
        self.statistics.faults += 1
        fault = _fault(channel, error)
        self._event("fault", str(fault))
        return Reading(channel, self._clock.monotonic_s(), None, Quality.BAD, note=str(fault))

    def _pass_on(self, reading: Reading) -> None:
        if reading.quality is Quality.OK:
            self.statistics.received += 1
        elif (counter := COUNTERS.get(reading.quality)) is not None:
            setattr(self.statistics, counter, getattr(self.statistics, counter) + 1)
        self._put(reading)

    # Commands

    def _next_command(self) -> _Call | None:
        if not self._commands:  # whoever adds one wakes this thread afterwards
            return None
        with self._lock:
            while self._commands:
                call = self._commands.popleft()
                if call.pending.begin():
                    return call
                self.statistics.dropped += 1
        return None

    def _serve(self, call: _Call) -> None:
        self._exchange.instrument = call.pending.instrument
        try:
            call.pending.succeed(call.act(self._exchange))
        except CutShort:
            call.pending.fail(
                CommandExpired(
                    call.pending.instrument, f"{call.pending.what} was cut short by a stop."
                )
            )
            raise
        except LinkLost as error:
            call.pending.fail(error)
            raise
        except InstrumentError as error:
            call.pending.fail(error)
        except Exception as error:  # noqa: BLE001  whoever gave the command is told
            self.statistics.faults += 1
            call.pending.fail(_fault(call.pending.instrument, error))

    def _serve_urgent(self) -> None:
        """Try the first urgent call once; on failure it goes behind the others."""
        call = self._urgent[0]
        if not call.pending.begin():
            self._finish_urgent(call)
            return
        self._exchange.instrument = call.pending.instrument
        self._serving_urgent = True
        try:
            call.pending.succeed(call.act(self._exchange))
            self._finish_urgent(call)
            self._event("stop sent", f"{call.pending.instrument}: {call.pending.what}")
        except InstrumentError as error:
            self._urgent_failed(call, error)
            if isinstance(error, LinkLost):
                raise
        except Exception as error:  # noqa: BLE001  the stop is tried again until its deadline
            self.statistics.faults += 1
            self._urgent_failed(call, _fault(call.pending.instrument, error))
        finally:
            self._serving_urgent = False

    def _urgent_failed(self, call: _Call, error: InstrumentError) -> None:
        if self._wall.now_s() > call.pending.deadline_s:
            call.pending.fail(error)
            self._finish_urgent(call)
            self._event("stop failed", str(error))
            return
        with self._lock:
            self._urgent.remove(call)
            self._urgent.append(call)

    def _finish_urgent(self, call: _Call) -> None:
        with self._lock:
            self._urgent.remove(call)

    def _over(self) -> bool:
        """Closing waits for a stop that is under way: until it succeeds or its time is up."""
        return self._closing.is_set() and not self._urgent

    def _must_cut(self) -> bool:
        if self._serving_urgent:
            return False
        return bool(self._urgent) or self._closing.is_set()

    # The link going away

    def _fell(self, error: InstrumentError, kind: str = "") -> None:
        was_ready = self._ready
        with self._lock:
            self._ready = False
        self.link.close()
        self.trouble = error
        self._drop_commands(error)
        self._event(kind or ("lost" if was_ready else "not opened"), str(error))
        t_s = self._clock.monotonic_s()
        for channel in self.driver.channels:
            self._put(Reading(channel, t_s, None, Quality.LINK_LOST, note=str(error)))
        self._back_off()

    def _back_off(self) -> None:
        """Wait before the next try; a stop shortens it."""
        until_s = self._wall.now_s() + self._back_off_s
        self._back_off_s = min(2 * self._back_off_s, LONGEST_BACK_OFF_S)
        while not self._over():
            self._wake.clear()
            self._give_up_old_stops()
            wait_s = until_s - self._wall.now_s()
            if self._urgent:
                self._wall.wait(threading.Event(), min(wait_s, URGENT_BACK_OFF_S))
                return
            if wait_s <= 0:
                return
            self._wall.wait(self._wake, wait_s)

    def _give_up_old_stops(self) -> None:
        for call in list(self._urgent):
            if self._wall.now_s() > call.pending.deadline_s:
                call.pending.fail(self.trouble or _not_sent(call.pending))
                self._finish_urgent(call)
                self._event("stop failed", str(call.pending.error))

    def _drop_commands(self, error: InstrumentError) -> None:
        with self._lock:
            dropped, self._commands = list(self._commands), deque()
        for call in dropped:
            self.statistics.dropped += 1
            call.pending.fail(error)

    def _end(self) -> None:
        with self._lock:
            self._closed, self._ready = True, False
            urgent, self._urgent = self._urgent, []
        self.link.close()
        closed = InstrumentClosed(self.link.where, "the port was closed.")
        self._drop_commands(closed)
        for call in urgent:
            call.pending.fail(closed)
        self._event("closed", self.link.where)

    def _event(self, kind: str, words: str) -> None:
        self._remark(PortEvent(self._clock.monotonic_s(), self.link.where, kind, words))


def _quality(error: InstrumentError) -> Quality:
    if isinstance(error, NoAnswer):
        return Quality.TIMEOUT
    if isinstance(error, Overloaded):
        return Quality.OVERLOAD
    if isinstance(error, CommandRefused):
        return Quality.REFUSED
    return Quality.BAD


def _fault(instrument: str, error: Exception) -> InstrumentError:
    return InstrumentError(
        instrument,
        f"a fault in the program: {type(error).__name__}: {error}.",
        what_to_do="Please report it with the output of `steadyamps doctor`.",
    )


def _not_sent(pending: Pending[Any]) -> CannotOpen:
    return CannotOpen(pending.instrument, f"{pending.what} could not be sent.")
