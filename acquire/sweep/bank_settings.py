"""The settings of a switched bank that are worth trying, by the current they take."""

from __future__ import annotations

from functools import lru_cache

from acquire.plain_sum import plain_sum


@lru_cache(maxsize=8)
def settings_of(amps: tuple[float, ...]) -> tuple[tuple[bool, ...], ...]:
    """Every useful setting of a bank with these steps [A], from nothing closed to all, by current.

    Of settings with the same current the one with the fewest steps closed counts. Step by step
    only the currents that can be reached are kept: all settings of a large bank are too many.
    """
    reached: dict[float, tuple[float, tuple[int, ...]]] = {0.0: (0.0, ())}
    for number, more in enumerate(amps):
        for total, closed in list(reached.values()):
            setting = (total + more, (*closed, number))
            key = round(setting[0], 6)
            if key not in reached or _before(setting[1], reached[key][1]):
                reached[key] = setting
    return tuple(
        tuple(number in reached[key][1] for number in range(len(amps))) for key in sorted(reached)
    )


@lru_cache(maxsize=8)
def amps_of_settings(amps: tuple[float, ...]) -> tuple[float, ...]:
    """What each of `settings_of(amps)` takes at the test voltage [A], rising."""
    return tuple(
        plain_sum(one for one, on in zip(amps, closed, strict=True) if on)
        for closed in settings_of(amps)
    )


def _before(closed: tuple[int, ...], other: tuple[int, ...]) -> bool:
    """True where `closed` has fewer steps, or as many and earlier ones."""
    return (len(closed), closed) < (len(other), other)
