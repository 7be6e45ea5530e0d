"""Whether a rig stopped by itself the last time, as the shelf has it."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import cast

import sample_runs
from acquire.findings.not_stopped import DID_NOT_STOP
from acquire.last_stop import last_stop_items, last_stop_words
from acquire.screens.keeper import Keeper
from acquire.screens.ready_facts import ready_facts
from profiles.catalogue import load_rig
from tests.screens.stand_in import KeeperStandIn
from tests.screens.test_ready_warnings import choices_for

SAMPLE = Path(next(iter(sample_runs.__path__))) / "pass-van-alternator"
RIG = load_rig("simulated")


def put(shelf: Path, name: str, *, stopped: bool) -> Path:
    """A run on the simulated rig, at whose end the bench stopped by itself, or did not."""
    folder = shelf / name
    shutil.copytree(SAMPLE, folder)
    verdict = json.loads((folder / "verdict.json").read_text(encoding="utf-8"))
    if not stopped:
        found = {"name": "bench did not stop", "words": f"{DID_NOT_STOP}: it was called for."}
        verdict["findings"] = [found]
    (folder / "verdict.json").write_text(json.dumps(verdict), encoding="utf-8")
    return folder


def test_only_the_last_run_on_this_rig_counts(tmp_path: Path) -> None:
    assert last_stop_words(RIG.profile, tmp_path) == "", "an empty shelf"
    put(tmp_path, "20251101T080000Z-a-aaaa", stopped=False)
    words = last_stop_words(RIG.profile, tmp_path)
    assert words.startswith("at the end of the last run it did not stop by itself (")
    other = RIG.profile.model_copy(update={"title": "Bench 2"})
    assert last_stop_words(other, tmp_path) == ""
    real = RIG.profile.model_copy(update={"simulated": None})
    assert last_stop_words(real, tmp_path) == "", "a rig in software says nothing of a real one"
    put(tmp_path, "20251102T080000Z-b-bbbb", stopped=True)
    assert last_stop_words(RIG.profile, tmp_path) == ""


def test_it_is_a_line_of_the_check_that_keeps_nobody_from_testing(tmp_path: Path) -> None:
    put(tmp_path, "20251101T080000Z-a-aaaa", stopped=False)
    (item,) = last_stop_items(RIG.profile, tmp_path)
    assert item.state == "look"
    assert item.what_to_do.startswith("See the drive stop without a unit")
    assert last_stop_items(RIG.profile, tmp_path / "nowhere") == []


def test_the_ready_page_warns_of_it(tmp_path: Path) -> None:
    put(tmp_path, "20251101T080000Z-a-aaaa", stopped=False)
    words = last_stop_words(RIG.profile, tmp_path)
    choices, keeper = choices_for(RIG), cast("Keeper", KeeperStandIn(tmp_path))
    warned = ready_facts(choices, keeper, last_stop=words).warnings
    quiet = ready_facts(choices, keeper).warnings
    (added,) = set(warned) - set(quiet)
    assert added[0].startswith("At the end of the last run it did not stop by itself")
