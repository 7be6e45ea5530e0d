"""`steadyamps rig`: readiness, the simulated rig, and asking one's way to a rig file."""

from __future__ import annotations

from typing import Annotated

import typer

from acquire.cli import completing
from acquire.cli.number_option import number
from acquire.cli.voice import Voice, refusal_of

LAST_FIRST_PORT = 65000
"""Leaves room below 65536 for every instrument that follows."""
rig_app = typer.Typer(
    name="rig",
    help="Rigs: check, write a file, serve the simulated one, study.\n\n"
    "Example: steadyamps rig check simulated",
    no_args_is_help=True,
)


def register(app: typer.Typer) -> None:
    """Add the group of commands."""
    from acquire.cli import study_command

    study_command.register(rig_app)
    app.add_typer(rig_app)


@rig_app.command("check")
def check_rig(
    context: typer.Context,
    rig: Annotated[
        str,
        typer.Argument(
            metavar="RIG", autocompletion=completing.rigs, help="Name or file of the rig."
        ),
    ],
) -> int:
    """Check readiness at standstill; nothing is turned.

    Identities, live values, zero, battery, calibration, reference unit, stop path.

    Example: steadyamps rig check my-bench.toml
    """
    from acquire.cli.exit_codes import Exit
    from acquire.cli.places import shelf_to_write
    from acquire.cli.result_text import chart_columns
    from acquire.cli.which_file import taken
    from acquire.last_stop import last_stop_items
    from acquire.opened_rig import OpenedRig
    from acquire.readiness import SIGNS, listen, readiness, with_failures
    from acquire.study.reference_text import reference_document, reference_item, watch_lines
    from acquire.study.reference_watch import reference_watch
    from drivers.clock import bench_day
    from drivers.wiring_plan import all_at_once
    from profiles.catalogue import load_rig

    voice: Voice = context.obj
    loaded, shelf = load_rig(rig), shelf_to_write(voice)
    voice.talk(taken("rigs", loaded))
    voice.talk("Nothing is turned; keep clear all the same.")
    with OpenedRig(loaded) as opened:
        wiring, failures = opened.open_what_answers()
        heard = listen(wiring, opened.clock)
        items = readiness(opened.rig, wiring, heard, today=bench_day(opened.clock))
    items = with_failures(items, failures)
    items += last_stop_items(loaded.profile, shelf)
    watch = reference_watch(loaded.profile, shelf)
    if watch is not None:
        items.append(reference_item(watch))
    for item in items:
        to_do = f"  {item.what_to_do}" if item.what_to_do else ""
        voice.result(f"{SIGNS[item.state]} {item.name}: {item.words}.{to_do}")
    if watch is not None and watch.study is not None:
        voice.result("\n".join(["", *watch_lines(watch, columns=chart_columns()), ""]))
    bad = [item for item in items if item.state == "bad"]
    voice.result("Ready." if not bad else f"Not ready: {len(bad)} to be mended.")
    document: dict[str, object] = {"ready": not bad, "items": [one.to_data() for one in items]}
    if watch is not None:
        document["reference"] = reference_document(watch)
    if failures:
        voice.document({**refusal_of(all_at_once(failures)), **document})
        return Exit.NOT_USABLE
    voice.document(document)
    return Exit.OK if not bad else Exit.FAIL


@rig_app.command("new")
def make_rig(
    context: typer.Context,
    out: Annotated[
        str | None,
        typer.Option(metavar="FILE", help="Where to write it; default your settings folder."),
    ] = None,
) -> int:
    """Ask one's way to a rig file.

    Which meter hangs on which port, and what it reads now.

    Example: steadyamps rig new
    """
    from acquire.cli.command_line import command_line
    from acquire.cli.exit_codes import Exit
    from acquire.cli.new_rig import new_rig

    voice: Voice = context.obj
    path = new_rig(out=out)
    checking = command_line("rig", "check", path.stem if out is None else path)
    voice.result(f"Written: {path}. This comes next:\n{checking}")
    voice.document({"rig": str(path)})
    return Exit.OK


@rig_app.command("simulate")
def simulate_rig(
    context: typer.Context,
    machine: Annotated[
        str,
        typer.Option(
            metavar="NAME", autocompletion=completing.machines, help="The simulated machine."
        ),
    ] = "small-frame-14v-90a",
    fault: Annotated[
        str | None,
        typer.Option(
            metavar="NAME[@S]", autocompletion=completing.faults, help="A fault, from second S on."
        ),
    ] = None,
    pace: Annotated[
        float, typer.Option(parser=number, metavar="X", help="Seconds on the rig in one.")
    ] = 8.0,
    listen: Annotated[str, typer.Option(metavar="ADDR", help="Address to serve at.")] = "127.0.0.1",
    first_port: Annotated[
        int,
        typer.Option(
            metavar="N",
            min=0,
            max=LAST_FIRST_PORT,
            help="Port of the first instrument, the others follow; 0: free ones, new each time.",
        ),
    ] = 0,
) -> int:
    """Serve the simulated rig and print a rig file for it.

    It ends with Ctrl-C.

    Example: steadyamps rig simulate --pace 10 > served.toml
    """
    from acquire.cli.exit_codes import Exit
    from acquire.cli.served_rig import serve
    from profiles.rig import LARGEST_PACE

    voice: Voice = context.obj
    if not 0.0 < pace <= LARGEST_PACE:
        raise typer.BadParameter(
            f"{pace:g} is no pace. Give one above 0, up to {LARGEST_PACE:g}.",
            param_hint="'--pace'",
        )
    serve(voice, machine=machine, fault=fault, pace=pace, host=listen, first_port=first_port)
    return Exit.OK
