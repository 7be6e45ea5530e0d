"""`rig simulate`: what it prints, and what it refuses before anything is served."""

from __future__ import annotations

import json
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from acquire.cli.main import run
from profiles.catalogue import load_rig
from tests.live.commands import CHECKOUT, WAIT_S, command_line, environment


@contextmanager
def serving(*options: str) -> Iterator[subprocess.Popen[str]]:
    process = subprocess.Popen(
        command_line(*options), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        cwd=CHECKOUT, env=environment(),
    )  # fmt: skip
    try:
        yield process
    finally:
        process.terminate()
        process.communicate(timeout=WAIT_S)


def _until_it_serves(process: subprocess.Popen[str]) -> None:
    assert process.stderr is not None
    assert process.stderr.readline().startswith("Serving small-frame-14v-90a at 127.0.0.1")


def test_with_json_the_served_rig_is_one_document_that_holds_its_file(tmp_path: Path) -> None:
    with serving("--json", "rig", "simulate", "--pace", "5") as process:
        _until_it_serves(process)
        process.terminate()
        out, _ = process.communicate(timeout=WAIT_S)
    document = json.loads(out)
    served = tmp_path / "served.toml"
    served.write_text(document["rig"], encoding="utf-8")
    rig = load_rig(str(served)).profile
    assert rig.simulated is not None
    assert rig.simulated.pace == 5.0
    assert document["ports"]["tachometer"] == rig.channels["shaft_rpm"].port  # type: ignore[union-attr]
    assert process.returncode == 0 or sys.platform == "win32"


@pytest.mark.parametrize("pace", ["0", "-1", "0.0", "nan", "inf", "-inf", "1001"])
def test_a_pace_that_is_none_is_a_usage_error(
    pace: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["--json", "rig", "simulate", "--pace", pace]) == 2
    told = capsys.readouterr()
    error = json.loads(told.out)["error"]
    assert error["kind"] == "Usage"
    assert "--pace" in error["message"]


@pytest.mark.parametrize("host", ["999.1.1.1", "192.0.2.1", "::1", f"{'a' * 70}.example"])
def test_an_address_that_cannot_be_served_at_is_told_in_a_sentence(
    host: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["--json", "rig", "simulate", "--listen", host]) == 2
    error = json.loads(capsys.readouterr().out)["error"]
    assert error["message"].startswith("--listen ")
    assert "127.0.0.1" in error["what_to_do"]


def test_a_first_port_that_is_taken_is_told_with_its_number(
    capsys: pytest.CaptureFixture[str],
) -> None:
    with socket.create_server(("127.0.0.1", 0)) as held:
        taken = str(min(held.getsockname()[1], 65000))
        if int(taken) != held.getsockname()[1]:
            pytest.skip("the system gave a port above those that may be first")
        assert run(["--json", "rig", "simulate", "--first-port", taken]) == 2
    error = json.loads(capsys.readouterr().out)["error"]
    assert f"--first-port {taken}" in error["message"]
    assert "another first port" in error["what_to_do"]
