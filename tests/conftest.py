"""What every test stands on: no settings of the developer's own, no display, no shelf of his."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import settings

# Examples are not timed: a busy computer would fail a test that says nothing about time.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")


@pytest.fixture(autouse=True)
def nobody_elses_settings(
    tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> Path:
    """A configuration folder of the test's own; the user's profiles and keys stay out."""
    folder = tmp_path_factory.mktemp("config")
    monkeypatch.setenv("STEADYAMPS_CONFIG", str(folder))
    monkeypatch.setenv("XDG_DATA_HOME", str(folder / "data"))
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(folder))
    monkeypatch.delenv("NO_COLOR", raising=False)
    return folder
