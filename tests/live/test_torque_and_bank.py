"""A sweep with a torque meter, and one with a switched bank, over wires from end to end."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest

from acquire.judge.efficiency import WEIGHTS
from tests.live.commands import CHECKOUT, runs_on, steadyamps

UNIT = "small-frame-14v-90a"
PACE = 16.0
TORQUE = """
[channels.torque_nm]
like = "torque-lines"
port = "simulated:torque meter"
plausible = [0, 40]

[reference]
serial = "REF-1"
"""
BANK = """
[load]
like = "load-bank-modbus"
port = "simulated:bank"
timeout_s = 2.0
steps = [
    { register = 0, bit = 0, amps = 20 },
    { register = 0, bit = 1, amps = 40 },
    { register = 0, bit = 2, amps = 40 },
]

"""


def shipped() -> str:
    """The simulated rig as shipped, somewhat faster."""
    text = (CHECKOUT / "profiles/rigs/simulated.toml").read_text(encoding="utf-8")
    assert "pace = 8.0" in text
    return text.replace("pace = 8.0", f"pace = {PACE}")


def rig_file(folder: Path, text: str) -> str:
    path = folder / "bench.toml"
    path.write_text(text, encoding="utf-8")
    return str(path)


def test_a_sweep_with_a_torque_meter_gives_the_efficiency_and_its_weighted_figure(
    tmp_path: Path,
) -> None:
    shelf, papers = tmp_path / "shelf", tmp_path / "papers"
    steps = ",".join(f"{rpm:g}" for rpm in WEIGHTS)
    said = steadyamps(
        "--json", "sweep", "--rig", rig_file(tmp_path, shipped() + TORQUE), "--rated", UNIT,
        "--steps", steps, "--serial", "T-1", "--yes", shelf=shelf,
    )  # fmt: skip
    assert said.code == 3, "the rated speeds were not all measured"
    (run,) = runs_on(shelf)
    verdict = json.loads((run / "verdict.json").read_text(encoding="utf-8"))
    found = {round(one["shaft_rpm"], -2): one for one in verdict["efficiency"]["points"]}
    assert set(found) == set(WEIGHTS)
    assert all(0.35 < one["efficiency"] < 0.75 for one in found.values()), found
    expected = math.fsum(WEIGHTS[rpm] * one["efficiency"] for rpm, one in found.items())
    assert verdict["efficiency"]["weighted"]["efficiency"] == pytest.approx(expected, rel=1e-12)
    assert "weighted" in said.err
    kept = [line for line in (run / "journal.jsonl").read_text().splitlines() if "REF-1" in line]
    assert '"kind":"reference unit"' in kept[-1]
    assert '"state":"no runs"' in kept[-1]
    made = steadyamps("report", str(run), "--out", str(papers), shelf=shelf)
    assert made.code == 0, made.err
    paper = (papers / "report.html").read_text(encoding="utf-8")
    assert f"{100 * expected:.1f}" in paper
    assert "REF-1: no chart yet" in paper


def test_a_sweep_with_a_switched_bank_reads_between_its_steps(tmp_path: Path) -> None:
    rig = shipped()
    before, load, rest = rig.partition("[load]")
    limits = rest[rest.index("[limits]") :]
    said = steadyamps(
        "--json", "sweep", "--rig", rig_file(tmp_path, before + BANK + limits), "--rated", UNIT,
        "--steps", "2000,6000", "--yes", shelf=tmp_path / "shelf",
    )  # fmt: skip
    assert load
    assert said.code == 3, "two rated speeds were not measured"
    measured = {p["shaft_rpm"]: p for p in said.document["points"] if p["amps"] is not None}
    assert set(measured) == {2000.0, 6000.0}
    assert all(point["outcome"] == "pass" for point in measured.values())
    assert measured[2000.0]["amps"] == pytest.approx(71.5, rel=0.03), "as with a load that holds"
    (run,) = runs_on(tmp_path / "shelf")
    lines = (run / "journal.jsonl").read_text(encoding="utf-8").splitlines()
    entries = [json.loads(line) for line in lines]
    held = [entry["data"]["amps_closed"] for entry in entries if entry["kind"] == "bank held"]
    assert len(set(held)) >= 2, "two of its steps at one speed at least"
    assert all(amps % 20.0 == 0.0 and 0.0 < amps <= 100.0 for amps in held)
    (taken, _) = [entry["data"] for entry in entries if entry["kind"] == "steady point"]
    assert taken["channels"]["volts"]["mean"] == 13.5, "worked out between two steps"
    stops = {
        entry["data"]["what"]: entry["data"]["ok"] for entry in entries if entry["kind"] == "stop"
    }
    assert stops["load shed"] is True
