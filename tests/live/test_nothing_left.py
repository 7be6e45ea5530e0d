"""A run cut off after its last point goes on without a rig: it is judged and sealed, no more."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from acquire.cli.main import run
from acquire.opened_rig import OpenedRig
from acquire.record.json_text import read_json
from acquire.record.read_run import read_run
from acquire.record.verify import verify
from acquire.resuming import interrupted
from acquire.sweep.commands import Finished
from acquire.sweep.plan import plan_sweep
from acquire.sweep.sweep import Sweep
from profiles.catalogue import load_method, load_rated, load_rig
from tests.live.cut_runs import killed_after
from tests.samples.make import CHECKOUT

VAN, WARM = "pass-van-alternator", "warranty-after-rebuild"


@pytest.fixture
def no_rig(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever opens a rig fails the test."""

    def opened(_rig: OpenedRig) -> None:
        raise AssertionError("a port was opened")

    monkeypatch.setattr(OpenedRig, "open", opened)


@pytest.mark.usefixtures("no_rig")
@pytest.mark.parametrize("sample", [VAN, WARM])
def test_it_is_judged_and_sealed_and_nothing_is_opened_or_asked(
    sample: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    whole = read_run(CHECKOUT / "sample_runs" / sample)
    folder = killed_after(sample, len(whole.curve), tmp_path / "shelf" / sample)
    code = run(["--json", "--shelf", str(folder.parent), "resume", str(folder)])
    said = capsys.readouterr()
    assert code == 0, said.err
    assert "no port is opened, nothing turns" in said.err
    assert "Before it turns" not in said.err
    document = json.loads(said.out)
    assert (document["outcome"], document["finished"]) == ("pass", True)
    again = read_run(folder)
    assert again.header.state == "complete"
    assert again.verdict is not None
    assert whole.verdict is not None
    assert again.verdict["reason"] == whole.verdict["reason"]
    assert [row.measured_text for row in again.curve] == [r.measured_text for r in whole.curve]
    assert verify(folder).sealed


@pytest.mark.usefixtures("no_rig")
def test_a_run_with_a_step_left_still_asks_for_its_cautions(tmp_path: Path) -> None:
    folder = killed_after(VAN, 2, tmp_path / "shelf" / "run")
    assert not interrupted(folder).nothing_left(attended=False)
    assert run(["--shelf", str(folder.parent), "resume", str(folder)]) == 2
    header = read_json(folder / "run.json")
    assert isinstance(header, dict)
    assert header["state"] == "running"


def test_a_check_at_a_speed_is_left_only_where_somebody_can_answer_it(tmp_path: Path) -> None:
    folder = killed_after(VAN, 4, tmp_path / "run")
    found = interrupted(folder)
    method = load_method("rebuild-12v")
    checked = type(found)(
        found.folder,
        type(found.order)(
            rig=found.order.rig, method=method, rated=found.order.rated, steps=found.order.steps
        ),
        found.points,
    )
    assert checked.nothing_left(attended=False)
    at_speed = [check.name for check in method.profile.check if check.when_asked == "at speed"]
    assert at_speed
    assert not checked.nothing_left(attended=True)
    answered = type(found)(
        found.folder, checked.order, found.points, answers=dict.fromkeys(at_speed, True)
    )
    assert answered.nothing_left(attended=True)


def test_a_sweep_with_every_step_done_is_over_before_it_loads_or_turns() -> None:
    """The second line: whatever opens the rig, the sweep itself has nothing to do."""
    plan = plan_sweep(
        rig=load_rig("simulated").profile,
        method=load_method("warm").profile,
        rated=load_rated("small-frame-14v-90a").profile.rated_curve(),
        steps=None,
    )
    sweep = Sweep(plan, done=[step.number for step in plan.steps])
    assert [type(one) for one in sweep.step(0.0, [])][-1] is Finished
    assert sweep.finished
    assert sweep.phase.name == "waiting"
