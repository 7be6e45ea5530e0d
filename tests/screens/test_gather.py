"""From the bench to the page: hands, load, typed readings, points against what is allowed."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest

from acquire.bench import Bench, BenchView
from acquire.live_run import LiveRun
from acquire.screens import made_up
from acquire.screens.figures_facts import figure_of
from acquire.screens.look import Look
from acquire.screens.rows import text_of
from acquire.screens.sweep_gather import SweepLooks, hands_now, question_words
from acquire.screens.sweep_view import sweep_rows
from acquire.screens.typed_reading import TypedReading
from acquire.settle.looks import ChannelLook, HoldLook
from acquire.sweep.commands import HandsOn, TypeReading
from acquire.sweep.hand_load import HandLoaded
from acquire.sweep.holding import Holding
from acquire.sweep.intake import Value
from acquire.sweep.learned import Learned
from acquire.sweep.plan import HandLoad, Step, SweepPlan
from acquire.sweep.ramp import Ramp
from acquire.sweep.sweep import Silent
from acquire.sweep.throttle import Throttle
from acquire.sweep.turning import Turning
from acquire.typed_doubt import far_off
from drivers.readings import Quality, Reading
from tests.screens.stand_in import PLATE


def plan(**changes: Any) -> SweepPlan:
    from dataclasses import replace

    from acquire.run_order import RunOrder
    from profiles.catalogue import load_method, load_rated, load_rig

    order = RunOrder(load_rig("by-hand"), load_method("quick"), load_rated(PLATE))
    return replace(order.plan(), **changes)


def bench(phase: object, said: HandsOn | None, shaft_rpm: float | None, the_plan: SweepPlan) -> Any:
    last = {} if shaft_rpm is None else {"shaft_rpm": Value("shaft_rpm", 1.0, shaft_rpm)}
    sweep = SimpleNamespace(
        phase=phase, plan=the_plan, current=Step(1, 1500.0), intake=SimpleNamespace(last=last)
    )
    return SimpleNamespace(sweep=sweep, view=SimpleNamespace(hands=said))


def test_what_a_run_has_to_say_is_on_its_page_the_newest_first(tmp_path: Path) -> None:
    from acquire.run_order import RunOrder
    from acquire.sweep.sweep import Sweep
    from profiles.catalogue import load_method, load_rig

    order = RunOrder(load_rig("simulated"), load_method("quick"), steps=(2000.0,))
    run = LiveRun(order, shelf=tmp_path)
    view = BenchView(notes=["The battery is weak.", "The bank is too small."])
    looked_at = cast(
        "Bench",
        SimpleNamespace(
            sweep=Sweep(run.plan), view=view, now_s=lambda: 1.0,
            guard=SimpleNamespace(margins=dict, highest={}), quiet=lambda: ("", 0.0),
            points=SimpleNamespace(points=[]),
        ),
    )  # fmt: skip
    facts = SweepLooks(run).facts(looked_at, None)
    for width, height in ((80, 24), (120, 40)):
        text = "\n".join(text_of(one) for one in sweep_rows(facts, width, height, Look()))
        assert "~ (2 of 2) The bank is too small." in text


def test_a_note_that_is_too_long_for_the_page_is_cut_and_says_so() -> None:
    facts = made_up.sweep(notes=("word " * 200,), hands="MORE LOAD")
    rows = [text_of(one) for one in sweep_rows(facts, 80, 24, Look())]
    assert sum("word word" in one for one in rows) == 2
    assert any(one.rstrip().endswith("...") for one in rows)
    assert "STOP" in rows[-1]


def test_the_throttle_is_told_with_how_far_it_still_is() -> None:
    """Aboard: the engine's own speed, by the pulley ratio."""
    aboard = plan(speed_source="engine_rpm", speed_ratio=2.5, typed=frozenset())
    phase = Throttle(Step(1, 1500.0), aboard)
    said = phase.begin(0.0)[0]
    assert isinstance(said, HandsOn)
    words, detail = hands_now(bench(phase, said, 1250.0, aboard), 1.0)
    assert words == "THROTTLE TO 600"
    assert detail == "engine rpm 100 rpm more"
    words, detail = hands_now(bench(phase, said, 1750.0, aboard), 1.0)
    assert detail == "engine rpm 100 rpm less"


def test_a_speed_set_by_hand_is_to_be_held_while_it_is_measured() -> None:
    by_hand = plan(typed=frozenset())
    phase = Holding(Step(1, 1500.0), plan=by_hand, ramp=Ramp(400.0), learned=Learned())
    assert hands_now(bench(phase, None, 1500.0, by_hand), 1.0) == ("HOLD IT THERE", "")
    wandered = HandsOn("TURN TO 1500 RPM", "the speed has wandered off")
    assert hands_now(bench(phase, wandered, 1400.0, by_hand), 1.0) == (
        "TURN TO 1500 RPM", "the speed has wandered off",
    )  # fmt: skip


def test_the_pile_cools_with_its_seconds_counted_down() -> None:
    with_pile = plan(hand_load=HandLoad(15.0, 60.0), typed=frozenset())
    phase = HandLoaded(
        Step(1, 1500.0), plan=with_pile, hand=HandLoad(15.0, 60.0), ramp=Ramp(400.0),
        learned=Learned(),
    )  # fmt: skip
    phase.ready_s = 40.0
    assert hands_now(bench(phase, None, None, with_pile), 12.0) == (
        "LET THE PILE COOL", "28 s more",
    )  # fmt: skip
    assert hands_now(bench(phase, None, None, with_pile), 38.5) == ("LET THE PILE COOL", "2 s more")
    assert hands_now(bench(phase, None, None, with_pile), 41.0)[0] == "KEEP THE PILE OPEN"
    phase.stage = "loading"
    said = HandsOn("MORE LOAD", "0.42 V too high")
    assert hands_now(bench(phase, said, None, with_pile), 50.0) == ("MORE LOAD", "0.42 V too high")


def test_nothing_said_earlier_stays_when_the_drive_turns_on() -> None:
    driven = plan(driven=True)
    phase = Turning(2000.0, ramp=Ramp(400.0), lead=1.0)
    assert hands_now(bench(phase, HandsOn("OPEN THE PILE"), 1500.0, driven), 1.0) == ("", "")


# ---- figures -----------------------------------------------------------------------------------


def test_an_old_value_is_not_shown_as_live() -> None:
    reading = Reading("amps", 10.0, 63.1)
    assert figure_of("amps", reading, now_s=10.5, look=None).text == "63.1"
    old = figure_of("amps", reading, now_s=14.2, look=None)
    assert old.text is None
    assert (old.sign, old.state) == ("!", "stale 4 s")


def test_an_instrument_that_talks_seldom_is_not_called_stale_between_its_lines() -> None:
    reading = Reading("case_c", 10.0, 61.0)
    assert figure_of("case_c", reading, now_s=22.0, look=None, every_s=5.0).live


@pytest.mark.parametrize("quality", [q for q in Quality if q is not Quality.OK])
def test_a_reading_that_is_not_good_shows_its_quality_instead(quality: Quality) -> None:
    figure = figure_of("volts", Reading("volts", 1.0, None, quality), now_s=1.0, look=None)
    assert figure.text is None
    assert quality.value in figure.state


def test_state_words_carry_sign_and_amount() -> None:
    channel = ChannelLook("rising", 0.31, 0.1, 0.3, 63.1, 0.1, 20.0, 10.0, 100, 0, False)
    look = HoldLook(10.0, {"amps": channel}, None, 6.0, "amps")
    figure = figure_of("amps", Reading("amps", 10.0, 63.1), now_s=10.0, look=look)
    assert (figure.sign, figure.state) == ("^", "rising 0.3")


def test_minus_zero_is_zero() -> None:
    figure = figure_of("amps", Reading("amps", 1.0, 0.02), now_s=1.0, look=None, less=0.05)
    assert figure.text == "0.0"


# ---- typed readings ----------------------------------------------------------------------------


class Wiring:
    def __init__(self) -> None:
        self.taken: list[tuple[str, float]] = []

    def type_reading(self, channel: str, value: float) -> None:
        self.taken.append((channel, value))


def typed_run(question: TypeReading) -> tuple[Any, Any, Wiring]:
    from profiles.catalogue import load_rated

    wiring = Wiring()
    curve = load_rated(PLATE).profile.rated_curve()
    run = SimpleNamespace(
        plan=plan(), order=SimpleNamespace(rated_curve=curve), wiring=wiring, stop_path=None
    )
    return SimpleNamespace(view=SimpleNamespace(question=question)), run, wiring


def entered(signs: str, bench: Any, run: Any) -> TypedReading:
    """The line as it is once these keys were pressed, and then enter."""
    line = TypedReading()
    line.see(bench, run)
    for sign in signs:
        line.add(sign)
    line.take(bench, run)
    return line


def test_a_typed_reading_is_checked_before_it_is_taken() -> None:
    question = TypeReading("amps", 1500.0, again=False)
    bench, run, wiring = typed_run(question)
    line = entered("52,5", bench, run)
    assert "decimals with a point" in line.complaint
    assert wiring.taken == []
    line.rub_out()
    line.rub_out()
    line.take(bench, run)
    assert wiring.taken == [("amps", 52.0)]
    assert bench.view.question is None


def test_a_figure_hard_to_believe_must_be_entered_twice() -> None:
    question = TypeReading("amps", 1500.0, again=False)
    bench, run, wiring = typed_run(question)
    line = entered("5.2", bench, run)
    assert "far from the 45 A" in line.complaint
    assert wiring.taken == []
    line.take(bench, run)
    assert wiring.taken == [("amps", 5.2)]


def test_a_stop_takes_the_question_away() -> None:
    question = TypeReading("amps", 1500.0, again=False)
    bench, run, _ = typed_run(question)
    run.stop_path = SimpleNamespace(tripped=True)
    line = TypedReading()
    line.see(bench, run)
    assert line.question is None


@pytest.mark.parametrize(
    ("channel", "value", "believed"),
    [("shaft_rpm", 1510.0, True), ("shaft_rpm", 3000.0, False), ("volts", 13.4, True),
     ("volts", 135.0, False), ("amps", 30.0, True), ("amps", 450.0, False), ("case_c", 99.0, True)],
)  # fmt: skip
def test_only_what_is_far_off_is_doubted(channel: str, value: float, believed: bool) -> None:
    _, run, _ = typed_run(TypeReading(channel, 1500.0, again=False))
    doubt = far_off(TypeReading(channel, 1500.0, again=False), value, cast("LiveRun", run))
    assert (doubt == "") is believed


def test_questions_name_the_quantity_and_the_speed() -> None:
    assert question_words(TypeReading("shaft_rpm", 1500.0, again=False)) == "Type the shaft speed:"
    assert question_words(TypeReading("amps", 1500.0, again=True)) == (
        "Type the output current at 1500 rpm, once more:"
    )


# ---- checks at a speed ---------------------------------------------------------------------------


def test_a_check_at_speed_tells_how_long_it_waits() -> None:
    from acquire.screens.speed_check import SpeedCheckLine
    from acquire.sentences import now_doing
    from acquire.sweep.checking import ANSWER_WITHIN_S, Checking, SpeedCheck
    from acquire.sweep.commands import AskCheck
    from profiles.catalogue import load_method

    check = next(c for c in load_method("rebuild-12v").profile.check if c.at_rpm is not None)
    phase = Checking(SpeedCheck(check.name, 4000.0, check.load), plan())
    phase.begin(10.0)
    sweep = cast("Any", SimpleNamespace(phase=phase, finished=False))
    bench = SimpleNamespace(
        view=SimpleNamespace(check=AskCheck(check.name, 4000.0)), sweep=sweep, now_s=lambda: 40.0
    )
    run = SimpleNamespace(check=lambda _name: check, stop_path=None)
    line = SpeedCheckLine()
    line.see(cast("Bench", bench), cast("LiveRun", run))
    typing = line.typing()
    assert typing is not None
    left = f"{ANSWER_WITHIN_S - 30:.0f} s"
    assert left in typing.hint
    assert "An empty line leaves it out" in typing.hint
    held = f"Held at 4000 rpm for the check: {check.name}."
    assert now_doing(sweep, 110.0) == f"{held} {ANSWER_WITHIN_S - 100:.0f} s left."


def test_a_unit_that_gives_nothing_is_told_large_while_it_is_to_be_read() -> None:
    by_hand = plan(typed=frozenset())
    phase = Silent(8.0)
    said = phase.begin(1.0)[0]
    assert isinstance(said, HandsOn)
    assert hands_now(bench(phase, said, 1500.0, by_hand), 2.0) == ("NOT EXCITED, OR DEAD?", "")
