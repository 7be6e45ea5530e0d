"""Rigs and folders for the tests of the screens."""

from __future__ import annotations

from pathlib import Path

import pytest

from profiles.catalogue import shipped_folder


@pytest.fixture(autouse=True)
def own_settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No test sees, or changes, the profiles and settings of whoever runs it."""
    monkeypatch.setenv("STEADYAMPS_CONFIG", str(tmp_path / "config"))


@pytest.fixture
def fast_rig(tmp_path: Path) -> Path:
    """The shipped simulated rig, as fast as it may go on a slow computer."""
    text = (shipped_folder("rigs") / "simulated.toml").read_text(encoding="utf-8")
    path = tmp_path / "fast.toml"
    path.write_text(text, encoding="utf-8")
    return path
