"""`like = "NAME"`: an instrument description pulled into a rig; the rig's own keys win."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Annotated, Any, Literal, get_args

from pydantic import BaseModel, Field

from profiles import drive, instrument
from profiles.channels import CHANNEL_NAMES, ChannelName
from profiles.checking import examine
from profiles.errors import Problem, ProfileError
from profiles.plain_text import listed, shown, visible
from profiles.table import Listed, ProfileFile, Table, Words

Part = Literal["drive", "load", "field"]
Place = Literal[ChannelName, Part]
PARTS: tuple[str, ...] = get_args(Part)
HEAD = ("schema", "title", "for", "note", "source")
"""Keys about the description itself, which do not go into the rig."""

Find = Callable[[str], tuple[str, Mapping[str, Any]]]
"""Gives (file, values) of an instrument description by its name."""


class Instrument(ProfileFile):
    """A file of the folder `instruments`: the keys of a channel, drive, load or field, and a head.

    Its `port` is usually left to the rig.
    """

    for_: Annotated[tuple[Place, ...], Listed, Field(min_length=1)] = Field(
        alias="for", description='what it serves for, such as for = ["amps"] or for = ["drive"]'
    )
    note: Words | None = None
    source: Words | None = None
    keys: dict[str, Any] = Field(default_factory=dict, exclude=True)
    """The keys of the channel, drive, load or field as they stand in the file."""


class _Head(Instrument):
    """The head of a description alone."""


def models_by_driver(place: str) -> dict[str, type[Table]]:
    """The tables that may stand at a channel or at `drive`, `load` or `field`, by driver."""
    union = {"drive": drive.Drive, "load": drive.AnyLoad, "field": drive.AnyField}.get(
        place, instrument.AnyChannel
    )
    found: dict[str, type[Table]] = {}
    for model in _members(union):
        for name in get_args(model.model_fields["driver"].annotation):
            found[name] = model
    return found


def _members(annotation: object) -> list[type[Table]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation] if issubclass(annotation, Table) else []
    return [model for inner in get_args(annotation) for model in _members(inner)]


def examine_instrument(
    data: Mapping[str, Any], file: str
) -> tuple[Instrument | None, list[Problem]]:
    """Check a description by itself: its head, and its keys as the rig would use them."""
    head = {key: value for key, value in data.items() if key in HEAD}
    keys = {key: value for key, value in data.items() if key not in HEAD}
    found, problems = examine(_Head, head, file)
    if any(problem.key == "schema" for problem in problems):
        return None, problems
    places = found.for_ if found is not None else ()
    for place in places or _guessed(keys):
        problems += _key_problems(place, keys, file)
    if found is None or problems:
        return None, list(dict.fromkeys(problems))
    return found.model_copy(update={"keys": keys}), []


def _guessed(keys: Mapping[str, Any]) -> tuple[str, ...]:
    return ("drive",) if "run" in keys else ("amps",)


def _key_problems(place: str, keys: Mapping[str, Any], file: str) -> list[Problem]:
    """Problems of the keys when they stand at `place`; where it is connected is left open."""
    known = models_by_driver(place)
    driver = keys.get("driver")
    if not isinstance(driver, str) or driver not in known:
        choices = listed(f'"{name}"' for name in known)
        said = "is missing" if driver is None else f"is {shown(driver)}"
        return [Problem(visible(file), "driver", f"{said}.", f"For {place} it is {choices}.")]
    wired = "port" in known[driver].model_fields
    connected = {"port", "resource"} & set(keys) or not wired
    whole = dict(keys) if connected else {**keys, "port": "tcp://127.0.0.1:1"}
    found, problems = examine(known[driver], whole, file)
    if isinstance(found, instrument.Channel) and place in CHANNEL_NAMES:
        for fault in found.unit_faults(place):
            problems.append(Problem(visible(file), fault.key, fault.message, fault.what_to_do))
    return problems


@dataclass
class Likeness:
    """The values of a rig with all descriptions pulled in, and where each key came from."""

    data: dict[str, Any]
    problems: list[Problem]
    homes: dict[str, str]
    """Dotted key -> the description it came from."""
    unresolved: list[str] = field(default_factory=list)
    """Tables whose description could not be had; what they lack is not reported again."""

    def tells_again(self, problem: Problem) -> bool:
        """Tell whether a problem only follows from a description that could not be had."""
        return any(problem.key.startswith(f"{key}.") for key in self.unresolved)

    def blamed(self, problem: Problem) -> Problem:
        """Name the description instead of the rig where the wrong key stands in it."""
        for key, file in self.homes.items():
            if problem.key == key or problem.key.startswith((key + ".", key + "[")):
                table = key.rpartition(".")[0]
                return replace(problem, file=visible(file), key=problem.key[len(table) + 1 :])
        return problem


def with_likes(data: Mapping[str, Any], file: str, find: Find) -> Likeness:
    """Pull every `like` of a rig in. Only one level: a description has no `like` of its own."""
    result = Likeness(dict(data), [], {})
    channels = data.get("channels")
    if isinstance(channels, dict):
        result.data["channels"] = {
            name: _merged(f"channels.{name}", name, table, file, find, result)
            for name, table in channels.items()
        }
    for part in PARTS:
        if part in data:
            result.data[part] = _merged(part, part, data[part], file, find, result)
    return result


def _merged(key: str, place: str, table: object, file: str, find: Find, result: Likeness) -> object:
    if not isinstance(table, dict) or not isinstance(table.get("like"), str):
        return table
    if not table["like"].strip():
        hint = "Name an instrument description, or leave like out."
        result.problems.append(Problem(visible(file), f"{key}.like", "is empty.", hint))
        result.unresolved.append(key)
        return table
    try:
        home, values = find(table["like"])
    except ProfileError as error:
        result.unresolved.append(key)
        result.problems += [
            Problem(visible(file), f"{key}.like", said.message, said.what_to_do)
            if said.file == shown(table["like"])
            else said
            for said in error.problems
        ]
        return table
    misfits = _misfits(key, place, table, file, values)
    if misfits:
        result.problems += misfits
        result.unresolved.append(key)
        return table
    pulled = {name: value for name, value in values.items() if name not in HEAD}
    for name in pulled:
        if name not in table:
            result.homes[f"{key}.{name}"] = home
    return {**pulled, **table}


def _misfits(
    key: str, place: str, table: Mapping[str, Any], file: str, values: Mapping[str, Any]
) -> list[Problem]:
    """A description must serve for this place, and by the driver the rig names, if it does."""
    found: list[Problem] = []
    serves = values.get("for")
    if isinstance(serves, list) and place not in serves:
        message = f"{shown(table['like'])} serves for {listed(map(str, serves))}, not for {place}."
        found.append(Problem(visible(file), f"{key}.like", message, "Take another one."))
    own, its = table.get("driver"), values.get("driver")
    if own is not None and own != its:
        message = f"is {shown(own)}, and {shown(table['like'])} is {shown(its)}."
        hint = "Leave driver out beside like."
        found.append(Problem(visible(file), f"{key}.driver", message, hint))
    return found
