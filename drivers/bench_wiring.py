"""Everything on a rig that talks: opened together, closed together, read through one queue."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Sequence
from typing import TypeVar

from drivers.burst import Burst
from drivers.clock import Clock
from drivers.drive import DriveLine
from drivers.errors import CannotOpen, InstrumentClosed, InstrumentError, NoAnswer
from drivers.field import FieldLine
from drivers.hand import Hand
from drivers.load import LoadLine
from drivers.locks import Lock, take_lock
from drivers.port import SLICE_S, STOP_SLICE_S, Port, PortEvent
from drivers.port_address import link_for
from drivers.reading_queue import ReadingQueue
from drivers.statistics import PortStatistics
from drivers.traffic import Passed
from drivers.wiring_plan import PortPlan, all_at_once, plan_ports
from profiles.instrument import HandChannel
from profiles.rig import Rig

Kind = TypeVar("Kind")
OPENING_S = 5.0
"""Every channel must have given a good reading by then [s]; a slow meter gives one in two."""
EVENTS_KEPT = 2000


class BenchWiring:
    """The instruments and actuators of one rig.

    `clock` stamps the readings; time-outs are wall time. `drive`, `load` and `field` are None
    where the rig has none, or where the operator's hands do it.
    """

    def __init__(self, rig: Rig, clock: Clock) -> None:
        """Plan the ports; nothing is opened yet.

        Raises:
            CannotOpen: Parts that cannot share a port do, or an address makes no sense.
        """
        self.readings = ReadingQueue()
        self._events: deque[PortEvent] = deque(maxlen=EVENTS_KEPT)
        self._hand = Hand(_typed(rig), clock)
        self._plans = plan_ports(rig)
        self._ports = [self._port(plan, clock) for plan in self._plans]
        self._locks: list[Lock] = []
        self._opened = self._closed = False
        actuators = [actuator for plan in self._plans for actuator in plan.actuators]
        self.drive = _first(actuators, DriveLine)
        self.load = _first(actuators, LoadLine)
        self.field = _first(actuators, FieldLine)

    def _port(self, plan: PortPlan, clock: Clock) -> Port:
        if plan.driver is None:
            raise CannotOpen(
                plan.names,
                f"no driver speaks for {plan.address}.",
                what_to_do="Say with `driver` in the rig file how its instruments answer.",
            )
        port = Port(
            link_for(plan.address, plan.first, plan.names),
            plan.driver,
            clock=clock,
            put=self.readings.put,
            remark=self._events.append,
            slice_s=STOP_SLICE_S if plan.actuators else SLICE_S,
        )
        for actuator in plan.actuators:
            actuator.attach(port)
        return port

    def open(self, wait_s: float = OPENING_S) -> None:
        """Open all ports and wait until each channel on a wire has given an ok reading.

        Raises:
            CannotOpen, NoAnswer, ...: What does not work within `wait_s` wall seconds; several
                failures come as one `CannotOpen` whose `failures` lists them. All is closed then.
        """
        failures = self.open_what_answers(wait_s)
        if failures:
            self.close()
            raise all_at_once(failures)

    def open_what_answers(self, wait_s: float = OPENING_S) -> list[InstrumentError]:
        """Open all ports, wait as `open` does, and give what does not work; the rest stays open.

        Raises:
            CannotOpen: A port is held by another program; all is closed then.
        """
        if self._closed:
            raise InstrumentClosed("rig", "it was closed.")
        self._take_locks()
        for port in self._ports:
            port.start()
        self._opened = True
        deadline_s = time.monotonic() + wait_s
        while self._missing() and (left_s := deadline_s - time.monotonic()) > 0:
            self.readings.wait_for_new(min(left_s, 0.05))
        return self._failures(wait_s) if self._missing() else []

    def _take_locks(self) -> None:
        failures: list[InstrumentError] = []
        for plan in self._plans:
            try:
                self._locks.append(take_lock("port", plan.address, instrument=plan.names))
            except CannotOpen as error:
                failures.append(error)
        if failures:
            self.close()
            raise all_at_once(failures)

    def _missing(self) -> list[tuple[Port, str]]:
        """Channels without an ok reading so far; "" stands for a port that is not ready."""
        missing = [(port, name) for port in self._ports for name in port.driver.channels]
        missing = [(port, name) for port, name in missing if not self._is_ok(name)]
        waiting = [(port, "") for port in self._ports if not port.ready]
        return missing + waiting

    def _is_ok(self, channel: str) -> bool:
        latest = self.readings.latest(channel)
        return latest is not None and latest.usable

    def _failures(self, wait_s: float) -> list[InstrumentError]:
        failures: list[InstrumentError] = []
        troubled: list[Port] = []
        for port, name in self._missing():
            if port in troubled:
                continue
            if port.trouble is not None:
                troubled.append(port)
                failures.append(port.trouble)
            elif name:
                failures.append(self._failure(port, name, wait_s))
        remedy = "Look at cables and power of its instruments, then open it again."
        return failures or [NoAnswer("rig", f"not ready within {wait_s:.3g} s.", what_to_do=remedy)]

    def _failure(self, port: Port, channel: str, wait_s: float) -> InstrumentError:
        latest = self.readings.latest(channel)
        note = latest.note.rstrip(".") if latest is not None else ""
        why = f" ({latest.quality}: {note})" if latest is not None and note else ""
        return NoAnswer(
            channel,
            f"no ok reading from {port.link.where} within {wait_s:.3g} s{why}.",
            what_to_do="Is it switched on and sending? Check cable, settings and the rig file.",
        )

    def close(self) -> None:
        """Close all ports; a stop under way is finished first. Harmless when closed already."""
        self._closed = True
        if self._opened:
            for port in self._ports:
                port.ask_to_close()
            for port in self._ports:
                port.close()
        for lock in self._locks:
            lock.release()
        self._locks.clear()

    def type_reading(self, channel: str, value: float) -> None:
        """Take what the operator typed for a channel that is read by hand.

        Raises:
            CommandRefused: This channel is not read by hand on this rig.
            BadAnswer: The value is not plausible.
        """
        self.readings.put(self._hand.reading(channel, value))

    def burst(self, channel: str) -> Burst | None:
        """The newest burst of samples of a channel; None where it gives none, or none came yet."""
        for port in self._ports:
            if (burst := port.driver.burst(channel)) is not None:
                return burst
        return None

    def identities(self) -> dict[str, str]:
        """What the instruments said about themselves, by channel or actuator."""
        return {
            name: text for port in self._ports for name, text in port.driver.identities().items()
        }

    def statistics(self) -> dict[str, PortStatistics]:
        """Counters of each port, by its address."""
        return {
            plan.address: port.statistics
            for plan, port in zip(self._plans, self._ports, strict=True)
        }

    def traffic(self) -> dict[str, list[Passed]]:
        """The bytes that went over each port lately, by its address."""
        return {
            plan.address: port.traffic()
            for plan, port in zip(self._plans, self._ports, strict=True)
        }

    def take_events(self) -> list[PortEvent]:
        """What happened to the ports since the last call, for the journal."""
        events = []
        while self._events:
            events.append(self._events.popleft())
        return events


def _typed(rig: Rig) -> dict[str, HandChannel]:
    return {
        name: channel for name, channel in rig.channels.items() if isinstance(channel, HandChannel)
    }


def _first(things: Sequence[object], kind: type[Kind]) -> Kind | None:
    return next((thing for thing in things if isinstance(thing, kind)), None)
