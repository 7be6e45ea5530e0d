"""What a run has to say to the operator is said while it runs, in plain lines too."""

from __future__ import annotations

import subprocess
from pathlib import Path

from tests.live.commands import CHECKOUT, WAIT_S, command_line, environment
from tests.study.reference_shelf import STEADY, ReferenceShelf


def test_a_reference_unit_out_of_control_and_a_load_that_stays_off_are_told_before_a_reading(
    tmp_path: Path,
) -> None:
    shelf = ReferenceShelf(tmp_path / "shelf")
    shelf.put_all((*STEADY, -8.0), rig="Simulated rig, 14 V", simulated=True)
    text = (CHECKOUT / "profiles/rigs/simulated.toml").read_text(encoding="utf-8")
    rig = tmp_path / "bench.toml"
    rig.write_text(
        text.replace("pace = 8.0", "pace = 24.0") + '\n[reference]\nserial = "REF-1"\n',
        encoding="utf-8",
    )
    said = subprocess.run(
        command_line(
            "--shelf", str(shelf.folder), "sweep", "--rig", str(rig), "--steps", "2000", "--yes"
        ),
        capture_output=True, text=True, cwd=CHECKOUT, env=environment(), check=False,
        stdin=subprocess.DEVNULL, timeout=WAIT_S,
    )  # fmt: skip
    holding = said.stderr.index("Holding at 2000 rpm")
    warned = "Reference unit REF-1, run 11 of 2026-03-12: 8.0 % below what it gave"
    assert said.stderr.index(warned) < holding
    assert said.stderr.index("the load stays off") < holding
