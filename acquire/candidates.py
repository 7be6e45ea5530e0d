"""What may stand for a unit when it is matched to an engine: a run, a rated curve, or a CSV."""

from __future__ import annotations

from collections.abc import Callable, Container
from pathlib import Path

from acquire.curve.fit import fit_curve
from acquire.curve.points import CurvePoint
from acquire.curve.points_file import read_points
from acquire.judging import curve_points
from acquire.match.candidate import Candidate, RatedLine
from acquire.record.read_run import Run, read_run
from acquire.record.run_name import too_short_an_ending
from acquire.rejudging import points_of_run
from acquire.snapshots import snapshots_of
from acquire.typed_path import is_there
from profiles.alternator import AlternatorProfile
from profiles.catalogue import Loaded, load_rated
from profiles.errors import BenchError, Problem, ProfileError
from profiles.folders import named
from profiles.plain_text import listed, near_names, shown
from profiles.plate import looks_like_plate


def candidate_from(
    text: str, *, loaded: Callable[[Loaded[AlternatorProfile]], object] = lambda _loaded: None
) -> Candidate:
    """A run folder, a CSV of points, or a rated curve by name, file or plate.

    `loaded` is told of a rated curve, and so of the file it was taken from.

    Raises:
        BenchError: If it is none of them, or cannot be used.
    """
    path = Path(text)
    if is_there(path) and path.is_dir():
        return candidate_of(read_run(path))
    if path.suffix.lower() == ".csv":
        points = [
            CurvePoint(p.shaft_rpm, p.amps, p.u_amps, p.u_shaft_rpm) for p in read_points(path)
        ]
        return Candidate(path.stem, fit_curve(points), origin=path.parent.name)
    rated = _rated(text)
    loaded(rated)
    curve = rated.profile.rated_curve()
    return Candidate(
        curve.title,
        RatedLine(curve.points),
        max_shaft_rpm=curve.max_shaft_rpm,
        volts=curve.volts,
        origin="rated",
    )


def only_a_run(text: str) -> bool:
    """True where nothing but a run can be meant: no file is called so, and no rated curve."""
    if Path(text).suffix.lower() == ".csv" or too_short_an_ending(text):
        return False
    return not _may_be_rated(text, named("alternators"))


def _may_be_rated(text: str, known: Container[str]) -> bool:
    path = Path(text)
    return text in known or looks_like_plate(text) or is_there(path) or path.suffix == ".toml"


def _rated(text: str) -> Loaded[AlternatorProfile]:
    """A rated curve; what is none, and nothing else that could be meant, is told as that."""
    known = named("alternators")
    if _may_be_rated(text, known):
        return load_rated(text)
    near = near_names(text, known)
    hint = f"Rated curves: {listed(sorted(known), joint='and')}; or give the path of a run or file."
    if near:
        hint = f"Did you mean the rated curve {listed(near)}?"
    message = "there is no run folder, no CSV and no rated curve of this name."
    raise ProfileError([Problem(shown(text), "", message, hint)])


def candidate_of(run: Run) -> Candidate:
    """A run: its measured curve, and what its rated curve says of the unit."""
    rated = None
    try:
        rated = snapshots_of(run.header).rated_curve
    except BenchError:
        rated = None  # a run without profiles still has its curve
    return Candidate(
        run.header.title,
        fit_curve(curve_points(points_of_run(run))),
        max_shaft_rpm=rated.max_shaft_rpm if rated else None,
        volts=rated.volts if rated else None,
        origin=" ".join(filter(None, (run.header.stage, str(run.header.began_day)))),
    )
