"""`steadyamps sweep`: one test of one unit, from cautions to verdict."""

from __future__ import annotations

from typing import Annotated

import typer

from acquire.cli import completing
from acquire.cli.voice import Voice


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("sweep")(sweep)


def sweep(
    context: typer.Context,
    rig: Annotated[
        str,
        typer.Option(
            metavar="RIG", autocompletion=completing.rigs, help="Name or file of the rig."
        ),
    ],
    rated: Annotated[
        str | None,
        typer.Option(
            metavar="RATED",
            autocompletion=completing.curves,
            help="Name or file of the rated curve, or a plate as in '45/90A 14V @1500/6000'.",
        ),
    ] = None,
    method: Annotated[
        str,
        typer.Option(
            metavar="METHOD", autocompletion=completing.methods, help="Name or file of the method."
        ),
    ] = "quick",
    rule: Annotated[
        str | None,
        typer.Option(
            metavar="RULE",
            autocompletion=completing.rules,
            help="Acceptance rule; default the method's own.",
        ),
    ] = None,
    job: Annotated[str | None, typer.Option(metavar="J", help="Number of the job.")] = None,
    customer: Annotated[
        str | None, typer.Option(metavar="TEXT", help="For whom, as in 'Example Boats'.")
    ] = None,
    fitted_to: Annotated[
        str | None,
        typer.Option(metavar="TEXT", help="What the unit is from, as in 'harbour launch'."),
    ] = None,
    complaint: Annotated[
        str | None,
        typer.Option(metavar="TEXT", help="What was complained of, as in 'no charge at idle'."),
    ] = None,
    parts_fitted: Annotated[
        str | None,
        typer.Option(metavar="TEXT", help="What was fitted, as in 'brushes, front bearing'."),
    ] = None,
    claim: Annotated[
        str | None,
        typer.Option(metavar="TEXT", help="Number of the warranty claim, as in W-0312."),
    ] = None,
    serial: Annotated[str | None, typer.Option(metavar="S", help="Serial of the unit.")] = None,
    unit: Annotated[str | None, typer.Option(metavar="TEXT", help="What the unit is.")] = None,
    stage: Annotated[
        str | None,
        typer.Option(
            metavar="P",
            autocompletion=completing.one_of("before", "after", "incoming", "reference"),
            help="before, after, incoming, reference, or free text.",
        ),
    ] = None,
    operator: Annotated[str | None, typer.Option(metavar="NAME", help="Who tests.")] = None,
    steps: Annotated[
        str | None, typer.Option(metavar="RPM,RPM", help="Shaft speeds, as in 1500,1800,2400.")
    ] = None,
    fault: Annotated[
        str | None,
        typer.Option(
            metavar="NAME[@S]",
            autocompletion=completing.faults,
            help="A fault, from second S on; simulated rigs only.",
        ),
    ] = None,
    screen: Annotated[
        bool, typer.Option("--screen/--plain", help="Full screen, or plain live lines (default).")
    ] = False,
    check: Annotated[
        list[str] | None,
        typer.Option("--check", metavar="NAME=ANSWER", help="Answer to a check; may be repeated."),
    ] = None,
    yes: Annotated[
        bool,
        typer.Option(
            "--yes", help="Cautions and wiring are confirmed: the shaft turns at once, unasked."
        ),
    ] = False,
) -> int:
    """Test one unit: run folder, output curve and verdict.

    Example: steadyamps sweep --rig simulated --rated small-frame-14v-90a --yes
    """
    from acquire.cli.orders import order_from
    from acquire.record.run_header import Job

    voice: Voice = context.obj
    order = order_from(
        rig=rig,
        rated=rated,
        method=method,
        rule=rule,
        job=Job(
            number=job,
            customer=customer,
            fitted_to=fitted_to,
            complaint=complaint,
            parts_fitted=parts_fitted,
            claim=claim,
        ),
        serial=serial,
        unit=unit,
        stage=stage,
        operator=operator,
        steps=steps,
        fault=fault,
        ask=not yes and not voice.json,
    )
    if screen:
        from acquire.cli.screens_command import screen_sweep

        return screen_sweep(voice, order, yes)
    from acquire.cli.check_questions import answers_given
    from acquire.cli.plain_run import PlainRun

    given = answers_given(order.method.profile, check or ())
    return PlainRun(voice, order, confirmed=yes, given=given).run()
