"""`steadyamps report`: the record on paper."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from acquire.cli import completing
from acquire.cli.engine_orders import belt_drive, cruise_range
from acquire.cli.number_option import number
from acquire.cli.voice import Voice
from acquire.errors import OrderError
from acquire.typed_path import typed_path

if TYPE_CHECKING:
    from acquire.report.part_engine import Engine


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("report")(report)


def report(
    context: typer.Context,
    run: Annotated[
        str, typer.Argument(metavar="RUN", autocompletion=completing.runs, help="A run folder.")
    ],
    before: Annotated[
        str | None,
        typer.Option(
            metavar="RUN", autocompletion=completing.runs, help="The run before the rebuild."
        ),
    ] = None,
    out: Annotated[
        str | None, typer.Option(metavar="DIR", help="Where to write; default the run's folder.")
    ] = None,
    sheet: Annotated[
        bool, typer.Option("--sheet", help="Also one page with signature lines.")
    ] = False,
    tag: Annotated[bool, typer.Option("--tag", help="Also a tag to tie on.")] = False,
    language: Annotated[
        str | None, typer.Option(metavar="CODE", help="Instead of the settings' language.")
    ] = None,
    chart: Annotated[
        str | None, typer.Option(metavar="FILE", help="Also the curve alone, as .svg or .png.")
    ] = None,
    ratio: Annotated[
        float | None,
        typer.Option(parser=number, metavar="R", help="Pulley ratio of the customer's engine."),
    ] = None,
    engine_pulley: Annotated[
        float | None,
        typer.Option(parser=number, metavar="MM", help="Pitch diameter of the engine's pulley."),
    ] = None,
    alternator_pulley: Annotated[
        float | None,
        typer.Option(parser=number, metavar="MM", help="Pitch diameter of the unit's pulley."),
    ] = None,
    idle: Annotated[
        float | None,
        typer.Option(parser=number, metavar="RPM", help="The customer's engine at idle."),
    ] = None,
    cruise: Annotated[
        str | None, typer.Option(metavar="RPM[..RPM]", help="The same engine when cruising.")
    ] = None,
    top: Annotated[
        float | None,
        typer.Option(parser=number, metavar="RPM", help="The same engine at full throttle."),
    ] = None,
    slip: Annotated[
        float, typer.Option(parser=number, metavar="PERCENT", help="Slip of the belt.")
    ] = 1.0,
) -> int:
    """Write report.html and report.pdf of a run.

    Nothing sealed is changed.

    Example: steadyamps report RUN --before RUN-BEFORE --sheet --tag
    """
    from acquire.cli.exit_codes import Exit
    from acquire.cli.places import run_folder
    from acquire.record.signing import known_keys
    from acquire.report.chart_file import write_chart
    from acquire.report.write import Wanted, write_papers
    from profiles.catalogue import load_settings

    voice: Voice = context.obj
    settings = load_settings()
    if language is not None:
        chosen = settings.report.model_copy(update={"language": _asked_for(language)})
        settings = settings.model_copy(update={"report": chosen})
    folder = run_folder(voice, run)
    engine = _engine(
        pulleys=(engine_pulley, alternator_pulley), ratio=ratio, idle=idle, cruise=cruise,
        top=top, slip=slip,
    )  # fmt: skip
    wanted = Wanted(run_folder(voice, before) if before else None, engine, sheet=sheet, tag=tag)
    written = write_papers(
        folder,
        typed_path(out) if out else folder,
        settings=settings,
        wanted=wanted,
        trusted=known_keys(lambda words: voice.talk(f"  ! {words}")),
    )
    files = list(written.files)
    if chart is not None:
        files.append(write_chart(folder, typed_path(chart), settings=settings))
    for remark in (*written.marks, *written.remarks):
        voice.talk(f"  ! {remark}")
    voice.result("\n".join(str(file) for file in files))
    voice.document(
        {
            "run": str(folder),
            "files": [str(file) for file in files],
            "marks": list(written.marks),
            "remarks": list(written.remarks),
        }
    )
    return Exit.OK


def _asked_for(code: str) -> str:
    """The language of the option, before anything is written."""
    from acquire.report.language import known_languages
    from profiles.plain_text import listed, shown

    known = known_languages()
    if code not in known:
        raise OrderError(
            f"--language {shown(code)}: there is no such language of the report.",
            what_to_do=f"Known: {listed(known, joint='and')}.",
        )
    return code


def _engine(
    *,
    pulleys: tuple[float | None, float | None],
    ratio: float | None,
    idle: float | None,
    cruise: str | None,
    top: float | None,
    slip: float,
) -> Engine | None:
    """The customer's engine; all of it or none."""
    turned = ratio is not None or None not in pulleys
    speeds = (idle, cruise, top)
    if not turned and pulleys == (None, None) and speeds == (None, None, None):
        return None
    if not turned or idle is None or cruise is None or top is None:
        raise OrderError(
            "The engine is not known whole.",
            what_to_do="Give --idle, --cruise and --top, and --ratio or both pulleys.",
        )
    from acquire.match.matching import EngineSpeeds
    from acquire.report.part_engine import Engine

    engine_mm, unit_mm = pulleys
    drive = belt_drive(engine_mm=engine_mm, unit_mm=unit_mm, ratio=ratio, slip=slip)
    return Engine(drive, EngineSpeeds(idle, cruise_range(cruise), top))
