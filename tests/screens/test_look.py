"""What a terminal can show, from what its own settings say."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from types import SimpleNamespace

import pytest
from textual.pilot import Pilot

from acquire.screens import look
from acquire.screens.app import BenchApp
from acquire.screens.look import Look, look_of_terminal
from tests.screens.stand_in import KeeperStandIn, app_with, make_run
from tests.screens.test_keys import PAGES, run_app, shown

LOCALE = ("LC_ALL", "LC_CTYPE", "LANG")


def plain(monkeypatch: pytest.MonkeyPatch, environment: Mapping[str, str]) -> bool:
    """Whether only plain signs are drawn there, on a stream that Python has made UTF-8."""
    for name in LOCALE:
        monkeypatch.delenv(name, raising=False)
    for name, value in {"TERM": "xterm-256color", **environment}.items():
        monkeypatch.setenv(name, value)
    stderr = SimpleNamespace(encoding="utf-8")
    monkeypatch.setattr(look, "sys", SimpleNamespace(platform="linux", stderr=stderr))
    return look_of_terminal().ascii


@pytest.mark.parametrize(
    "environment",
    [
        {"LC_ALL": "C"},
        {"LC_ALL": "C", "LANG": "en_US.UTF-8"},
        {"LC_ALL": "POSIX"},
        {"LC_CTYPE": "de_DE.ISO-8859-1", "LANG": "de_DE.UTF-8"},
        {"LANG": "C", "LC_CTYPE": "C.UTF-8"},
        {"LANG": "C"},
        {"LANG": "en_US.UTF-8", "TERM": "linux"},
    ],
    ids=str,
)
def test_a_locale_without_unicode_gets_plain_signs(
    environment: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Python 3.11 writes UTF-8 under LC_ALL=C too (PEP 540), and sets LC_CTYPE (PEP 538)."""
    assert plain(monkeypatch, environment)


@pytest.mark.parametrize(
    "environment",
    [
        {},
        {"LANG": "en_US.UTF-8"},
        {"LC_ALL": "C.utf8"},
        {"LC_CTYPE": "UTF-8"},
        {"LC_ALL": "", "LANG": "de_DE.UTF-8"},
        {"LC_CTYPE": "C.UTF-8"},
    ],
    ids=str,
)
def test_others_get_the_dots(environment: dict[str, str], monkeypatch: pytest.MonkeyPatch) -> None:
    assert not plain(monkeypatch, environment)


@pytest.mark.parametrize("page", PAGES)
def test_in_plain_signs_every_page_is_ascii_alone(page: str, tmp_path: Path) -> None:
    keeper = KeeperStandIn(tmp_path / "shelf")
    make_run(keeper.shelf, serial="Ä-17")

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        PAGES[page](app)
        await pilot.pause(0.1)
        assert shown(app).isascii()

    run_app(app_with(keeper, look=Look(ascii=True)), steps)
