"""What `profiles check settings.toml` looks at: the keys, and whether what they name is there."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from acquire.typed_path import is_there, path_in_settings
from profiles.errors import BenchError, Problem, ProfileError
from profiles.folders import SETTINGS_FILE, config_folder
from profiles.plain_text import shown, visible
from profiles.settings import Settings


def settings_file(named: str) -> Path | None:
    """The settings file that is meant: one that lies there, else the user's; None: it is none."""
    path = Path(named)
    if path.name != SETTINGS_FILE:
        return None
    return path if is_there(path) or len(path.parts) > 1 else config_folder() / SETTINGS_FILE


@dataclass(frozen=True, slots=True)
class SettingsFound:
    """What is wrong in a settings file, and what is allowed but will not work as it is."""

    problems: tuple[Problem, ...]
    cautions: tuple[str, ...]


def check_settings(path: Path) -> SettingsFound:
    """Check a settings file: every key, and whether what it names is there, all at once.

    What is right in it is looked for although another key is wrong. Relative paths count from its
    folder, as they will once the program reads it.
    """
    from profiles.checking import examine
    from profiles.toml_file import parse_toml, read_text

    name = str(path)
    if not is_there(path):
        message = "is not there, so all is as usual."
        hint = f"Write it, as README describes; the program reads {_read_by_the_program()}."
        return SettingsFound((Problem(visible(name), "", message, hint),), ())
    try:
        settings, problems = examine(Settings, parse_toml(read_text(path), name), name)
    except ProfileError as error:
        return SettingsFound(error.problems, ())
    if settings is None:
        return SettingsFound(tuple(problems), ())
    beside = path.absolute().parent
    problems += [Problem(visible(name), *wrong) for wrong in _wrong(settings, beside)]
    wrong = {problem.key for problem in problems}
    return SettingsFound(tuple(problems), tuple(_doubts(settings, path, wrong)))


def _read_by_the_program() -> Path:
    return config_folder() / SETTINGS_FILE


def _wrong(settings: Settings, beside: Path) -> Iterator[tuple[str, str, str]]:
    """Key, what is wrong, what to do: values that no command could work with."""
    for key, look in _looks(settings, beside).items():
        try:
            look()
        except ProfileError as error:
            yield from ((key, one.message, one.what_to_do) for one in error.problems)
        except BenchError as error:
            yield key, error.message, error.what_to_do


def _looks(settings: Settings, beside: Path) -> dict[str, Callable[[], object]]:
    """For each key that names something the way in which the program looks at it."""
    from acquire.record.keys import load_key, trusted_fingerprints
    from acquire.record.shelf_folder import writable
    from acquire.report.language import language

    looks: dict[str, Callable[[], object]] = {
        "report.language": lambda: language(settings.report.language),
    }
    folder, url, key = settings.shelf.folder, settings.shelf.url, settings.seal.key
    if folder is not None:
        looks["shelf.folder"] = lambda: writable(path_in_settings(folder, beside=beside))
    if url is not None:
        looks["shelf.url"] = lambda: _look_at_url(url)
    if key is not None:
        looks["seal.key"] = lambda: load_key(path_in_settings(key, beside=beside))
    for number, entry in enumerate(settings.seal.trust):
        looks[f"seal.trust.{number}"] = partial(trusted_fingerprints, [entry], beside=beside)
    return looks


def _look_at_url(url: str) -> None:
    from acquire.shelf.server_url import checked_url

    checked_url(url)


def _doubts(settings: Settings, path: Path, wrong: Collection[str]) -> Iterator[str]:
    """What is no error, but not as it was perhaps meant; nothing of a key that is `wrong`."""
    from acquire.record.shelf_folder import whether_there

    used, beside = _read_by_the_program(), path.absolute().parent
    if path.absolute() != used.absolute():
        yield f"This file is not the one the program reads: that is {used}."
    folder, logo = settings.shelf.folder, settings.workshop.logo
    if folder is not None and "shelf.folder" not in wrong:
        shelf = path_in_settings(folder, beside=beside)
        if not shelf.is_dir():
            yield f"shelf.folder: {folder} is {whether_there(shelf)}."
    if logo and not _is_there(logo, beside):
        yield f"workshop.logo: {shown(logo)} is not there; reports go without a logo."


def _is_there(named: str, beside: Path) -> bool:
    try:
        return is_there(path_in_settings(named, beside=beside))
    except BenchError:
        return False
