"""Customer, complaint and the rest of a job: typed on the ready page, by option, and in the run."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual.pilot import Pilot

from acquire.cli.main import run
from acquire.record.run_header import Job, read_header
from acquire.screens.app import BenchApp
from acquire.screens.choices import Choices
from acquire.screens.job_box import FACTS, JobBox
from acquire.screens.ready_page import ReadyPage
from tests.screens.stand_in import KeeperStandIn, app_with, by_hand
from tests.screens.test_keys import run_app, shown, type_keys

WHOLE = Job(
    number="J-7",
    customer="Example Boats",
    fitted_to="harbour launch",
    complaint="no charge at idle",
    parts_fitted="brushes",
    claim="W-3",
)


@pytest.fixture
def keeper(tmp_path: Path) -> KeeperStandIn:
    return KeeperStandIn(tmp_path / "shelf")


def test_every_fact_of_the_job_is_asked_on_the_ready_page() -> None:
    assert {key for key, _, _ in FACTS} == set(Job.model_fields) - {"number"}


def test_they_are_typed_one_after_the_other_and_go_into_the_order(keeper: KeeperStandIn) -> None:
    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        assert "[v] customer" in shown(app)
        await pilot.press("j", *"J", "minus", *"7", "enter", "v")
        assert isinstance(app.screen, JobBox)
        for key, question, _ in FACTS:
            assert question in shown(app)
            await type_keys(pilot, str(getattr(WHOLE, key)).replace("-", " "))
            await pilot.press("enter")
        assert isinstance(app.screen, ReadyPage)
        order = app.choices.order()
        assert order is not None
        assert order.job == WHOLE.model_copy(update={"claim": "W 3"})
        lines = shown(app).splitlines()
        assert len(lines) <= 24
        assert any("[v] Example Boats, h" in line for line in lines)

    run_app(app_with(keeper), steps)


def test_escape_leaves_the_rest_as_it_was(keeper: KeeperStandIn) -> None:
    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        await pilot.press("v", "ctrl+u", *"Nell", "enter", "x", "escape")
        assert app.choices.job == WHOLE.model_copy(update={"customer": "Nell"})

    run_app(app_with(keeper, by_hand(job=WHOLE)), steps)


def test_the_next_unit_has_the_customer_only_where_the_job_is_the_same() -> None:
    choices = Choices(job=WHOLE)
    choices.next_unit()
    assert choices.job == Job()
    choices.set_job_number("J-8")
    assert choices.job == Job(number="J-8")
    choices.set_job_number("J-7")
    assert choices.job == WHOLE.model_copy(update={"complaint": None, "parts_fitted": None})
    choices.same_unit()
    assert choices.job.customer == "Example Boats"


def test_what_was_typed_for_this_unit_is_not_written_over_by_the_job_before() -> None:
    choices = Choices(job=WHOLE)
    choices.next_unit()
    choices.job = Job(customer="Somebody else")
    choices.set_job_number("J-7")
    assert choices.job == Job(number="J-7", customer="Somebody else")


def test_the_options_of_sweep_go_into_run_json(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Steering signs are kept as they are in the record and never reach the terminal."""
    shelf = tmp_path / "shelf"
    steering = "Example \x1b[2J Boats"
    code = run(
        ["--shelf", str(shelf), "sweep", "--rig", "simulated", "--steps", "3000", "--job", "J-7",
         "--customer", steering, "--fitted-to", "harbour launch", "--complaint",
         "no charge at idle", "--parts-fitted", "brushes", "--claim", "W-3", "--yes"]
    )  # fmt: skip
    assert code == 0, capsys.readouterr().err
    (folder,) = [path for path in shelf.iterdir() if path.is_dir()]
    assert read_header(folder).job == WHOLE.model_copy(update={"customer": steering})
    assert run(["--shelf", str(shelf), "shelf", "show", folder.name]) == 0
    said = capsys.readouterr()
    assert "\x1b" not in said.out + said.err
    assert "harbour launch" in said.out
    assert "no charge at idle" in said.out
