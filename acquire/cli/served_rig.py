"""Serving the simulated rig to other programs, and the rig file that reaches it."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING, Any

from acquire.cli.voice import Voice
from acquire.errors import OrderError
from acquire.signal_watch import SignalWatch
from profiles.catalogue import load_rig
from profiles.plain_text import visible

if TYPE_CHECKING:
    from drivers.simulated.service import SimulatedService

RIG_FOR_VOLTS = {12.0: "simulated", 24.0: "simulated-24"}


def serve(
    voice: Voice, *, machine: str, fault: str | None, pace: float, host: str, first_port: int = 0
) -> None:
    """Serve until Ctrl-C; the rig file goes to stdout at once.

    `first_port`: that of the first instrument, the others following; 0: whatever is free.

    Raises:
        ProfileError: If machine or fault are not known.
        OrderError: If nothing can be served at `host`.
    """
    from drivers.simulated.machines import find_machine
    from drivers.simulated.service import SimulatedService

    nominal = find_machine(machine).nominal_volts
    rig = load_rig(RIG_FOR_VOLTS[nominal]).profile
    service = SimulatedService(
        machine=machine, fault=fault, pace=pace, host=host, first_port=first_port
    )
    ended = threading.Event()
    with SignalWatch(lambda _name: ended.set()):
        try:
            ports = _started(service, host, first_port)
            filled = service.filled_rig(rig)
            values = filled.model_dump(
                mode="json", by_alias=True, exclude_none=True, exclude_defaults=True
            )
            _tell(voice, rig_text(values, machine=machine, pace=pace), ports)
            voice.talk(f"Serving {machine} at {host}; Ctrl-C ends it.")
            ended.wait()
        finally:
            service.close()


def _started(service: SimulatedService, host: str, first_port: int) -> dict[str, str]:
    try:
        return service.start()
    except (OSError, ValueError) as error:  # a name that cannot even be looked up is no OSError
        at, or_port = f"--listen {visible(host)}", ""
        if first_port:
            at += f" --first-port {first_port}"
            or_port = " Or another first port: one of those that follow it may be taken."
        raise OrderError(
            f"{at}: nothing can be served there ({error}).",
            what_to_do="Give an IPv4 address of this computer, as in 127.0.0.1, or 0.0.0.0 for all"
            f" of them.{or_port}",
        ) from error


def _tell(voice: Voice, text: str, ports: dict[str, str]) -> None:
    """The rig file; with --json inside the one document."""
    if voice.json:
        voice.document({"rig": text, "ports": ports})
    else:
        print(text, flush=True)


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
