"""A number given as an option: read as a typed reading is."""

from __future__ import annotations

import typer

from acquire.typed_number import typed_number


def number(text: str | float) -> float:
    """The number; for `typer.Option(parser=number)`, which hands over defaults too.

    Raises:
        typer.BadParameter: If it is none, with what to write instead of a decimal comma.
    """
    if isinstance(text, float):
        return text
    value = typed_number(text.strip())
    if isinstance(value, str):
        raise typer.BadParameter(value)
    return value
