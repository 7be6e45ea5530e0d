"""The journal of a real run goes forward only, also where it was stopped and gone on with."""

from __future__ import annotations

import os
import signal
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path

import pytest

from acquire.record.read_run import read_run
from acquire.record.run_name import utc_of
from acquire.record.verify import verify
from tests.live.commands import runs_on, steadyamps
from tests.live.served import served
from tests.live.test_stopping import WAIT_S, sweeping


@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX systems")
def test_a_run_stopped_and_gone_on_with_at_once_never_goes_back(tmp_path: Path) -> None:
    shelf = tmp_path / "shelf"
    with served(tmp_path) as rig:
        with sweeping(rig, shelf) as process:
            process.send_signal(signal.SIGINT)
            process.communicate(timeout=WAIT_S)
        (folder,) = runs_on(shelf)
        stopped = read_run(folder)
        assert stopped.header.ended_utc is not None
        assert utc_of(stopped.header.ended_utc) <= datetime.now(UTC)
        again = steadyamps("resume", str(folder), "--yes", shelf=shelf)
        assert again.code == 0, again.err
    run = read_run(folder)
    assert run.header.ended_utc is not None
    assert utc_of(run.header.ended_utc) <= datetime.now(UTC)
    for before, after in pairwise(run.journal):
        assert before.t_s <= after.t_s, (before, after)
        assert before.utc <= after.utc, (before, after)
    opened = [one for one in run.journal if one.kind == "port" and one.data["what"] == "opened"]
    assert opened[0].at_s < 0.0, "the ports were opened before the run began"
    (resumed,) = [entry for entry in run.journal if entry.kind == "resumed"]
    assert 0.0 < resumed.data["gap_s"] < WAIT_S
    assert verify(folder).sealed
