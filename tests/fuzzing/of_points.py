"""Targets: points of a curve from CSV: measured, printed, and judged or fitted from there."""

from __future__ import annotations

import csv
import io
import math
import random
import re
from pathlib import Path

from acquire.curve.fit import fit_curve
from acquire.curve.measured_point import MeasuredPoint
from acquire.curve.points import CurvePoint
from acquire.curve.points_file import COLUMNS, parse_points, read_points
from acquire.printed_curve import MOST_POINTS, read_printed, thinned
from acquire.rejudging import judge_csv
from profiles.catalogue import load_rated
from tests.fuzzing.target import Target, claim

MEASURED = [
    b"shaft_rpm,amps\n1500,45.0\n2000,60.2\n3000,78\n6000,90.1\n",
    b"shaft_rpm,amps,u_amps,u_shaft_rpm,volts,u_volts\r\n1500,45.0,0.2,1,13.5,0.01\r\n3000,78,,,13.5,\r\n6000,90.1,0.3,2,13.4,0.01\r\n",
    b'"amps","shaft_rpm"\n"12.5","1200"\n80,4000\n',
    b"shaft_rpm;amps\n1500;45,0\n",
    b"\xef\xbb\xbfshaft_rpm,amps\n\n1000,-0.5\n1000,0\n5000,1e2\n",
    b"shaft_rpm,amps\n"
    + b"".join(b"%d,%.2f\n" % (rpm, 95 * (1 - 1000 / rpm)) for rpm in range(1100, 6100, 100)),
]
PRINTED = [*MEASURED, b"rpm,amps\n1000,0\n1500,45\n3000,78\n6000,90\n"]


def csv_from_nothing(rng: random.Random) -> bytes:
    """Rows by the rules, with a cell here and there that is not."""
    names = [*COLUMNS[:2], *(name for name in COLUMNS[2:] if rng.random() < 0.4)]
    rng.shuffle(names)
    rows = [names]
    rpm = 900.0
    for _ in range(rng.choice((1, 2, 4, 9, 40))):
        rpm += rng.choice((100.0, 0.5, 800.0, 0.0, -50.0 if rng.random() < 0.05 else 60.0))
        odd = rng.choice(("1e3", "-1", "nan", "", "1e308", "999999", "0", "12,5", " 7 ", "+3"))
        cells = [
            f"{rpm:g}" if name == "shaft_rpm" else f"{rng.uniform(0, 120):.2f}" for name in names
        ]
        if rng.random() < 0.1:
            cells[rng.randrange(len(cells))] = odd
        rows.append(cells)
    end = rng.choice(("\n", "\r\n"))
    return end.join(",".join(row) for row in rows).encode()


class Points:
    """CSV files in a folder."""

    def __init__(self, folder: Path) -> None:
        self._path = folder / "points.csv"
        self._rated = load_rated("small-frame-14v-90a").profile

    def feed_measured(self, data: bytes) -> None:
        """Rows are counted by another reader; written again they are the same points."""
        self._path.write_bytes(data)
        points = read_points(self._path)
        self._sound(points)
        rows = list(csv.reader(io.StringIO(data.decode("utf-8-sig"), newline="")))
        filled = [row for row in rows if any(cell.strip() for cell in row)]
        claim(len(points) == len(filled) - 1, f"{len(filled) - 1} rows became {len(points)} points")
        names = [name.strip().lower() for name in filled[0]]
        given = sorted(float(row[names.index("amps")].strip()) for row in filled[1:])
        claim(given == sorted(point.amps for point in points), "other amps than in the file")
        claim(parse_points(_written(points), file="again") == points, "other points come back")

    @staticmethod
    def _sound(points: list[MeasuredPoint]) -> None:
        for point in points:
            values = [getattr(point, name) for name in COLUMNS]
            finite = (v is None or (math.isfinite(v) and abs(v) <= 1e6) for v in values)
            claim(all(finite), f"{point}")
            claim(point.shaft_rpm >= 0, "a negative speed")
            claim(
                all(v is None or v >= 0 for v in (point.u_amps, point.u_shaft_rpm, point.u_volts)),
                "negative doubt",
            )
        speeds = [point.shaft_rpm for point in points]
        claim(speeds == sorted(speeds), "not by rising speed")

    def feed_printed(self, data: bytes) -> None:
        """A printed curve: rising, and thinned to points that are near those given."""
        self._path.write_bytes(data)
        points = read_printed(self._path)
        speeds = [rpm for rpm, _ in points]
        claim(speeds == sorted(set(speeds)), "speeds do not rise")
        claim(all(0 <= amps <= 1e6 for _, amps in points), "amps beyond reason")
        found = thinned(points)
        claim(len(found.points) <= MOST_POINTS, "too many are left")
        kept = [rpm for rpm, _ in found.points]
        claim(set(kept) <= set(speeds) and kept == sorted(set(kept)), "speeds that were not given")
        claim(kept[0] == speeds[0] and kept[-1] == speeds[-1], "an end is lost")
        claim(
            all(math.isfinite(amps) and amps >= 0 for _, amps in found.points),
            "amps that cannot be",
        )
        claim(all(re.search(r"nan|inf\b", word) is None for word in found.told), "nan in words")

    def feed_fit(self, data: bytes) -> None:
        """Points that are taken can be fitted, or it is said why not."""
        self._path.write_bytes(data)
        points = read_points(self._path)
        curve = fit_curve(
            [CurvePoint(p.shaft_rpm, p.amps, p.u_amps, p.u_shaft_rpm) for p in points]
        )
        for point in curve.at([1500.0, 6000.0, points[0].shaft_rpm]):
            claim(math.isfinite(point.amps), f"{point}")
            claim(point.low <= point.amps <= point.high, f"outside its own band: {point}")

    def feed_judged(self, data: bytes) -> None:
        """A verdict on a CSV has an outcome and a reason, and never passes what is far below."""
        self._path.write_bytes(data)
        judgement, _ = judge_csv(self._path, self._rated, None)
        verdict = judgement.verdict
        claim(verdict.outcome in ("pass", "fail", "undecided", "not judged"), verdict.outcome)
        claim(bool(verdict.reason), "no reason")
        highest = max(point.amps for point in read_points(self._path))
        claim(verdict.outcome != "pass" or highest >= 40.0, f"passed with {highest} A at most")


def _written(points: list[MeasuredPoint]) -> str:
    lines = [",".join(COLUMNS)]
    for point in points:
        values = (getattr(point, name) for name in COLUMNS)
        lines.append(",".join("" if value is None else repr(value) for value in values))
    return "\n".join(lines)


def targets(folder: Path) -> list[Target]:
    """All targets of points in files."""
    points = Points(folder)
    file = ("points.csv",)
    return [
        Target(
            "CSV: points",
            MEASURED,
            points.feed_measured,
            shape="csv",
            names=file,
            grammar=csv_from_nothing,
            share=0.5,
        ),
        Target(
            "CSV: printed curve",
            PRINTED,
            points.feed_printed,
            shape="csv",
            names=file,
            grammar=csv_from_nothing,
            share=0.5,
        ),
        Target(
            "CSV: fitted",
            MEASURED,
            points.feed_fit,
            shape="csv",
            grammar=csv_from_nothing,
            share=0.2,
        ),
        Target(
            "CSV: judged",
            MEASURED,
            points.feed_judged,
            shape="csv",
            grammar=csv_from_nothing,
            share=0.1,
        ),
    ]
