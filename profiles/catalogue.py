"""Finding profiles by name or path, the user's folder first, and loading them."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Generic, Literal, TypeVar

from profiles.alternator import AlternatorProfile, profile_of_plate
from profiles.checking import checked, examine
from profiles.errors import Problem, ProfileError
from profiles.folders import CONFIG_VARIABLE as CONFIG_VARIABLE
from profiles.folders import KINDS as KINDS
from profiles.folders import SETTINGS_FILE, named
from profiles.folders import Kind as Kind
from profiles.folders import config_folder as config_folder
from profiles.folders import shipped_folder as shipped_folder
from profiles.folders import user_folder as user_folder
from profiles.likeness import Instrument, examine_instrument, with_likes
from profiles.method import Method
from profiles.plain_text import listed, near_names, shown, visible
from profiles.plate import EXAMPLES, looks_like_plate, parse_plate
from profiles.rig import Rig
from profiles.rule import Rule
from profiles.settings import Settings
from profiles.table import Table, Wrong
from profiles.toml_file import parse_toml, read_text

Origin = Literal["user", "shipped", "file", "plate"]
T = TypeVar("T", bound=Table)

_ONE = {
    "alternators": "rated curve",
    "rigs": "rig",
    "instruments": "instrument description",
    "methods": "method",
    "rules": "rule",
}
_A = dict.fromkeys(_ONE, "a") | {"instruments": "an"}
_GIVEN = {
    "alternators": "A rated curve is given with --rated.",
    "rigs": "A rig is given with --rig.",
    "instruments": 'A rig takes an instrument description in by like = "NAME".',
    "methods": "A method is given with --method.",
    "rules": "A rule is given with --rule.",
}
_MARKS: dict[Kind, set[str]] = {
    "alternators": {"alternator", "rated"},
    "rigs": {"channels", "rig", "limits", "simulated"},
    "methods": {"sweep", "settle", "warm_up", "test", "check"},
    "instruments": {"driver", "for"},
    "rules": {"accept"},
}
"""Tables that tell what kind of profile a file holds."""
_MODELS: dict[Kind, type[Table]] = {
    "alternators": AlternatorProfile,
    "rigs": Rig,
    "instruments": Instrument,
    "methods": Method,
    "rules": Rule,
}


@dataclass(frozen=True)
class Loaded(Generic[T]):
    """A profile, and where it came from."""

    profile: T
    path: Path | None
    """None for the text of a plate."""
    text: str
    """The file's text as read, or the plate's."""
    origin: Origin


@dataclass(frozen=True, slots=True)
class Entry:
    """A profile that can be named."""

    name: str
    path: Path
    origin: Literal["user", "shipped"]
    title: str
    """Empty where the file cannot be read."""


def entries(kind: Kind) -> list[Entry]:
    """All profiles of a kind that can be named; the user's own hide shipped ones of that name."""
    return [
        Entry(name, path, origin, _title(path))
        for name, (path, origin) in sorted(named(kind).items())
    ]


def _title(path: Path) -> str:
    try:
        return visible(str(parse_toml(read_text(path), str(path)).get("title", "")))
    except ProfileError:
        return ""


def find(kind: Kind, name_or_path: str | Path) -> Path:
    """Give the file that a name or a path means: the user's folder first, then the shipped ones.

    Raises:
        ProfileError: there is none; near names are in the message.
    """
    return _found(kind, name_or_path)[0]


def _found(kind: Kind, name_or_path: str | Path) -> tuple[Path, Origin]:
    text = str(name_or_path)
    known = named(kind)
    if text in known:
        return known[text]
    path = Path(text)
    if isinstance(name_or_path, Path) or path.suffix.lower() == ".toml" or _exists(path):
        return path, "file"
    raise ProfileError([_not_found(kind, text, list(known))])


def _exists(path: Path) -> bool:
    try:
        return path.exists()
    except (OSError, ValueError):
        return False


def _not_found(kind: Kind, text: str, names: list[str]) -> Problem:
    near = near_names(text, names)
    here = f"{text}.toml"
    if _exists(Path(here)):
        hint = (
            f"There is a {shown(here)} in this folder: write the name with .toml, or put the file"
            f" into {user_folder(kind)} (make that folder where it is missing)."
        )
    elif near:
        hint = f"Did you mean {listed(near)}?"
    else:
        hint = f"Known: {listed(sorted(names), joint='and')}; or give the path of a TOML file."
    message = f"there is no {_ONE[kind]} of this name, and no such file."
    return Problem(shown(text), "", message, hint)


def _read(kind: Kind, name_or_path: str | Path) -> tuple[Path, str, Origin, dict[str, Any]]:
    path, origin = _found(kind, name_or_path)
    text = read_text(path)
    data = parse_toml(text, str(path))
    _refuse_another_kind(kind, data, path)
    return path, text, origin, data


def _refuse_another_kind(kind: Kind, data: Mapping[str, Any], path: Path) -> None:
    """Say of a file of another kind just that: none of its keys could be right here."""
    a_method = kind == "rules" and "sweep" in data  # which may hold [accept] as well
    other = kind_of(data) if a_method or not _MARKS[kind] & set(data) else None
    if other in (None, kind):
        return
    message = f"this is {_A[other]} {_ONE[other]}, not {_A[kind]} {_ONE[kind]}."
    hint = f"Were the two swapped? {_GIVEN[other]}"
    raise ProfileError([Problem(visible(str(path)), "", message, hint)])


def _loaded(kind: Kind, model: type[T], name_or_path: str | Path) -> Loaded[T]:
    path, text, origin, data = _read(kind, name_or_path)
    return Loaded(checked(model, data, str(path)), path, text, origin)


def load_rated(text_or_name_or_path: str | Path) -> Loaded[AlternatorProfile]:
    """Load a rated curve by name or path, or from the text of a plate with its speeds.

    Raises:
        ProfileError: not found, or wrong; every problem at once.
    """
    text = str(text_or_name_or_path)
    if looks_like_plate(text) and text not in named("alternators") and not _exists(Path(text)):
        return _rated_from_plate(text)
    return _loaded("alternators", AlternatorProfile, text_or_name_or_path)


def _rated_from_plate(text: str) -> Loaded[AlternatorProfile]:
    plate = parse_plate(text)
    file = f"plate {shown(text)}"
    if plate.rated_rpm is None:
        speeds = "@1500/6000" if plate.idle_amps is not None else "@6000"
        message = "does not say at which speeds it gives this."
        hint = f"Add them after an @, such as {speeds}, as in {EXAMPLES}."
        raise ProfileError([Problem(file, "", message, hint)])
    try:
        data = profile_of_plate(text, plate)
    except Wrong as error:
        raise ProfileError([Problem(file, "", str(error), error.what_to_do)]) from error
    return Loaded(checked(AlternatorProfile, data, file), None, text, "plate")


def load_method(name_or_path: str | Path) -> Loaded[Method]:
    """Load a test method by name or path.

    Raises:
        ProfileError: not found, or wrong; every problem at once.
    """
    return _loaded("methods", Method, name_or_path)


def load_rule(name_or_path: str | Path) -> Loaded[Rule]:
    """Load an acceptance rule by name or path.

    Raises:
        ProfileError: not found, or wrong; every problem at once.
    """
    return _loaded("rules", Rule, name_or_path)


def load_instrument(name_or_path: str | Path) -> Loaded[Instrument]:
    """Load an instrument description by name or path.

    Raises:
        ProfileError: not found, or wrong; every problem at once.
    """
    path, text, origin, data = _read("instruments", name_or_path)
    found, problems = examine_instrument(data, str(path))
    if found is None:
        raise ProfileError(problems)
    return Loaded(found, path, text, origin)


def load_rig(name_or_path: str | Path) -> Loaded[Rig]:
    """Load a rig by name or path, with the instrument descriptions it refers to.

    Raises:
        ProfileError: not found, or wrong; every problem at once.
    """
    path, text, origin, data = _read("rigs", name_or_path)
    return Loaded(rig_from(data, str(path)), path, text, origin)


def rig_from(data: Mapping[str, Any], file: str) -> Rig:
    """Turn the values of a rig file into a Rig, with what its `like` keys refer to.

    Raises:
        ProfileError: every problem at once.
    """
    likeness = with_likes(data, file, _described)
    found, problems = examine(Rig, likeness.data, file)
    own = [problem for problem in problems if not likeness.tells_again(problem)]
    problems = [*likeness.problems, *map(likeness.blamed, own)]
    if found is None or problems:
        raise ProfileError(list(dict.fromkeys(problems)))
    return found


def _described(name: str) -> tuple[str, dict[str, Any]]:
    path, _, _, data = _read("instruments", name)
    return str(path), data


def load_settings() -> Settings:
    """Load the user's settings; without a file, the defaults.

    Raises:
        ProfileError: the file is wrong; every problem at once.
    """
    path = config_folder() / SETTINGS_FILE
    if not path.exists():
        return Settings()
    return checked(Settings, parse_toml(read_text(path), str(path)), str(path))


def kind_of(data: Mapping[str, Any]) -> Kind | None:
    """Tell what kind of profile a file holds by its tables; None where it could be anything."""
    return next((kind for kind, keys in _MARKS.items() if keys & set(data)), None)


def check_file(path: str | Path) -> tuple[Kind, Loaded[Any]]:
    """Load a file whose kind is told by its content, as `profiles check FILE` does.

    Raises:
        ProfileError: it is none of ours, or wrong; every problem at once.
    """
    path = Path(path)
    kind = kind_of(parse_toml(read_text(path), str(path)))
    if kind is None:
        message = "is no rated curve, rig, instrument description, method or rule."
        hint = "It needs [alternator] and [rated], [channels], driver, [sweep], or [accept]."
        raise ProfileError([Problem(visible(str(path)), "", message, hint)])
    return kind, load(kind, path)


def load(kind: Kind, name_or_path: str | Path) -> Loaded[Any]:
    """Load a profile of any kind.

    Raises:
        ProfileError: not found, or wrong; every problem at once.
    """
    loaders: dict[Kind, Callable[[str | Path], Loaded[Any]]] = {
        "alternators": load_rated,
        "rigs": load_rig,
        "instruments": load_instrument,
        "methods": load_method,
        "rules": load_rule,
    }
    return loaders[kind](name_or_path)


def snapshot(profile: Table) -> dict[str, Any]:
    """Write a profile as plain JSON values, for a run's record; keys as in the TOML file."""
    return profile.model_dump(mode="json", by_alias=True, exclude_none=True)


def from_snapshot(kind: Kind, values: Mapping[str, Any], file: str = "snapshot") -> Table:
    """Turn a snapshot back into the same profile.

    Raises:
        ProfileError: the values are not a snapshot of this kind.
    """
    from pydantic import ValidationError

    try:
        return _MODELS[kind].model_validate_json(json.dumps(values))
    except (ValidationError, TypeError, ValueError) as error:
        message = f"holds no {_ONE[kind]} that this program can read."
        raise ProfileError(
            [Problem(visible(file), kind, message, "Is it of a newer version? Take that one.")]
        ) from error
