"""Serving the simulated rig to other programs, and the rig file that reaches it."""

from __future__ import annotations

import threading
from typing import Any

from acquire.cli.voice import Voice
from acquire.signal_watch import SignalWatch
from profiles.catalogue import load_rig

RIG_FOR_VOLTS = {12.0: "simulated", 24.0: "simulated-24"}


def serve(voice: Voice, *, machine: str, fault: str | None, pace: float, host: str) -> None:
    """Serve until Ctrl-C; the rig file goes to stdout at once."""
    from drivers.simulated.machines import find_machine
    from drivers.simulated.service import SimulatedService

    nominal = find_machine(machine).nominal_volts
    rig = load_rig(RIG_FOR_VOLTS[nominal]).profile
    service = SimulatedService(machine=machine, fault=fault, pace=pace, host=host)
    ended = threading.Event()
    with SignalWatch(lambda _name: ended.set()):
        service.start()
        try:
            filled = service.filled_rig(rig)
            values = filled.model_dump(
                mode="json", by_alias=True, exclude_none=True, exclude_defaults=True
            )
            print(rig_text(values, machine=machine, pace=pace), flush=True)
            voice.talk(f"Serving {machine} at {host}; Ctrl-C ends it.")
            ended.wait()
        finally:
            service.close()


def rig_text(values: dict[str, Any], *, machine: str, pace: float) -> str:
    """The rig file as TOML."""
    values = {**values, "title": f"Simulated rig, served ({machine})"}
    values["simulated"] = {"machine": machine, "pace": pace, "served": True}
    return rig_toml(values)


def rig_toml(values: dict[str, Any]) -> str:
    """The values of a rig as TOML text."""
    return "\n".join(_lines(values)) + "\n"


def _lines(values: dict[str, Any], path: str = "") -> list[str]:
    plain = {key: value for key, value in values.items() if not _is_table(value, path, key)}
    tables = {k: v for k, v in values.items() if v and _is_table(v, path, k)}
    lines = [f"[{path}]"] if path and plain else []
    lines += [f"{key} = {toml_value(value)}" for key, value in plain.items()]
    for key, value in tables.items():
        lines += ["", *_lines(value, f"{path}.{key}" if path else key)]
    return lines


def _is_table(value: object, path: str, key: str) -> bool:
    """Tables of the top and of the channels get a heading; deeper ones stand on one line."""
    return isinstance(value, dict) and (path == "" or (path == "channels" and key != ""))


def toml_value(value: object) -> str:
    """A value as TOML writes it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        escaped = value.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
        return f'"{escaped}"'
    if isinstance(value, list | tuple):
        return f"[{', '.join(toml_value(item) for item in value)}]"
    if isinstance(value, dict):
        inside = ", ".join(f"{key} = {toml_value(item)}" for key, item in value.items())
        return f"{{ {inside} }}"
    return str(value)
