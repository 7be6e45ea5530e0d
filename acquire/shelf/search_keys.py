"""How names are written for looking them up: the same serial, however it was typed."""

from __future__ import annotations

import unicodedata

LONGEST_KEY = 80
LONGEST_WORDS = 1000
MOST_BYTES = 2400
"""A line of an index in PostgreSQL holds some 2700 bytes."""


def search_key(text: str | None) -> str:
    """Letters and digits only, case and accents folded: `SN 7/1` and `sn7-1` are one serial."""
    if not text:
        return ""
    if text.isascii():
        return "".join(filter(str.isalnum, text.lower()))[:LONGEST_KEY]
    apart = text
    for _ in range(2):  # signs apart may show letters that are still to be folded
        apart = unicodedata.normalize("NFKD", apart.casefold())
    return "".join(filter(str.isalnum, apart))[:LONGEST_KEY]


def after_all_with(key: str) -> str:
    """The first text that sorts after every text beginning with `key`, by code points."""
    return key[:-1] + chr(ord(key[-1]) + 1)


def last_letters(run_id: str) -> str:
    """What follows the last hyphen, small: the four letters a run is told by."""
    return run_id.rpartition("-")[2].lower()[:LONGEST_KEY]


def folded(text: str | None) -> str:
    """Case folded and each run of blanks made one: for words looked for anywhere in it."""
    return " ".join((text or "").casefold().split())


def words_of(*names: str | None) -> str:
    """Everything a free search looks in, folded and bounded, each thing once; the first go first.

    A search may read all of it for every run: what stands in it already is not added.
    """
    words = ""
    for name in names:
        text = folded(name)
        if text and text not in words:
            words = f"{words} {text}" if words else text
    words = words[:LONGEST_WORDS]
    if words.isascii():
        return words
    return words.encode("utf-8", "replace")[:MOST_BYTES].decode("utf-8", "ignore")


def same_unit_key(*, serial: str | None, job: str | None, unit: str | None) -> str:
    """What tells that two runs are of one unit: its serial, else job and unit text together.

    Empty where neither is known: such a run is never paired.
    """
    if serial_key := search_key(serial):
        return f"s {serial_key}"
    job_key, unit_key = search_key(job), search_key(unit)
    return f"j {job_key} {unit_key}" if job_key and unit_key else ""
