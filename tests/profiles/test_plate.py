"""The text of a plate."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from profiles.catalogue import load_rated
from profiles.errors import ProfileError
from profiles.plain_text import visible
from profiles.plate import Plate, looks_like_plate, parse_plate


@pytest.mark.parametrize(
    ("text", "plate"),
    [
        ("45/90A 14V @1500/6000", Plate(45, 90, 14, 1500, 6000)),
        ("14V 90A @6000", Plate(None, 90, 14, None, 6000)),
        ("50/120A 13.5V @1800/6000 rpm", Plate(50, 120, 13.5, 1800, 6000)),
        ("50/120A 13.5V", Plate(50, 120, 13.5, None, None)),
        ("50 / 120 A, 13,5 V @ 1800 / 6000 r/min", Plate(50, 120, 13.5, 1800, 6000)),
        ("28v 80a @6000 1/min", Plate(None, 80, 28, None, 6000)),
        ("14V-70A", Plate(None, 70, 14, None, None)),
        ("90 amps 14 volts @6000", Plate(None, 90, 14, None, 6000)),
    ],
)
def test_a_plate_is_read(text: str, plate: Plate) -> None:
    assert parse_plate(text) == plate


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("90A", "does not say the volts"),
        ("14V", "does not say the amps"),
        ("14V 90A 80A", "gives amps twice"),
        ("14V 90A 12V", "gives volts twice"),
        ("12/14V 90A", "gives two voltages"),
        ("14V 90A @", "one or two speeds after the @"),
        ("14V 90A @fast", "one or two speeds after the @"),
        ("45/90A 14V @6000", "as many speeds as amps"),
        ("90A 14V @1500/6000", "as many speeds as amps"),
        ("90/45A 14V @1500/6000", "the larger one last"),
        ("45/90A 14V @6000/1500", "the higher one last"),
        ("45/90A 14V @0/6000", "the higher one last"),
        ("0A 14V @6000", "amps above zero"),
        ("90A 0V @6000", "volts above zero"),
        ("90A 14V nonsense", '"nonsense" where amps or volts belong'),
        ("90A 14Vx", '"14Vx" where amps or volts belong'),
        ("90A 14V " + "x" * 80, "longer than 80 characters"),
        ("٩٠A 14V @6000", "where amps or volts belong"),
    ],
)
def test_what_is_wrong_with_a_plate_is_said_with_an_example(text: str, said: str) -> None:
    with pytest.raises(ProfileError) as caught:
        parse_plate(text)
    assert said in str(caught.value)
    assert '"45/90A 14V @1500/6000"' in str(caught.value)


@given(st.text(max_size=90) | st.from_regex(r"[0-9./,]{0,9} ?[AVav]? ?[0-9/.]{0,9}[AV]?@?[0-9/]*"))
def test_any_text_is_a_plate_or_a_profile_error(text: str) -> None:
    try:
        plate = parse_plate(text)
    except ProfileError as caught:
        said = str(caught)
    else:
        said = f"{plate.rated_amps:g} A"
        assert plate.rated_amps > 0
        assert plate.volts > 0
    assert visible(said) == said


@given(
    st.integers(1, 400),
    st.integers(1, 400),
    st.integers(1000, 2000),
    st.integers(2001, 9000),
    st.sampled_from([13.5, 14, 27, 28]),
)
def test_a_plate_made_of_numbers_gives_them_back(
    idle: int, more: int, idle_rpm: int, rated_rpm: int, volts: float
) -> None:
    text = f"{idle}/{idle + more}A {volts}V @{idle_rpm}/{rated_rpm}"
    assert parse_plate(text) == Plate(idle, idle + more, volts, idle_rpm, rated_rpm)


def test_a_plate_becomes_a_warm_derived_curve_that_says_so() -> None:
    loaded = load_rated("45/90A 14V @1500/6000")
    curve = loaded.profile.rated_curve()
    assert (loaded.origin, loaded.path, loaded.text) == ("plate", None, "45/90A 14V @1500/6000")
    assert curve.points == ((1500, 45), (6000, 90))
    assert (curve.volts, curve.state, curve.derived, curve.system_volts) == (14, "warm", True, 12)
    assert curve.source == "read from a plate, taken as warm (common practice, no source)"
    assert curve.title == "45/90A 14V @1500/6000"


@pytest.mark.parametrize(
    ("text", "system"), [("80A 28V @6000", 24), ("80A 42V @6000", 36), ("80A 54V @6000", 48)]
)
def test_the_system_voltage_follows_from_the_test_voltage(text: str, system: int) -> None:
    assert load_rated(text).profile.alternator.system_volts == system


def test_a_plate_that_fits_no_system_is_refused() -> None:
    with pytest.raises(ProfileError, match="says 90 V, which fits no system"):
        load_rated("90A 90V @6000")


@pytest.mark.parametrize(
    ("text", "hint"), [("45/90A 14V", "@1500/6000"), ("14V 90A", "@6000, as in")]
)
def test_a_plate_without_speeds_says_what_to_add(text: str, hint: str) -> None:
    with pytest.raises(ProfileError, match="does not say at which speeds") as caught:
        load_rated(text)
    assert f"Add them after an @, such as {hint}" in str(caught.value)


def test_a_plate_with_an_impossible_current_is_refused_by_the_curve_as_well() -> None:
    with pytest.raises(ProfileError, match="rpm"):
        load_rated("90A 14V @999999")


@pytest.mark.parametrize("name", ["small-frame-14v-90a", "my unit", "rated/14v.toml", ""])
def test_names_and_paths_are_not_taken_for_plates(name: str) -> None:
    assert not looks_like_plate(name)
