"""The test method: speeds, warm-up, test voltage, when a reading has settled, further checks."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise
from typing import Annotated, ClassVar, Literal

from pydantic import AfterValidator, Field

from profiles.plain_text import shown
from profiles.rule import Accept
from profiles.table import (
    Fault,
    Listed,
    NotNegative,
    Percent,
    Positive,
    ProfileFile,
    ShaftRpm,
    Table,
    Words,
    Wrong,
)

MOST_STEPS = 200


def _ascending(speeds: tuple[float, ...]) -> tuple[float, ...]:
    if not speeds:
        raise Wrong("is an empty list.", "List the speeds, or leave rpm out for the rated speeds.")
    for before, rpm in pairwise(speeds):
        if rpm <= before:
            raise Wrong(f"has {rpm:g} after {before:g}.", "List the speeds rising, each once.")
    return speeds


class SweepSpeeds(Table):
    """The table [sweep]: a list, start/stop/step, or neither (the rated speeds)."""

    rpm: (
        Annotated[
            tuple[ShaftRpm, ...], Listed, Field(max_length=MOST_STEPS), AfterValidator(_ascending)
        ]
        | None
    ) = None
    start: ShaftRpm | None = None
    stop: ShaftRpm | None = None
    step: ShaftRpm | None = None
    at_most: Annotated[int, Field(ge=1)] | None = None
    """Of the rated speeds take at most so many, spread over the curve; first and last stay."""
    direction: Literal["up", "up-down"] = "up"

    def speeds(self) -> tuple[float, ...] | None:
        """Shaft speeds that the method itself names, rising [rpm]; None = the rated speeds."""
        if self.rpm is not None:
            return self.rpm
        if self.start is None or self.stop is None or self.step is None:
            return None
        steps = math.floor((self.stop - self.start) / self.step + 1e-9)
        speeds = tuple(self.start + number * self.step for number in range(steps + 1))
        return speeds if self.stop - speeds[-1] < 1e-6 else (*speeds, self.stop)

    def speeds_for(self, rated: tuple[float, ...]) -> tuple[float, ...]:
        """Shaft speeds of a sweep against these rated speeds, both rising [rpm]."""
        own = self.speeds()
        if own is not None:
            return own
        if self.at_most is None or len(rated) <= self.at_most:
            return rated
        if self.at_most == 1:
            return rated[-1:]
        last = len(rated) - 1
        spread = {round(number * last / (self.at_most - 1)) for number in range(self.at_most)}
        return tuple(rated[number] for number in sorted(spread))

    def faults(self) -> Iterator[Fault]:
        """One form at once, and a whole one."""
        pieces = {"start": self.start, "stop": self.stop, "step": self.step}
        given = [name for name, rpm in pieces.items() if rpm is not None]
        if self.rpm is not None and given:
            yield Fault(given[0], "stands beside a list rpm = […].", "Give one form of the speeds.")
        elif given and len(given) < len(pieces):
            absent = next(name for name in pieces if name not in given)
            yield Fault(
                absent, "is missing beside the others.", "Give start, stop and step.", ("rpm",)
            )
        elif given:
            yield from self._range_faults()
        if self.at_most is not None and (self.rpm is not None or given):
            yield Fault("at_most", "is for the rated speeds only.", "Leave it out here.")

    def _range_faults(self) -> Iterator[Fault]:
        assert self.start is not None  # noqa: S101  (all three are given: see faults)
        assert self.stop is not None  # noqa: S101
        assert self.step is not None  # noqa: S101
        if self.stop <= self.start:
            yield Fault("stop", f"is {self.stop:g} rpm, not above start.", "Sweeps go up.")
        elif (self.stop - self.start) / self.step > MOST_STEPS:
            yield Fault("step", f"gives more than {MOST_STEPS} steps.", "Take a larger step.")


class WarmUp(Table):
    """The table [warm_up]: turn loaded at `rpm` before the first step."""

    rpm: ShaftRpm = Field(description="the shaft speed of the warm-up, such as rpm = 5000")
    for_s: Positive = Field(description="how long, or at most how long: for_s = 1800")
    until: Literal["time", "steady"] = "time"
    """steady: ends when the reading holds still in thermal mode, at most after `for_s`."""


class TestVoltage(Table):
    """The table [test]."""

    __test__ = False  # not a test class, whatever its name begins with

    volts: Positive | None = None
    """Overrides `rated.volts`, with a caution."""
    volts_within: Positive = 0.1
    """How near the voltage must be held [V]; 0.3 for a load set by hand."""


class Settle(Table):
    """The table [settle]: how still a reading must be.

    Settled = over the next `horizon_s` the drift is smaller than the tolerance, with 95 %
    confidence, on every channel that must hold still. A tolerance is the larger of its percentage
    of the reading and its least value; the display step is allowed for besides.
    """

    amps_percent: Annotated[Percent, Field(gt=0)] = 0.5
    amps_at_least: NotNegative = 0.1
    rpm_percent: Annotated[Percent, Field(gt=0)] = 0.3
    rpm_at_least: NotNegative = 5.0
    volts_percent: Annotated[Percent, Field(gt=0)] = 0.3
    volts_at_least: NotNegative = 0.05
    horizon_s: Positive = 10.0
    give_up_s: Positive = 120.0
    predict: bool = True
    """May take a step before it is settled, when its final value is known well enough."""
    early: Literal["cautious", "fast"] = "cautious"
    """How sure a prediction must be; fast adds half a tolerance to the doubt of such a point."""

    def faults(self) -> Iterator[Fault]:
        """There must be time to see the horizon at all."""
        if self.give_up_s < self.horizon_s:
            yield Fault(
                "give_up_s",
                f"is {self.give_up_s:g} s, shorter than horizon_s = {self.horizon_s:g} s.",
                "Nothing could settle in that time; make it longer.",
                ("horizon_s",),
            )


class Check(Table):
    """One [[check]]: something else the unit must pass, asked of the operator or read."""

    STAND_INS: ClassVar[dict[str, object]] = {"name": "(no name)"}

    name: Words = Field(description='what is checked, such as name = "regulating voltage"')
    kind: Literal["number", "yes-no", "note"] | None = None
    """Default: number where limits or a unit of measure are given, else yes-no."""
    at_rpm: ShaftRpm | None = None
    load: Words | None = None
    """The load in words, as the source has it."""
    in_: Words | None = Field(default=None, alias="in")
    low: float | None = None
    high: float | None = None
    when: Literal["before", "after", "at speed"] | None = None
    """Default: at speed where `at_rpm` is given, else after the sweep."""
    ask: Words | None = None
    """The question as put to the operator; default: the name."""
    source: Words | None = None
    needed: bool = True
    """A needed check that was left out keeps a run from passing; another is only reported."""

    @property
    def kind_of_answer(self) -> Literal["number", "yes-no", "note"]:
        """What the operator is to give."""
        if self.kind is not None:
            return self.kind
        numeric = self.low is not None or self.high is not None or self.in_ is not None
        return "number" if numeric else "yes-no"

    @property
    def when_asked(self) -> Literal["before", "after", "at speed"]:
        """When the operator is asked."""
        if self.when is not None:
            return self.when
        return "after" if self.at_rpm is None else "at speed"

    def faults(self) -> Iterator[Fault]:
        """Limits belong to numbers, and stand in order."""
        limits = [name for name in ("low", "high") if getattr(self, name) is not None]
        if limits and self.kind_of_answer != "number":
            yield Fault(limits[0], f"does not fit kind = {shown(self.kind)}.", "Leave it out.")
        if self.low is not None and self.high is not None and self.low > self.high:
            yield Fault("low", f"is {self.low:g}, above high = {self.high:g}.", "Swap them.")
        if self.when == "at speed" and self.at_rpm is None:
            yield Fault("at_rpm", 'is missing beside when = "at speed".', "Add the shaft speed.")


class Method(ProfileFile):
    """A file of the folder `methods`."""

    sweep: SweepSpeeds = Field(description="the table [sweep]; it may be empty")
    warm_up: WarmUp | None = None
    test: TestVoltage = TestVoltage()
    settle: Settle = Settle()
    accept: Accept | None = None
    check: Annotated[tuple[Check, ...], Listed] = ()
    note: Words | None = None

    def faults(self) -> Iterator[Fault]:
        """Each check is found by its name."""
        seen: set[str] = set()
        for number, check in enumerate(self.check):
            if check.name in seen:
                yield Fault(f"check[{number + 1}].name", "is taken by an earlier check.", "Rename.")
            seen.add(check.name)
