"""Figures and words several rows high, readable from two metres."""

from __future__ import annotations

from functools import lru_cache
from typing import Literal

Glyphs = Literal["full", "ascii"]
Size = Literal["three", "four", "five"]
"""How many text rows a figure takes."""

_SMALL = {
    "0": "###/#.#/#.#/#.#/###", "1": "##./.#./.#./.#./###", "2": "###/..#/###/#../###",
    "3": "###/..#/.##/..#/###", "4": "#.#/#.#/###/..#/..#", "5": "###/#../###/..#/###",
    "6": "###/#../###/#.#/###", "7": "###/..#/..#/..#/..#", "8": "###/#.#/###/#.#/###",
    "9": "###/#.#/###/..#/###", ".": "././././#", "-": ".../.../###/.../...",
    "+": ".../.#./###/.#./...", ":": "./#/./#/.", " ": "../../../../..", "%": "#.#/..#/.#./#../#.#",
    "A": ".#./#.#/###/#.#/#.#", "B": "##./#.#/##./#.#/##.", "C": ".##/#../#../#../.##",
    "D": "##./#.#/#.#/#.#/##.", "E": "###/#../##./#../###", "F": "###/#../##./#../#..",
    "G": ".##/#../#.#/#.#/.##", "H": "#.#/#.#/###/#.#/#.#", "I": "#/#/#/#/#",
    "J": "..#/..#/..#/#.#/.#.", "K": "#.#/#.#/##./#.#/#.#", "L": "#../#../#../#../###",
    "M": "#...#/##.##/#.#.#/#...#/#...#", "N": "#..#/##.#/#.##/#..#/#..#",
    "O": ".#./#.#/#.#/#.#/.#.", "P": "##./#.#/##./#../#..", "Q": ".#./#.#/#.#/.#./..#",
    "R": "##./#.#/##./#.#/#.#", "S": ".##/#../.#./..#/##.", "T": "###/.#./.#./.#./.#.",
    "U": "#.#/#.#/#.#/#.#/###", "V": "#.#/#.#/#.#/#.#/.#.",
    "W": "#...#/#...#/#.#.#/##.##/#...#", "X": "#.#/#.#/.#./#.#/#.#",
    "Y": "#.#/#.#/.#./.#./.#.", "Z": "###/..#/.#./#../###", "?": "##./..#/.#./.../.#.",
}  # fmt: skip
_TALL = {
    "0": ".###./#...#/#...#/#...#/#...#/#...#/.###.",
    "1": "..#../.##../..#../..#../..#../..#../.###.",
    "2": ".###./#...#/....#/..##./.#.../#..../#####",
    "3": ".###./#...#/....#/..##./....#/#...#/.###.",
    "4": "...#./..##./.#.#./#..#./#####/...#./...#.",
    "5": "#####/#..../####./....#/....#/#...#/.###.",
    "6": ".###./#..../#..../####./#...#/#...#/.###.",
    "7": "#####/....#/...#./..#../..#../.#.../.#...",
    "8": ".###./#...#/#...#/.###./#...#/#...#/.###.",
    "9": ".###./#...#/#...#/.####/....#/....#/.###.",
    ".": "././././././#", "-": "...../...../...../#####/...../...../.....",
    "+": "...../..#../..#../#####/..#../..#../.....", " ": "../../../../../../..",
}  # fmt: skip
_SEGMENTS = {
    "0": (" _ ", "| |", "|_|"), "1": ("   ", "  |", "  |"), "2": (" _ ", " _|", "|_ "),
    "3": (" _ ", " _|", " _|"), "4": ("   ", "|_|", "  |"), "5": (" _ ", "|_ ", " _|"),
    "6": (" _ ", "|_ ", "|_|"), "7": (" _ ", "  |", "  |"), "8": (" _ ", "|_|", "|_|"),
    "9": (" _ ", "|_|", " _|"), "-": ("   ", " _ ", "   "), ".": (" ", " ", "."),
    "+": ("   ", "_|_", " | "), " ": ("  ", "  ", "  "),
}  # fmt: skip
_HALVES = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}


@lru_cache(maxsize=512)
def large(text: str, size: Size = "three", glyphs: Glyphs = "full") -> tuple[str, ...]:
    """Give `text` in large signs, as lines of equal width; capitals, figures and few signs."""
    text = text.upper()
    if glyphs == "ascii":
        return _in_ascii(text)
    if size == "four" and all(sign in _TALL for sign in text):
        return _halved([_pixels(_TALL[sign]) for sign in text])
    pixels = [_pixels(_SMALL.get(sign, _SMALL["?"])) for sign in text]
    if size == "five":
        return tuple(_joined([[_whole(line) for line in sign] for sign in pixels], gap="  "))
    return _halved(pixels)


def rows_of(size: Size) -> int:
    """Text rows of a size."""
    return {"three": 3, "four": 4, "five": 5}[size]


def _pixels(drawing: str) -> list[list[bool]]:
    return [[sign == "#" for sign in line] for line in drawing.split("/")]


def _halved(signs: list[list[list[bool]]]) -> tuple[str, ...]:
    """Two pixel rows in one text row."""
    return tuple(_joined([_half_rows(sign) for sign in signs], gap=" "))


def _half_rows(sign: list[list[bool]]) -> list[str]:
    blank = [False] * len(sign[0])
    padded = [*sign, blank] if len(sign) % 2 else sign
    pairs = zip(padded[::2], padded[1::2], strict=True)
    return ["".join(_HALVES[pair] for pair in zip(*two, strict=True)) for two in pairs]


def _whole(line: list[bool]) -> str:
    return "".join("██" if on else "  " for on in line)


def _joined(signs: list[list[str]], *, gap: str) -> list[str]:
    return [gap.join(lines) for lines in zip(*signs, strict=True)] if signs else []


def _in_ascii(text: str) -> tuple[str, ...]:
    """Figures as seven segments; words spaced out between two lines of equals signs."""
    if all(sign in _SEGMENTS for sign in text):
        return tuple(_joined([list(_SEGMENTS[sign]) for sign in text], gap=" "))
    spaced = " ".join(text)
    return ("=" * len(spaced), spaced, "=" * len(spaced))
