"""An error that an operator may read says what to do about it."""

from __future__ import annotations

import ast
from collections.abc import Iterator

from tests.house.imports import modules

TOLD = frozenset(
    {"CannotOpen", "LinkLost", "NoAnswer", "CommandRefused", "RunFileError", "OrderError",
     "PlanError", "ShelfError", "IndexBroken", "ServerAway"}
)  # fmt: skip
"""Errors with no usual remedy. What a `BadAnswer` says stands as a note beside its reading."""

ALLOWED = {
    "acquire.cli.plain_run": "the operator said no: that was the answer",
    "acquire.cli.questions": "the answers have ended: nobody is there to read it",
    "acquire.screens.shelf_asking": "the page was left: nobody is there to read it",
    "acquire.shelf.shelf": "it hands on whole sentences that were written where the trouble was",
    "drivers.port": "a command that was not sent in time; why is told by the port's own trouble",
}
"""Module -> why an error made there says nothing more."""


def silent_in(source: str) -> Iterator[str]:
    """Errors made in `source` without `what_to_do`."""
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call):
            continue
        name = ast.unparse(node.func).split(".")[-1]
        if name in TOLD and not any(word.arg == "what_to_do" for word in node.keywords):
            yield ast.unparse(node)


def test_errors_say_what_to_do() -> None:
    silent = {name: found for name, text in modules().items() if (found := list(silent_in(text)))}
    assert {name: found for name, found in silent.items() if name not in ALLOWED} == {}
    assert silent.keys() == ALLOWED.keys(), "take off the list what says what to do by now"


def test_an_error_that_says_nothing_to_do_is_found() -> None:
    assert list(silent_in("raise errors.CannotOpen(name, 'busy.')"))
    assert not list(silent_in("raise CannotOpen(name, 'busy.', what_to_do='Close it.')"))
