"""Is the bench where it was? The rig's reference unit, as its runs on the shelf show it now.

    watch = reference_watch(rig, shelf_folder)
    if watch is not None and watch.warns: print(watch.words, watch.what_to_do)

It is asked for when a rig is checked, and at the start of each run, which keeps the answer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any, Literal, get_args

from acquire.errors import OrderError
from acquire.study.reference_chart import (
    BASE_RUNS,
    LEAST_RUNS,
    WHAT_TO_DO,
    Chart,
    ReferenceStudy,
    Signal,
    reference_study,
)
from acquire.study.reference_runs import reference_runs
from acquire.study.repeated_runs import RepeatedRun
from drivers.clock import RealClock, bench_day
from profiles.errors import BenchError
from profiles.rig import Rig

REFERENCE_WATCHED = "reference unit"
"""The journal's word for what a run's start found."""

WatchState = Literal["no runs", "few runs", "no chart", "in control", "old", "out of control"]
Side = Literal["above", "below", ""]


@dataclass(frozen=True, slots=True)
class ReferenceWatch:
    """The state of the chart; `study` is the chart itself, where there is one."""

    serial: str
    state: WatchState
    runs: int
    """How many count: sealed, finished, on this rig, by one method at the same speeds."""
    method: str = ""
    last_run: str = ""
    """The newest of them; empty where there is none."""
    last_day: str = ""
    """Its day: 2026-11-20."""
    days_ago: int | None = None
    every_days: float | None = None
    change_percent: float | None = None
    """How far the newest lies from the centre of the chart that warns, else of all speeds."""
    at_rpm: float | None = None
    """The set speed of the chart that warns; None where that is the chart of all together."""
    in_a_row: int | None = None
    """So many on one side of the centre; None where the newest lies outside the limits."""
    side: Side = ""
    provisional: bool = False
    """The limits still move: there are fewer runs than they are to rest on."""
    study: ReferenceStudy | None = None

    @property
    def in_control(self) -> bool | None:
        """None where there is no chart to tell by."""
        return None if self.study is None and self.state not in _CHARTED else (
            self.state != "out of control"
        )  # fmt: skip

    @property
    def warns(self) -> bool:
        """True when the newest run stands out: the bench may not be where it was."""
        return self.state == "out of control"

    @property
    def words(self) -> str:
        """The state in one short sentence, without its end."""
        name = f"Reference unit {self.serial}"
        run = f"run {self.runs} of {self.last_day}"
        if self.state == "no runs":
            return f"{name}: no run on this rig yet"
        if self.state == "few runs":
            return f"{name}: {_runs(self.runs)} so far, {LEAST_RUNS} make a chart"
        if self.state == "no chart":
            return f"{name}: its {_runs(self.runs)} share no speed with current"
        if self.state == "out of control":
            return f"{name}, {run}: {self._stands_out()}"
        limits = ", limits provisional" if self.provisional else ""
        if self.state == "old":
            return (
                f"{name}: the last run, of {self.last_day}, is {self.days_ago} days old"
                f" (every {self.every_days:g} asked for); it was as before{limits}"
            )
        return f"{name}, {run}: gives what it gave{limits}"

    def _stands_out(self) -> str:
        share = f"{abs(self.change_percent or 0.0):.1f} %"
        at = "" if self.at_rpm is None else f" at {self.at_rpm:.0f} rpm"
        said = f"{share} {self.side} what it gave{at}"
        if self.in_a_row is None:
            return f"{said}, outside the limits"
        return f"{said}, {self.in_a_row} runs in a row {self.side}"

    @property
    def what_to_do(self) -> str:
        """Empty where there is nothing to do."""
        return {
            "no runs": f"Test it: its first {BASE_RUNS} runs make the chart.",
            "few runs": "Test it again, by the same method at the same speeds.",
            "no chart": "Test it by the same method at the same speeds every time.",
            "old": "Run the reference unit again.",
            "out of control": WHAT_TO_DO,
        }.get(self.state, "")

    def to_data(self) -> dict[str, Any]:
        """All but the chart, as plain data: what a run keeps, and `rig check` prints."""
        return {
            "serial": self.serial,
            "state": self.state,
            "in_control": self.in_control,
            "runs": self.runs,
            "method": self.method,
            "last_run": self.last_run,
            "last_day": self.last_day,
            "days_ago": self.days_ago,
            "every_days": self.every_days,
            "change_percent": self.change_percent,
            "at_rpm": self.at_rpm,
            "in_a_row": self.in_a_row,
            "side": self.side,
            "provisional": self.provisional,
            "words": self.words,
            "what_to_do": self.what_to_do or None,
        }

    @classmethod
    def from_data(cls, data: Mapping[str, Any]) -> ReferenceWatch | None:
        """Read back what a run keeps; None where it is not what this program wrote."""
        figures = ("runs", "days_ago", "every_days", "change_percent", "at_rpm", "in_a_row")
        words = ("serial", "state", "method", "last_run", "last_day", "side")
        if not all(isinstance(data.get(name), str) for name in words):
            return None
        if not all(isinstance(data.get(name), int | float | None) for name in figures):
            return None
        if data["state"] not in get_args(WatchState) or data.get("runs") is None:
            return None
        kept: dict[str, Any] = {name: data.get(name) for name in (*words, *figures)}
        return cls(**kept, provisional=bool(data.get("provisional")))


_CHARTED = ("in control", "old", "out of control")


def _runs(count: int) -> str:
    return "1 run" if count == 1 else f"{count} runs"


def reference_watch(rig: Rig, shelf: Path, *, today: date | None = None) -> ReferenceWatch | None:
    """The chart of the rig's reference unit as it stands today; None where the rig names none.

    Raises:
        ShelfError: If the shelf is a very large one and its index cannot be used.
    """
    if rig.reference is None:
        return None
    runs = reference_runs(rig, Path(shelf).expanduser())
    return watch_of(
        runs,
        serial=rig.reference.serial,
        every_days=rig.reference.every_days,
        today=today or bench_day(RealClock()),
    )


def watch_of(
    runs: Sequence[RepeatedRun], *, serial: str, today: date, every_days: float | None = None
) -> ReferenceWatch:
    """The state of the chart of these runs, the oldest first."""
    if not runs:
        return ReferenceWatch(serial, "no runs", 0, every_days=every_days)
    last = runs[-1]
    known: dict[str, Any] = {
        "serial": serial,
        "runs": len(runs),
        "method": last.method,
        "last_run": last.run_id,
        "last_day": last.day,
        "days_ago": (today - date.fromisoformat(last.day)).days,
        "every_days": every_days,
    }
    if len(runs) < LEAST_RUNS:
        return ReferenceWatch(state="few runs", **known)
    try:
        study = reference_study(runs)
    except OrderError:
        return ReferenceWatch(state="no chart", **known)
    is_old = every_days is not None and known["days_ago"] > every_days
    return ReferenceWatch(
        state="out of control" if not study.in_control else "old" if is_old else "in control",
        provisional=len(runs) < BASE_RUNS,
        study=study,
        **known,
        **_latest(study),
    )


def _latest(study: ReferenceStudy) -> dict[str, Any]:
    """How the newest run lies, by the chart that warns most plainly."""
    charts: list[tuple[float | None, Chart]] = [(None, study.together), *study.speeds.items()]
    warning = [(rpm, chart) for rpm, chart in charts if not chart.in_control]
    if not warning:
        return {"change_percent": _change(study.together)}
    rpm, chart = max(warning, key=lambda one: (_outside(one[1]), one[0] is None, _reach(one[1])))
    row = None if _outside(chart) else _row(chart)
    change = _change(chart)
    return {
        "change_percent": change,
        "at_rpm": rpm,
        "in_a_row": None if row is None else row.last - row.first + 1,
        "side": "above" if change is not None and change > 0 else "below",
    }


def _change(chart: Chart) -> float | None:
    return 100.0 * (chart.values[-1] / chart.centre - 1.0) if chart.centre else None


def _reach(chart: Chart) -> float:
    """How far out the newest value lies, in standard deviations."""
    return abs(chart.values[-1] - chart.centre) / chart.sigma if chart.sigma else 0.0


def _outside(chart: Chart) -> bool:
    return not chart.low <= chart.values[-1] <= chart.high


def _row(chart: Chart) -> Signal | None:
    ends = [
        one for one in chart.signals if one.kind == "one side" and one.last == len(chart.values)
    ]
    return ends[-1] if ends else None


def kept_by_a_run(rig: Rig, shelf: Path, today: date) -> dict[str, Any] | None:
    """What a run's journal keeps of the chart as it stood when the run began; never raises.

    None where the rig names no reference unit.
    """
    try:
        watch = reference_watch(rig, shelf, today=today)
    except (BenchError, OSError) as error:
        return {"problem": str(error)}
    return None if watch is None else watch.to_data()


def warned_of(kept: Mapping[str, Any]) -> str:
    """What the operator should know of what a run keeps: out of control, too old, or not read."""
    if problem := kept.get("problem"):
        return f"How the reference unit stands is not known: {problem}"
    watch = ReferenceWatch.from_data(kept)
    if watch is None or watch.state not in ("out of control", "old"):
        return ""
    return f"{watch.words}. {watch.what_to_do}"
