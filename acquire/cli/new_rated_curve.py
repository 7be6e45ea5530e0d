"""`steadyamps profiles new`: a rated curve asked for, or taken from where it stands, as a file."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from acquire.cli.questions import ask, ask_choice, ask_number
from acquire.errors import OrderError
from acquire.typed_number import typed_number
from acquire.typed_path import typed_path
from profiles.alternator import PLAUSIBLE_VOLTS, AlternatorProfile, profile_of_plate
from profiles.catalogue import Entry, Loaded, entries, load_rated, user_folder
from profiles.errors import BenchError
from profiles.file_name import file_name
from profiles.plain_text import listed, shown, visible
from profiles.plate import EXAMPLES, parse_plate
from profiles.table import Wrong

if TYPE_CHECKING:
    from profiles.alternator import RatedCurve

T = TypeVar("T")
Values = dict[str, Any]
STATES = ("warm", "cold")
_POINTS_LIKE = 'Write them as in "1500:40, 3000:78, 6000:105": shaft rpm, colon, amps.'
_WAYS = ("--points", "--plate", "--csv", "--from-run")


@dataclass(frozen=True, slots=True)
class CurveOrder:
    """What the command line says; what it does not say is None."""

    name: str | None = None
    volts: float | None = None
    state: str | None = None
    points: str | None = None
    plate: str | None = None
    csv: str | None = None
    from_run: str | None = None
    source: str | None = None
    to: str | None = None
    replace: bool = False


@dataclass(frozen=True, slots=True)
class NewCurve:
    """The file written, read back, and what the user should know of it."""

    loaded: Loaded[AlternatorProfile]
    told: tuple[str, ...]

    @property
    def path(self) -> Path:
        """Where it is."""
        assert self.loaded.path is not None  # noqa: S101 (read back from its file)
        return self.loaded.path

    def as_json(self) -> Values:
        """The document of the command."""
        curve = self.loaded.profile.rated_curve()
        return {
            "profile": str(self.path),
            "name": self.path.stem,
            "title": curve.title,
            "volts": curve.volts,
            "state": curve.state,
            "points": [list(point) for point in curve.points],
            "derived": curve.derived,
            "source": curve.source,
            "told": list(self.told),
        }


def new_rated_curve(order: CurveOrder) -> NewCurve:
    """Make the file of a rated curve and read it back.

    Raises:
        OrderError: If something is missing that nobody can be asked for, does not go together, or
            the file is there already.
        ProfileError: If the curve cannot be one; nothing is written then.
        RunFileError: If the run cannot serve, or the disk refuses.
    """
    _one_way(order)
    values, told = content_of(order)
    path = _place(order, str(values["title"]))
    _must_not_be_there(path, replace=order.replace)
    text = _checked_text(values, path)
    _write(path, text)
    return NewCurve(load_rated(path), (*told, *_hidden(path)))


def _one_way(order: CurveOrder) -> None:
    given = (order.points, order.plate, order.csv, order.from_run)
    ways = [way for way, value in zip(_WAYS, given, strict=True) if value is not None]
    if len(ways) > 1:
        raise OrderError(f"{' and '.join(ways)} do not go together.", what_to_do="Give one.")
    if order.state not in (None, *STATES):
        raise OrderError(
            f"--state {shown(order.state)} is not known.", what_to_do="Give warm or cold."
        )


def content_of(order: CurveOrder) -> tuple[Values, tuple[str, ...]]:
    """The content of the file, and what is to be told of it.

    Raises:
        BenchError: As `new_rated_curve`.
    """
    if order.from_run is not None:
        return _from_run(order, typed_path(order.from_run))
    if order.plate is not None:
        return _from_plate(order, order.plate), ()
    if order.csv is not None:
        return _from_csv(order, typed_path(order.csv))
    if order.points is not None:
        return _of_points(order, points_of(order.points), "typed; where from was not said"), ()
    return _asked(order), ()


def _from_run(order: CurveOrder, folder: Path) -> tuple[Values, tuple[str, ...]]:
    from acquire.reference_curve import reference_curve

    found = reference_curve(folder)
    for name, said, measured in (
        ("--state", order.state, found.state),
        ("--volts", order.volts, found.volts),
    ):
        if said is not None and said != measured:
            raise OrderError(
                f"{name} says {said}, and the run was {measured}.",
                what_to_do=f"Leave {name} out: the curve holds as it was measured.",
            )
    source = f"{order.source}; {found.source}" if order.source else found.source
    system = found.alternator.get("system_volts") or _system_volts(found.volts)
    rated = {"volts": found.volts, "state": found.state, "source": source, "points": found.points}
    return {
        "schema": 1,
        "title": _plain(order.name or found.name),
        "alternator": {**found.alternator, "system_volts": system},
        "rated": rated,
    }, found.told


def _from_plate(order: CurveOrder, text: str) -> Values:
    loaded = _plate_profile(text)
    values: Values = {"schema": 1, **loaded}
    if order.name:
        values["title"] = _plain(order.name)
    if order.volts is not None and order.volts != values["rated"]["volts"]:
        raise OrderError(
            f"--volts says {order.volts:g} V and the plate {values['rated']['volts']:g} V.",
            what_to_do="Leave --volts out, or mend the plate.",
        )
    if order.state is not None:
        values["rated"] |= {"state": order.state, "source": "read from a plate"}
    if order.source:
        values["rated"]["source"] = _plain(order.source)
    return values


def _plate_profile(text: str) -> Values:
    """The content of a plate's profile; its speeds are never assumed."""
    plate = parse_plate(text)
    if plate.rated_rpm is None:
        speeds = "@6000" if plate.idle_amps is None else "@1500/6000"
        raise OrderError(
            f"The plate {shown(text)} does not say at which speeds it gives this.",
            what_to_do=f"Add them, such as {speeds}, as in {EXAMPLES}.",
        )
    try:
        return profile_of_plate(text, plate)
    except Wrong as error:
        raise OrderError(f"The plate {error}", what_to_do=error.what_to_do) from error


def _from_csv(order: CurveOrder, path: Path) -> tuple[Values, tuple[str, ...]]:
    from acquire.printed_curve import read_printed, thinned

    found = thinned(read_printed(path))
    source = f"digitised from a printed curve, {path.name}"
    if len(found.told) > 1:
        source += f"; thinned to {len(found.points)} points"
    return _of_points(order, found.points, source), found.told


def _of_points(order: CurveOrder, points: tuple[tuple[float, float], ...], source: str) -> Values:
    missing = [
        option
        for option, value in (
            ("--name", order.name),
            ("--volts", order.volts),
            ("--state", order.state),
        )
        if value is None
    ]
    if missing or order.volts is None or order.name is None:
        raise OrderError(
            f"{listed(missing, joint='and')} must be given with points.",
            what_to_do='As in --name "14 V 105 A, long bracket" --volts 13.5 --state warm.',
        )
    return {
        "schema": 1,
        "title": _plain(order.name),
        "alternator": {"system_volts": _system_volts(order.volts)},
        "rated": {
            "volts": order.volts,
            "state": order.state,
            "source": _plain(order.source or source),
            "points": points,
        },
    }


def points_of(text: str) -> tuple[tuple[float, float], ...]:
    """The points of `1500:40, 3000:78`.

    Raises:
        OrderError: With the part that cannot be read.
    """
    parts = [part.strip() for part in text.strip().strip(",").split(",")]
    alone = next((part for part in parts if part.isdigit()), None)
    if alone is not None:
        raise OrderError(
            f"{shown(alone)} is not a point; was the comma before it meant for decimals?",
            what_to_do=f"Write decimals with a point. {_POINTS_LIKE}",
        )
    return tuple(_pair(part, ":") for part in parts)


def _pair(part: str, separator: str | None) -> tuple[float, float]:
    numbers = [typed_number(number.strip()) for number in part.split(separator)]
    wrong = [number for number in numbers if isinstance(number, str)]
    if len(numbers) != 2 or wrong:
        why = f" {wrong[0]}" if len(numbers) == 2 and wrong else ""
        raise OrderError(f"{shown(part)} is not a point.{why}", what_to_do=_POINTS_LIKE)
    rpm, amps = (float(number) for number in numbers)
    return rpm, amps


def _asked(order: CurveOrder) -> Values:
    """Step by step, each answer checked before the next question."""
    known = order.name or _asked_until(_name, "What is the curve called (as in 14 V 105 A, van)")
    print("How is the curve known?", file=sys.stderr)
    ways = [("points", "points: speeds and amps"), ("plate", "the marking on the plate")]
    if ask_choice("Number", ways) == "plate":
        return _asked_plate(order, known)
    volts = order.volts or _asked_volts()
    state = order.state or _asked_state()
    points = _asked_points()
    source = order.source or ask("Where the figures are from", default="typed; not said")
    order = CurveOrder(name=known, volts=volts, state=state, source=source)
    return _of_points(order, points, source)


def _asked_until(take: Callable[[str], T], question: str) -> T:
    """Ask until the answer can be taken; what is wrong with it is said."""
    while True:
        text = ask(question)
        try:
            return take(text)
        except BenchError as error:
            print(error, file=sys.stderr)


def _name(text: str) -> str:
    if not file_name(text):
        raise OrderError("A name has letters or figures.", what_to_do="Type one.")
    return text


def _asked_volts() -> float:
    while True:
        volts = ask_number("Test voltage the curve holds at, V", default=13.5)
        try:
            _system_volts(volts or 0.0)
        except OrderError as error:
            print(error, file=sys.stderr)
        else:
            return volts or 0.0


def _asked_state() -> str:
    print("In which state does it hold?", file=sys.stderr)
    return ask_choice("Number", [("warm", "warm"), ("cold", "cold")])


def _asked_points() -> tuple[tuple[float, float], ...]:
    print("Points by rising speed, rpm and amps, as in 1500 45; an empty line ends.",
          file=sys.stderr)  # fmt: skip
    points: list[tuple[float, float]] = []
    while True:
        text = ask(f"Point {len(points) + 1}")
        if not text and points:
            return tuple(points)
        try:
            points.append(_next_point(text, points))
        except BenchError as error:
            print(error, file=sys.stderr)


def _next_point(text: str, before: list[tuple[float, float]]) -> tuple[float, float]:
    if not text:
        raise OrderError("There is no point yet.", what_to_do="Type one, as in 1500 45.")
    rpm, amps = _pair(text.replace(":", " ").replace("/", " "), None)
    if before and rpm <= before[-1][0]:
        raise OrderError(f"{rpm:g} rpm does not rise above {before[-1][0]:g} rpm.",
                         what_to_do="Type the points by rising speed.")  # fmt: skip
    if rpm <= 0 or amps < 0:
        raise OrderError("A speed is above zero, a current not below.", what_to_do="Type it anew.")
    return rpm, amps


def _asked_plate(order: CurveOrder, name: str) -> Values:
    def take(text: str) -> Values:
        plate = parse_plate(text)
        if plate.rated_rpm is None:
            text = f"{text} @{_asked_speeds(two=plate.idle_amps is not None)}"
        state = order.state or _asked_state()
        known = CurveOrder(name=name, volts=order.volts, state=state, source=order.source)
        return _from_plate(known, text)

    return _asked_until(take, "What the plate says (as in 45/90A 14V)")


def _asked_speeds(*, two: bool) -> str:
    first = ask("Shaft speed of the first current, rpm", default="1500") if two else ""
    last = ask("Shaft speed of the last current, rpm", default="6000")
    return f"{first}/{last}" if two else last


def _system_volts(volts: float) -> int:
    for system, (low, high) in PLAUSIBLE_VOLTS.items():
        if low <= volts <= high:
            return system
    ranges = ", ".join(f"{low:g} to {high:g}" for low, high in PLAUSIBLE_VOLTS.values())
    raise OrderError(f"{volts:g} V fits no system.", what_to_do=f"Test voltages are {ranges} V.")


def _plain(text: str) -> str:
    return " ".join(visible(text).split())


def _place(order: CurveOrder, title: str) -> Path:
    if order.to is not None:
        path = typed_path(order.to)
        if path.suffix.lower() != ".toml":
            raise OrderError(
                f"--to {visible(order.to)} is no TOML file.", what_to_do="End its name with .toml."
            )
        return path
    slug = file_name(title)
    if not slug:
        raise OrderError(
            f"{shown(title)} makes no file name.", what_to_do="Use letters and figures, or --to."
        )
    return user_folder("alternators") / f"{slug}.toml"


def _must_not_be_there(path: Path, *, replace: bool) -> None:
    if path.exists() and not replace:
        raise OrderError(
            f"{path} is there already; nothing was written.",
            what_to_do="Give another name, or --replace to write over it.",
        )


def _checked_text(values: Values, path: Path) -> str:
    """The file's text, read by the very loader that will read it later."""
    from profiles.checking import checked
    from profiles.toml_file import parse_toml

    text = rated_toml(values)
    checked(AlternatorProfile, parse_toml(text, str(path)), str(path))
    return text


def rated_toml(values: Values) -> str:
    """A rated curve as TOML text."""
    from acquire.cli.served_rig import toml_value

    lines = [f"schema = {values['schema']}", f"title = {toml_value(values['title'])}"]
    for table in ("alternator", "rated"):
        lines += ["", f"[{table}]"]
        lines += [f"{key} = {toml_value(value)}" for key, value in values[table].items()]
    return "\n".join(lines).replace("\r", "\\r") + "\n"


def _write(path: Path, text: str) -> None:
    from acquire.record.files import DISK, replace_file

    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OrderError(
            f"{path.parent} cannot be made: {error.strerror or error}.",
            what_to_do="Give another place with --to.",
        ) from error
    replace_file(DISK, path, text.encode())


def _hidden(path: Path) -> tuple[str, ...]:
    """Said where the new file stands in front of one that came with the program."""
    from profiles.catalogue import shipped_folder

    own = path.parent == user_folder("alternators")
    if own and (shipped_folder("alternators") / path.name).exists():
        return (
            f"From now on {path.stem} means this file, not the one that came with the program.",
        )
    return ()


def curve_lines(new: NewCurve) -> list[str]:
    """The curve read back, as a table, and how to use it."""
    curve: RatedCurve = new.loaded.profile.rated_curve()
    derived = ", derived from the marking" if curve.derived else ""
    lines = [
        f"Written: {new.path}",
        f"{visible(curve.title)}: {curve.volts:g} V, {curve.state}{derived}",
    ]
    lines += ["   speed     amps", *(f"{rpm:8g} {amps:8.1f}" for rpm, amps in curve.points)]
    lines += [f"Source: {visible(curve.source)}"] if curve.source else []
    lines += [f"  ! {words}" for words in new.told]
    named = new.path.stem if _is_named(new.path) else str(new.path)
    return [*lines, f"Use it with --rated {named}"]


def _is_named(path: Path) -> bool:
    found: list[Entry] = entries("alternators")
    return any(entry.path == path for entry in found)
