"""The main job on the simulated rig, over the same wires as real instruments."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from tests.live.commands import runs_on, steadyamps

UNIT = "small-frame-14v-90a"
POSIX = pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals are POSIX only")


def test_a_healthy_unit_passes_and_leaves_a_whole_record(tmp_path: Path) -> None:
    said = steadyamps(
        "--json", "sweep", "--rig", "simulated", "--rated", UNIT, "--job", "J-1044",
        "--serial", "A-17", "--stage", "after", "--operator", "test", "--yes", shelf=tmp_path,
    )  # fmt: skip
    assert said.code == 0, said.err
    document = said.document
    assert document["outcome"] == "pass"
    assert document["simulated"] is True
    assert [point["outcome"] for point in document["points"]] == ["pass"] * 4
    (run,) = runs_on(tmp_path)
    assert document["run"] == str(run)
    assert {path.name for path in run.iterdir()} >= {
        "run.json", "journal.jsonl", "samples.csv", "curve.csv", "curve.csv-metadata.json",
        "verdict.json", "seal.json",
    }  # fmt: skip
    assert steadyamps("verify", str(run), shelf=tmp_path).code == 0
    assert "SIMULATED" in said.err


@POSIX
def test_the_same_over_pseudo_terminals_and_on_24_volts(tmp_path: Path) -> None:
    rig = tmp_path / "rig.toml"
    shipped = (Path(__file__).parents[2] / "profiles/rigs/simulated-24.toml").read_text()
    rig.write_text(shipped.replace("[simulated]", '[simulated]\nwires = "pseudo-terminals"'))
    said = steadyamps(
        "--json", "sweep", "--rig", str(rig), "--rated", "small-frame-28v-80a",
        "--steps", "3000,6000", "--yes", shelf=tmp_path / "shelf",
    )  # fmt: skip
    assert said.code == 3, "two rated speeds were not measured"
    measured = [point for point in said.document["points"] if point["amps"] is not None]
    assert [point["outcome"] for point in measured] == ["pass", "pass"]


def test_a_weak_unit_fails_with_exit_code_1(tmp_path: Path) -> None:
    said = steadyamps(
        "--json", "sweep", "--rig", "simulated", "--rated", UNIT, "--fault", "open-phase",
        "--yes", shelf=tmp_path,
    )  # fmt: skip
    assert said.code == 1, said.err
    assert said.document["outcome"] == "fail"


def test_a_12_volt_unit_on_a_24_volt_bench_is_refused_before_anything_turns(tmp_path: Path) -> None:
    said = steadyamps("sweep", "--rig", "simulated-24", "--rated", UNIT, "--yes", shelf=tmp_path)
    assert said.code == 5, said.out
    assert "another system" in said.out + said.err
    (run,) = runs_on(tmp_path)
    journal = (run / "journal.jsonl").read_text()
    assert '"refused"' in journal
    assert "run drive" not in journal
    assert "hold volts" not in journal
    assert "load switch" not in journal
    verdict = json.loads((run / "verdict.json").read_text("utf-8"))
    for words in (said.out, said.err, verdict["reason"]):
        assert "steadyamps resume" not in words
        assert "goes on" not in words
    assert "This run cannot go on" in verdict["reason"]
    again = steadyamps("--json", "resume", str(run), "--yes", shelf=tmp_path)
    assert again.code == 2
    assert "do not go together" in again.document["error"]["message"]
    assert "rated curve" in again.document["error"]["what_to_do"]


def test_a_fault_that_is_none_is_told_before_any_caution(tmp_path: Path) -> None:
    for fault, told in (("nosuch", "Known: "), ("open-diode@soon", "NAME@30")):
        said = steadyamps(
            "--json", "sweep", "--rig", "simulated", "--rated", UNIT, "--fault", fault, "--yes",
            shelf=tmp_path,
        )  # fmt: skip
        assert said.code == 2
        assert told in said.document["error"]["what_to_do"]
        assert "Before it turns" not in said.err
    assert runs_on(tmp_path) == []


def test_an_instrument_that_is_not_there_is_exit_code_5_and_named(tmp_path: Path) -> None:
    rig = tmp_path / "rig.toml"
    rig.write_text(
        'title = "Bench without a tachometer"\n'
        "[channels.shaft_rpm]\ndriver = 'lines'\nport = 'socket://127.0.0.1:9'\n"
        "pattern = 'RPM=(?P<value>\\d+)'\n[channels.amps]\ndriver = 'hand'\n"
    )
    said = steadyamps(
        "sweep", "--rig", str(rig), "--steps", "1500", "--yes", shelf=tmp_path / "shelf"
    )
    assert said.code == 5
    assert "shaft_rpm" in said.err
    assert "127.0.0.1 port 9" in said.err
    assert "Check" in said.err
    assert runs_on(tmp_path / "shelf") == []


@pytest.mark.parametrize(
    ("fault", "words"),
    [
        ("sensor-unplugged-shaft-rpm@30", "shaft speed"),
        ("late-answers-volts@30", "output voltage"),
        ("garbage-amps@30", "output current"),
    ],
)
def test_a_lost_channel_in_mid_sweep_stops_the_drive_or_is_sat_out_but_never_misread(
    tmp_path: Path, fault: str, words: str
) -> None:
    said = steadyamps(
        "--json", "sweep", "--rig", "simulated", "--rated", UNIT, "--fault", fault, "--yes",
        shelf=tmp_path,
    )  # fmt: skip
    assert said.code in (0, 4), said.err
    if said.code == 4:
        assert words in said.document["reason"]
    for point in said.document["points"]:
        if point["amps"] is not None:
            assert point["amps"] > 45.0, "no wrong reading entered"


def test_a_slipping_belt_is_stopped_by_the_guard_and_said_in_words(tmp_path: Path) -> None:
    said = steadyamps(
        "sweep", "--rig", "simulated", "--rated", UNIT, "--fault", "slipping-belt", "--yes",
        shelf=tmp_path,
    )  # fmt: skip
    assert said.code == 4
    assert "Shaft and drive disagree" in said.out
    assert "belt" in said.out


def test_faults_are_for_simulated_rigs_and_known_ones_only(tmp_path: Path) -> None:
    said = steadyamps(
        "sweep", "--rig", "simulated", "--rated", UNIT, "--fault", "open-diod", "--yes",
        shelf=tmp_path,
    )  # fmt: skip
    assert said.code == 2
    assert "open-diode" in said.err
