"""The workshop's settings: `settings.toml` in the settings folder."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from profiles.table import SCHEMA, FreeWords, Schema, Table


def _one_or_more(value: object) -> object:
    if isinstance(value, str):
        return (value,)
    return tuple(value) if isinstance(value, list) else value


class Workshop(Table):
    """Who tests: stands at the top of a report."""

    name: FreeWords = ""
    address: str = ""
    """May have several lines."""
    logo: str | None = None
    """Path of a picture file."""


class Report(Table):
    """How paper looks."""

    language: str = "en"
    paper: Literal["A4", "letter"] = "A4"


class Shelf(Table):
    """Where runs are kept and indexed."""

    folder: str | None = None
    """Default: the platform's user data folder."""
    url: str | None = None
    """A database for several benches; default: a file in the shelf folder."""


class Seal(Table):
    """Signing keys."""

    key: str | None = None
    """Path of the workshop's own signing key; default: the one `key new` makes."""
    trust: Annotated[tuple[str, ...], BeforeValidator(_one_or_more)] = ()
    """Public keys, or files of them, that `verify` takes as known."""


class Settings(Table):
    """The whole of settings.toml; every key may be left out."""

    schema_: Schema = Field(default=SCHEMA, alias="schema")
    workshop: Workshop = Workshop()
    report: Report = Report()
    shelf: Shelf = Shelf()
    seal: Seal = Seal()
