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


@pytest.fixture(scope="module")
def stick(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel and all it needs, as they are carried to a computer without a connection."""
    folder = tmp_path_factory.mktemp("stick")
    command = [sys.executable, "-m", "pip", "wheel", "-q", "-w", str(folder), str(wheel)]
    subprocess.run(command, check=True)
    return folder


def test_installed_from_a_stick_it_runs_a_sweep_outside_the_checkout(
    stick: Path, tmp_path: Path
) -> None:
    """Without a registry, in a folder with a space and an umlaut, as README has it."""
    home = tmp_path / "Werkstatt Süd"
    home.mkdir()
    venv.create(home / "env", with_pip=True)
    scripts = home / "env" / ("Scripts" if os.name == "nt" else "bin")
    nowhere = "http://127.0.0.1:9"
    environment = {
        name: value
        for name, value in os.environ.items()
        if name != "PYTHONPATH" and not name.startswith("PIP_")
    } | {"http_proxy": nowhere, "https_proxy": nowhere, "PIP_CONFIG_FILE": os.devnull}
    install = ["-m", "pip", "install", "-q", "--no-index", "--find-links", str(stick)]
    subprocess.run([scripts / "python", *install, "steadyamps"], check=True, env=environment)
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
