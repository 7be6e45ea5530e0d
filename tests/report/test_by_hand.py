"""The commands by which anybody checks a record without this program, run as README has them."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from acquire.record.keys import new_key, public_path
from acquire.report.material import material_of
from acquire.report.papers import report_paper
from acquire.report.pdf_paper import pdf_of
from tests.docs import readme
from tests.report.outside import said_by
from tests.report.runs import Order, add_photo, make_run, settings

COMMANDS = Path(__file__).with_name("by_hand.sh").read_text(encoding="utf-8")
HASHES, _, SIGNED = COMMANDS.partition("\n\n")
SAMPLES = Path(__file__).parents[2] / "sample_runs"
NEEDED = ("bash", "sed", "xargs", "sha256sum", "openssl")


@pytest.fixture(autouse=True)
def _programs() -> None:
    if sys.platform == "win32":
        pytest.skip("the commands are for a Unix shell")
    missing = [name for name in NEEDED if shutil.which(name) is None]
    if missing:
        pytest.skip(f"not installed here: {', '.join(missing)}")
    if "OpenSSL 3" not in said_by("openssl", "version"):
        pytest.skip("this openssl is older than 3 and has no pkeyutl -rawin")


def _done(commands: str, run: Path, key: Path | None = None) -> subprocess.CompletedProcess[str]:
    """The commands in a shell; its exit code is that of the last one."""
    given = {"RUN": str(run), "KEY": str(key or ""), "TMPDIR": str(run.parent)}
    return subprocess.run(
        ["bash", "-c", commands],
        env=os.environ | given,
        capture_output=True,
        text=True,
        check=False,
    )


def _signed_run(tmp_path: Path) -> tuple[Path, Path]:
    """A signed run with a signed note, and the workshop's public key."""
    key = new_key(tmp_path / "workshop.pem")
    run = make_run(tmp_path / "shelf", Order(key=key))
    add_photo(run, tmp_path, key=key)
    return run, public_path(tmp_path / "workshop.pem")


@pytest.mark.parametrize("name", ["pass-van-alternator", "stopped-and-resumed"])
def test_a_sample_run_is_as_it_was_sealed(tmp_path: Path, name: str) -> None:
    shutil.copytree(SAMPLES / name, tmp_path / name)
    done = _done(HASHES, tmp_path / name)
    assert done.returncode == 0, done.stderr
    assert done.stdout.endswith(": OK\n")


@pytest.mark.parametrize("name", ["samples.csv", "run.json", "verdict.json", "seal.json"])
def test_a_changed_byte_is_found(tmp_path: Path, name: str) -> None:
    run = tmp_path / "run"
    shutil.copytree(SAMPLES / "pass-van-alternator", run)
    data = (run / name).read_bytes()
    (run / name).write_bytes(data.replace(b"1", b"2", 1))
    done = _done(HASHES, run)
    assert done.returncode != 0
    assert "FAILED" in done.stdout


def test_signature_and_photo_of_a_run_hold(tmp_path: Path) -> None:
    run, key = _signed_run(tmp_path)
    done = _done(COMMANDS, run, key)
    assert done.returncode == 0, done.stderr
    assert "Signature Verified Successfully" in done.stdout


def test_a_signature_of_somebody_else_is_found(tmp_path: Path) -> None:
    run, _ = _signed_run(tmp_path)
    new_key(tmp_path / "other.pem")
    done = _done(COMMANDS, run, public_path(tmp_path / "other.pem"))
    assert done.returncode != 0
    assert "Signature Verification Failure" in done.stdout + done.stderr


def test_what_came_out_of_the_pdf_is_checked_the_same_way(tmp_path: Path) -> None:
    run, key = _signed_run(tmp_path)
    file, out = tmp_path / "report.pdf", tmp_path / "out"
    file.write_bytes(pdf_of(report_paper(material_of(run, settings()))).data)
    out.mkdir()
    said_by("pdfdetach", "-saveall", "-o", out, file)
    done = _done(COMMANDS, out, key)
    assert done.returncode == 0, done.stderr
    assert (out / "attachments" / "note-0001.json").is_file()


def test_these_are_the_commands_that_readme_gives() -> None:
    if "openssl" not in readme.text():
        pytest.skip("README does not give the commands yet")
    assert COMMANDS in [block.text for block in readme.blocks("bash")]
