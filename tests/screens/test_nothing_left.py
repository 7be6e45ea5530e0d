"""On the screens too a run with every speed measured is judged and sealed without its rig."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual.pilot import Pilot

from acquire.opened_rig import OpenedRig
from acquire.record.run_header import read_header
from acquire.record.verify import verify
from acquire.screens.app import BenchApp
from acquire.screens.choices import Choices
from acquire.screens.desk import Desk
from acquire.screens.keeper import Keeper
from acquire.screens.result_page import ResultPage
from tests.live.cut_runs import killed_after
from tests.screens.test_keys import run_app, shown, wait_until


def test_it_is_gone_on_with_by_two_keys_and_no_port_is_opened(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def opened(_rig: OpenedRig) -> None:
        raise AssertionError("a port was opened")

    monkeypatch.setattr(OpenedRig, "open", opened)
    folder = killed_after("pass-van-alternator", 4, tmp_path / "shelf" / "run")
    keeper = Keeper(folder.parent, lambda: None)
    desk = Desk(keeper, Choices())

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        app.memory.wait()
        await pilot.press("g")
        await wait_until(pilot, lambda: app.choices.going_on is not None)
        await wait_until(pilot, lambda: "Ready. Every speed has been measured." in shown(app))
        assert "nothing turns" in " ".join(shown(app).split())
        await pilot.press("b")
        await wait_until(pilot, lambda: isinstance(app.screen, ResultPage))
        await wait_until(pilot, lambda: "Sealed, not signed." in shown(app))
        assert "Passes." in shown(app)

    with keeper:
        run_app(BenchApp(lambda: desk, at_once=True), steps)
    assert keeper.trouble is None
    assert read_header(folder).state == "complete"
    assert verify(folder).sealed
