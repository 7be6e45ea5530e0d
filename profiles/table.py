"""What every table of our TOML files has in common: frozen, no unknown keys, checks across keys."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, ClassVar

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field

from profiles.plain_text import visible

SCHEMA = 1
"""The newest `schema` this program reads."""


class Wrong(ValueError):
    """Raised by a check of one value: what is wrong, and what to do about it."""

    def __init__(self, message: str, what_to_do: str = "") -> None:
        super().__init__(message)
        self.what_to_do = what_to_do


@dataclass(frozen=True, slots=True)
class Fault:
    """Something wrong between keys of a table, found after each key by itself was right.

    `key` is relative to the table. `concerns` names further keys that it rests on: when one of
    them has a problem of its own, the fault is not reported.
    """

    key: str
    message: str
    what_to_do: str = ""
    concerns: tuple[str, ...] = ()


class Table(BaseModel):
    """One table of a TOML file. Its attributes are named as its keys are."""

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        strict=True,
        allow_inf_nan=False,
        populate_by_name=True,
        hide_input_in_errors=True,
    )

    STAND_INS: ClassVar[dict[str, object]] = {}
    """Values put in for missing keys, only so that the other checks can be made as well."""

    def faults(self) -> Iterator[Fault]:
        """Give what is wrong between the keys of this table (not of the tables inside it)."""
        yield from ()


def _as_tuple(value: object) -> object:
    return tuple(value) if isinstance(value, list) else value


Words = Annotated[str, Field(min_length=1), AfterValidator(visible)]
"""Text for people; control characters in it become visible escapes."""
FreeWords = Annotated[str, AfterValidator(visible)]
"""As `Words`, and may be empty."""
Listed = BeforeValidator(_as_tuple)
"""Lets a TOML list become a tuple."""
Schema = Annotated[int, Field(ge=1, le=SCHEMA)]
Positive = Annotated[float, Field(gt=0)]
NotNegative = Annotated[float, Field(ge=0)]
Percent = Annotated[float, Field(ge=0, le=100)]
ShaftRpm = Annotated[float, Field(gt=0, le=30000)]
"""A shaft speed; no alternator on such a rig turns faster than 30000 rpm."""


class ProfileFile(Table):
    """A whole file: all may say `schema = 1`."""

    STAND_INS: ClassVar[dict[str, object]] = {"title": "(no title)"}

    schema_: Schema = Field(default=SCHEMA, alias="schema")
    title: Words = Field(description='a name for people, such as title = "Bench 1"')
