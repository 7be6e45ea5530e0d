"""A built wheel carries profiles and sample runs, and works outside the checkout."""

from __future__ import annotations

import os
import subprocess
import sys
import venv
import zipfile
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).parent.parent.parent
pytestmark = [
    pytest.mark.server,
    pytest.mark.skipif(
        not os.environ.get("STEADYAMPS_CI"),
        reason="builds and installs a wheel from the registry; .ci/run does (STEADYAMPS_CI=1)",
    ),
]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "build", "--wheel", "--outdir", str(out), str(CHECKOUT)]
    subprocess.run(command, check=True, capture_output=True, text=True)
    (built,) = out.glob("steadyamps-*.whl")
    return built


def test_wheel_carries_every_profile_and_sample_run_and_no_tests(wheel: Path) -> None:
    names = set(zipfile.ZipFile(wheel).namelist())
    for folder in ("acquire", "profiles", "sample_runs"):
        for path in (CHECKOUT / folder).rglob("*"):
            if path.is_file() and "__pycache__" not in path.parts:
                assert path.relative_to(CHECKOUT).as_posix() in names
    assert "profiles/rigs/simulated.toml" in names
    assert not any(name.startswith("tests/") for name in names)


def test_installed_program_runs_a_sweep_outside_the_checkout(wheel: Path, tmp_path: Path) -> None:
    home = tmp_path / "elsewhere"
    home.mkdir()
    venv.create(home / "env", with_pip=True)
    scripts = home / "env" / ("Scripts" if os.name == "nt" else "bin")
    subprocess.run([scripts / "python", "-m", "pip", "install", "-q", str(wheel)], check=True)
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONPATH"}
    environment["STEADYAMPS_CONFIG"] = str(home / "config")
    where = subprocess.run(
        [scripts / "python", "-c", "import acquire, profiles; print(acquire.__file__)"],
        check=True, capture_output=True, text=True, cwd=home, env=environment,
    )  # fmt: skip
    assert str(home) in where.stdout, "acquire is ours, not another distribution's"
    done = subprocess.run(
        [
            scripts / "steadyamps", "--shelf", "shelf", "sweep", "--rig", "simulated",
            "--rated", "small-frame-14v-90a", "--yes",
        ],
        capture_output=True, text=True, cwd=home, env=environment, timeout=300, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    assert "Passes." in done.stdout
    (run,) = (home / "shelf").iterdir()
    assert (run / "verdict.json").is_file()
    written = subprocess.run(
        [scripts / "steadyamps", "report", str(run), "--out", "papers"],
        capture_output=True, text=True, cwd=home, env=environment, timeout=120, check=False,
    )  # fmt: skip
    assert written.returncode == 0, written.stdout + written.stderr
    assert (home / "papers" / "report.pdf").read_bytes().startswith(b"%PDF")
