"""Steady points written to a record and read back, so that a verdict can be given again."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import cast

from acquire.judge.budget import Budget, Part, degrees_of_freedom, finite_or_none
from acquire.judge.slopes import Slope
from acquire.judge.steady_point import SteadyPoint
from acquire.record.other_hands import number

_FIGURES = (
    "shaft_rpm",
    "u_shaft_rpm",
    "amps",
    "u_amps",
    "volts",
    "u_volts",
    "case_c",
    "settle_s",
    "amps_at_set_rpm",
    "u_amps_at_set_rpm",
)


def point_to_data(point: SteadyPoint) -> dict[str, object]:
    """Give everything of a steady point as plain data; `point_from_data` reads it back."""
    data: dict[str, object] = {"step": point.step, "set_rpm": point.set_rpm}
    data |= {name: getattr(point, name) for name in _FIGURES}
    data["settled"] = point.settled
    data["readings"] = point.readings
    data["dof"] = finite_or_none(point.dof)
    data["slope"] = None if point.slope is None else [point.slope.value, point.slope.u]
    data["budget"] = None if point.budget is None else point.budget.to_data()
    return data


def point_from_data(data: Mapping[str, object]) -> SteadyPoint:
    """Read back what `point_to_data` wrote."""
    budget = cast("Mapping[str, object] | None", data["budget"])
    slope = cast("Sequence[object] | None", data["slope"])
    dof = degrees_of_freedom(data.get("dof"))
    return _point(
        data,
        budget=None if budget is None else Budget.from_data(budget),
        slope=None if slope is None else Slope(*map(number, slope)),
        dof=dof,
    )


def point_from_row(row: Mapping[str, object]) -> SteadyPoint:
    """Make a steady point of a row of `curve.csv` alone; empty figures are None.

    The parts of the budget are not in the table, so the doubt is taken as normal and as this
    row's own: the chances may differ a little from those of a whole record.
    """
    u_amps, u_moved = _number(row, "u_amps"), _number(row, "u_amps_at_set_rpm")
    slope = _slope_of(row)
    budget = None
    if u_amps is not None:
        own = Part("scatter", "the doubt recorded with the reading", u_amps)
        budget = Budget(()).plus(own, *_speed_part(row, u_amps, u_moved, slope))
    return _point(row, budget=budget, slope=slope, dof=math.inf)


def _speed_part(
    row: Mapping[str, object], u_amps: float, u_moved: float | None, slope: Slope | None
) -> list[Part]:
    """What the speed added, as a part that answers to the slope where that is known."""
    if u_moved is None or u_moved <= u_amps:
        return []
    added = math.sqrt(u_moved * u_moved - u_amps * u_amps)
    name = "how well the speed is known"
    if slope is None or slope.value == 0.0:
        return [Part("speed scatter", name, added)]
    return [
        Part("speed scatter", name, added / abs(slope.value), slope.value, unit_of_measure="rpm")
    ]


def _slope_of(row: Mapping[str, object]) -> Slope | None:
    """The slope by which the row was moved to its set speed."""
    amps, moved = _number(row, "amps"), _number(row, "amps_at_set_rpm")
    shaft_rpm, set_rpm = _number(row, "shaft_rpm"), _number(row, "set_rpm")
    if amps is None or moved is None or shaft_rpm is None or set_rpm is None:
        return None
    return Slope((moved - amps) / (set_rpm - shaft_rpm)) if set_rpm != shaft_rpm else None


def _point(
    data: Mapping[str, object], *, budget: Budget | None, slope: Slope | None, dof: float
) -> SteadyPoint:
    settled = data.get("settled")
    readings = _number(data, "readings")
    return SteadyPoint(
        step=int(_figure(data["step"])),
        set_rpm=_figure(data["set_rpm"]),
        settled=settled if settled in ("yes", "predicted", "no") else None,
        readings=None if readings is None else int(readings),
        budget=budget,
        slope=slope,
        dof=dof,
        **{name: _number(data, name) for name in _FIGURES},
    )


def _number(data: Mapping[str, object], name: str) -> float | None:
    value = data.get(name)
    return None if value is None or value == "" else _figure(value)


def _figure(value: object) -> float:
    """A figure as JSON has it, or as the text of a table's cell."""
    return number(float(value) if isinstance(value, str) else value)
