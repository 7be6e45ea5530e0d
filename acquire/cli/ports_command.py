"""`steadyamps ports`: what is plugged in, and how a rig file names it."""

from __future__ import annotations

import typer

from acquire.cli.voice import Voice


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("ports")(ports)


def ports(context: typer.Context) -> int:
    """List serial ports with identity and place, and VISA resources.

    Example: steadyamps ports
    """
    from acquire.cli.exit_codes import Exit
    from drivers.serial_places import list_places

    voice: Voice = context.obj
    places = list_places()
    voice.result("Serial ports" if places else "No serial ports with hardware behind them.")
    for place in places:
        names = "  ".join(name for name in (place.by_identity, place.by_place) if name)
        voice.result(f"  {place.device:<16} {names}  {place.description}".rstrip())
        if place.twins:
            voice.result("    ! another adapter looks the same: name it by its place")
    resources, trouble = visa_resources()
    voice.result("VISA resources" if resources else f"No VISA resources{trouble}.")
    for resource in resources:
        voice.result(f"  {resource}")
    voice.document(
        {
            "serial": [
                {
                    "device": p.device,
                    "identity": p.by_identity or None,
                    "place": p.by_place or None,
                    "description": p.description,
                    "twins": p.twins,
                }
                for p in places
            ],
            "visa": resources,
        }
    )
    return Exit.OK


def visa_resources() -> tuple[list[str], str]:
    """VISA resources other than serial ports, or why there are none. A list is only a hint."""
    import warnings

    from drivers.visa import resource_manager
    from profiles.errors import BenchError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # missing extras of the backend: `doctor` tells
            found = resource_manager().list_resources()
    except BenchError as error:
        return [], f" ({error})"
    except Exception as error:  # noqa: BLE001 - backends raise what they like; a list is a hint
        return [], f" ({type(error).__name__}: {error})"
    return [name for name in found if not name.startswith("ASRL")], ""
