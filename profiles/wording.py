"""What pydantic found, said in plain sentences: what is wrong with the value, and what to do."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from profiles.plain_text import listed, nearest, shown
from profiles.table import Wrong

_MUST_BE = {
    "float_type": "a number",
    "float_parsing": "a number",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "int_parsing": "a whole number",
    "int_parsing_size": "a whole number of ordinary size",
    "bool_type": "true or false",
    "bool_parsing": "true or false",
    "string_type": 'text in quotation marks, such as "text"',
    "tuple_type": "a list in square brackets",
    "list_type": "a list in square brackets",
    "dict_type": "a table",
    "mapping_type": "a table",
    "model_type": "a table",
    "model_attributes_type": "a table",
    "date_type": "a date without quotation marks, such as 2026-03-02",
    "date_from_datetime_parsing": "a date without a time, such as 2026-03-02",
    "date_from_datetime_inexact": "a date without a time, such as 2026-03-02",
    "finite_number": "an ordinary number, not nan or inf",
}
_BOUNDS = {
    "greater_than": ("more than", "gt"),
    "greater_than_equal": ("at least", "ge"),
    "less_than": ("less than", "lt"),
    "less_than_equal": ("at most", "le"),
}


def sentence(error: ErrorDetails) -> tuple[str, str]:
    """Give (message, what to do) for one error of pydantic's; none of its words are kept."""
    kind = error["type"]
    context: Mapping[str, Any] = error.get("ctx", {})
    value = error["input"]
    if kind == "value_error":
        return _our_own(context["error"])
    if kind in _MUST_BE:
        return f"must be {_MUST_BE[kind]}; it is {shown(value)}.", ""
    if kind in _BOUNDS:
        words, key = _BOUNDS[kind]
        return f"must be {words} {context[key]:g}; it is {shown(value)}.", ""
    if kind == "literal_error":
        return _choice(value, _quoted_words(context["expected"]))
    return _length_or_other(kind, context, value)


def _our_own(error: object) -> tuple[str, str]:
    if isinstance(error, Wrong):
        return str(error), error.what_to_do
    return f"{error}", ""


def _choice(value: object, allowed: list[str]) -> tuple[str, str]:
    choices = listed(f'"{word}"' if not word.isdigit() else word for word in allowed)
    near = nearest(value, allowed) if isinstance(value, str) else None
    hint = f'Did you mean "{near}"?' if near else ""
    if near and near.isdigit():
        hint = f"Did you mean {near}, without quotation marks?"
    return f"must be {choices}; it is {shown(value)}.", hint


def _quoted_words(expected: str) -> list[str]:
    """Take the words out of `'up' or 'up-down'` (or `12, 24 or 48`)."""
    parts = expected.replace(" or ", ", ").split(", ")
    return [part.strip("'\"") for part in parts]


def _length_or_other(kind: str, context: Mapping[str, Any], value: object) -> tuple[str, str]:
    if kind == "string_too_short":
        return "must not be empty.", ""
    if kind == "string_too_long":
        return f"must be at most {context['max_length']} characters long.", ""
    if kind == "too_short":
        return f"must have at least {context['min_length']} entries.", ""
    if kind == "too_long":
        return f"must have at most {context['max_length']} entries.", ""
    if kind == "missing":
        return "must have more entries.", ""
    return f"cannot be used here; it is {shown(value)}.", ""


def missing(field: FieldInfo | None) -> tuple[str, str]:
    """Say that a key is missing, and what it is for."""
    wanted = field.description if field is not None else None
    return "is missing.", f"Add it: {wanted}." if wanted else "Add it."


def unknown_key(key: str, known: Iterable[str]) -> tuple[str, str, str | None]:
    """Say that a key is not known here; the third value is the nearest key, if any."""
    known = sorted(known)
    near = nearest(key, known)
    if near:
        return "is not a key known here.", f'Did you mean "{near}"?', near
    return "is not a key known here.", f"Known here: {listed(known, joint='and')}.", None
