"""`.ci/run` says at once where `python3`, which README's commands call, is too old."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
BASH = shutil.which("bash")
OLD = '#!/bin/sh\n[ "$1" = --version ] && echo Python 3.9.2 && exit 0\nexit 1\n'
NEW = "#!/bin/sh\nexit 0\n"


@pytest.mark.skipif(os.name != "posix" or BASH is None, reason=".ci/run is a bash script")
@pytest.mark.parametrize("newer", [None, "python3.12"])
def test_an_old_python3_is_named_and_a_newer_one_offered(tmp_path: Path, newer: str | None) -> None:
    for name, text in {"python3": OLD, **({newer: NEW} if newer else {})}.items():
        (tmp_path / name).write_text(text)
        (tmp_path / name).chmod(0o755)
    for name in ("dirname", "sh"):
        (tmp_path / name).symlink_to(shutil.which(name) or "")
    done = subprocess.run(
        [str(BASH), str(ROOT / ".ci" / "run")], env={"PATH": str(tmp_path)}, text=True,
        capture_output=True, check=False, timeout=60,
    )  # fmt: skip
    assert done.returncode == 1
    assert done.stdout == ""
    assert "must be Python 3.11 or newer" in done.stderr
    assert f"{tmp_path / 'python3'} (Python 3.9.2)" in done.stderr
    assert ("python3.12 -m venv" in done.stderr) is (newer is not None)
