"""What the package says of itself: the oldest Python, the systems, the command."""

from __future__ import annotations

import ast
import importlib
import tomllib
from pathlib import Path

CHECKOUT = Path(__file__).parent.parent.parent
PROJECT = tomllib.loads((CHECKOUT / "pyproject.toml").read_text(encoding="utf-8"))
OLDEST = (3, 11)


def test_the_oldest_python_is_the_same_everywhere() -> None:
    major, minor = OLDEST
    assert PROJECT["project"]["requires-python"] == f">={major}.{minor}"
    assert PROJECT["tool"]["ruff"]["target-version"] == f"py{major}{minor}"
    assert PROJECT["tool"]["mypy"]["python_version"] == f"{major}.{minor}"


def test_every_module_is_written_in_the_oldest_python() -> None:
    """Its syntax only; what the standard library lacks there mypy sees."""
    folders = ("acquire", "drivers", "profiles", "tests")
    modules = [path for folder in folders for path in (CHECKOUT / folder).rglob("*.py")]
    assert len(modules) > 500
    assert [path for path in modules if not _is_old_python(path)] == []


def _is_old_python(path: Path) -> bool:
    try:
        ast.parse(path.read_text(encoding="utf-8"), feature_version=OLDEST)
    except SyntaxError:
        return False
    return True


def test_the_command_is_there() -> None:
    module, _, name = PROJECT["project"]["scripts"]["steadyamps"].partition(":")
    assert callable(getattr(importlib.import_module(module), name))


def test_linux_windows_and_macos_are_named() -> None:
    said = " ".join(PROJECT["project"]["classifiers"])
    for system in ("POSIX :: Linux", "Microsoft :: Windows", "MacOS"):
        assert f"Operating System :: {system}" in said
