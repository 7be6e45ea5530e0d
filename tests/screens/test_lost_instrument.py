"""An instrument that is lost: said at once, with when it stops the rig; nothing old beside it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest

from acquire.bench import Bench, BenchView
from acquire.cli.live_text import live_block
from acquire.freshness import fresh_for_s, is_live, quiet_sentence
from acquire.live_run import LiveRun
from acquire.run_order import RunOrder
from acquire.screens import made_up
from acquire.screens.look import Look
from acquire.screens.rows import text_of
from acquire.screens.sweep_facts import Margin
from acquire.screens.sweep_gather import SweepLooks
from acquire.screens.sweep_view import sweep_rows
from acquire.settle.looks import ChannelLook, HoldLook
from acquire.stop_path import EMERGENCY, OPEN_PILE, TO_IDLE, StopEvent, StopReason, StopReport
from acquire.sweep.commands import HandsOn
from acquire.sweep.holding import Holding
from acquire.sweep.intake import Value
from acquire.sweep.learned import Learned
from acquire.sweep.ramp import Ramp
from drivers.readings import Reading
from profiles.catalogue import load_method, load_rated, load_rig
from tests.screens.stand_in import PLATE

LIMITS: Mapping[str, float] = {"shaft_rpm": 12360.0, "amps": 200.0, "volts": 16.0}
VALUES: Mapping[str, float] = {"shaft_rpm": 1500.0, "amps": 51.9, "volts": 13.5}
NOW_S = 20.0


def still(mean: float) -> ChannelLook:
    return ChannelLook("still", 0.0, 0.1, 0.3, mean, 0.1, 20.0, 10.0, 100, 0, unsteady=False)


def looks_at(
    tmp_path: Path,
    *,
    lost: str = "",
    quiet_s: float = 0.0,
    report: StopReport | None = None,
    hands: HandsOn | None = None,
    pile_closed: bool = False,
) -> tuple[SweepLooks, Bench, LiveRun]:
    """A hold at 1500 rpm, one channel of which may have been lost `quiet_s` ago."""
    order = RunOrder(load_rig("simulated"), load_method("quick"), load_rated(PLATE))
    run = LiveRun(order, shelf=tmp_path)
    run.stop_path = cast("Any", SimpleNamespace(report=report, tripped=report is not None))
    latest = {
        name: Reading(name, NOW_S - (quiet_s if name == lost else 0.0), value)
        for name, value in VALUES.items()
    }
    step = run.plan.steps[0]
    phase = Holding(step, plan=run.plan, ramp=Ramp(400.0), learned=Learned())
    phase.look = HoldLook(NOW_S, {n: still(v) for n, v in VALUES.items()}, None, 3.0, "amps")
    sweep = SimpleNamespace(
        phase=phase, plan=run.plan, current=step, finished=False,
        intake=SimpleNamespace(
            zero_amps=0.0, last={n: Value(n, latest[n].t_s, v) for n, v in VALUES.items()}
        ),
    )  # fmt: skip
    guard = SimpleNamespace(
        margins=lambda: {n: VALUES[n] / limit for n, limit in LIMITS.items()},
        highest=LIMITS, silent_s=5.0,
    )  # fmt: skip
    bench = SimpleNamespace(
        sweep=sweep, guard=guard, view=BenchView(latest=latest, hands=hands),
        now_s=lambda: NOW_S, points=SimpleNamespace(points=[]),
        quiet=lambda: (lost, quiet_s), pile_closed=pile_closed,
    )  # fmt: skip
    return SweepLooks(run), cast("Bench", bench), run


def page(looks: SweepLooks, bench: Bench, width: int = 120, height: int = 40) -> str:
    looks.draw(bench)
    rows = sweep_rows(looks.facts(bench, None), width, height, Look())
    return "\n".join(text_of(one) for one in rows)


@pytest.mark.parametrize(
    ("lost", "words"), [("amps", "output current"), ("shaft_rpm", "shaft speed")]
)
def test_the_top_line_names_what_is_lost_and_when_the_rig_stops(
    lost: str, words: str, tmp_path: Path
) -> None:
    looks, bench, run = looks_at(tmp_path, lost=lost, quiet_s=1.6)
    sentence = f"No reading of the {words}; the rig is stopped in 4 s."
    assert looks.facts(bench, None).sentence == sentence
    assert sentence in live_block(bench, run.rig)
    looks, bench, _ = looks_at(tmp_path, lost=lost, quiet_s=0.4)
    assert "No reading" not in looks.facts(bench, None).sentence


def test_a_lost_current_is_neither_in_the_table_nor_on_the_chart_nor_among_the_limits(
    tmp_path: Path,
) -> None:
    whole = looks_at(tmp_path)
    shown = page(*whole[:2])
    assert "current 51.9 of 200 A" in shown
    assert whole[0]._picture is not None
    assert whole[0]._picture.now == (1500.0, 51.9)
    looks, bench, _ = looks_at(tmp_path, lost="amps", quiet_s=2.0)
    shown = page(looks, bench)
    assert "51.9" not in shown
    assert "! current not read (limit 200 A)" in shown
    assert looks._picture is not None
    assert looks._picture.now is None
    assert looks.facts(bench, None).steps[0].amps is None


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_a_lost_speed_stands_first_among_the_limits(size: tuple[int, int], tmp_path: Path) -> None:
    looks, bench, _ = looks_at(tmp_path, lost="shaft_rpm", quiet_s=2.0)
    shown = page(looks, bench, *size)
    limits = next(line for line in shown.splitlines() if "limits" in line)
    assert limits.strip().startswith("limits  ! shaft speed not read (limit 12360 rpm)")
    assert "1500 of 12360" not in shown


def test_a_value_is_live_for_a_moment_or_for_three_readings_of_a_slow_instrument() -> None:
    rig = load_rig("simulated").profile
    assert fresh_for_s(rig, "amps") == 1.5
    channel = rig.channels["amps"].model_copy(update={"every_s": 5.0})
    slow = rig.model_copy(update={"channels": {**rig.channels, "amps": channel}})
    assert fresh_for_s(slow, "amps") == 15.0
    assert is_live(rig, Reading("amps", 1.0, 5.0), 2.4)
    assert not is_live(rig, Reading("amps", 1.0, 5.0), 2.6)
    assert not is_live(rig, None, 1.0)
    by_hand = load_rig("by-hand").profile
    assert is_live(by_hand, Reading("amps", 1.0, 5.0), 500.0), "typed: it stays until the next"


def test_seconds_left_are_never_less_than_none() -> None:
    rig = load_rig("simulated").profile
    words = quiet_sentence(rig, "volts", quiet_s=6.0, stops_after_s=5.0)
    assert words == "No reading of the output voltage; the rig is stopped now."


# ---- while it stops ----------------------------------------------------------------------------


def stopping(hands: str = "", last_rpm: float | None = None) -> StopReport:
    reason = StopReason("operator", "the space bar was pressed.")
    events = [StopEvent(1.0, "drive off, speed 0")]
    return StopReport(reason, 0.0, events=events, hands=hands, last_rpm=last_rpm)


def test_a_shaft_that_comes_to_rest_is_not_called_still_by_the_last_hold(tmp_path: Path) -> None:
    looks, bench, run = looks_at(tmp_path)
    assert "= still" in page(looks, bench)
    looks, bench, run = looks_at(tmp_path, report=stopping())
    assert "still" not in page(looks, bench).replace("until the shaft stands still", "")
    block = live_block(bench, run.rig, stopping())
    assert "still" not in block
    assert block.startswith("Stopping: the space bar was pressed.")


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_an_emergency_is_large_and_first_and_nothing_says_that_no_key_is_needed(
    size: tuple[int, int], tmp_path: Path
) -> None:
    report = stopping(EMERGENCY, 1486.0)
    looks, bench, run = looks_at(tmp_path, report=report, pile_closed=True)
    facts = looks.facts(bench, None)
    assert (facts.hands, facts.hands_detail) == (EMERGENCY, "then open the pile")
    shown = page(looks, bench, *size)
    assert shown.strip().startswith("PRESS THE EMERGENCY STOP.")
    assert "nothing needs to be pressed" not in shown
    assert EMERGENCY in live_block(bench, run.rig, report)


@pytest.mark.parametrize("hands", [TO_IDLE, OPEN_PILE])
def test_hands_at_a_stop_are_large_and_not_told_to_leave_the_load_alone(
    hands: str, tmp_path: Path
) -> None:
    told = HandsOn(hands, "little by little")
    looks, bench, _ = looks_at(tmp_path, report=stopping(hands), hands=told)
    facts = looks.facts(bench, None)
    assert (facts.hands, facts.hands_detail) == (hands, "little by little")
    shown = page(looks, bench)
    assert "Do not open" not in shown
    assert "Leave the battery connected" in shown
    assert "nothing needs to be pressed" not in shown


def test_what_is_asked_of_hands_does_not_look_like_what_is_done() -> None:
    done, asked, failed = ("drive off, speed 0", True), (OPEN_PILE, True), ("load shed: no", False)
    facts = replace(made_up.sweep(stopping=True), stopping=(done, asked, failed))
    shown = "\n".join(text_of(one) for one in sweep_rows(facts, 80, 24, Look()))
    for line in ("= drive off, speed 0", "> OPEN THE PILE", "! load shed: no"):
        assert line in shown


def test_margins_that_are_not_read_come_before_those_that_are_near() -> None:
    facts = made_up.sweep()
    near = Margin("voltage", "15.9", "16 V", 0.99)
    lost = Margin("current", "51.9", "200 A", 0.26, live=False)
    rows = sweep_rows(replace(facts, margins=(near, lost)), 80, 24, Look())
    line = next(text_of(one) for one in rows if "limits" in text_of(one))
    assert line.index("! current not read") < line.index("! voltage 15.9")
