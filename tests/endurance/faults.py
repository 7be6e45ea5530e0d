"""What goes wrong during a sweep: drawn from a seed, begun and ended at an instant."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from random import Random

from drivers.simulated.rig_model import RigModel
from tests.endurance.disk import RoughDisk
from tests.endurance.wires import RigWires, SimulatedWire
from tests.endurance.world import World

FOR_EVER_S = 1e9
ASKED = ("ammeter", "voltmeter", "drive", "load")
TALKING = ("tachometer", "thermometer")
NEVER_MIND = ("thermometer", "load")
"""Instruments without which a sweep is not blind."""


@dataclass
class Scene:
    """All that a fault can touch."""

    world: World
    rig: RigWires
    disk: RoughDisk
    signal: Callable[[str], None]
    """The program gets a signal."""
    pull_the_plug: bool = False
    """The kill is a power cut: what was not synced may be lost."""

    @property
    def model(self) -> RigModel:
        return self.rig.model


@dataclass(frozen=True)
class Planted:
    """One fault of one sweep."""

    kind: str
    target: str
    at_s: float
    for_s: float

    @property
    def group(self) -> str:
        """wire, sensor, disk or process."""
        return KINDS[self.kind].group

    @property
    def blinds(self) -> bool:
        """The program cannot see any more what the rig does, and the drive may turn."""
        return KINDS[self.kind].blinds and self.target not in NEVER_MIND

    def __str__(self) -> str:
        where = f" {self.target}" if self.target else ""
        lasts = "for good" if self.for_s >= FOR_EVER_S else f"for {self.for_s:.1f} s"
        return f"{self.kind}{where} at {self.at_s:.2f} s {lasts}"


Begin = Callable[[Scene, str], None]


@dataclass(frozen=True)
class Kind:
    """What a fault does, and to whom it can happen."""

    group: str
    begin: Begin
    targets: tuple[str, ...] = ("",)
    blinds: bool = False
    lasts_s: tuple[float, ...] = (2.0, 8.0, 30.0, FOR_EVER_S)
    needs: str = ""
    """`drive`: only on a rig with one."""


def _wire(change: Callable[[SimulatedWire], None]) -> Begin:
    def begin(scene: Scene, target: str) -> None:
        change(scene.rig.wire(target))

    return begin


def _set(**values: object) -> Begin:
    def change(wire: SimulatedWire) -> None:
        for name, value in values.items():
            setattr(wire.faults if hasattr(wire.faults, name) else wire.rough, name, value)

    return _wire(change)


def _shows(channel: str, shown: Callable[[float], float]) -> Begin:
    def begin(scene: Scene, _target: str) -> None:
        scene.rig.shown = lambda asked, value: shown(value) if asked == channel else value

    return begin


def _stuck(channel: str) -> Begin:
    def begin(scene: Scene, _target: str) -> None:
        stuck = scene.model.sensors[channel].read()
        scene.rig.shown = lambda asked, value: stuck if asked == channel else value

    return begin


def _model(act: Callable[[RigModel], None]) -> Begin:
    return lambda scene, _target: act(scene.model)


FASTEST_SHAFT_RPM = 16_000.0
"""What a drive without a speed limit of its own gives."""
BAD_JOINT = 6.0
"""The battery's own resistance so many times: it holds the voltage down no more."""


def _runs_away(model: RigModel) -> None:
    """Whatever speed it is told, the drive takes its highest one, until it is told to stop."""
    motor = model.motor
    motor.slew_rpm_per_s *= 3.0

    def follow() -> None:
        motor._wanted_rpm = FASTEST_SHAFT_RPM / model.ratio if motor.run else 0.0

    motor._follow = follow  # type: ignore[method-assign]
    follow()


def _overvoltage(model: RigModel) -> None:
    """The regulator fails shorted, the load gives way, and the battery's joint is bad."""
    model.field.set_offset_volts = 8.0 * model.machine.scale
    model.bus.hold_volts = 20.0 * model.machine.scale
    model.bus.set_pile(None)
    model.bus._battery_ohm *= BAD_JOINT
    model._remember_temperatures()


def _disk(**values: object) -> Begin:
    def begin(scene: Scene, _target: str) -> None:
        for name, value in values.items():
            setattr(scene.disk.trouble, name, value)

    return begin


def _signal(name: str) -> Begin:
    return lambda scene, _target: scene.signal(name)


def _kill(scene: Scene, _target: str) -> None:
    scene.world.kill()


def _kill_writing(scene: Scene, _target: str) -> None:
    scene.disk.trouble.kill_in = scene.world.random.randrange(12)


def _plug(scene: Scene, _target: str) -> None:
    scene.pull_the_plug = True
    _kill_writing(scene, "")


def _clock(scene: Scene, _target: str) -> None:
    scene.world.jumped_s += 60.0


_ANY = ASKED + TALKING
ONCE = (0.5,)
KINDS: dict[str, Kind] = {
    "garbled": Kind("wire", _set(garbage_share=0.3), _ANY),
    "all garbled": Kind("wire", _set(garbage_share=1.0), _ANY, blinds=True),
    "cut off": Kind("wire", _set(cut_share=0.3), _ANY),
    "in halves": Kind("wire", _set(halves_s=0.04), _ANY),
    "wrong checksum": Kind("wire", _set(bad_checksum_share=0.4), TALKING),
    "one late": Kind("wire", _set(late_s=3.0, late_messages=1), ASKED),
    "all late": Kind("wire", _set(late_s=3.0, late_messages=None), ASKED, blinds=True),
    "a little late": Kind("wire", _set(late_s=0.3, late_messages=None), ASKED),
    "twice": Kind("wire", _set(twice=True), ASKED),
    "twice, later": Kind("wire", _set(twice=True, twice_after_s=0.07), ASKED),
    "mixed up": Kind("wire", _set(swapped=True), ASKED),
    "dirt between": Kind("wire", _set(noise=True), ("ammeter", "voltmeter", "load")),
    "silent": Kind("wire", _set(silent=True), _ANY, blinds=True),
    "deaf": Kind("wire", _set(deaf=True), ASKED, blinds=True),
    "port gone": Kind("wire", _set(out=True), _ANY, blinds=True),
    "port hangs": Kind("wire", _set(hangs=True), _ANY, blinds=True),
    "meter repeats itself": Kind("sensor", _stuck("volts")),
    "tachometer dropout": Kind("sensor", _shows("shaft_rpm", lambda _: 0.0), needs="drive"),
    "clamp stuck": Kind("sensor", _stuck("amps")),
    "clamp saturated": Kind("sensor", _shows("amps", lambda amps: min(amps, 35.0))),
    "belt slips": Kind("sensor", _model(lambda m: m.fault_at("slipping-belt", 0.0))),
    "brush worn": Kind("sensor", _model(lambda m: m.fault_at("worn-brush", 0.0))),
    "diode open": Kind("sensor", _model(lambda m: m.fault_at("open-diode", 0.0))),
    "runaway": Kind("sensor", _model(_runs_away), needs="drive"),
    "overvoltage": Kind("sensor", _model(_overvoltage)),
    "drive ignores stop": Kind(
        "sensor", _model(lambda m: m.fault_at("drive-ignores-stop", 0.0)), needs="drive"
    ),
    "disk full": Kind("disk", _disk(refuses="ENOSPC")),
    "disk broken": Kind("disk", _disk(refuses="EIO")),
    "disk read-only": Kind("disk", _disk(refuses="EROFS")),
    "sync refused": Kind("disk", _disk(sync_refuses="EIO")),
    "short writes": Kind("disk", _disk(short_writes=True)),
    "slow sync": Kind("disk", _disk(sync_takes_s=1.2)),
    "sync hangs": Kind("disk", _disk(sync_takes_s=90.0), blinds=True, lasts_s=ONCE),
    "write hangs": Kind("disk", _disk(write_takes_s=90.0), blinds=True, lasts_s=ONCE),
    "killed": Kind("process", _kill, lasts_s=ONCE),
    "killed while writing": Kind("process", _kill_writing, lasts_s=ONCE),
    "power cut": Kind("process", _plug, lasts_s=ONCE),
    "Ctrl-C": Kind("process", _signal("SIGINT"), lasts_s=ONCE),
    "SIGTERM": Kind("process", _signal("SIGTERM"), lasts_s=ONCE),
    "computer slept": Kind("process", _clock, lasts_s=ONCE),
}
SHARES = {"wire": 0.4, "sensor": 0.2, "disk": 0.17, "process": 0.23}
HOW_MANY = (0, 1, 1, 1, 2, 2)


def draw(chance: Random, *, there: tuple[str, ...], driven: bool, within_s: float) -> list[Planted]:
    """The faults of one sweep, by the order in which they begin."""
    planted = []
    for _ in range(chance.choice(HOW_MANY)):
        group = chance.choices(list(SHARES), list(SHARES.values()))[0]
        kinds = [name for name, kind in KINDS.items() if _can_happen(kind, group, there, driven)]
        planted.append(_one(chance, chance.choice(kinds), there, within_s))
    return sorted(planted, key=lambda one: one.at_s)


def _can_happen(kind: Kind, group: str, there: tuple[str, ...], driven: bool) -> bool:
    if kind.group != group or (kind.needs == "drive" and not driven):
        return False
    return kind.targets == ("",) or bool(set(kind.targets) & set(there))


def _one(chance: Random, name: str, there: tuple[str, ...], within_s: float) -> Planted:
    kind = KINDS[name]
    targets = [one for one in kind.targets if one in there or one == ""]
    at_s = round(chance.uniform(0.0, within_s), 2)
    return Planted(name, chance.choice(targets), at_s, chance.choice(kind.lasts_s))


def begin(planted: Planted, scene: Scene) -> None:
    """Let it happen."""
    scene.rig.now()
    KINDS[planted.kind].begin(scene, planted.target)


def end(planted: Planted, scene: Scene) -> None:
    """Let it be over, as far as such a thing is ever over."""
    scene.rig.now()
    if planted.group == "wire":
        scene.rig.wire(planted.target).heal()
    elif planted.group == "disk":
        scene.disk.trouble.heal()
    else:
        scene.rig.shown = lambda _channel, value: value
