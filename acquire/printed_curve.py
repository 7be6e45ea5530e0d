"""A printed output curve as somebody digitised it: read with care, and thinned to a rated curve.

Digitised points come by the dozen and scatter by the thickness of the printed line. A rated curve
is judged on straight lines between its points, so a few well placed ones say as much.
"""

from __future__ import annotations

import csv
import io
import math
import re
import statistics
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import dropwhile, pairwise
from pathlib import Path

from acquire.curve.points_file import parse_points
from profiles.errors import Problem, ProfileError

Point = tuple[float, float]
"""(shaft speed [rpm], current [A])"""

MOST_POINTS = 12
NOISY = 0.005
"""Scatter beyond this share of the highest current counts as noise of the digitising."""
NO_BEND = 1.5
"""A smoothed point so many times the scatter off the lines is still no bend of the curve (about two
standard deviations of a point smoothed by a parabola through five)."""
NEIGHBOURS = 2
"""Points on either side that a smoothed point rests on."""
RULE = (
    f"first and last point, then always the one furthest from the straight lines between those"
    f" kept, until there are {MOST_POINTS} or it is no further off than the scatter"
)


@dataclass(frozen=True, slots=True)
class Thinned:
    """The points kept, and what the user should know of it."""

    points: tuple[Point, ...]
    scatter_amps: float | None
    """Standard deviation about a smooth curve; None with fewer than three points."""
    smoothed: bool
    furthest_amps: float
    """Distance of the digitised point that lies furthest from the lines between those kept [A]."""
    told: tuple[str, ...]


def read_printed(path: Path) -> tuple[Point, ...]:
    """The points of a CSV with the columns `shaft_rpm` (or `rpm`) and `amps`, by rising speed.

    Raises:
        ProfileError: Every fault, with its line: no number, negative, not rising, twice.
    """
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        words = f"cannot be read: {error.strerror or error}."
        raise ProfileError([_problem(path, "", words, "Check name and folder.")]) from error
    except UnicodeDecodeError as error:
        words = "is not plain text in UTF-8."
        raise ProfileError([_problem(path, "", words, "Save it as CSV UTF-8.")]) from error
    return parse_printed(text, file=path)


def parse_printed(text: str, *, file: Path) -> tuple[Point, ...]:
    """The same from text; `file` stands in messages."""
    text = _with_our_heading(text)
    parse_points(text, file=str(file))  # tells of every cell that is no figure
    rows = _rows(text)
    problems = [problem for line, _, amps in rows if (problem := _negative(file, line, amps))]
    for (first, before, _), (line, rpm, _) in pairwise(rows):
        if rpm == before:
            words = f"{rpm:g} rpm stands in line {first} already."
            problems.append(_problem(file, f"line {line}", words, "Keep one point a speed."))
        elif rpm < before:
            words = f"{rpm:g} rpm comes after {before:g} rpm."
            problems.append(_problem(file, f"line {line}", words, "Sort the rows by speed."))
    if problems:
        raise ProfileError(problems[:20])
    return tuple((rpm, amps) for _, rpm, amps in rows)


def _with_our_heading(text: str) -> str:
    heading, end, rest = text.removeprefix("\ufeff").lstrip("\r\n").partition("\n")
    lines_before = len(text) - len(text.removeprefix("\ufeff").lstrip("\r\n"))
    renamed = re.sub(r'(^|,)(\s*"?)rpm(?="?\s*(,|$))', r"\1\2shaft_rpm", heading, flags=re.I)
    return text[:lines_before] + renamed + end + rest


def _rows(text: str) -> list[tuple[int, float, float]]:
    """(line, speed, current) of every row; the text has passed `parse_points`."""
    reader = csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline=""))
    names: list[str] = []
    rows = []
    for cells in reader:
        if not any(cell.strip() for cell in cells):
            continue
        if not names:
            names = [cell.strip().lower() for cell in cells]
            continue
        rpm, amps = (float(cells[names.index(name)].strip()) for name in ("shaft_rpm", "amps"))
        rows.append((reader.line_num, rpm, amps))
    return rows


def _negative(file: Path, line: int, amps: float) -> Problem | None:
    if amps >= 0:
        return None
    words = f"{amps:g} A is below zero."
    return _problem(file, f"line {line}", words, "Leave the row out: a unit takes no current.")


def _problem(file: Path, key: str, words: str, what_to_do: str) -> Problem:
    return Problem(str(file), key, words, what_to_do)


def thinned(points: Sequence[Point]) -> Thinned:
    """At most `MOST_POINTS` points that follow the digitised ones, by `RULE`.

    Where there are more than that and they scatter by more than `NOISY` of the highest current,
    each is first put on the parabola fitted through it and its neighbours.
    """
    points = tuple(points)
    scatter = scatter_amps(points)
    highest = max(amps for _, amps in points)
    noisy = scatter is not None and scatter > NOISY * highest
    if len(points) <= MOST_POINTS:
        told = (_noisy_words(scatter),) if noisy and scatter is not None else ()
        return Thinned(points, scatter, smoothed=False, furthest_amps=0.0, told=told)
    curve = _smoothed(points) if noisy else points
    enough = max(NOISY * highest, NO_BEND * (scatter or 0.0))
    kept = tuple((rpm, round(amps, 2)) for rpm, amps in _furthest_first(curve, enough))
    furthest = max(abs(amps - _on_lines(kept, rpm)) for rpm, amps in points)
    found = Thinned(kept, scatter, smoothed=noisy, furthest_amps=furthest, told=())
    return replace(found, told=_told(found, len(points)))


def _told(found: Thinned, given: int) -> tuple[str, ...]:
    smoothing = ""
    if found.smoothed:
        smoothing = (
            f" They scatter by ±{found.scatter_amps:.1f} A, so each was first put on the"
            f" parabola through the {2 * NEIGHBOURS + 1} points about it."
        )
    return (
        f"{given} points are more than a rated curve needs; {len(found.points)} were kept:"
        f" {RULE}.{smoothing}",
        f"No digitised point lies further than {found.furthest_amps:.1f} A from the lines between"
        " those kept.",
    )


def _noisy_words(scatter: float) -> str:
    return (
        f"The points scatter by ±{scatter:.1f} A about a smooth curve;"
        " look at them before anything is judged by them."
    )


def scatter_amps(points: Sequence[Point]) -> float | None:
    """Standard deviation of the points about a smooth curve [A]; None below 3.

    An output curve bends down all along, at most after a foot that bends up: what lies above the
    chord of its neighbours may be bend, what lies below it, past the foot, is scatter. Half of the
    points should lie there by scatter alone; where fewer do, bend hides the others, and each of
    those counts as none. By the median, so that single bad points count little; 0.6745 is the
    median of |z| for a normal z.
    """
    if len(points) < 3:
        return None
    past_foot = list(dropwhile(lambda above: above <= 0.0, _above_chords(points)))
    below = [-above for above in past_foot if above < 0.0]
    hidden = max((len(points) - 1) // 2 - len(below), 0)
    return statistics.median([*below, *[0.0] * hidden]) / 0.6745


def _above_chords(points: Sequence[Point]) -> Iterator[float]:
    """How far each point lies above the chord of its neighbours, per ampere of scatter of one."""
    for (x0, y0), (x1, y1), (x2, y2) in zip(points, points[1:], points[2:], strict=False):
        right = (x1 - x0) / (x2 - x0)
        above = y1 - (1.0 - right) * y0 - right * y2
        yield above / math.hypot(1.0, 1.0 - right, right)


def _smoothed(points: Sequence[Point]) -> tuple[Point, ...]:
    """Each point on the parabola fitted (least squares) through it and its neighbours.

    A parabola, because a straight line would lift the steep foot of the curve (Savitzky and Golay,
    Analytical Chemistry 36, 1964, for even spacing).
    """
    import numpy as np

    smooth = []
    for index, (rpm, _) in enumerate(points):
        first = min(max(index - NEIGHBOURS, 0), len(points) - 2 * NEIGHBOURS - 1)
        near = np.array(points[first : first + 2 * NEIGHBOURS + 1])
        amps = np.polyfit((near[:, 0] - rpm) / 1000.0, near[:, 1], 2)[-1]
        smooth.append((rpm, max(float(amps), 0.0)))
    return tuple(smooth)


def _furthest_first(points: Sequence[Point], enough: float) -> list[Point]:
    kept = [points[0], points[-1]]
    while len(kept) < MOST_POINTS:
        furthest = max(points, key=lambda point: abs(point[1] - _on_lines(kept, point[0])))
        if abs(furthest[1] - _on_lines(kept, furthest[0])) <= enough:
            break
        kept = sorted([*kept, furthest])
    return kept


def _on_lines(kept: Sequence[Point], rpm: float) -> float:
    for (low, first), (high, second) in pairwise(kept):
        if low <= rpm <= high:
            return first + (second - first) * (rpm - low) / (high - low)
    raise ValueError(f"{rpm} rpm lies outside the points")
