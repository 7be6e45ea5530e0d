"""Wires in the world: the program's drivers at one end, simulated instruments at the other.

What each instrument said to which question, and when, is noted, so that every reading the
program accepts can be held against what was really sent for it.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from random import Random

from drivers.errors import CannotOpen, LinkLost
from drivers.links import not_open
from drivers.readings import Reading
from drivers.simulated.bridge import bridge
from drivers.simulated.instruments import INSTRUMENTS, devices
from drivers.simulated.rig_model import RigModel
from drivers.simulated.servers.line_server import LineTalker
from drivers.simulated.servers.modbus_server import RtuModbus
from drivers.simulated.servers.wire_faults import WireFaults
from profiles.address import Wire
from tests.endurance.world import Killed, World

ON_THE_WAY_S = 0.002
"""How long bytes are on the way, each way [s]."""
ALMOST_S = 1e-6
HANGS_S = 0.5
"""How often a port that hangs is looked at in the world [s]."""
REMEMBERED = 600
"""So many readings of a channel are kept to compare with."""


@dataclass(slots=True)
class Rough:
    """What may happen on a wire beyond `WireFaults`."""

    deaf: bool = False
    """What the program sends does not arrive."""
    twice: bool = False
    """Every answer comes twice."""
    twice_after_s: float = 0.0
    """So much later the second time [s]."""
    swapped: bool = False
    """Answers change places: each is held back until the next one was given, which goes first."""
    noise: bool = False
    """Bytes above 127 among the bytes of an answer."""
    hangs: bool = False
    """Whoever reads or writes here waits and waits."""
    held: list[bytes] = field(default_factory=list)

    def quiet(self) -> None:
        """All is well again."""
        self.deaf = self.twice = self.swapped = self.noise = self.hangs = False
        self.twice_after_s = 0.0
        self.held.clear()


TALKERS = frozenset({"shaft_rpm", "case_c"})
"""Channels of instruments that talk by themselves on the rigs used here."""


class SimulatedWire:
    """One instrument of the simulated rig and its wire."""

    def __init__(self, name: str, rig: RigWires, *, serial: bool) -> None:
        offered = INSTRUMENTS[name]
        self.name = name
        self.channel = offered.channel
        self.serial = serial
        self.halves_s = 0.0
        """The longest that this wire has taken between two halves of a line [s]."""
        self.faults = WireFaults(seed=f"{rig.model.seed}/{name}")
        self.rough = Rough()
        self._rig = rig
        self._random = Random(f"rough {rig.model.seed}/{name}")
        self.instrument = (
            RtuModbus(rig.devices, rig.world.monotonic_s)
            if offered.modbus and serial
            else offered.make(rig.model, rig.devices, serial)
        )

    def heal(self) -> None:
        """A sound wire again; what is still under way comes."""
        faults = self.faults
        faults.late_s = faults.garbage_share = faults.cut_share = 0.0
        faults.halves_s = faults.bad_checksum_share = 0.0
        faults.silent = faults.repeated = faults.out = False
        self.rough.quiet()

    def heard(self, data: bytes) -> None:
        """Bytes from the program."""
        if self.faults.out or self.rough.deaf:
            return
        now_s = self._rig.now()
        for answer in self.instrument.hear(data, now_s):
            for one in self._handled(answer):
                self.faults.put(one, now_s + ON_THE_WAY_S)

    def _handled(self, answer: bytes) -> list[bytes]:
        rough = self.rough
        if rough.noise and self._random.random() < 0.5:
            place = self._random.randrange(len(answer))
            dirt = bytes(self._random.randrange(128, 256) for _ in range(3))
            answer = answer[:place] + dirt + answer[place:]
        if rough.twice and rough.twice_after_s > 0.0:
            self._later(answer, rough.twice_after_s)
        elif rough.twice:
            return [answer, answer]
        if rough.swapped:
            rough.held.append(answer)
            if len(rough.held) < 2:
                return []
            swapped, rough.held = rough.held[::-1], []
            return swapped
        return [answer]

    def _later(self, answer: bytes, later_s: float) -> None:
        now_s = self._rig.now()
        self.faults.put(answer, now_s + later_s)

    def arrived(self) -> bytes:
        """What is there for the program now."""
        now_s = self._rig.now()
        self.halves_s = max(self.halves_s, self.faults.halves_s)
        for line in self.instrument.speak(now_s):
            self.faults.put(line, now_s)
        return self.faults.due(now_s)

    def next_due_s(self) -> float:
        """When something comes next [s]."""
        due = [when for when, _ in self.faults._waiting]
        if isinstance(self.instrument, LineTalker):
            due.append(self.instrument._next_s)
        return min(due, default=float("inf"))


class WorldLink:
    """The program's end: a `Link`."""

    def __init__(self, wire: SimulatedWire, rig: RigWires) -> None:
        self._wire, self._rig = wire, rig
        self._open = False

    @property
    def where(self) -> str:
        return f"simulated {self._wire.name}"

    def open(self) -> None:
        self._alive()
        self.close()
        if self._wire.faults.out:
            raise CannotOpen(self._wire.name, "nothing is plugged in.", what_to_do="Plug it in.")
        if not self._wire.serial:
            self._wire.faults.forget()  # a new connection does not bring what an old one lost
        self._open = True
        self._rig.links_open += 1

    def send(self, data: bytes) -> None:
        self._check()
        self._wire.heard(data)

    def receive(self, wait_s: float) -> bytes:
        world, wire = self._rig.world, self._wire
        until_s = world.now_s + max(wait_s, 0.0)
        while True:
            self._check()
            came = wire.arrived()
            if came or world.now_s >= until_s:
                return came
            due_s = max(wire.next_due_s() + ALMOST_S, world.now_s + ALMOST_S)
            world.sleep_s(min(due_s, until_s) - world.now_s)

    def drain(self, _at_most: int = 0) -> bytes:
        self._check()
        return self._wire.arrived()

    def close(self) -> None:
        if self._open:
            self._open = False
            self._rig.links_open -= 1

    def _check(self) -> None:
        self._alive()
        if not self._open:
            raise not_open(self._wire.name, self.where)
        if self._wire.faults.out:
            raise LinkLost(self._wire.name, "the cable is out.", what_to_do="Plug it in.")
        while self._wire.rough.hangs:
            self._rig.world.sleep_s(HANGS_S)

    def _alive(self) -> None:
        if self._rig.world.killed:
            raise Killed


class RigWires:
    """A simulated rig in the world; also the hands at its pile and throttle."""

    def __init__(self, model: RigModel, world: World) -> None:
        self.model, self.world = model, world
        self._sound = (model.motor.slew_rpm_per_s, model.bus._battery_ohm)
        self.devices = devices(model)
        self.wires: dict[str, SimulatedWire] = {}
        self.links_open = 0
        self.shown: Callable[[str, float], float] = lambda _channel, value: value
        """A sensor that is wrong: what it shows instead."""
        self._said: dict[str, deque[tuple[float, float]]] = {}
        self._sense = model.sense
        model.sense = self._sensed  # type: ignore[method-assign]
        self._began_s = world.now_s - model.now_s

    def mend(self) -> None:
        """The unit and the rig in order again; sensors too."""
        model = self.model
        self.now()
        self.shown = lambda _channel, value: value
        model.pile(None)  # whoever stands there opens it
        for wire in self.wires.values():
            wire.heal()
        model.belt.grip_nm = model.machine.belt_grip_nm
        model.field.set_offset_volts = 0.0
        model.field.worn_brush = False
        model.bus.hold_volts = model.machine.test_volts
        model.motor.ignores_stop = False
        vars(model.motor).pop("_follow", None)  # it listens to its set speed again
        model.motor.slew_rpm_per_s, model.bus._battery_ohm = self._sound
        model.motor.command_run(model.motor.run)
        model._bridge = bridge("healthy")
        model._remember_temperatures()

    def now(self) -> float:
        """Let the physics catch up; time on the rig [s]."""
        self.model.advance(self.world.now_s - self._began_s)
        return self.world.now_s - self._began_s

    def link_for(self, address: str, wire: Wire, instrument: str) -> WorldLink:
        """Stands in for the program's own `link_for`."""
        del wire, instrument
        name = address.rpartition("/")[2].replace("-", " ")
        if name not in self.wires:
            self.wires[name] = SimulatedWire(name, self, serial="://" not in address)
        return WorldLink(self.wires[name], self)

    def wire(self, name: str) -> SimulatedWire:
        """The wire of an instrument."""
        if name not in self.wires:
            self.wires[name] = SimulatedWire(name, self, serial=False)
        return self.wires[name]

    def _sensed(self, channel: str) -> float:
        value = self.shown(channel, self._sense(channel))
        said = self._said.setdefault(channel, deque(maxlen=REMEMBERED))
        said.append((self.world.now_s, value))
        return value

    # ---- a simulated hand ------------------------------------------------------------------

    def pile(self, ohms: float | None) -> None:
        self.now()
        self.model.pile(ohms)

    def throttle(self, rpm: float) -> None:
        self.now()
        self.model.throttle(rpm)

    # ---- what was really sent --------------------------------------------------------------

    def _halves_s(self, channel: str) -> float:
        """How long the second half of a line is on its way: nobody can know that it was said
        before."""
        late = [one.halves_s for one in self.wires.values() if one.channel == channel]
        return max(late, default=0.0)

    def why_wrong(self, reading: Reading, asked_for: bool) -> str | None:
        """What is wrong with a reading that the program accepted; None when it is right.

        A right one shows what the instrument said between question and answer; of an instrument
        that talks by itself, what it said just before the line came.
        """
        if reading.value is None:
            return "accepted without a value"
        span_s = reading.span_s if asked_for else ON_THE_WAY_S + self._halves_s(reading.channel)
        first_s = reading.t_s - (span_s / 2 if asked_for else span_s) - 2 * ALMOST_S
        last_s = reading.t_s + (span_s / 2 if asked_for else 0.0) + 2 * ALMOST_S
        said = self._said.get(reading.channel, ())
        for when_s, value in said:
            if first_s <= when_s <= last_s and _same(value, reading.value, reading.channel):
                return None
        near = [(round(when_s, 3), value) for when_s, value in said if abs(when_s - first_s) < 1.0]
        return (
            f"{reading.channel} = {reading.value} accepted at {reading.t_s:.3f} s for a question "
            f"asked between {first_s:.3f} and {last_s:.3f} s; really said: {near[-6:]}"
        )


STEPS = {"drive_rpm": 0.16, "case_c": 0.051, "amps": 0.051, "torque_nm": 0.0051}
"""Rounding of registers and lines, half a step: 0.01 Hz of the drive is 0.3 rpm."""


def _same(said: float, read: float, channel: str) -> bool:
    return abs(said - read) <= STEPS.get(channel, 0.0051) + 1e-6 * abs(said)
