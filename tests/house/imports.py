"""Which module of the program imports which, and how: read from the source, nothing is run."""

from __future__ import annotations

import ast
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Literal

ROOT = Path(__file__).parents[2]
PACKAGES = ("profiles", "drivers", "acquire")
How = Literal["at the top", "for types", "in a function"]


@dataclass(frozen=True, slots=True)
class Import:
    """One module needs another."""

    by: str
    of: str
    how: How


@cache
def modules() -> dict[str, str]:
    """Dotted name of every module of the program -> its source."""
    found = {}
    for package in PACKAGES:
        for path in (ROOT / package).rglob("*.py"):
            parts = path.relative_to(ROOT).with_suffix("").parts
            name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
            found[name] = path.read_text(encoding="utf-8")
    return found


def imports(sources: Mapping[str, str]) -> set[Import]:
    """All imports among these modules."""
    return {
        Import(by, of, how)
        for by, source in sources.items()
        for of, how in _walk(ast.parse(source), "at the top", sources)
        if of != by
    }


def _walk(node: ast.AST, how: How, known: Mapping[str, str]) -> Iterator[tuple[str, How]]:
    for child in ast.iter_child_nodes(node):
        inside = how
        if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef):
            inside = "in a function"
        elif isinstance(child, ast.If) and "TYPE_CHECKING" in ast.unparse(child.test):
            inside = "for types"
        for name in _named(child):
            if name in known:
                yield name, inside
        yield from _walk(child, inside, known)


def _named(node: ast.AST) -> Iterator[str]:
    if isinstance(node, ast.Import):
        yield from (alias.name for alias in node.names)
    if isinstance(node, ast.ImportFrom) and node.module:
        yield node.module
        yield from (f"{node.module}.{alias.name}" for alias in node.names)


def rings(arrows: Iterable[Import]) -> list[list[str]]:
    """Modules that need each other, each ring sorted: what is left when none can be taken off.

    Modules that need nothing more, and those nobody needs, are taken off until none is left over.
    """
    left = {(one.by, one.of) for one in arrows}
    while True:
        needing, needed = {by for by, _ in left}, {of for _, of in left}
        kept = {(by, of) for by, of in left if of in needing and by in needed}
        if kept == left:
            break
        left = kept
    return _parted(left)


def _parted(arrows: set[tuple[str, str]]) -> list[list[str]]:
    """The modules of these arrows, parted into groups that hang together."""
    groups: list[set[str]] = []
    for by, of in arrows:
        touched = [group for group in groups if by in group or of in group]
        groups = [group for group in groups if group not in touched]
        groups.append({by, of}.union(*touched))
    return sorted(sorted(group) for group in groups)
