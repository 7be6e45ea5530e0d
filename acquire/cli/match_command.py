"""`steadyamps match`: what units give at the speeds where this engine runs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from acquire.cli import completing
from acquire.cli.engine_orders import belt_drive, cruise_range
from acquire.cli.number_option import number
from acquire.cli.voice import Voice
from acquire.errors import OrderError

if TYPE_CHECKING:
    from acquire.match.matching import Match, Matched
    from profiles.alternator import AlternatorProfile
    from profiles.catalogue import Loaded


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("match")(match)


def match(
    context: typer.Context,
    curves: Annotated[
        list[str],
        typer.Argument(
            metavar="CURVE...",
            autocompletion=completing.candidates,
            help="Runs, rated curves or CSVs of points.",
        ),
    ],
    idle: Annotated[
        float, typer.Option(parser=number, metavar="RPM", help="Engine speed at idle.")
    ],
    cruise: Annotated[
        str, typer.Option(metavar="RPM[..RPM]", help="Engine speed, or a range, when cruising.")
    ],
    top: Annotated[
        float, typer.Option(parser=number, metavar="RPM", help="Engine speed at full throttle.")
    ],
    engine_pulley: Annotated[
        float | None,
        typer.Option(parser=number, metavar="MM", help="Pitch diameter of the engine's pulley."),
    ] = None,
    alternator_pulley: Annotated[
        float | None,
        typer.Option(parser=number, metavar="MM", help="Pitch diameter of the unit's pulley."),
    ] = None,
    ratio: Annotated[
        float | None,
        typer.Option(parser=number, metavar="R", help="Pulley ratio, instead of diameters."),
    ] = None,
    slip: Annotated[
        float, typer.Option(parser=number, metavar="PERCENT", help="Slip of the belt.")
    ] = 1.0,
    need_amps: Annotated[
        float | None,
        typer.Option(parser=number, metavar="A", help="Amps wanted at the lowest cruising speed."),
    ] = None,
    bank_ah: Annotated[
        float | None,
        typer.Option(parser=number, metavar="AH", help="Capacity of the battery bank."),
    ] = None,
    used_ah: Annotated[
        float | None, typer.Option(parser=number, metavar="AH", help="Ampere-hours to put back.")
    ] = None,
) -> int:
    """Match units to an engine, and rank them.

    Amps at idle, cruise and top speed, the ratio needed, and warnings of belt and speed.

    Example: steadyamps match small-frame-14v-90a --ratio 2.5 --idle 700 --cruise 1400..2200
    --top 3600
    """
    from acquire.candidates import candidate_from, only_a_run
    from acquire.cli.exit_codes import Exit
    from acquire.cli.places import run_folder
    from acquire.cli.which_file import taken
    from acquire.match.matching import Bank, EngineSpeeds
    from acquire.match.matching import match as put_on_engine

    voice: Voice = context.obj
    if (bank_ah is None) != (used_ah is None):
        raise OrderError("--bank-ah and --used-ah go together.", what_to_do="Give both or none.")

    def meant(curve: str) -> str:
        return str(run_folder(voice, curve)) if only_a_run(curve) else curve

    def say(rated: Loaded[AlternatorProfile]) -> None:
        voice.talk(taken("alternators", rated))

    result = put_on_engine(
        [candidate_from(meant(curve), loaded=say) for curve in curves],
        drive=belt_drive(
            engine_mm=engine_pulley, unit_mm=alternator_pulley, ratio=ratio, slip=slip
        ),
        engine=EngineSpeeds(idle, cruise_range(cruise), top),
        need_amps=need_amps,
        bank=Bank(bank_ah, used_ah) if bank_ah is not None and used_ah is not None else None,
    )
    voice.result("\n".join(match_lines(result, need_amps)))
    voice.document(result.as_json())
    return Exit.OK


def match_lines(result: Match, need_amps: float | None) -> list[str]:
    """The answer in words: best unit first, then each at the engine's speeds."""
    lines = [_sentence(result), f"Ratio {result.ratio:.2f} (without slip)."]
    by_title = {one.title: one for one in result.candidates}
    for title in result.ranking:
        lines += ["", *_candidate_lines(by_title[title], need_amps)]
    return lines + [f"  ! {warning}" for warning in result.warnings]


def _sentence(result: Match) -> str:
    by_title = {one.title: one for one in result.candidates}
    best = by_title[result.ranking[0]]
    start = f"{best.title} gives {best.cruise_amps:.0f} A when cruising"
    if len(result.ranking) == 1:
        return f"{start}, {best.idle.given.amps:.0f} A at idle."
    second = by_title[result.ranking[1]]
    bigger = second.top.given.amps > best.top.given.amps
    though = f", though it gives more at the top ({second.top.given.amps:.0f} A)" if bigger else ""
    fast = ", but the engine would turn it too fast" if second.overspeeds else ""
    return f"{start}; {second.title} {second.cruise_amps:.0f} A{though}{fast}."


def _candidate_lines(one: Matched, need_amps: float | None) -> list[str]:
    lines = [one.title]
    speeds = [("idle", one.idle), *(("cruise", c) for c in one.cruise), ("top", one.top)]
    for name, speed in speeds:
        given = speed.given
        lines.append(
            f"  {name:<7} engine {speed.engine_rpm:5.0f}  shaft {given.shaft_rpm:6.0f} rpm"
            f"  {given.amps:6.1f} A  ({given.low:.0f} to {given.high:.0f})"
        )
    if need_amps is not None and one.needed_ratio is not None:
        lines.append(f"  ratio needed for {need_amps:g} A when cruising: {one.needed_ratio:.2f}")
    if one.charge is not None and one.charge.hours is not None:
        lines.append(
            f"  about {one.charge.hours:.1f} h at the middle of cruising put it back"
            f" (limited by {one.charge.limited_by}; an estimate)"
        )
    return lines + [f"  ! {warning}" for warning in one.warnings]
