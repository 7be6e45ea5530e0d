"""What is fuzzed: a parser or reader, samples it takes, and how it may refuse."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from profiles.errors import BenchError

Shape = Literal["bytes", "text", "lines", "csv", "toml", "json", "json lines"]


class AcceptedWrong(AssertionError):
    """An input was taken that should not have been, or was taken for something else."""


class NotTaken(Exception):
    """The parser refused by what it gave, not by an error; the words are what it said."""


@dataclass(frozen=True)
class Target:
    """One parser or reader."""

    name: str
    samples: Sequence[bytes]
    """Inputs from which others are made; most of them valid."""
    feed: Callable[[bytes], object]
    """Gives the input to the parser and checks what came of it; raises `AcceptedWrong`."""
    shape: Shape = "text"
    family: tuple[type[Exception], ...] = (BenchError,)
    """How it may refuse."""
    names: tuple[str, ...] = ()
    """A refusal must hold one of these: the file, the field, the option."""
    grammar: Callable[[random.Random], bytes] | None = None
    """Makes an input of the right kind from nothing."""
    tokens: tuple[bytes, ...] = ()
    """Pieces of this format, put in here and there."""
    share: float = 1.0
    """Inputs in proportion to the others: less where one costs more."""
    longest: int = 900_000
    """Inputs are cut to so many bytes."""


def claim(holds: bool, words: str) -> None:
    """Raise `AcceptedWrong` with `words` unless `holds`."""
    if not holds:
        raise AcceptedWrong(words)


def text_of(data: bytes) -> str:
    """Input bytes as a person or a shell would hand them over, spoilt bytes included."""
    return data.decode("utf-8", "surrogateescape")
