"""What is to be known before the drive turns, though it keeps nobody from starting it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from textual.pilot import Pilot

from acquire.drive_power import stall_words
from acquire.screens.app import BenchApp
from acquire.screens.choices import Choices
from acquire.screens.instruments_page import InstrumentsPage
from acquire.screens.look import Look
from acquire.screens.made_up import ready
from acquire.screens.ready_view import ready_rows
from acquire.screens.result_facts import facts_of_folder
from acquire.screens.result_view import result_rows
from acquire.screens.rows import text_of
from acquire.study.reference_chart import WHAT_TO_DO
from acquire.study.reference_watch import REFERENCE_WATCHED, reference_watch
from profiles.catalogue import Loaded, load_method, load_rated, load_rig
from profiles.rig import Reference, Rig
from tests.screens.stand_in import KeeperStandIn, app_with, make_run
from tests.screens.test_keys import run_app, shown, wait_until
from tests.study.reference_shelf import STEADY, ReferenceShelf, bench


def rig(**changes: object) -> Loaded[Rig]:
    """A driven rig by the name the runs of the reference unit have."""
    loaded = load_rig("real-bench-example")
    return replace(
        loaded, profile=loaded.profile.model_copy(update={"title": "Bench 1", **changes})
    )


def choices_for(loaded: Loaded[Rig], rated: str = "small-frame-14v-90a") -> Choices:
    return Choices(rig=loaded, method=load_method("quick"), rated=load_rated(rated))


def weak_drive(kw: float) -> Loaded[Rig]:
    drive = load_rig("real-bench-example").profile.drive
    assert drive is not None
    return rig(drive=drive.model_copy(update={"kw": kw}))


def test_a_drive_that_may_stall_is_said_under_the_first_line_before_it_turns(
    tmp_path: Path,
) -> None:
    choices = choices_for(weak_drive(0.5))
    order = choices.order()
    assert order is not None
    expected = stall_words(order.rig.profile, order.plan(), order.rated_curve)
    assert expected

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        lines = shown(app).splitlines()
        place = next(n for n, line in enumerate(lines) if "The drive gives 0.5 kW" in line)
        assert lines[place].startswith(" ~ ")
        assert 0 < place < next(n for n, line in enumerate(lines) if "[u]nit" in line)
        assert expected in " ".join(" ".join(lines).split())
        app.choices.rig = weak_drive(50.0)
        assert "The drive gives" not in shown(app)

    run_app(app_with(KeeperStandIn(tmp_path / "shelf"), choices), steps)


def test_a_warning_keeps_nobody_from_beginning() -> None:
    facts = replace(ready(is_ready=True), warnings=(("It may stall.", ""),))
    text = "\n".join(text_of(one) for one in ready_rows(facts, 80, 24, Look()))
    assert text.startswith(" Ready.")
    assert "[b]egin" in text


STALL = (
    "The drive gives 3 kW; at 3000, 4000, 6000 rpm this unit asks up to 4.1 kW: it may stall there."
)
OUT = (
    "Reference unit REF-1, run 11 of 2026-03-12: 2.0 % below what it gave at 1500 rpm, outside the"
    " limits."
)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
@pytest.mark.parametrize("is_ready", [True, False])
def test_two_warnings_leave_everything_to_be_done_on_the_page(
    is_ready: bool, size: tuple[int, int]
) -> None:
    facts = replace(
        ready(is_ready=is_ready), warnings=((STALL, ""), (OUT, WHAT_TO_DO)), interrupted=""
    )
    text = "\n".join(text_of(one) for one in ready_rows(facts, *size, Look()))
    whole = " ".join(text.split())
    assert STALL in whole
    assert OUT in whole
    for words in ("[u]nit", "[a]llowed", "[c]autions", "[1] B+", "[q]uit"):
        assert words in text
    assert "[5] ignition" in text or "lines more in a higher window" in text


def test_long_names_do_not_touch_the_next_field() -> None:
    facts = ready()
    fields = tuple(replace(field, value="x" * 90) for field in facts.fields)
    lines = [text_of(one) for one in ready_rows(replace(facts, fields=fields), 80, 24, Look())]
    for label in ("[s]erial", "s[t]age", "[o]perator"):
        (line,) = [one for one in lines if label in one]
        assert line[line.index(label) - 1] == " "


# ---- the reference unit ----------------------------------------------------------------------


@pytest.fixture
def shelf(tmp_path: Path) -> ReferenceShelf:
    made = ReferenceShelf(tmp_path / "shelf")
    made.put_all(STEADY)
    return made


def with_reference(**reference: object) -> Loaded[Rig]:
    return rig(reference=Reference(**{"serial": "REF-1", **reference}))  # type: ignore[arg-type]


def test_a_bench_in_control_is_a_line_among_what_was_found(shelf: ReferenceShelf) -> None:
    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        await wait_until(pilot, lambda: app.memory.watch is not None)
        assert "= Reference unit REF-1, run 10 of 2026-03-11: gives what it gave." in shown(app)
        app.show_instruments()
        page = app.screen
        assert isinstance(page, InstrumentsPage)
        (item,) = page.reference_items()
        assert (item.state, item.words) == ("good", "gives what it gave")
        app.memory.watch, app.memory.watch_trouble = None, "The chart cannot be told."
        assert [one.state for one in page.reference_items()] == ["look"]

    run_app(app_with(KeeperStandIn(shelf.folder), choices_for(with_reference())), steps, (120, 40))


def test_a_bench_out_of_control_is_warned_of_with_what_to_do(shelf: ReferenceShelf) -> None:
    shelf.put(-2.0)

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        await wait_until(pilot, lambda: app.memory.watch is not None)
        text = " ".join(shown(app).split())
        assert "~ Reference unit REF-1, run 11 of 2026-03-12: 2.0 % below what it gave" in text
        assert "then run the reference unit again." in text
        app.choices.rig = rig()
        app.open_rig()
        await wait_until(pilot, lambda: app.memory.watch is None)
        assert "Reference unit" not in shown(app)

    run_app(app_with(KeeperStandIn(shelf.folder), choices_for(with_reference())), steps)


def test_a_reference_unit_not_run_for_long_is_warned_of(shelf: ReferenceShelf) -> None:
    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        await wait_until(pilot, lambda: app.memory.watch is not None)
        text = " ".join(shown(app).split())
        assert "(every 7 asked for)" in text
        assert "Run the reference unit again." in text

    choices = choices_for(with_reference(every_days=7))
    run_app(app_with(KeeperStandIn(shelf.folder), choices), steps)


def kept_run(shelf: Path, watched: ReferenceShelf) -> Path:
    """A run whose record keeps the chart as it stood."""
    watch = reference_watch(bench(), watched.folder)
    assert watch is not None
    return make_run(shelf, journal={REFERENCE_WATCHED: watch.to_data()})


def test_a_result_says_that_the_bench_may_have_been_off(
    shelf: ReferenceShelf, tmp_path: Path
) -> None:
    before = facts_of_folder(kept_run(tmp_path / "before", shelf))
    assert before.bench == ""
    shelf.put(-2.0)
    after = facts_of_folder(kept_run(tmp_path / "after", shelf))
    assert after.bench.startswith("The bench may have been off when this began. Reference unit")
    text = "\n".join(text_of(one) for one in result_rows(after, 120, 40, Look()))
    assert " bench    ! The bench may have been off" in text
