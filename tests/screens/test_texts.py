"""Pages that only an app can draw, as text: help, cautions, boxes, checks; looked at as the others.

STEADYAMPS_WRITE_VIEWS=1 writes the texts anew; look at them before they are kept.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from textual.pilot import Pilot

from acquire.asked_checks import asked
from acquire.screens.app import BenchApp
from acquire.screens.checks_box import ChecksBox
from acquire.screens.help_page import HelpPage
from profiles.catalogue import load_method
from tests.screens.stand_in import KeeperStandIn, app_with
from tests.screens.test_keys import run_app, shown
from tests.screens.test_views import KEPT, SIZES


def checks(app: BenchApp) -> None:
    """Those before a sweep; the first two are answered, one of them badly."""
    box = ChecksBox(asked(load_method("rebuild-12v").profile, "before"), lambda _answers: None)
    app.open_page(box)
    for typed in ("12", "0.4"):
        box.typed = typed
        box.take()


TEXTS: dict[str, Callable[[BenchApp], object]] = {
    "help-ready": lambda app: app.open_page(HelpPage("ready")),
    "help-sweep": lambda app: app.open_page(HelpPage("sweep")),
    "cautions": lambda app: app.show_cautions(),
    "choose-stage": lambda app: app.screen.act_stage(),  # type: ignore[attr-defined]
    "type-serial": lambda app: app.screen.act_serial(),  # type: ignore[attr-defined]
    "checks": checks,
}


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40"])
@pytest.mark.parametrize("name", TEXTS)
def test_a_page_of_text_looks_as_it_was_found_right(
    name: str, size: tuple[int, int], tmp_path: Path
) -> None:
    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        TEXTS[name](app)
        await pilot.pause()
        text = shown(app).rstrip("\n") + "\n"
        kept = KEPT / f"{name}-{size[0]}x{size[1]}.txt"
        if os.environ.get("STEADYAMPS_WRITE_VIEWS"):
            kept.write_text(text, encoding="utf-8")
        assert text == kept.read_text(encoding="utf-8")

    run_app(app_with(KeeperStandIn(tmp_path / "shelf")), steps, size)
