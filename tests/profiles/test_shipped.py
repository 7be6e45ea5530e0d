"""Every file that comes with the program."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from profiles.catalogue import (
    KINDS,
    Kind,
    check_file,
    entries,
    find,
    from_snapshot,
    load,
    load_method,
    load_rated,
    load_rig,
    load_rule,
    shipped_folder,
    snapshot,
)
from profiles.drive import LoadHolds
from profiles.rule import Accept

SHIPPED = [(kind, path) for kind in KINDS for path in sorted(shipped_folder(kind).iterdir())]
IDS = [f"{kind}/{path.stem}" for kind, path in SHIPPED]


@pytest.mark.parametrize(("kind", "path"), SHIPPED, ids=IDS)
def test_a_shipped_file_loads_by_name_and_by_path_and_tells_its_kind(
    kind: Kind, path: Path
) -> None:
    assert path.suffix == ".toml"
    by_name = load(kind, path.stem)
    assert by_name.origin == "shipped"
    assert by_name.path == path
    assert by_name.profile == load(kind, path).profile
    assert check_file(path)[0] == kind
    assert by_name.text == path.read_text(encoding="utf-8")


@pytest.mark.parametrize(("kind", "path"), SHIPPED, ids=IDS)
def test_a_shipped_file_survives_the_round_trip_through_a_record(kind: Kind, path: Path) -> None:
    profile = load(kind, path).profile
    again = from_snapshot(kind, snapshot(profile))
    assert again == profile or kind == "instruments"  # a record keeps the rig, descriptions merged
    assert snapshot(again) == snapshot(profile)


@pytest.mark.parametrize(("kind", "path"), SHIPPED, ids=IDS)
def test_makers_stand_in_source_lines_and_comments_only(kind: Kind, path: Path) -> None:
    makers = re.compile(
        r"ford|delco|gm\b|general motors|mitsubishi|kia|fiat|suzuki|mercedes|volvo|perkins|bosch"
        r"|valeo|denso|lucas|westerbeke",
        re.IGNORECASE,
    )
    values = tomllib.loads(path.read_text(encoding="utf-8"))
    for check in values.get("check", []):
        check.pop("source", None)
    values.pop("source", None)
    assert not makers.search(repr(values))
    assert not makers.search(path.stem)


@pytest.mark.parametrize("entry", entries("rules"), ids=lambda entry: entry.name)
def test_every_shipped_rule_names_its_source(entry: object) -> None:
    rule = load_rule(entry.path).profile  # type: ignore[attr-defined]
    assert rule.source is not None
    assert len(rule.source) > 30


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("within-10-percent", Accept(below_percent=10)),
        ("within-10-percent-as-read", Accept(below_percent=10, decision="simple")),
        ("within-10-amps", Accept(below_amps=10)),
        ("within-15-amps", Accept(below_amps=15)),
        ("at-least-70-percent", Accept(at_least_percent=70)),
        ("on-or-above", Accept(on_or_above=True)),
    ],
)
def test_a_shipped_rule_is_named_by_its_arithmetic(name: str, expected: Accept) -> None:
    assert load_rule(name).profile.accept == expected


def test_there_are_no_rules_beyond_those_whose_arithmetic_is_tested() -> None:
    assert len(entries("rules")) == 6


@pytest.mark.parametrize("entry", entries("alternators"), ids=lambda entry: entry.name)
def test_the_quick_method_measures_every_rated_speed_of_a_shipped_alternator(entry: object) -> None:
    curve = load_rated(entry.path).profile.rated_curve()  # type: ignore[attr-defined]
    rated = tuple(rpm for rpm, _ in curve.points)
    assert load_method("quick").profile.sweep.speeds_for(rated) == rated
    assert "invented" in curve.title
    assert curve.max_shaft_rpm is not None


def test_the_alternator_of_the_contract_is_shipped() -> None:
    curve = load_rated("small-frame-14v-90a").profile.rated_curve()
    assert curve.points == ((1500, 45.0), (2000, 60.0), (3000, 77.0), (6000, 90.0))
    assert (curve.volts, curve.state, curve.derived, curve.pole_pairs) == (13.5, "warm", False, 6)


def test_the_plate_only_alternator_is_derived_and_judged_at_two_speeds() -> None:
    curve = load_rated("plate-only-14v-65a").profile.rated_curve()
    assert curve.derived
    assert curve.points == ((1800, 35.0), (6000, 65.0))


def test_quick_is_cold_and_at_most_four_speeds() -> None:
    quick = load_method("quick").profile
    assert quick.warm_up is None
    assert quick.sweep.speeds() is None
    assert quick.sweep.speeds_for((1, 2, 3, 4, 5, 6, 7)) == (1, 3, 5, 7)
    assert quick.accept == Accept(below_percent=10, decision="guarded", confidence=0.95)
    assert 4 * quick.settle.give_up_s < 300
    assert quick.check == ()


@pytest.mark.parametrize("name", ["simulated", "simulated-24"])
def test_a_simulated_rig_is_whole(name: str) -> None:
    rig = load_rig(name).profile
    assert rig.simulated is not None
    assert find("alternators", rig.simulated.machine)
    assert rig.ratio == pytest.approx(1.8)
    assert {wire.port for _, wire in rig.wires()} == {
        f"simulated:{part}"
        for part in ("tachometer", "ammeter", "voltmeter", "thermometer", "drive", "load")
    }
    assert rig.drive is not None
    assert rig.drive.output is not None
    assert rig.drive.comm_timeout is not None
    assert isinstance(rig.load, LoadHolds)
    assert rig.load.mode == "MODE:VOLT"


def test_by_hand_has_everything_typed_and_no_drive() -> None:
    rig = load_rig("by-hand").profile
    assert rig.drive is None
    assert {name: channel.driver for name, channel in rig.channels.items()} == {
        "shaft_rpm": "hand",
        "amps": "hand",
        "volts": "hand",
    }


def test_the_example_bench_takes_its_instruments_from_their_descriptions() -> None:
    rig = load_rig("real-bench-example").profile
    amps = rig.channels["amps"]
    assert amps.like == "multimeter-on-shunt"
    assert amps.scale == 5000.0
    assert amps.serial_number == "SN-0001"
    assert rig.drive is not None
    assert rig.drive.parity == "even"
