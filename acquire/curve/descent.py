"""A quick way down for smooth problems of a few parameters that begin near their minimum.

Levenberg-Marquardt with Nielsen's damping (K. Madsen, H. B. Nielsen, O. Tingleff, "Methods for
non-linear least squares problems", 2004), parameters kept inside their bounds, the soft L1 loss by
its first and second derivative. It gives up rather than guess: then the slower solver with its
several starts is asked.

A curve has a dozen points and three parameters, so a step costs about as much as it has calls of
numpy: residuals and derivatives are taken in one look, and the normal equations, three by three,
are solved in plain numbers.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

from acquire.curve.model import FloatArray
from acquire.curve.normal_equations import Matrix, Three, curved, damped_step, held

Look = Callable[[Sequence[float]], tuple[FloatArray, FloatArray]]
"""Residuals (n,) and their derivatives, a row for each parameter (3, n), at some parameters."""
Bounds = tuple[Sequence[float], Sequence[float]]
_MOST_STEPS = 80
_FIRST_DAMPING, _MOST_DAMPING = 1e-2, 1e10
_HARDLY = 1e-9
"""Damping that only keeps the equations from being singular."""
_SMALL = 1e-4
"""Damping below this is left out."""
_NOTHING, _NOTHING_AT_ALL = 1e-9, 1e-14
"""A promised fall of the cost below this share of it is nothing; below so much in itself, too."""
_LITTLE, _LITTLE_AT_ALL = 1e-4, 1e-3
"""Where no step leads down although one promises this share at most, and no more than this in
itself, the ground has a crease there (the foot of a curve at a measured speed): here is the
bottom, to some hundredths of sigma."""
_NEAR = 0.03
"""Where a step promises less than this share of the cost the minimum is near."""
_STILL = 1e-8
"""A step that moves every parameter by less than this share of itself is the last."""


class _Place(NamedTuple):
    """Where the descent stands: parameters, robust cost, and the ground underfoot: J'J with the
    curvature of the loss, the way down, and the step that is hardly damped."""

    parameters: Three
    cost: float
    information: Matrix
    downhill: Sequence[float]
    step: Three
    promise: float
    """By how much the cost would fall with that step."""


def descend(
    look: Look, start: Sequence[float], *, bounds: Bounds, bend: FloatArray
) -> Three | None:
    """Parameters at the minimum below `start`, or None where no minimum was reached for sure.

    `bend` (n,) is one over the softness of the soft L1 loss of each residual: 0 counts in full.
    """
    here = _placed(_inside(start, bounds), look, bounds=bounds, bend=bend)
    damping = _FIRST_DAMPING
    for _ in range(_MOST_STEPS):
        if here.promise <= _NOTHING * here.cost + _NOTHING_AT_ALL:
            return _moved(here.parameters, here.step, bounds)
        there, damping = _lower(here, look, damping, bounds=bounds, bend=bend)
        if there is None:
            little = min(_LITTLE * here.cost, _LITTLE_AT_ALL)
            return here.parameters if here.promise <= little else None
        if _still(here.parameters, there.parameters):
            return there.parameters
        here = there
    return None


def _lower(
    here: _Place, look: Look, damping: float, *, bounds: Bounds, bend: FloatArray
) -> tuple[_Place | None, float]:
    """A place below `here` and the damping to go on with; None where no step leads down."""
    growth = 2.0
    while damping <= _MOST_DAMPING:
        step = here.step
        if damping >= _SMALL:
            step = damped_step(here.information, here.downhill, damping)
            if _promise(step, here.downhill) <= 0.1 * _NOTHING * here.cost:
                break
        aim = _moved(here.parameters, step, bounds)
        there = _placed(aim, look, bounds=bounds, bend=bend, before=here)
        if there.cost < here.cost:
            return there, damping * _easing(here, there, damping)
        damping, growth = max(damping, _SMALL) * growth, growth * 2
    return None, damping


def _easing(here: _Place, there: _Place, damping: float) -> float:
    """By how much to change the damping after a step: the less, the better it kept its promise."""
    promised = 0.0
    for index in range(3):
        part = there.parameters[index] - here.parameters[index]
        damped = damping * here.information[index][index] * part
        promised += 0.5 * part * (here.downhill[index] + damped)
    gain = min((here.cost - there.cost) / promised, 1.0) if promised > 0.0 else 0.0
    return float(max(0.1, 1.0 - (2.0 * gain - 1.0) ** 3))


def _placed(
    parameters: Three,
    look: Look,
    *,
    bounds: Bounds,
    bend: FloatArray,
    before: _Place | None = None,
) -> _Place:
    near = before is not None and before.promise < _NEAR * before.cost
    residuals, rows = look(parameters)
    bent = residuals * bend
    square = 1.0 + bent * bent
    root = np.sqrt(square)
    above = 1.0 + root
    # Near the minimum the loss's own second derivative leads there soonest. Further off it is next
    # to nothing for far points and asks for leaps; there the curvature is that of residuals bent
    # by the loss, as a solver without a loss would see it.
    weights = 1.0 / (square * root) if near else above / (square + square)
    information = (rows * weights @ rows.T).tolist()
    downhill = (rows @ (residuals / -root)).tolist()
    idle = _idle(parameters, information, downhill, bounds)
    if True in idle:
        information, downhill = held(information, downhill, idle)
    elif near and before is not None and 0.0 not in before.downhill:
        moved = [new - old for new, old in zip(parameters, before.parameters, strict=True)]
        turned = [old - new for new, old in zip(downhill, before.downhill, strict=True)]
        information = curved(information, moved, turned)
    step = damped_step(information, downhill, _HARDLY)
    cost = float(residuals @ (residuals / above))
    return _Place(parameters, cost, information, downhill, step, _promise(step, downhill))


def _promise(step: Three, downhill: Sequence[float]) -> float:
    return 0.5 * (step[0] * downhill[0] + step[1] * downhill[1] + step[2] * downhill[2])


def _idle(
    parameters: Three, information: Matrix, downhill: Sequence[float], bounds: Bounds
) -> list[bool]:
    """Which parameters cannot move: nothing depends on them, or the way down leads out through the
    bound against which they stand."""
    low, high = bounds
    return [
        not information[index][index] > 0.0
        or (parameters[index] <= low[index] and downhill[index] <= 0.0)
        or (parameters[index] >= high[index] and downhill[index] >= 0.0)
        for index in range(3)
    ]


def _moved(parameters: Three, step: Three, bounds: Bounds) -> Three:
    return _inside([value + part for value, part in zip(parameters, step, strict=True)], bounds)


def _inside(parameters: Sequence[float], bounds: Bounds) -> Three:
    x, y, z = (
        min(max(value, low), high) for value, low, high in zip(parameters, *bounds, strict=True)
    )
    return x, y, z


def _still(before: Three, after: Three) -> bool:
    return all(abs(new - old) <= _STILL * abs(old) for new, old in zip(after, before, strict=True))
