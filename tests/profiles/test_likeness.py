"""Instrument descriptions, and rigs that refer to them with `like`."""

from __future__ import annotations

from pathlib import Path

import pytest

from profiles.catalogue import load_instrument, load_rig
from profiles.errors import Problem, ProfileError
from profiles.instrument import ScpiChannel
from tests.profiles.conftest import Problems

METER = 'title = "m"\nfor = ["amps"]\ndriver = "scpi"\nquery = "R?"\nscale = 10.0\n'
RIG = 'title = "x"\n[channels.shaft_rpm]\ndriver = "hand"\n[channels.amps]\nlike = "meter"\n'


@pytest.fixture
def meter(config: Path) -> Path:
    path = config / "instruments" / "meter.toml"
    path.parent.mkdir(parents=True)
    path.write_text(METER, encoding="utf-8")
    return path


def problems(tmp_path: Path, text: str) -> tuple[Problem, ...]:
    path = tmp_path / "rig.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ProfileError) as caught:
        load_rig(path)
    return caught.value.problems


def test_the_keys_of_a_description_hold_where_the_rig_has_none(meter: Path, tmp_path: Path) -> None:
    path = tmp_path / "rig.toml"
    path.write_text(RIG + 'port = "COM1"\nscale = 20.0\n', encoding="utf-8")
    amps = load_rig(path).profile.channels["amps"]
    assert isinstance(amps, ScpiChannel)
    assert (amps.like, amps.query, amps.scale, amps.port) == ("meter", "R?", 20.0, "COM1")


def test_a_mistake_in_a_description_is_blamed_on_its_file(meter: Path, tmp_path: Path) -> None:
    meter.write_text(METER + 'every_s = "often"\nqery = "X"\n', encoding="utf-8")
    found = problems(tmp_path, RIG + 'port = "COM1"\nbuad = 9600\n')
    assert {(p.file, p.key) for p in found} == {
        (str(meter), "every_s"),
        (str(meter), "qery"),
        (str(tmp_path / "rig.toml"), "channels.amps.buad"),
    }


def test_a_description_that_does_not_exist_names_near_ones(tmp_path: Path, meter: Path) -> None:
    (only,) = problems(tmp_path, RIG.replace('"meter"', '"metre"'))
    assert only.key == "channels.amps.like"
    assert "there is no instrument description of this name" in only.message
    assert "meter" in only.what_to_do


def test_a_broken_description_is_named_with_its_line(meter: Path, tmp_path: Path) -> None:
    meter.write_text("title = \n", encoding="utf-8")
    (only,) = problems(tmp_path, RIG)
    assert only.file == str(meter)
    assert "line 1, column 9" in only.message


def test_a_description_serves_only_for_what_it_says(meter: Path, tmp_path: Path) -> None:
    text = RIG + 'port = "COM1"\n[channels.volts]\nlike = "meter"\nport = "COM2"\n'
    (only,) = problems(tmp_path, text)
    assert (only.key, only.message) == (
        "channels.volts.like",
        '"meter" serves for amps, not for volts.',
    )


def test_a_rig_cannot_take_another_driver_than_its_description(meter: Path, tmp_path: Path) -> None:
    found = problems(tmp_path, RIG + 'port = "COM1"\ndriver = "lines"\n')
    assert found[0].key == "channels.amps.driver"
    assert found[0].message == 'is "lines", and "meter" is "scpi".'


def test_like_works_for_drive_and_load_as_well(problems_of: Problems) -> None:
    text = RIG.replace("like = ", 'driver = "hand"\n#')
    text += '[drive]\nlike = "drive-modbus"\nport = "COM1"\n'
    text += '[load]\nlike = "load-bank-modbus"\nport = "COM2"\n'
    assert not problems_of("rigs", text)
    found = problems_of("rigs", text.replace("load-bank-modbus", "drive-modbus"))
    assert found["load.like"] == '"drive-modbus" serves for drive, not for load. Take another one.'


def test_a_description_is_checked_without_its_port(problems_of: Problems) -> None:
    assert not problems_of("instruments", METER)
    found = problems_of(
        "instruments", METER.replace("scale = 10.0", 'scale = "x"\nin = "V"\nz = 1')
    )
    assert set(found) == {"scale", "in", "z"}


@pytest.mark.parametrize(
    ("old", "new", "key", "said"),
    [
        ('["amps"]', '["amp"]', "for[1]", 'Did you mean "amps"?'),
        ('["amps"]', "[]", "for", "at least 1 entries"),
        ('driver = "scpi"', "", "driver", "is missing"),
        ('driver = "scpi"', 'driver = "usb"', "driver", 'is "usb". For amps it is "lines"'),
        ('title = "m"', "", "title", "is missing"),
    ],
)
def test_a_wrong_head_of_a_description_is_told(
    problems_of: Problems, old: str, new: str, key: str, said: str
) -> None:
    found = problems_of("instruments", METER.replace(old, new))
    assert said in found[key]


def test_a_loaded_description_keeps_its_keys() -> None:
    loaded = load_instrument("multimeter-on-shunt")
    assert loaded.profile.for_ == ("amps",)
    assert loaded.profile.keys["scale"] == 5000.0
