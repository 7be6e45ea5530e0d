"""Methods and acceptance rules: defaults, and every way a file can be wrong."""

from __future__ import annotations

from pathlib import Path

import pytest

from profiles.catalogue import KINDS, Kind, load_method, load_rule
from profiles.method import Method, SweepSpeeds
from tests.profiles.conftest import Problems

CONTRACT = """
title = "Warm sweep"
[sweep]
rpm = [1500, 1800, 2000, 2500, 3000, 4000, 5000, 6000]     # or start/stop/step
direction = "up"
[warm_up]
rpm = 5000
for_s = 1800
[test]
volts = 13.5
volts_within = 0.1
[settle]
amps_percent = 0.5
horizon_s = 10
give_up_s = 120
predict = true
[accept]
below_percent = 10
decision = "guarded"
confidence = 0.95
at = "rated speeds"
[[check]]
name = "regulating voltage"
at_rpm = 4000
load = "light, about 10 % of rated"
in = "V"
low = 13.9
high = 14.7
"""


def method(tmp_path: Path, text: str) -> Method:
    path = tmp_path / "method.toml"
    path.write_text(text, encoding="utf-8")
    return load_method(path).profile


def test_every_key_of_the_contract_is_read(tmp_path: Path) -> None:
    warm = method(tmp_path, CONTRACT)
    assert warm.sweep.speeds() == (1500, 1800, 2000, 2500, 3000, 4000, 5000, 6000)
    assert warm.warm_up is not None
    assert (warm.warm_up.rpm, warm.warm_up.for_s, warm.warm_up.until) == (5000, 1800, "time")
    assert warm.accept is not None
    assert warm.accept.below_percent == 10
    check = warm.check[0]
    assert (check.in_, check.low, check.high) == ("V", 13.9, 14.7)
    assert (check.kind_of_answer, check.when_asked, check.needed) == ("number", "at speed", True)


def test_the_defaults_are_the_documented_ones(tmp_path: Path) -> None:
    bare = method(tmp_path, 'schema = 1\ntitle = "x"\n[sweep]\n')
    assert bare.sweep.speeds() is None
    assert bare.sweep.direction == "up"
    assert (bare.test.volts, bare.test.volts_within) == (None, 0.1)
    settle = bare.settle
    assert (settle.amps_percent, settle.amps_at_least) == (0.5, 0.1)
    assert (settle.rpm_percent, settle.rpm_at_least) == (0.3, 5.0)
    assert (settle.volts_percent, settle.volts_at_least) == (0.3, 0.05)
    assert (settle.horizon_s, settle.give_up_s, settle.predict) == (10.0, 120.0, True)
    assert (bare.warm_up, bare.accept, bare.check) == (None, None, ())


@pytest.mark.parametrize(
    ("sweep", "speeds"),
    [
        (SweepSpeeds(start=1500, stop=3000, step=500), (1500, 2000, 2500, 3000)),
        (SweepSpeeds(start=1500, stop=3100, step=500), (1500, 2000, 2500, 3000, 3100)),
        (SweepSpeeds(start=1500, stop=1800, step=0.1 * 1000), (1500, 1600, 1700, 1800)),
        (SweepSpeeds(start=1500, stop=1600, step=500), (1500, 1600)),
    ],
)
def test_a_range_of_speeds_ends_at_its_stop(sweep: SweepSpeeds, speeds: tuple[float, ...]) -> None:
    assert sweep.speeds() == pytest.approx(speeds)


@pytest.mark.parametrize(
    ("at_most", "speeds"),
    [
        (1, (5,)),
        (2, (1, 5)),
        (3, (1, 3, 5)),
        (4, (1, 2, 4, 5)),
        (5, (1, 2, 3, 4, 5)),
        (9, (1, 2, 3, 4, 5)),
    ],
)
def test_few_of_the_rated_speeds_keep_the_first_and_the_last(
    at_most: int, speeds: tuple[float, ...]
) -> None:
    assert SweepSpeeds(at_most=at_most).speeds_for((1, 2, 3, 4, 5)) == speeds


@pytest.mark.parametrize(
    ("sweep", "key", "said"),
    [
        ("rpm = [1500]\nstart = 1500", "sweep.start", "stands beside a list"),
        ("start = 1500\nstop = 3000", "sweep.step", "missing beside the others"),
        ("start = 3000\nstop = 1500\nstep = 100", "sweep.stop", "not above start"),
        ("start = 1\nstop = 30000\nstep = 1", "sweep.step", "more than 200 steps"),
        ("rpm = [2000, 1500]", "sweep.rpm", "has 1500 after 2000"),
        ("rpm = [1500, 1500]", "sweep.rpm", "has 1500 after 1500"),
        ("rpm = []", "sweep.rpm", "is an empty list"),
        ("rpm = 1500", "sweep.rpm", "must be a list in square brackets"),
        ("rpm = [-5]", "sweep.rpm[1]", "must be more than 0; it is -5"),
        ('rpm = [1500, "x"]', "sweep.rpm[2]", 'must be a number; it is "x"'),
        ("rpm = [1500]\nat_most = 4", "sweep.at_most", "for the rated speeds only"),
        ('direction = "down"', "sweep.direction", 'must be "up" or "up-down"'),
    ],
)
def test_speeds_that_make_no_sweep_say_why(
    problems_of: Problems, sweep: str, key: str, said: str
) -> None:
    found = problems_of("methods", f'title = "x"\n[sweep]\n{sweep}\n')
    assert set(found) == {key}
    assert said in found[key]


def test_all_that_is_wrong_with_a_method_comes_at_once(problems_of: Problems) -> None:
    found = problems_of(
        "methods",
        """
        title = ""
        [sweep]
        rpm = [1500, 1400]
        [setle]
        [settle]
        amps_percnt = 1
        horizon_s = 60
        give_up_s = 30
        [warm_up]
        rpm = 5000
        until = "warm"
        [test]
        volts_within = 0
        [accept]
        decison = "guarded"
        confidence = 95
        [[check]]
        nam = "x"
        [[check]]
        name = "y"
        low = 3
        high = 2
        [[check]]
        name = "y"
        kind = "yes-no"
        low = 1
        when = "at speed"
        """,
    )
    assert found == {
        "title": "must not be empty.",
        "sweep.rpm": "has 1400 after 1500. List the speeds rising, each once.",
        "setle": 'is not a key known here. Did you mean "settle"?',
        "settle.amps_percnt": 'is not a key known here. Did you mean "amps_percent"?',
        "settle.give_up_s": "is 30 s, shorter than horizon_s = 60 s. Nothing could settle in that"
        " time; make it longer.",
        "warm_up.for_s": "is missing. Add it: how long, or at most how long: for_s = 1800.",
        "warm_up.until": 'must be "time" or "steady"; it is "warm".',
        "test.volts_within": "must be more than 0; it is 0.",
        "accept.decison": 'is not a key known here. Did you mean "decision"?',
        "accept.confidence": "must be less than 1; it is 95.",
        "accept": "states no limit. Add below_percent, below_amps, at_least_percent, or"
        " on_or_above = true.",
        "check[1].nam": 'is not a key known here. Did you mean "name"?',
        "check[2].low": "is 3, above high = 2. Swap them.",
        "check[3].name": "is taken by an earlier check. Rename.",
        "check[3].low": 'does not fit kind = "yes-no". Leave it out.',
        "check[3].at_rpm": 'is missing beside when = "at speed". Add the shaft speed.',
    }


@pytest.mark.parametrize(
    ("accept", "key", "said"),
    [
        ("", "accept", "states no limit"),
        ("on_or_above = false", "accept", "states no limit"),
        ("below_percent = 100", "accept.below_percent", "must be less than 100"),
        ("below_amps = -1", "accept.below_amps", "must be at least 0; it is -1"),
        ("below_amps = nan", "accept.below_amps", "an ordinary number"),
        ("at_least_percent = 0", "accept.at_least_percent", "must be more than 0"),
        ("below_amps = 1\nconfidence = 0.4", "accept.confidence", "must be at least 0.5"),
        ('below_amps = 1\nat = "all"', "accept.at", '"rated speeds" or "measured speeds"'),
    ],
)
def test_a_rule_that_accepts_nothing_or_anything_is_refused(
    problems_of: Problems, accept: str, key: str, said: str
) -> None:
    found = problems_of("rules", f'title = "x"\n[accept]\n{accept}\n')
    assert set(found) == {key}
    assert said in found[key]


def test_a_rule_keeps_several_limits(tmp_path: Path) -> None:
    path = tmp_path / "rule.toml"
    path.write_text('title = "x"\n[accept]\nbelow_percent = 10\nbelow_amps = 8\n')
    accept = load_rule(path).profile.accept
    assert (accept.below_percent, accept.below_amps) == (10, 8)
    assert (accept.decision, accept.confidence, accept.at) == ("guarded", 0.95, "rated speeds")


@pytest.mark.parametrize(
    ("kind", "missing"),
    [
        ("methods", {"title", "sweep"}),
        ("rules", {"title", "accept"}),
        ("rigs", {"title", "channels"}),
        ("instruments", {"title", "for", "driver"}),
    ],
)
def test_required_keys_are_named(problems_of: Problems, kind: Kind, missing: set[str]) -> None:
    assert set(problems_of(kind, "")) == missing


@pytest.mark.parametrize("kind", KINDS)
def test_a_file_for_a_newer_program_is_one_clear_error(problems_of: Problems, kind: Kind) -> None:
    found = problems_of(kind, "schema = 2\nnew = 1\n")
    assert found == {
        "schema": "is 2, and this program reads schemas up to 1. Use a newer steadyamps for this"
        " file."
    }
