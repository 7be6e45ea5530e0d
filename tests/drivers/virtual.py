"""Time and a link that exist only in the test: nothing sleeps, everything is in its place.

A `Device` gets what the driver sends and says what comes back and when; the link hands that out
as virtual time goes by. `run_port` runs a port's own loop in the test's thread.
"""

from __future__ import annotations

import heapq
import itertools
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from drivers.errors import CannotOpen, LinkLost
from drivers.links import not_open
from drivers.port import Port, PortEvent
from drivers.port_driver import PortDriver
from drivers.readings import Reading

WHERE = "virtual port"


class VirtualTime:
    """Wall and clock in one; `at` puts something on the timetable."""

    def __init__(self) -> None:
        self._now_s = 0.0
        self._timetable: list[tuple[float, int, Callable[[], None]]] = []
        self._order = itertools.count()

    def now_s(self) -> float:
        return self._now_s

    def monotonic_s(self) -> float:
        return self._now_s

    def utc(self) -> datetime:
        return datetime(2026, 1, 2, tzinfo=UTC) + timedelta(seconds=self._now_s)

    def utc_offset(self) -> timedelta:
        return timedelta()

    def sleep_s(self, seconds: float) -> None:
        self.go_to(self._now_s + seconds)

    def at(self, t_s: float, act: Callable[[], None]) -> None:
        heapq.heappush(self._timetable, (t_s, next(self._order), act))

    def go_to(self, t_s: float, until: Callable[[], bool] = lambda: False) -> None:
        """Move on to `t_s`, doing what is due on the way; stop when `until` holds."""
        while self._timetable and self._timetable[0][0] <= t_s and not until():
            due_s, _, act = heapq.heappop(self._timetable)
            self._now_s = max(self._now_s, due_s)
            act()
        if not until():
            self._now_s = max(self._now_s, t_s)

    def wait(self, event: threading.Event, seconds: float) -> bool:
        self.go_to(self._now_s + max(seconds, 1e-6), event.is_set)
        return event.is_set()


class Device:
    """What hangs on the virtual link; subclasses answer in `heard`."""

    time: VirtualTime
    link: VirtualLink

    def plugged(self) -> None:
        """The link was opened."""

    def heard(self, data: bytes) -> None:
        """The driver sent `data`."""

    def say(self, data: bytes, at_s: float) -> None:
        """Let `data` arrive at the driver at `at_s`."""
        self.link.bring(data, at_s)


class VirtualLink:
    """A link whose other end is a `Device`."""

    def __init__(self, time: VirtualTime, device: Device, *, keeps_late: bool = True) -> None:
        self.time = time
        self.device = device
        self.gone = False
        """True while it is unplugged."""
        self.is_open = False
        self.opened = 0
        self.sent: list[tuple[float, bytes]] = []
        self._keeps_late = keeps_late
        self._session = 0
        self._arrived = bytearray()
        device.time, device.link = time, self

    @property
    def where(self) -> str:
        return WHERE

    def open(self) -> None:
        self.close()
        if self.gone:
            raise CannotOpen("virtual", "unplugged.", what_to_do="Plug it in.")
        self.is_open = True
        self.opened += 1
        self._session += 1
        self._arrived.clear()
        self.device.plugged()

    def send(self, data: bytes) -> None:
        self._check()
        self.sent.append((self.time.now_s(), data))
        self.device.heard(data)

    def receive(self, wait_s: float) -> bytes:
        self._check()
        if not self._arrived:
            self.time.go_to(self.time.now_s() + max(wait_s, 1e-6), self._something)
            self._check()
        data = bytes(self._arrived)
        self._arrived.clear()
        return data

    def drain(self, _at_most: int = 0) -> bytes:
        self._check()
        data = bytes(self._arrived)
        self._arrived.clear()
        return data

    def close(self) -> None:
        self.is_open = False

    def bring(self, data: bytes, at_s: float) -> None:
        """What a serial line brings late also comes after a reopening; a socket forgets it."""
        session = self._session

        def arrive() -> None:
            if self.is_open and not self.gone and (self._keeps_late or session == self._session):
                self._arrived.extend(data)

        self.time.at(at_s, arrive)

    def _something(self) -> bool:
        return bool(self._arrived) or self.gone

    def _check(self) -> None:
        if not self.is_open:
            raise not_open("virtual", WHERE)
        if self.gone:
            raise LinkLost("virtual", "unplugged.")


@dataclass
class Ran:
    """What a port did in virtual time."""

    port: Port
    link: VirtualLink
    time: VirtualTime
    readings: list[Reading] = field(default_factory=list)
    events: list[PortEvent] = field(default_factory=list)

    def good(self, channel: str = "") -> list[Reading]:
        return [each for each in self.readings if each.usable and channel in ("", each.channel)]


def make_port(
    driver: PortDriver, device: Device, *, keeps_late: bool = True, slice_s: float = 0.01
) -> Ran:
    """A port on a virtual link, ready for `run_port`."""
    time = VirtualTime()
    link = VirtualLink(time, device, keeps_late=keeps_late)
    ran = Ran(None, link, time)  # type: ignore[arg-type]
    ran.port = Port(
        link,
        driver,
        clock=time,
        put=ran.readings.append,
        remark=ran.events.append,
        wall=time,
        slice_s=slice_s,
    )
    return ran


def run_port(ran: Ran, for_s: float) -> Ran:
    """Run the port's own loop for `for_s` virtual seconds, in this thread."""
    ran.time.at(ran.time.now_s() + for_s, ran.port.ask_to_close)
    ran.port.run()
    return ran
