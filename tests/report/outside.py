"""Programs that are not ours, which look at the papers: a browser and PDF tools."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("chrome")
FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--hide-scrollbars",
    # What the browser asks for by itself: the time, and names of hosts.
    "--disable-features=NetworkTimeServiceQuerying", "--host-resolver-rules=MAP * ~NOTFOUND",
)  # fmt: skip


def needed(name: str) -> None:
    """Skip where a program is missing, unless this is the whole check (STEADYAMPS_CI)."""
    if shutil.which(name) is None and not os.environ.get("STEADYAMPS_CI"):
        pytest.skip(f"{name} is not installed here")


def chromium(*arguments: str, page: Path) -> subprocess.CompletedProcess[str]:
    """Open a page in a browser with an empty profile."""
    if CHROMIUM is None:
        if os.environ.get("STEADYAMPS_CI"):
            pytest.fail("chromium is not installed here, and STEADYAMPS_CI asks for it")
        pytest.skip("chromium is not installed here")
    with tempfile.TemporaryDirectory(prefix="steadyamps-chromium-") as profile:
        return subprocess.run(
            [CHROMIUM, *FLAGS, f"--user-data-dir={profile}", *arguments, page.as_uri()],
            capture_output=True, text=True, timeout=60, check=False,
        )  # fmt: skip


def said_by(*command: str | Path) -> str:
    """What a command prints; it must succeed."""
    needed(str(command[0]))
    done = subprocess.run(
        [str(part) for part in command], capture_output=True, timeout=60, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.decode("utf-8", "replace")
