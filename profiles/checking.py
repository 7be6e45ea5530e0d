"""Turning the values of a TOML file into a profile: every problem at once, in plain sentences.

Checks across keys run even when single keys are wrong: the wrong ones are set aside, and what
rests on them is not reported a second time.
"""

from __future__ import annotations

import copy
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from profiles.errors import Problem, ProfileError
from profiles.plain_text import listed, nearest, shown, visible
from profiles.table import SCHEMA, Table
from profiles.wording import missing, sentence, unknown_key

T = TypeVar("T", bound=Table)
Step = str | int
Place = tuple[Step, ...]

MOST_PROBLEMS = 100
"""A file with more is not one of ours; the first hundred will do."""
LONGEST_KEY = 80
"""Characters of one key that are repeated; none of ours is half as long."""
MOST_ROUNDS = 12
"""Setting wrong keys aside may uncover others; each round removes at least one."""


def checked(model: type[T], data: Mapping[str, Any], file: str) -> T:
    """Turn the values of a file into a profile.

    Raises:
        ProfileError: with every problem found, each with its dotted key.
    """
    found, problems = examine(model, data, file)
    if problems or found is None:
        raise ProfileError(problems)
    return found


def examine(model: type[T], data: Mapping[str, Any], file: str) -> tuple[T | None, list[Problem]]:
    """As `checked`, but give the problems; the profile is only whole when there are none."""
    if (newer := _newer_schema(data, visible(file))) is not None:
        return None, [newer]
    inspection = _Inspection(visible(file), copy.deepcopy(dict(data)))
    found = inspection.rounds(model)
    if found is not None:
        inspection.across_keys(found)
    return found, inspection.problems


def _newer_schema(data: Mapping[str, Any], file: str) -> Problem | None:
    """A file for a newer program is one problem, whatever else is strange in it."""
    schema = data.get("schema")
    if isinstance(schema, bool) or not isinstance(schema, int) or schema <= SCHEMA:
        return None
    return Problem(
        file,
        "schema",
        f"is {shown(schema)}, and this program reads schemas up to {SCHEMA}.",
        "Use a newer steadyamps for this file.",
    )


def dotted(place: Sequence[Step]) -> str:
    """Write the place of a key as people do: `check[2].low`, entries counted from 1."""
    text = ""
    for step in place:
        if isinstance(step, int):
            text += f"[{step + 1}]"
        else:
            text += ("." if text else "") + visible(step[:LONGEST_KEY])
    return text


@dataclass
class _Inspection:
    """One file under examination: what is left of its values, and what was found."""

    file: str
    data: dict[str, Any]
    problems: list[Problem] = field(default_factory=list)
    blemished: list[str] = field(default_factory=list)
    """Keys with a problem, or set aside."""

    def rounds(self, model: type[T]) -> T | None:
        """Validate, set wrong keys aside, and validate again until the rest is whole."""
        for _ in range(MOST_ROUNDS):
            try:
                return model.model_validate(self.data)
            except ValidationError as error:
                errors = error.errors(include_url=False)
                if not self._take(model, errors):
                    return None
        return None

    def _take(self, model: type[T], errors: list[ErrorDetails]) -> bool:
        """Report the errors and set their keys aside; tell whether anything was set aside."""
        located = [(error, *_place(error["loc"], self.data)) for error in errors[:MOST_PROBLEMS]]
        located.sort(key=lambda item: item[0]["type"] == "missing")  # misspelt keys come first
        for error, place, key_itself in located:
            follows = error["type"] == "missing" and self._is_blemished(dotted(place))
            if not follows:
                self._report(model, error, place, key_itself=key_itself)
        changed = False
        for error, place, _ in located:
            if error["type"] == "missing":
                changed |= self._without_missing(model, place)
            elif error["type"] == "union_tag_invalid" and self._as_if_meant(error, place):
                changed = True
            else:
                changed |= self._set_aside(place)
        return changed and len(errors) <= MOST_PROBLEMS

    def _report(
        self, model: type[T], error: ErrorDetails, place: Place, *, key_itself: bool
    ) -> None:
        kind = error["type"]
        key = dotted(place)
        if kind == "extra_forbidden" or key_itself:
            message, hint, near = unknown_key(str(place[-1]), self._known(model, place[:-1]))
            if near and not self._present((*place[:-1], near)):
                self.blemished.append(dotted((*place[:-1], near)))
        elif kind == "missing":
            message, hint = missing(_field_at(model, place, self.data))
        elif kind in {"union_tag_not_found", "union_tag_invalid"}:
            message, hint, key = self._driver(error, place)
        else:
            message, hint = sentence(error)
        self._add(key, message, hint)

    def _present(self, place: Place) -> bool:
        return _leads_on(_value_at(self.data, place[:-1]), place[-1])

    def _add(self, key: str, message: str, what_to_do: str) -> None:
        problem = Problem(self.file, key, message, what_to_do)
        if problem not in self.problems:
            self.problems.append(problem)
        self.blemished.append(key)

    def _driver(self, error: ErrorDetails, place: Place) -> tuple[str, str, str]:
        """Say which drivers there are, for a table whose `driver` is missing or unknown."""
        key = dotted((*place, "driver"))
        if error["type"] == "union_tag_not_found":
            return "is missing.", 'Add it, such as driver = "scpi".', key
        known = _tags(error)
        given = error["input"].get("driver") if isinstance(error["input"], dict) else None
        near = nearest(given, known) if isinstance(given, str) else None
        hint = f'Did you mean "{near}"?' if near else ""
        choices = listed(f'"{tag}"' for tag in known)
        return f"must be {choices}; it is {shown(given)}.", hint, key

    def _as_if_meant(self, error: ErrorDetails, place: Place) -> bool:
        """Go on as if the nearest driver stood there, so that the table's other keys are read."""
        table = _value_at(self.data, place)
        given = table.get("driver") if isinstance(table, dict) else None
        near = nearest(given, _tags(error)) if isinstance(given, str) else None
        if near is None or not isinstance(table, dict):
            return False
        table["driver"] = near
        return True

    def _known(self, model: type[T], place: Place) -> list[str]:
        """The keys known in the table at `place`."""
        table, keys = _model_at(model, place, self.data)
        if keys is not None:
            return list(keys)
        return [] if table is None else _keys_of(table)

    def _set_aside(self, place: Place) -> bool:
        """Remove the key at `place`; an entry of a list takes the whole list with it."""
        while place and isinstance(place[-1], int):
            place = place[:-1]
        if not place:
            return False
        parent = _value_at(self.data, place[:-1])
        if not isinstance(parent, dict) or place[-1] not in parent:
            return False
        del parent[place[-1]]
        self.blemished.append(dotted(place))
        return True

    def _without_missing(self, model: type[T], place: Place) -> bool:
        """Put a stand-in where a required key is missing, or set its whole table aside."""
        table, _ = _model_at(model, place[:-1], self.data)
        stand_ins = {} if table is None else table.STAND_INS
        if place[-1] in stand_ins:
            parent = _value_at(self.data, place[:-1])
            if isinstance(parent, dict):
                parent[str(place[-1])] = stand_ins[str(place[-1])]
                return True
        return self._set_aside(place[:-1])

    def _is_blemished(self, key: str) -> bool:
        return any(key == bad or key.startswith((bad + ".", bad + "[")) for bad in self.blemished)

    def across_keys(self, whole: Table) -> None:
        """Report what is wrong between keys, unless it rests on a key that is wrong itself."""
        for place, table in _tables(whole, ()):
            for fault in table.faults():
                prefix = dotted(place)
                keys = [_joined(prefix, key) for key in (fault.key, *fault.concerns)]
                if not any(self._is_blemished(key) for key in keys):
                    problem = Problem(self.file, keys[0], fault.message, fault.what_to_do)
                    if problem not in self.problems:
                        self.problems.append(problem)


def _tags(error: ErrorDetails) -> list[str]:
    """The drivers that there are."""
    expected = str(error.get("ctx", {}).get("expected_tags", ""))
    return [tag.strip("' ") for tag in expected.split(",")]


def _joined(prefix: str, key: str) -> str:
    return f"{prefix}.{key}" if prefix and key else prefix or key


def _tables(value: object, place: Place) -> Iterator[tuple[Place, Table]]:
    """Give every table inside a profile with its place."""
    if isinstance(value, Table):
        yield place, value
        for name, info in type(value).model_fields.items():
            yield from _tables(getattr(value, name), (*place, info.alias or name))
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield from _tables(inner, (*place, str(key)))
    elif isinstance(value, tuple):
        for number, inner in enumerate(value):
            yield from _tables(inner, (*place, number))


def _place(location: Sequence[Step], data: object) -> tuple[Place, bool]:
    """Turn pydantic's location into the file's: without the names of union members.

    The second value tells that the key itself is wrong, not its value.
    """
    place: list[Step] = []
    here = data
    for number, step in enumerate(location):
        if step == "[key]":
            return tuple(place), True
        if isinstance(here, dict) and step not in here and here.get("driver") == step:
            continue
        if not _leads_on(here, step) and number < len(location) - 1:
            continue
        place.append(step)
        here = _value_at(here, (step,))
    return tuple(place), False


def _leads_on(here: object, step: Step) -> bool:
    if isinstance(here, dict):
        return step in here
    return isinstance(here, list | tuple) and isinstance(step, int) and 0 <= step < len(here)


def _value_at(data: object, place: Sequence[Step]) -> object:
    for step in place:
        if not _leads_on(data, step):
            return None
        data = data[step]  # type: ignore[index]
    return data


def _keys_of(table: type[BaseModel]) -> list[str]:
    return [info.alias or name for name, info in table.model_fields.items()]


def _model_at(
    model: type[BaseModel], place: Place, data: object
) -> tuple[type[Table] | None, tuple[str, ...] | None]:
    """The table that stands at `place`, or the keys a free table may have."""
    table: type[BaseModel] | None = model
    keys: tuple[str, ...] | None = None
    here = data
    for step in place:
        here = _value_at(here, (step,))
        if table is not None and isinstance(step, str):
            info = _info(table, step)
            table, keys = _inside(info.annotation if info else None, here)
        elif keys is not None:
            table, keys = _inside(_DICT_VALUES.get(keys), here)
    return (table if table is not None and issubclass(table, Table) else None), keys


_DICT_VALUES: dict[tuple[str, ...], Any] = {}


def _inside(
    annotation: object, here: object
) -> tuple[type[BaseModel] | None, tuple[str, ...] | None]:
    """Find the table, or the known keys, in what a key may hold."""
    options = list(_flattened(annotation))
    for option in options:
        if isinstance(option, tuple):
            keys, values = option
            _DICT_VALUES[keys] = values
            return None, keys
    models: list[type[BaseModel]] = [option for option in options if isinstance(option, type)]
    driver = here.get("driver") if isinstance(here, dict) else None
    for candidate in models:
        info = candidate.model_fields.get("driver")
        if info is not None and driver in get_args(info.annotation):
            return candidate, None
    return (models[0], None) if models else (None, None)


def _flattened(annotation: object) -> Iterator[Any]:
    """Give the tables in an annotation, and (keys, values) for a dict with known keys."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
        return
    arguments = get_args(annotation)
    if getattr(annotation, "__origin__", None) is dict:
        keys = get_args(arguments[0])
        if keys:
            yield keys, arguments[1]
        return
    for argument in arguments:
        yield from _flattened(argument)


def _info(table: type[BaseModel], key: str) -> FieldInfo | None:
    for name, info in table.model_fields.items():
        if key == (info.alias or name):
            return info
    return None


def _field_at(model: type[BaseModel], place: Place, data: object) -> FieldInfo | None:
    table, _ = _model_at(model, place[:-1], data)
    return None if table is None else _info(table, str(place[-1]))
