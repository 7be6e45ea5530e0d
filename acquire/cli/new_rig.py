"""`steadyamps rig new`: which meter on which port, what it reads now, and the file is written."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from acquire.cli.interview import Interview, interview
from acquire.cli.questions import ask
from acquire.cli.served_rig import rig_toml
from acquire.cli.shunt_question import ask_shunt
from acquire.errors import OrderError
from acquire.typed_path import typed_path
from profiles.address import is_bare_address, port_wrong
from profiles.catalogue import Entry, Loaded, entries, load_instrument, rig_from, user_folder
from profiles.channels import CHANNELS
from profiles.errors import BenchError
from profiles.file_name import file_name

WANTED = (
    ("shaft_rpm", "shaft speed", True),
    ("amps", "output current", True),
    ("volts", "output voltage", True),
    ("case_c", "case temperature", False),
    ("ripple_volts", "AC volts at B+", False),
)
HAND, NONE = "hand", "none"
NOT_TRIED = "It is not tried now: `steadyamps rig check` does that, at standstill."
"""Of a drive or a load: only what commands it could show that it answers."""


def new_rig(*, out: str | None) -> Path:
    """Ask one's way to a rig file, write it, and return where it is.

    Raises:
        OrderError: If the file is there already, or nobody answers.
    """
    path, values = interview(lambda asked: _asked_rig(asked, out))
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(rig_toml(values), encoding="utf-8")
    return path


def _asked_rig(asked: Interview, out: str | None) -> tuple[Path, dict[str, Any]]:
    """The whole talk: where the file shall be, and what it says."""
    asked.say("Type < at any question to go back to the one before.")
    title = asked.ask("What is the rig called", default="Bench 1")
    path = typed_path(out) if out else user_folder("rigs") / f"{file_name(title) or 'rig'}.toml"
    if path.exists():  # before the questions, so that no answer is typed for nothing
        raise OrderError(f"{path} is there already.", what_to_do="Give another name with --out.")
    values: dict[str, Any] = {"schema": 1, "title": title, "rig": {}, "channels": {}}
    for channel, words, needed in WANTED:
        found = _channel(asked, channel, words, needed=needed)
        if found is not None:
            values["channels"][channel] = found
    _ask_drive(asked, values)
    _ask_load(asked, values)
    _ask_limits(asked, values)
    rig_from(values, str(path))
    return path, values


def _channel(asked: Interview, channel: str, words: str, *, needed: bool) -> dict[str, Any] | None:
    """One instrument, tried before it is taken."""
    while True:
        asked.say(f"Which instrument reads the {words}?")
        choices = [*_described(channel), (HAND, "read by eye and typed")]
        chosen = asked.choice("Number", choices if needed else [(NONE, "none"), *choices])
        if chosen == NONE:
            return None
        if chosen == HAND:
            return {"driver": "hand"}
        found = _on_a_port(asked, channel, chosen)
        if found is not None:
            return found


def _on_a_port(asked: Interview, channel: str, chosen: str) -> dict[str, Any] | None:
    """This instrument on the port where it answers; None: another instrument is wanted."""
    shunt = ask_shunt(asked, chosen)
    while True:
        found = {"like": chosen, "port": _port(asked, chosen), **shunt}
        trial = asked.once(lambda: _tried(channel, found), asked=False)  # noqa: B023 (done at once)
        asked.say(trial.words)
        if asked.yes("Take it" if trial.reads else "Take it all the same", default=trial.reads):
            return found
        asked.say("Not taken. What instead?")
        ways = [("port", "the same instrument on another port"), ("other", "another instrument")]
        if asked.choice("Number", ways) == "other":
            return None


def _described(place: str) -> list[tuple[str, str]]:
    """Instrument descriptions that serve for a channel, the drive or the load."""
    fitting: list[tuple[str, str]] = []
    for entry in entries("instruments"):
        loaded = _loaded(entry)
        if loaded is not None and place in loaded.profile.for_:
            fitting.append((entry.name, entry.title))
    return fitting


def _loaded(entry: Entry) -> Loaded[Any] | None:
    try:
        return load_instrument(entry.name)
    except BenchError:
        return None  # a broken description of the user's own: `profiles check` tells


def _port(asked: Interview, chosen: str) -> str:
    """The port of the instrument `chosen`, written as a rig file may have it."""
    return asked.once(lambda: _asked_port(chosen))


def _asked_port(chosen: str) -> str:
    from drivers.serial_places import list_places

    for place in list_places():
        named = place.by_place if place.twins else place.by_identity or place.device
        print(f"  {named}  {place.description}", file=sys.stderr)
    meant: str | None = None
    while True:
        typed = ask(
            "Port (as listed, COM7, socket://host:port, tcp://host:port)", default=meant, back=True
        )
        wrong = port_wrong(typed)
        if wrong is None:
            return typed
        print(*wrong if typed else ("Name the port.",), file=sys.stderr)
        meant = f"{_scheme(chosen)}://{typed}" if is_bare_address(typed) else None


def _scheme(chosen: str) -> str:
    """How an instrument in the network is spoken to."""
    return "tcp" if load_instrument(chosen).profile.keys.get("driver") == "modbus" else "socket"


@dataclass(frozen=True, slots=True)
class Trial:
    """What an instrument gave when it was tried."""

    reads: bool
    words: str


def _tried(channel: str, found: dict[str, Any]) -> Trial:
    """What it reads now, or why it does not."""
    from drivers.bench_wiring import BenchWiring
    from drivers.clock import RealClock

    others = {name: {"driver": "hand"} for name in ("shaft_rpm", "amps")}
    trial = {"title": "Trial", "channels": {**others, channel: found}}
    try:
        wiring = BenchWiring(rig_from(trial, "this instrument"), RealClock())
        try:
            wiring.open(3.0)
            latest = wiring.readings.latest(channel)
        finally:
            wiring.close()
    except BenchError as error:
        return Trial(reads=False, words=f"It does not read yet: {error}")
    if latest is None or latest.value is None:
        return Trial(reads=False, words="It reads nothing now.")
    return Trial(reads=True, words=f"It reads {_measured(channel, latest.value)} now.")


def _measured(channel: str, value: float) -> str:
    kind = CHANNELS[channel]
    return f"{value:z.{kind.decimals}f} {kind.unit_of_measure}"


def _ask_drive(asked: Interview, values: dict[str, Any]) -> None:
    asked.say("What turns the unit?")
    choices = [(NONE, "an engine, or a hand: no drive to command"), *_described("drive")]
    chosen = asked.choice("Number", choices)
    if chosen == NONE:
        return
    values["drive"] = {"like": chosen, "port": _port(asked, chosen)}
    asked.say(NOT_TRIED)
    drive_mm = asked.number("Pulley on the motor, pitch diameter in mm (empty: direct)")
    unit_mm = asked.number("Pulley on the unit, pitch diameter in mm") if drive_mm else None
    if drive_mm and unit_mm:
        values["rig"]["pulley"] = {"drive_mm": drive_mm, "alternator_mm": unit_mm}
    highest = asked.number("Highest shaft speed this rig may run, rpm", default=8000.0)
    values["rig"]["max_shaft_rpm"] = highest


def _ask_load(asked: Interview, values: dict[str, Any]) -> None:
    asked.say("What loads it?")
    choices = [(HAND, "a carbon pile, by hand"), (NONE, "nothing named"), *_described("load")]
    chosen = asked.choice("Number", choices)
    if chosen == HAND:
        most = asked.number("Seconds it may be on", default=15.0)
        rest = asked.number("Seconds it must rest", default=60.0)
        values["load"] = {"driver": "hand", "max_on_s": most, "rest_s": rest}
    elif chosen != NONE:
        values["load"] = {"like": chosen, "port": _port(asked, chosen)}
        asked.say(NOT_TRIED)


def _ask_limits(asked: Interview, values: dict[str, Any]) -> None:
    limits = {
        "volts_max": asked.number("Stop above so many volts", default=16.0),
        "amps_max": asked.number("Stop above so many amps", default=200.0),
    }
    values["limits"] = {name: value for name, value in limits.items() if value is not None}
