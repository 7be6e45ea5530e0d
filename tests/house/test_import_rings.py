"""No two modules need each other: each can be read, and tested, without knowing who uses it."""

from __future__ import annotations

from functools import cache

from tests.house.imports import Import, imports, modules, rings

ALLOWED = {
    ("acquire.screens.page", "for types"): (
        "The app opens pages and a page asks its app: it names it for the type checker only."
    ),
}
"""(module, how it imports) -> why what it imports so may need it in turn."""


@cache
def all_imports() -> frozenset[Import]:
    return frozenset(imports(modules()))


def without(allowed: set[tuple[str, str]]) -> list[list[str]]:
    return rings(one for one in all_imports() if (one.by, one.how) not in allowed)


def test_the_imports_of_the_program_are_seen() -> None:
    seen = all_imports()
    assert len(modules()) > 300
    assert Import("acquire.stop_path", "profiles.errors", "at the top") in seen
    assert Import("acquire.screens.page", "acquire.screens.app", "for types") in seen
    assert Import("drivers.port_address", "drivers.visa", "in a function") in seen


def test_no_modules_need_each_other() -> None:
    assert without(set(ALLOWED)) == []


def test_what_is_allowed_is_still_needed() -> None:
    for one in ALLOWED:
        assert without(set(ALLOWED) - {one}), f"{one} is no ring any more: take it off the list"


def test_rings_are_found_through_any_number_of_modules_and_any_kind_of_import() -> None:
    sources = {
        "a": "from b import x",
        "b": "def f():\n    import c",
        "c": "if TYPE_CHECKING:\n    from a import y",
        "d": "import a\nimport e",
        "e": "",
        "p": "import q",
        "q": "from p import z",
    }
    assert rings(imports(sources)) == [["a", "b", "c"], ["p", "q"]]
    assert rings(imports({**sources, "c": "", "q": ""})) == []
