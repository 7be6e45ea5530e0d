"""The other things a rebuild must pass: asked, kept in the record, and part of the outcome."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

from acquire.cautions import wiring_for
from acquire.record.read_run import read_run
from acquire.sweep.checking import ANSWER_WITHIN_S, SpeedCheck
from acquire.sweep.commands import AskCheck, CheckAnswered, HoldVolts, Remark
from acquire.sweep.sweep import Sweep
from profiles.catalogue import load_rated
from tests.live.commands import command_line, environment, replay_all, runs_on, steadyamps
from tests.sweep.test_sweep import PLAN
from tests.sweep.toy_rig import ToyRig, drive_through

UNIT = ("--rig", "simulated", "--rated", "small-frame-14v-90a", "--steps", "3000")
METHOD = ("--method", "rebuild-12v")


def test_a_check_that_failed_fails_a_unit_whose_curve_is_not_enough_to(tmp_path: Path) -> None:
    said = steadyamps(
        "--json", "sweep", *UNIT, *METHOD, "--yes",
        "--check", "charge lamp=no", "--check", "insulation of the rotor=50", shelf=tmp_path,
    )  # fmt: skip
    document = said.document
    assert said.code == 1, said.err
    assert document["outcome"] == "fail"
    assert "charge lamp" in document["reason"]
    done = {check["name"]: check["outcome"] for check in document["checks"]}
    assert done["charge lamp"] == "fail"
    assert done["insulation of the rotor"] == "pass"
    assert done["ripple"] == "not done"
    again = steadyamps(
        "--json", "judge", str(runs_on(tmp_path)[0]), "--rated", "small-frame-14v-90a",
        shelf=tmp_path,
    )  # fmt: skip
    assert again.document["outcome"] == "fail"
    assert again.document["checks"] == document["checks"], "answers are read from the record"


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ("lamp=no", "charge lamp"),
        ("charge lamp", "NAME=ANSWER"),
        ("charge lamp=perhaps", "yes or no"),
        ("ripple=0,3", "0.3"),
    ],
)
def test_an_answer_that_fits_no_check_is_refused_before_anything_starts(
    tmp_path: Path, given: str, says: str
) -> None:
    said = steadyamps("sweep", *UNIT, *METHOD, "--yes", "--check", given, shelf=tmp_path)
    assert said.code == 2
    assert says in said.err
    assert runs_on(tmp_path) == []


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
def test_checks_are_asked_before_at_their_speed_and_after(tmp_path: Path) -> None:
    from tests.live.typist import Typist

    arguments = command_line("--shelf", str(tmp_path), "sweep", *UNIT, *METHOD)
    with Typist(arguments, environment()) as desk:
        desk.expect("All of these are kept? (yes)").answer("yes")
        curve = load_rated("small-frame-14v-90a").profile.rated_curve()
        for _ in wiring_for(curve):
            desk.expect("? (yes)").answer("yes")
        desk.expect("slip ring to the rotor body").answer("80")
        desk.expect("phase lead to the frame").answer("")
        desk.expect("between the slip rings").answer("2,6")
        desk.expect("as in 2.6").answer("2.6")
        desk.expect("light load").answer("14.2")
        desk.expect("AC volts").answer("0.2")
        desk.expect("charge lamp light").answer("yes")
        desk.expect("grinding").answer("yes")
        desk.expect("remarks").answer("new slip rings")
        desk.expect("Run folder")
    replay_all(tmp_path)
    (folder,) = runs_on(tmp_path)
    document = json.loads((folder / "verdict.json").read_text("utf-8"))
    done = {check["name"]: (check["outcome"], check["value"]) for check in document["checks"]}
    assert done == {
        "insulation of the rotor": ("pass", 80.0),
        "insulation of the stator": ("not done", None),
        "rotor resistance": ("pass", 2.6),
        "charge lamp": ("pass", True),
        "regulating voltage": ("pass", 14.2),
        "ripple": ("pass", 0.2),
        "runs quietly": ("pass", True),
        "remarks": ("noted", "new slip rings"),
    }
    kinds = [entry.kind for entry in read_run(folder).journal]
    at_speed = kinds.index("act")
    assert kinds.index("steady point") < at_speed < kinds.index("stopping")


def test_a_check_at_its_speed_is_asked_with_its_load_and_does_not_turn_for_ever() -> None:
    checks = [SpeedCheck("regulating voltage", 4000.0, "light"), SpeedCheck("ripple", 3000.0)]
    sweep, rig = Sweep(PLAN, checks=checks), ToyRig()
    drive_through(sweep, rig, at_most_s=60.0)
    assert AskCheck("regulating voltage", 4000.0) in rig.said
    assert rig.rpm == pytest.approx(4000.0, rel=0.02)
    volts = [command.volts for command in rig.said if isinstance(command, HoldVolts)]
    assert volts[-1] > (PLAN.test_volts or 0.0) > 0.0, "waiting higher, it draws nothing"
    rig.carry_out(sweep.act(rig.t_s, CheckAnswered("ripple")))
    assert sweep.phase.name == "checking", "the answer to another check changes nothing"
    rig.carry_out(sweep.act(rig.t_s, CheckAnswered("regulating voltage")))
    began_s = rig.t_s
    drive_through(sweep, rig)
    assert sweep.finished
    assert rig.t_s - began_s < ANSWER_WITHIN_S + 30.0
    assert (
        Remark("check not done", {"check": "ripple", "why": "no answer within 180 s"}) in rig.said
    )
