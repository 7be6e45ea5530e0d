"""What `profiles check settings.toml` looks at: the keys, and whether what they name is there."""

from __future__ import annotations

from collections.abc import Callable, Iterator
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


def check_settings(path: Path) -> list[str]:
    """Check a settings file; what is allowed but will not work as it is, in sentences.

    Raises:
        ProfileError: With everything that is wrong, file and key.
    """
    from profiles.checking import checked
    from profiles.toml_file import parse_toml, read_text

    name = str(path)
    if not is_there(path):
        message = "is not there, so all is as usual."
        hint = f"Write it, as README describes; the program reads {_read_by_the_program()}."
        raise ProfileError([Problem(visible(name), "", message, hint)])
    settings = checked(Settings, parse_toml(read_text(path), name), name)
    problems = [
        Problem(visible(name), key, message, what_to_do)
        for key, message, what_to_do in _wrong(settings)
    ]
    if problems:
        raise ProfileError(problems)
    return list(_doubts(settings, path))


def _read_by_the_program() -> Path:
    return config_folder() / SETTINGS_FILE


def _wrong(settings: Settings) -> Iterator[tuple[str, str, str]]:
    """Key, what is wrong, what to do: values that no command could work with."""
    for key, look in _looks(settings).items():
        try:
            look()
        except ProfileError as error:
            yield from ((key, one.message, one.what_to_do) for one in error.problems)
        except BenchError as error:
            yield key, error.message, error.what_to_do


def _looks(settings: Settings) -> dict[str, Callable[[], object]]:
    """For each key that names something the way in which the program looks at it."""
    from acquire.record.keys import load_key, trusted_fingerprints
    from acquire.record.shelf_folder import writable
    from acquire.report.language import language

    looks: dict[str, Callable[[], object]] = {
        "report.language": lambda: language(settings.report.language),
    }
    folder, url, key = settings.shelf.folder, settings.shelf.url, settings.seal.key
    if folder is not None:
        looks["shelf.folder"] = lambda: writable(path_in_settings(folder))
    if url is not None:
        looks["shelf.url"] = lambda: _look_at_url(url)
    if key is not None:
        looks["seal.key"] = lambda: load_key(path_in_settings(key))
    for number, entry in enumerate(settings.seal.trust):
        looks[f"seal.trust.{number}"] = partial(trusted_fingerprints, [entry])
    return looks


def _look_at_url(url: str) -> None:
    from acquire.shelf.server_url import checked_url

    checked_url(url)


def _doubts(settings: Settings, path: Path) -> Iterator[str]:
    """What is no error, but not as it was perhaps meant."""
    from acquire.record.shelf_folder import whether_there

    used = _read_by_the_program()
    if path.absolute() != used.absolute():
        yield f"This file is not the one the program reads: that is {used}."
    folder, logo = settings.shelf.folder, settings.workshop.logo
    if folder is not None and not path_in_settings(folder).is_dir():
        yield f"shelf.folder: {folder} is {whether_there(path_in_settings(folder))}."
    if logo and not _is_there(logo):
        yield f"workshop.logo: {shown(logo)} is not there; reports go without a logo."


def _is_there(named: str) -> bool:
    try:
        return is_there(path_in_settings(named))
    except BenchError:
        return False
