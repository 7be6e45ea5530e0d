"""A short fuzzing of every target, the inputs that once showed a defect, and planted defects."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from pathlib import Path
from unittest.mock import patch

import pytest

from profiles.errors import BenchError
from tests.fuzzing.all_targets import all_targets
from tests.fuzzing.counting import Failure, fuzzed, replayed
from tests.fuzzing.target import Target, claim

SEED = 20261125
FOUND = Path(__file__).parent / "found"
MOST = 200
"""Inputs of a target of share 1 or more; the full run is `tests.benchmarks.fuzzing`."""


@pytest.fixture(scope="module")
def targets(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, Target]]:
    """All targets by name, on files of their own."""
    folder = tmp_path_factory.mktemp("fuzzed")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("STEADYAMPS_CONFIG", str(folder / "config"))
        patch.setenv("XDG_DATA_HOME", str(folder / "data"))
        yield {target.name: target for target in all_targets(folder)}


def test_no_parser_or_reader_shows_a_defect(targets: dict[str, Target]) -> None:
    counts = [
        fuzzed(one, max(round(MOST * min(one.share, 1)), 3), SEED) for one in targets.values()
    ]
    failures = [failure for count in counts for failure in count.failures]
    assert not failures, "\n".join(map(str, failures))
    assert sum(count.tried for count in counts) > 5000
    assert all(count.tried == sum(count.became.values()) for count in counts)


def test_every_target_takes_some_inputs_and_refuses_some(targets: dict[str, Target]) -> None:
    """A target that takes nothing, or everything, would find nothing wrong."""
    takes_all = {
        "words in a message", "lines: framing", "shelf: keys", "record: raw bytes",
        "record: folder names", "report: recorded sentences", "report: text in a drawing",
        "match page: figures", "shelf: search",
    }  # fmt: skip
    for target in targets.values():
        if target.share <= 0.1:
            continue  # whole folders: too dear for this; each act of theirs is tested elsewhere
        became = fuzzed(target, 60, SEED + 1).became
        if target.name != "match page: figures":
            sample = [replayed(target, data)[0] for data in target.samples]
            assert became.get("accepted") or "accepted" in sample, target.name
        assert became.get("refused") or target.name in takes_all, target.name


@pytest.mark.parametrize("path", sorted(FOUND.glob("*.bin")), ids=lambda path: path.stem)
def test_an_input_that_once_showed_a_defect_does_so_no_more(
    path: Path, targets: dict[str, Target]
) -> None:
    named = {Failure(name, "other", "", b"").target_part: one for name, one in targets.items()}
    became, words = replayed(named[path.name.partition("--")[0]], path.read_bytes())
    assert became in ("accepted", "refused"), words


# ---- planted defects: the count must find them -----------------------------------------------


def _planted(feed: object, **keys: object) -> Target:
    return Target("planted", [b"a=1", b"b=2"], feed, **keys)  # type: ignore[arg-type]


def test_a_parser_that_raises_a_key_error_is_reported() -> None:
    def feed(data: bytes) -> None:
        {b"a": 1, b"b": 2}[data[:1]]

    count = fuzzed(_planted(feed), 300, SEED)
    assert count.became["other"] > 20
    assert count.became["accepted"] > 20
    (failure,) = count.failures
    assert "KeyError" in failure.words
    assert replayed(_planted(feed), failure.data)[0] == "other"


def test_a_parser_that_takes_what_it_should_not_is_reported() -> None:
    def feed(data: bytes) -> None:
        value = float(data.decode("latin-1").partition("=")[2])
        claim(value < 1e9, f"{value} is beyond reason")

    count = fuzzed(_planted(feed, family=(ValueError,)), 400, SEED)
    assert count.became["wrong"] > 3
    assert any("beyond reason" in failure.words for failure in count.failures)


def test_a_refusal_that_names_nothing_or_steers_a_terminal_is_reported() -> None:
    def nameless(data: bytes) -> None:
        raise BenchError(f"wrong: {len(data)}")

    def steering(data: bytes) -> None:
        raise BenchError(f"points.csv: {data.decode('utf-8', 'replace')}")

    assert fuzzed(_planted(nameless, names=("points.csv",)), 20, SEED).became == {"unnamed": 20}
    assert fuzzed(_planted(steering, names=("points.csv",)), 300, SEED).became["unnamed"] > 20


def test_a_slow_parser_is_reported() -> None:
    def feed(data: bytes) -> None:
        began_s = time.process_time()
        while data.startswith(b"b=2") and time.process_time() - began_s < 0.55:
            pass

    became, words = replayed(_planted(feed), b"b=2")
    assert became == "slow", words
    assert replayed(_planted(feed), b"a=1")[0] == "accepted"


def test_a_pattern_that_backtracks_for_ever_is_reported() -> None:
    """As the pattern of a number once did on a long run of digits."""
    number = re.compile(rb"(?:[0-9]+\.?[0-9]*)+x")
    with patch("tests.fuzzing.counting.HANGS_S", 1.0):
        became, _ = replayed(_planted(number.fullmatch), b"9" * 40 + b"!")
    assert became == "slow"


def test_a_parser_that_needs_much_memory_is_reported() -> None:
    def feed(data: bytes) -> None:
        bytearray(int(data))

    assert replayed(_planted(feed), b"150000000")[0] == "memory"
    assert replayed(_planted(feed), b"1500")[0] == "accepted"


def test_a_seed_gives_the_same_inputs_again() -> None:
    heard: list[list[bytes]] = [[], []]
    for turn in heard:
        fuzzed(_planted(turn.append), 200, SEED)
    assert heard[0] == heard[1]
    assert len(set(heard[0])) > 100
