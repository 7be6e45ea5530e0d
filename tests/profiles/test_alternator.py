"""Rated curves: what a file may say, and every way it can be wrong."""

from __future__ import annotations

from pathlib import Path

import pytest

from profiles.catalogue import load_rated
from tests.profiles.conftest import Problems

CONTRACT = """
title = "14 V 45/90 A, small frame (invented)"
[alternator]
system_volts = 12            # 12, 24, 36 or 48 (nominal battery)
marking = "45/90A 13.5V"
max_shaft_rpm = 15000
pole_pairs = 6               # turns w_hz into speed, ripple frequency into lines
regulator = "internal"       # internal | external | commanded | none
field = "fed by unit"        # fed by unit | fed from bench
needs = ["lamp on D+", "ignition"]   # wiring to be ticked before the drive turns
turns = "cw"                 # seen from the drive end: cw | ccw | either
isolated_earth = false
[rated]
volts = 13.5                 # the one home of the test voltage
state = "warm"               # warm | cold
source = "invented for the demonstration"
points = [[1500, 45.0], [2000, 60.0], [3000, 77.0], [6000, 90.0]]   # shaft rpm, amps
"""
SMALLEST = """
title = "x"
[alternator]
system_volts = 12
[rated]
volts = 13.5
state = "warm"
points = [[6000, 90]]
"""


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "unit.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_every_key_of_the_contract_is_read(tmp_path: Path) -> None:
    curve = load_rated(written(tmp_path, CONTRACT)).profile.rated_curve()
    assert curve.points == ((1500, 45.0), (2000, 60.0), (3000, 77.0), (6000, 90.0))
    assert curve.needs == ("lamp on D+", "ignition")
    assert (curve.field, curve.turns, curve.isolated_earth) == ("fed by unit", "cw", False)
    assert (curve.system_volts, curve.max_shaft_rpm, curve.marking) == (12, 15000, "45/90A 13.5V")


def test_the_required_keys_are_enough(tmp_path: Path) -> None:
    curve = load_rated(written(tmp_path, SMALLEST)).profile.rated_curve()
    assert (curve.regulator, curve.field, curve.turns) == ("internal", "fed by unit", "either")
    assert (curve.max_shaft_rpm, curve.pole_pairs) == (None, None)
    assert (curve.needs, curve.source) == ((), "")


@pytest.mark.parametrize("table", ["alternator", "rated"])
def test_the_speeds_of_a_marking_may_stand_in_either_table(tmp_path: Path, table: str) -> None:
    text = SMALLEST.replace("points = [[6000, 90]]", "")
    text = text.replace("[alternator]", '[alternator]\nmarking = "45/90A 13.5V"')
    text = text.replace(f"[{table}]", f"[{table}]\nidle_rpm = 1800\nrated_rpm = 6000")
    curve = load_rated(written(tmp_path, text)).profile.rated_curve()
    assert curve.derived
    assert curve.points == ((1800, 45.0), (6000, 90.0))


def test_an_empty_file_names_every_missing_table(problems_of: Problems) -> None:
    assert set(problems_of("alternators", "")) == {"title", "alternator", "rated"}


def test_all_that_is_wrong_comes_at_once(problems_of: Problems) -> None:
    said = problems_of(
        "alternators",
        """
        titel = "x"
        [alternator]
        system_volts = 12
        max_shaft_rmp = 3
        regulator = "inside"
        pole_pairs = 6.5
        needs = "lamp"
        isolated_earth = "no"
        [rated]
        volts = 27.0
        state = "wram"
        points = [[1500, 45.0], [1400, 60.0]]
        """,
    )
    assert said == {
        "titel": 'is not a key known here. Did you mean "title"?',
        "alternator.max_shaft_rmp": 'is not a key known here. Did you mean "max_shaft_rpm"?',
        "alternator.regulator": 'must be "internal", "external", "commanded" or "none"; it is'
        ' "inside".',
        "alternator.pole_pairs": "must be a whole number; it is 6.5.",
        "alternator.needs": 'must be a list in square brackets; it is "lamp".',
        "alternator.isolated_earth": 'must be true or false; it is "no".',
        "rated.state": 'must be "warm" or "cold"; it is "wram". Did you mean "warm"?',
        "rated.points": "point 2 (1400 rpm) does not rise above 1500 rpm. List the points by"
        " rising speed, each speed once.",
        "rated.volts": "is 27 V, which does not fit a 12 V system. Give a test voltage between 12"
        " and 15.5 V, or mend system_volts.",
    }


@pytest.mark.parametrize(
    ("points", "said"),
    [
        ("[]", "at least one point"),
        ("3", "must be a list of [rpm, amps]; it is 3"),
        ("[[1500]]", "point 1 must be a pair [rpm, amps]"),
        ("[1500, 45]", "point 1 must be a pair [rpm, amps]; it is 1500"),
        ('[[1500, 45], ["2000", 60]]', "point 2 must be a pair [rpm, amps]"),
        ("[[1500, true]]", "point 1 must be a pair"),
        ("[[1500, 45], [1500, 60]]", "point 2 (1500 rpm) does not rise above 1500 rpm"),
        ("[[0, 45]]", "point 1 has 0 rpm"),
        ("[[-1500, 45]]", "point 1 has -1500 rpm"),
        ("[[40000, 45]]", "point 1 has 40000 rpm; a speed lies between 0 and 30000"),
        ("[[1500, -1]]", "point 1 has -1 A; a current lies between 0 and 2000"),
        ("[[1500, 2001]]", "point 1 has 2001 A"),
        ("[[nan, 45]]", "point 1 has nan rpm"),
        ("[[1500, inf]]", "point 1 has inf A"),
        ("[[1500, 45], [6000, 9]]", "point 2 falls to 9 A after 45 A"),
        ("[[1500, -1], [0, 1]]", "point 1 has -1 A"),
        ("[[1500, -1], [0, 1]]", "point 2 has 0 rpm"),
    ],
)
def test_points_that_cannot_be_are_told_by_their_number(
    problems_of: Problems, points: str, said: str
) -> None:
    found = problems_of("alternators", SMALLEST.replace("[[6000, 90]]", points))
    assert set(found) == {"rated.points"}
    assert said in found["rated.points"]


def test_a_curve_may_fall_a_little_at_the_top(tmp_path: Path) -> None:
    text = SMALLEST.replace("[[6000, 90]]", "[[6000, 90], [10000, 86]]")
    assert load_rated(written(tmp_path, text)).profile.rated_curve().points[-1] == (10000, 86)


@pytest.mark.parametrize(
    ("system", "volts", "fits"),
    [
        (12, 11.9, False),
        (12, 12, True),
        (12, 15.5, True),
        (12, 15.6, False),
        (24, 23.9, False),
        (24, 27, True),
        (24, 31.5, False),
        (36, 40.5, True),
        (36, 28, False),
        (48, 54, True),
        (48, 42, False),
    ],
)
def test_the_test_voltage_must_fit_the_system(
    problems_of: Problems, system: int, volts: float, fits: bool
) -> None:
    text = SMALLEST.replace("system_volts = 12", f"system_volts = {system}")
    said = problems_of("alternators", text.replace("volts = 13.5", f"volts = {volts}"))
    assert set(said) == (set() if fits else {"rated.volts"})


NO_POINTS = SMALLEST.replace("points = [[6000, 90]]", "")


@pytest.mark.parametrize(
    ("keys", "key", "said"),
    [
        ("", "rated.points", "there is no marking to derive a curve from"),
        ('marking = "45/90A 13.5V"', "alternator.rated_rpm", "the marking gives no curve"),
        ('marking = "45/90A 13.5V"', "alternator.idle_rpm", "the 45 A of the marking"),
        (
            'marking = "90A 13.5V"\nidle_rpm = 1500\nrated_rpm = 6000',
            "alternator.idle_rpm",
            "the marking has no first current",
        ),
        (
            'marking = "45/90A 13.5V"\nidle_rpm = 6000\nrated_rpm = 1500',
            "alternator.idle_rpm",
            "not below rated_rpm",
        ),
        ('marking = "lots"\nrated_rpm = 6000', "alternator.marking", '"lots" where amps'),
        ('marking = "90A 13.5V @6000"', "alternator.marking", "holds speeds after an @"),
    ],
)
def test_a_marking_that_gives_no_curve_says_what_is_missing(
    problems_of: Problems, keys: str, key: str, said: str
) -> None:
    found = problems_of("alternators", NO_POINTS.replace("[alternator]", f"[alternator]\n{keys}"))
    assert said in found[key]


def test_a_number_in_quotation_marks_is_told_how_to_be_one(problems_of: Problems) -> None:
    found = problems_of("alternators", SMALLEST.replace("volts = 12", 'volts = "12"'))
    assert found == {
        "alternator.system_volts": 'must be 12, 24, 36 or 48; it is "12". Did you mean 12, without'
        " quotation marks?"
    }


def test_points_and_marking_must_say_the_same(problems_of: Problems) -> None:
    keys = 'marking = "45/95A 13.5V"\nidle_rpm = 1500\nrated_rpm = 6000'
    found = problems_of("alternators", SMALLEST.replace("[alternator]", f"[alternator]\n{keys}"))
    assert "give 90 A at 6000 rpm, and the marking gives 95 A" in found["rated.points"]
    same = keys.replace("95", "90")
    assert not problems_of("alternators", SMALLEST.replace("[alternator]", f"[alternator]\n{same}"))


def test_speeds_given_twice_must_agree(problems_of: Problems) -> None:
    text = NO_POINTS.replace("[alternator]", '[alternator]\nmarking = "90A 14V"\nrated_rpm = 6000')
    found = problems_of("alternators", text + "rated_rpm = 5000\n")
    assert "is 5000 rpm, and alternator.rated_rpm is 6000 rpm" in found["rated.rated_rpm"]


def test_no_rated_point_may_lie_above_the_highest_speed(problems_of: Problems) -> None:
    text = SMALLEST.replace("[alternator]", "[alternator]\nmax_shaft_rpm = 5000")
    found = problems_of("alternators", text)
    assert "below the last rated point at 6000 rpm" in found["alternator.max_shaft_rpm"]


def test_control_characters_are_shown_and_never_passed_on(
    problems_of: Problems, tmp_path: Path
) -> None:
    text = SMALLEST.replace('title = "x"', r'title = "x\u001b[31m\u202e"')
    title = load_rated(written(tmp_path, text)).profile.title
    assert title == r"x\x1b[31m\u202e"
    found = problems_of("alternators", SMALLEST.replace('"warm"', r'"\u001b[2J"'))
    assert r'it is "\x1b[2J"' in found["rated.state"]
    found = problems_of("alternators", SMALLEST + r'"\u0007bell" = 1')
    assert set(found) == {r"rated.\x07bell"}
