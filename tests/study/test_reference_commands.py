"""`rig check` and `rig study --reference` on a bench with a reference unit."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from acquire.cli.main import run
from profiles.catalogue import load_rig
from tests.study.reference_shelf import STEADY, ReferenceShelf

CHECKOUT = Path(__file__).parents[2]


@pytest.fixture
def shelf(tmp_path: Path) -> ReferenceShelf:
    made = ReferenceShelf(tmp_path / "shelf")
    made.put_all(STEADY, simulated=True)
    return made


def rig_file(folder: Path) -> Path:
    """The shipped simulated rig with a reference unit, and with little to listen to."""
    shipped = (CHECKOUT / "profiles/rigs/simulated.toml").read_text(encoding="utf-8")
    keys = 'title = "Bench 1"\n[reference]\nserial = "REF-1"\n\n'
    lines = [line for line in shipped.splitlines() if not line.startswith(("title", "schema"))]
    text = keys + "\n".join(lines).replace("pace = 8.0", "pace = 20.0")
    path = folder / "bench.toml"
    path.write_text(text, encoding="utf-8")
    assert load_rig(str(path)).profile.reference is not None
    return path


def test_rig_check_carries_the_reference_unit_and_fails_where_it_warns(
    shelf: ReferenceShelf, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    check = ("--shelf", str(shelf.folder), "rig", "check", str(rig_file(tmp_path)))
    assert run(["--json", *check]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["items"][-1]["name"] == "reference unit REF-1, run 10 of 2026-03-11"
    assert document["reference"]["in_control"] is True
    assert len(document["reference"]["chart"]["runs"]) == 10
    assert run([*check]) == 0
    well = capsys.readouterr().out
    assert "newest 1.0000, limits 0.99" in well, "its figures, where all is well"
    assert "By speed: " in well
    assert "| " not in well, "and no picture"
    shelf.put(-2.0, simulated=True)
    assert run([*check]) == 1
    said = capsys.readouterr().out
    assert "! reference unit REF-1, run 11 of 2026-03-12: 2.0 % below what it gave" in said
    assert "all speeds, amps / centre" in said, "the chart itself"
    assert "Not ready: 1 to be mended." in said


def test_rig_study_reference_ends_with_1_where_the_latest_run_stands_out(
    shelf: ReferenceShelf, capsys: pytest.CaptureFixture[str]
) -> None:
    def study() -> int:
        runs = sorted(str(one) for one in shelf.folder.iterdir())
        return run(["--json", "rig", "study", *runs, "--reference"])

    assert study() == 0
    shelf.put(-2.0, simulated=True)
    assert study() == 1
    shelf.put(0.0, simulated=True)
    assert study() == 0, "the odd run is past"
    assert capsys.readouterr().err
