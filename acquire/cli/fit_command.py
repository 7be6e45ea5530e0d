"""`steadyamps fit`: the output curve through measured points."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from acquire.cli.voice import Voice

if TYPE_CHECKING:
    from acquire.curve.fit import CurveFit, CurvePoint


MODEL_WORDS = {
    "bridge map": " (what an alternator sends through its diodes into a voltage that is held)"
}


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("fit")(fit)


def fit(
    context: typer.Context,
    points: Annotated[
        str, typer.Argument(metavar="RUN-or-CSV", help="A run folder, or a CSV of points.")
    ],
    at: Annotated[
        str | None,
        typer.Option(metavar="RPM,RPM", help="Shaft speeds to give the current at."),
    ] = None,
) -> int:
    """Fit the output curve, with its 95 % band and cut-in speed.

    Example: steadyamps fit points.csv --at 1500,2000,6000
    """
    from acquire.cli.exit_codes import Exit
    from acquire.cli.places import run_folder
    from acquire.curve.fit import fit_curve
    from acquire.run_order import steps_from

    voice: Voice = context.obj
    measured = _points(run_folder(voice, points))
    curve = fit_curve(measured)
    speeds = steps_from(at, option="--at") or tuple(point.shaft_rpm for point in measured)
    document = curve.as_json(speeds)
    warnings = [f"  ! {warning}" for warning in curve.warnings_at(speeds)]
    voice.result("\n".join([*_lines(curve, speeds), *warnings]))
    voice.document(document)
    return Exit.OK


def _points(path: Path) -> list[CurvePoint]:
    from acquire.curve.fit import CurvePoint
    from acquire.curve.points_file import read_points

    if not path.is_dir():
        return [CurvePoint(p.shaft_rpm, p.amps, p.u_amps, p.u_shaft_rpm) for p in read_points(path)]
    from acquire.judging import curve_points
    from acquire.record.read_run import read_run
    from acquire.rejudging import points_of_run

    return curve_points(points_of_run(read_run(path)))


def _lines(curve: CurveFit, speeds: Sequence[float]) -> list[str]:
    """The fit in words."""
    from acquire.judge.budget import HALF_WIDTH_K

    shown = {
        "i_max_amps": "highest current",
        "n0_rpm": "speed where the curve begins",
        "r": "shape r (how late the curve bends: sound units have 0.2 to 0.5)",
    }
    units = {"i_max_amps": "A", "n0_rpm": "rpm"}
    lines = [f"Model: {curve.model}{MODEL_WORDS.get(curve.model, '')}"]
    for name, estimate in curve.parameters.items():
        words, unit = shown.get(name, name), units.get(name, "")
        lines.append(
            f"  {words}: {estimate.value:.4g} ±{HALF_WIDTH_K * estimate.u:.2g} {unit}".rstrip()
        )
    lines.append(f"  scatter about the curve: {curve.residual_sd_amps:.2f} A")
    if curve.cut_in is not None:
        cut_in = curve.cut_in
        lines.append(f"  cut-in speed: {cut_in.value:.0f} ±{HALF_WIDTH_K * cut_in.u:.0f} rpm")
    else:
        lines.append("  cut-in speed: the points do not reveal it")
    lines.append("   speed      amps    95 % band")
    for point in curve.at(speeds):
        beyond = "  beyond the measured speeds" if point.extrapolated else ""
        band = f"{point.low:.1f} to {point.high:.1f}"
        lines.append(f"{point.shaft_rpm:8.0f} {point.amps:9.1f}    {band}{beyond}")
    return lines
