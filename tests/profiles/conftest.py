"""A configuration folder of its own for every test, and a way to see what is wrong with a file."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from profiles.catalogue import Kind, load
from profiles.errors import ProfileError

Problems = Callable[[Kind, str], dict[str, str]]


@pytest.fixture(autouse=True)
def config(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "config"
    monkeypatch.setenv("STEADYAMPS_CONFIG", str(folder))
    return folder


@pytest.fixture
def problems_of(tmp_path: Path) -> Problems:
    """Write a file, load it, and give key -> message with what to do; the file is checked too."""

    def load_it(kind: Kind, text: str) -> dict[str, str]:
        path = tmp_path / "given.toml"
        path.write_text(text, encoding="utf-8")
        try:
            load(kind, path)
        except ProfileError as caught:
            error = caught
        else:
            return {}
        assert all(problem.file == str(path) for problem in error.problems)
        assert len({(p.key, p.message) for p in error.problems}) == len(error.problems)
        assert "pydantic" not in str(error)
        assert "Input should" not in str(error)
        return {p.key: f"{p.message} {p.what_to_do}".rstrip() for p in error.problems}

    return load_it
