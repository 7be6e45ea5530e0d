"""Output tables that makers printed in their service manuals: speeds and the amps they promise.

Every table names its source. Nothing here was measured or computed by this project.
"""

from __future__ import annotations

from dataclasses import dataclass

from acquire.curve.fit import CurveFit, fit_curve
from acquire.curve.points import CurvePoint


@dataclass(frozen=True)
class PublishedTable:
    """Speeds (rpm) and amps of one printed table."""

    name: str
    source: str
    rpm: tuple[float, ...]
    amps: tuple[float, ...]

    @property
    def top_amps(self) -> float:
        return max(self.amps)

    def points(self, *, without: int | None = None) -> list[CurvePoint]:
        rows = list(zip(self.rpm, self.amps, strict=True))
        return [CurvePoint(*row) for index, row in enumerate(rows) if index != without]

    def fit(self, *, without: int | None = None) -> CurveFit:
        return fit_curve(self.points(without=without))

    def interior(self) -> range:
        return range(1, len(self.rpm) - 1)


_OUTBOARD_RPM = (600, 1000, 1500, 2000, 2500, 3000, 3500, 4000, 4500, 5000, 5500, 5750)

CAR_80_A = PublishedTable(
    "12 V 80 A, printed with its cut-in speed",
    "Citroen CX repair manual, operation MA 530.0 (shaft speeds, 14 V)",
    (1100, 1500, 3000, 6000, 8000),
    (0, 40, 69, 78, 80),
)
TRUCK_35_A = PublishedTable(
    "24 V 35 A",
    "Generac 7.5 L diesel service manual, p. 54-46 (shaft speeds, 27 V, hot)",
    (1500, 2500, 5000),
    (20, 29, 33),
)
MARINE_50_A = PublishedTable(
    "12 V 50 A",
    "Westerbeke 33A technical manual, p. 83 (shaft speeds, 13.5 V, hot)",
    (1300, 2500, 5000),
    (16, 41, 48),
)
CAR_CLASS_8 = PublishedTable(
    "14 V class 8",
    "Citroen Xantia manual, p. 280 (shaft speeds, 13.5 V, engine hot; rebuilt from a flattened "
    "scan by the only assignment that rises with speed and class)",
    (2000, 3000, 4000),
    (49, 62, 68),
)
CAR_CLASS_9 = PublishedTable(
    "14 V class 9",
    "Citroen Xantia manual, p. 280 (as class 8)",
    (2000, 3000, 4000),
    (62, 76, 83),
)
CAR_75_A = PublishedTable(
    "14 V 75 A, engine speeds",
    "Renault Megane Scenic 1995 manual, p. 215 (ENGINE speeds, 13.5 V, after 15 min)",
    (1000, 2000, 3000, 4000),
    (46, 68, 71, 72),
)
OUTBOARD = PublishedTable(
    "outboard 60 A class, at the alternator, ends on a plateau",
    "Mercury 150 EFI service manual 90-883728, p. 2B-17 (ENGINE speeds, battery at 12.6 V)",
    _OUTBOARD_RPM,
    (21, 37, 44, 48, 50, 51, 51, 52, 52, 52, 52, 52),
)
OUTBOARD_AT_BATTERY = PublishedTable(
    "outboard 60 A class, at the battery, ends on a plateau",
    "Mercury 150 EFI service manual 90-883728, p. 2B-17 (ENGINE speeds, less the engine's draw)",
    _OUTBOARD_RPM,
    (16, 31, 36, 39, 40, 41, 41, 42, 42, 42, 42, 42),
)
TESTED_AT_3_SPEEDS = PublishedTable(
    "13.5 V, 8 pole pairs",
    "Sarafianos et al., 'Characterisation and Modelling of Automotive Lundell Alternators', 2015",
    (2000, 4000, 6000),
    (120, 170, 180),
)
TABLES = (
    CAR_80_A,
    TRUCK_35_A,
    MARINE_50_A,
    CAR_CLASS_8,
    CAR_CLASS_9,
    CAR_75_A,
    OUTBOARD,
    OUTBOARD_AT_BATTERY,
    TESTED_AT_3_SPEEDS,
)
