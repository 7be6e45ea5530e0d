"""Rigs that hands serve, in software: what is lost is told, and a hand is never left waiting."""

from __future__ import annotations

from pathlib import Path

from acquire.record.read_run import read_run
from tests.live.commands import runs_on, steadyamps

RATED = "small-frame-14v-90a"


def test_a_lost_ammeter_stops_a_run_aboard_and_the_stop_counts_as_one_under_way(
    tmp_path: Path,
) -> None:
    """Without a drive nothing was told to run; but the first step had begun: 4, not 5."""
    said = steadyamps(
        "sweep", "--rig", "simulated-aboard", "--rated", RATED, "--fault", "sensor-unplugged@25",
        "--yes", shelf=tmp_path,
    )  # fmt: skip
    assert said.code == 4, said.err
    assert "No good reading of the output current for 5." in said.err
    (folder,) = runs_on(tmp_path)
    run = read_run(folder)
    (tripped,) = [entry for entry in run.journal if entry.kind == "guard tripped"]
    assert tripped.data["channel"] == "amps"
    assert tripped.t_s < 40.0
    assert run.header.state == "stopped"
