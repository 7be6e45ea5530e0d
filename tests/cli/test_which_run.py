"""A run may be named by its folder, by its name on the shelf, or by its last letters."""

from __future__ import annotations

from pathlib import Path

import pytest

from acquire.cli.places import run_folder
from acquire.cli.voice import Voice
from acquire.errors import OrderError

NAME = "2026-03-01T101500Z-J-7-abcd"


def on(shelf: Path) -> Voice:
    return Voice(json=False, shelf=str(shelf))


def test_a_run_is_found_by_path_by_name_and_by_its_last_letters(tmp_path: Path) -> None:
    (tmp_path / NAME).mkdir()
    (tmp_path / "2026-03-01T111500Z-J-8-efgh").mkdir()
    for named in (str(tmp_path / NAME), NAME, "abcd", "J-7-abcd"):
        assert run_folder(on(tmp_path), named) == tmp_path / NAME


def test_letters_that_fit_several_runs_are_refused_with_their_names(tmp_path: Path) -> None:
    for name in (NAME, "2026-03-02T101500Z-J-9-abcd"):
        (tmp_path / name).mkdir()
    with pytest.raises(OrderError, match="J-9-abcd"):
        run_folder(on(tmp_path), "abcd")


@pytest.mark.parametrize("named", ["zzzz", "a*", "no/such/run", "points.csv"])
def test_what_names_no_run_stays_the_path_it_is(tmp_path: Path, named: str) -> None:
    (tmp_path / NAME).mkdir()
    assert run_folder(on(tmp_path), named) == Path(named)
