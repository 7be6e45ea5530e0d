"""`steadyamps rig new`: which meter on which port, what it reads now, and the file is written."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

from acquire.cli.questions import ask, ask_choice, ask_number, ask_yes
from acquire.cli.served_rig import rig_toml
from acquire.errors import OrderError
from acquire.typed_path import typed_path
from profiles.catalogue import Entry, Loaded, entries, load_instrument, rig_from, user_folder
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


def new_rig(*, out: str | None) -> Path:
    """Ask one's way to a rig file, write it, and return where it is.

    Raises:
        OrderError: If the file is there already, or nobody answers.
    """
    title = ask("What is the rig called", default="Bench 1")
    path = typed_path(out) if out else user_folder("rigs") / f"{file_name(title) or 'rig'}.toml"
    if path.exists():  # before the questions, so that no answer is typed for nothing
        raise OrderError(f"{path} is there already.", what_to_do="Give another name with --out.")
    values: dict[str, Any] = {"schema": 1, "title": title, "rig": {}, "channels": {}}
    for channel, words, needed in WANTED:
        found = _channel(channel, words, needed=needed, values=values)
        if found is not None:
            values["channels"][channel] = found
    _ask_drive(values)
    _ask_load(values)
    _ask_limits(values)
    rig_from(values, str(path))
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(rig_toml(values), encoding="utf-8")
    return path


def _channel(
    channel: str, words: str, *, needed: bool, values: dict[str, Any]
) -> dict[str, Any] | None:
    """One instrument, tried before it is taken."""
    while True:
        print(f"Which instrument reads the {words}?", file=sys.stderr)
        choices = [*_described(channel), (HAND, "read by eye and typed")]
        chosen = ask_choice("Number", choices if needed else [(NONE, "none"), *choices])
        if chosen == NONE:
            return None
        if chosen == HAND:
            return {"driver": "hand"}
        found = _on_a_port(channel, chosen, values)
        if found is not None:
            return found


def _on_a_port(channel: str, chosen: str, values: dict[str, Any]) -> dict[str, Any] | None:
    """This instrument on the port where it answers; None: another instrument is wanted."""
    while True:
        found = {"like": chosen, "port": _port()}
        reads = _say_reading(channel, found, values)
        if ask_yes("Take it" if reads else "Take it all the same", default=reads):
            return found
        print("Not taken. What instead?", file=sys.stderr)
        ways = [("port", "the same instrument on another port"), ("other", "another instrument")]
        if ask_choice("Number", ways) == "other":
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


def _port() -> str:
    from drivers.serial_places import list_places

    places = list_places()
    for place in places:
        named = place.by_place if place.twins else place.by_identity or place.device
        print(f"  {named}  {place.description}", file=sys.stderr)
    return ask("Port (as listed, COM7, socket://host:port, tcp://host:port)")


def _say_reading(channel: str, found: dict[str, Any], values: dict[str, Any]) -> bool:
    """Say what it reads now, or why it does not; True where it reads."""
    from drivers.bench_wiring import BenchWiring
    from drivers.clock import RealClock

    others = {name: {"driver": "hand"} for name in ("shaft_rpm", "amps")}
    trial = {"title": values["title"], "channels": {**others, channel: found}}
    try:
        wiring = BenchWiring(rig_from(trial, "this instrument"), RealClock())
        try:
            wiring.open(3.0)
            latest = wiring.readings.latest(channel)
            reads = latest is not None and latest.value is not None
            value = f"{latest.value:g}" if reads and latest is not None else "nothing"
            print(f"It reads {value} now.", file=sys.stderr)
            return reads
        finally:
            wiring.close()
    except BenchError as error:
        print(f"It does not read yet: {error}", file=sys.stderr)
        return False


def _ask_drive(values: dict[str, Any]) -> None:
    print("What turns the unit?", file=sys.stderr)
    choices = [(NONE, "an engine, or a hand: no drive to command"), *_described("drive")]
    chosen = ask_choice("Number", choices)
    if chosen == NONE:
        return
    values["drive"] = {"like": chosen, "port": _port()}
    drive_mm = ask_number("Pulley on the motor, pitch diameter in mm (empty: direct)")
    unit_mm = ask_number("Pulley on the unit, pitch diameter in mm") if drive_mm else None
    if drive_mm and unit_mm:
        values["rig"]["pulley"] = {"drive_mm": drive_mm, "alternator_mm": unit_mm}
    highest = ask_number("Highest shaft speed this rig may run, rpm", default=8000.0)
    values["rig"]["max_shaft_rpm"] = highest


def _ask_load(values: dict[str, Any]) -> None:
    print("What loads it?", file=sys.stderr)
    choices = [(HAND, "a carbon pile, by hand"), (NONE, "nothing named"), *_described("load")]
    chosen = ask_choice("Number", choices)
    if chosen == HAND:
        most = ask_number("Seconds it may be on", default=15.0)
        rest = ask_number("Seconds it must rest", default=60.0)
        values["load"] = {"driver": "hand", "max_on_s": most, "rest_s": rest}
    elif chosen != NONE:
        values["load"] = {"like": chosen, "port": _port()}


def _ask_limits(values: dict[str, Any]) -> None:
    limits = {
        "volts_max": ask_number("Stop above so many volts", default=16.0),
        "amps_max": ask_number("Stop above so many amps", default=200.0),
    }
    values["limits"] = {name: value for name, value in limits.items() if value is not None}
