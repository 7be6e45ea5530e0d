"""Every test can fail: it claims something."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

TESTS = Path(__file__).parents[1]
Test = ast.FunctionDef | ast.AsyncFunctionDef


def functions_named_test(tree: ast.AST) -> Iterator[Test]:
    """The test functions of a module, those of its classes too."""
    for node in ast.walk(tree):
        if isinstance(node, Test) and node.name.startswith("test_"):
            yield node


def claims(test: Test) -> bool:
    """True where a test asserts something that is not always true, or expects an error."""
    return any(_is_claim(node) for node in ast.walk(test))


def _is_claim(node: ast.AST) -> bool:
    if isinstance(node, ast.Assert):
        return not isinstance(node.test, ast.Constant | ast.Tuple | ast.JoinedStr | ast.Lambda)
    if not isinstance(node, ast.Call):
        return False
    name = ast.unparse(node.func)
    return name in ("pytest.raises", "pytest.warns") or name.split(".")[-1].startswith("assert_")


def silent_tests(source: str) -> list[str]:
    """Names of the tests in `source` that claim nothing."""
    return [test.name for test in functions_named_test(ast.parse(source)) if not claims(test)]


def test_every_test_claims_something() -> None:
    modules = sorted(TESTS.rglob("test_*.py"))
    assert len(modules) > 150
    silent = {
        path.relative_to(TESTS).as_posix(): found
        for path in modules
        if (found := silent_tests(path.read_text(encoding="utf-8")))
    }
    assert silent == {}


@pytest.mark.parametrize(
    "body",
    ["run(1)", "assert True", "assert (a, 'words')", "assert 'words'", "x = 1 == 2", "check(1)"],
)
def test_a_test_that_claims_nothing_is_found(body: str) -> None:
    assert silent_tests(f"def test_it():\n    {body}\n") == ["test_it"]
    assert silent_tests(f"class TestIt:\n    async def test_it(self):\n        {body}\n")


@pytest.mark.parametrize(
    "body",
    [
        "assert a == b",
        "with pytest.raises(ValueError):\n        run()",
        "numpy.assert_allclose(a, b)",
    ],
)
def test_a_test_that_claims_something_is_let_be(body: str) -> None:
    assert silent_tests(f"def test_it():\n    {body}\n") == []
