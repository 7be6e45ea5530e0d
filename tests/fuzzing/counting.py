"""Feeds a target many inputs and counts what became of them."""

from __future__ import annotations

import contextlib
import hashlib
import random
import re
import signal
import sys
import time
import tracemalloc
import unicodedata
import warnings
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType
from typing import Literal

from tests.fuzzing.mutations import mutated
from tests.fuzzing.target import AcceptedWrong, NotTaken, Target

Became = Literal["accepted", "refused", "other", "unnamed", "slow", "memory", "wrong"]
DEFECTS: tuple[Became, ...] = ("other", "unnamed", "slow", "memory", "wrong")
SLOWEST_S = 0.5
"""Processor time that one input may take [s]; one that takes longer is tried once more."""
PER_MEGABYTE_S = 6.0
"""And so much more for a megabyte of input [s]."""
HANGS_S = 60.0
"""A parser that is still at it then is broken off [s by the wall clock]."""
LARGEST_KB = 100_000
"""Memory that one input under 1 MB may need [kB]."""
SUSPECT_KB = 40_000
"""Growth of the whole process from which an input is measured exactly [kB]."""
TRACED_EVERY = 2000
LONGEST_REFUSAL = 60_000
_STEERING = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}


class Hangs(BaseException):
    """The parser did not come to an end; no `except Exception` of its own may stop this."""


@dataclass(frozen=True)
class Failure:
    """An input that showed a defect."""

    target: str
    became: Became
    words: str
    data: bytes

    @property
    def target_part(self) -> str:
        """What stands for the target in the name of its seeds, fit for every file system."""
        return re.sub(r"[^A-Za-z0-9.]+", "-", self.target).strip("-")

    @property
    def file_name(self) -> str:
        """What its seed is called."""
        return f"{self.target_part}--{self.digest}.bin"

    @property
    def digest(self) -> str:
        """Eight letters that tell it from others."""
        return hashlib.sha256(self.data).hexdigest()[:8]

    def __str__(self) -> str:
        shown = ascii(self.data[:100])[1:]
        more = f" and {len(self.data) - 100} bytes more" if len(self.data) > 100 else ""
        return f"{self.target}: {self.became}: {self.words[:300]}\n    {self.digest} {shown}{more}"


@dataclass
class Count:
    """What became of the inputs of one target."""

    target: str
    tried: int = 0
    became: dict[Became, int] = field(default_factory=dict)
    cpu_s: float = 0.0
    slowest_s: float = 0.0
    failures: list[Failure] = field(default_factory=list)
    """At most one for each kind of failure."""

    @property
    def defects(self) -> int:
        """Inputs that showed a defect."""
        return sum(self.became.get(kind, 0) for kind in DEFECTS)


def fuzzed(target: Target, n: int, seed: int) -> Count:
    """Give a target `n` inputs; the same seed gives the same ones."""
    rng = random.Random(seed ^ zlib.crc32(target.name.encode()))
    count = Count(target.name)
    known: set[tuple[Became, str]] = set()
    with _watched():
        for number in range(n):
            data = mutated(target, rng)
            became, words, took_s = tried(target, data, traced=number % TRACED_EVERY == 7)
            count.tried += 1
            count.became[became] = count.became.get(became, 0) + 1
            count.cpu_s += took_s
            count.slowest_s = max(count.slowest_s, took_s)
            if became in DEFECTS and (kind := (became, _kind_of(words))) not in known:
                known.add(kind)
                count.failures.append(Failure(target.name, became, words, data))
    return count


def _kind_of(words: str) -> str:
    """The words without what is particular to one input, so that a defect is told once."""
    return re.sub(r"[^A-Za-z /_.:]+", "#", words.partition(": ")[0].partition("'")[0])[:60]


def replayed(target: Target, data: bytes) -> tuple[Became, str]:
    """What becomes of one input."""
    with _watched():
        became, words, _ = tried(target, data, traced=True)
    return became, words


def tried(target: Target, data: bytes, *, traced: bool = False) -> tuple[Became, str, float]:
    """What became of one input, the words for it, and its processor time [s]."""
    before_kb = _peak_kb()
    began_s = time.process_time()
    became, words = _outcome(target, data)
    took_s = time.process_time() - began_s
    if became in DEFECTS:
        return became, words, took_s
    if took_s > _may_take_s(data):
        began_s = time.process_time()
        _outcome(target, data)
        again_s = time.process_time() - began_s
        if again_s > _may_take_s(data):
            return "slow", f"{again_s:.2f} s for {len(data)} bytes ({became})", took_s
    if (traced or _peak_kb() - before_kb > SUSPECT_KB) and (
        kb := _traced_kb(target, data)
    ) > LARGEST_KB:
        return "memory", f"{kb // 1000} MB for {len(data)} bytes ({became})", took_s
    return became, words, took_s


def _may_take_s(data: bytes) -> float:
    return SLOWEST_S + PER_MEGABYTE_S * len(data) / 1e6


def _outcome(target: Target, data: bytes) -> tuple[Became, str]:
    try:
        with _timer():
            target.feed(data)
    except NotTaken as refusal:
        return _refusal(target, str(refusal))
    except AcceptedWrong as wrong:
        return "wrong", str(wrong)
    except Hangs:
        return "slow", f"no end after {HANGS_S:g} s"
    except target.family as refusal:
        try:
            said = str(refusal)
        except Exception as error:  # noqa: BLE001
            return "other", f"the refusal cannot be shown: {_words(error)}"
        return _refusal(target, said)
    except Exception as error:  # noqa: BLE001 (whatever else it is, it is what is looked for)
        return "other", _words(error)
    return "accepted", ""


def _words(error: Exception) -> str:
    place = error.__traceback__
    last = ""
    while place is not None:
        file = Path(place.tb_frame.f_code.co_filename)
        if file.parts[-2:-1] != ("fuzzing",) and "site-packages" not in file.parts:
            last = f"{file.parent.name}/{file.name}:{place.tb_lineno}"
        place = place.tb_next
    return f"{type(error).__name__} at {last}: {ascii(str(error))[:200]}"


def _refusal(target: Target, said: str) -> tuple[Became, str]:
    """A refusal must say something, name its subject, and be fit for a terminal."""
    if not said.strip():
        return "unnamed", "the refusal says nothing"
    if target.names and not any(name in said for name in target.names):
        return (
            "unnamed",
            f"does not name its subject: {ascii(said)[:200]} has none of {target.names}",
        )
    if len(said) > LONGEST_REFUSAL:
        return "unnamed", f"a refusal of {len(said)} characters"
    if not said.isascii() or not said.replace("\n", "").isprintable():
        steering = {c for c in said if c != "\n" and unicodedata.category(c) in _STEERING}
        if steering:
            return (
                "unnamed",
                f"steering characters: {sorted(steering)!a} in {ascii(said)[:150]}",
            )
    return "refused", said


# ---- time and memory -------------------------------------------------------------------------


@contextlib.contextmanager
def _watched() -> Iterator[None]:
    """Warnings count as errors: an operator's terminal must not show them."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        if not hasattr(signal, "setitimer"):
            yield
            return
        former = signal.signal(signal.SIGALRM, _break_off)
        try:
            yield
        finally:
            signal.setitimer(signal.ITIMER_REAL, 0.0)
            signal.signal(signal.SIGALRM, former)


def _break_off(number: int, frame: FrameType | None) -> None:
    del number, frame
    raise Hangs


@contextlib.contextmanager
def _timer() -> Iterator[None]:
    if not hasattr(signal, "setitimer"):
        yield
        return
    signal.setitimer(signal.ITIMER_REAL, HANGS_S)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)


def _peak_kb() -> int:
    """Largest memory of the process so far [kB]; 0 where the system does not say."""
    if sys.platform == "win32":
        return 0
    import resource

    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak // 1024 if sys.platform == "darwin" else peak


def _traced_kb(target: Target, data: bytes) -> int:
    """Largest memory that Python asked for while it took this input [kB]."""
    tracemalloc.start()
    try:
        _outcome(target, data)
        return tracemalloc.get_traced_memory()[1] // 1024
    finally:
        tracemalloc.stop()
