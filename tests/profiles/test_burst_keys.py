"""Keys of a burst: what a rig file may say of an instrument that answers with samples."""

from __future__ import annotations

from typing import Any

import pytest

from profiles.catalogue import from_snapshot, load_rig, rig_from, snapshot
from profiles.errors import ProfileError
from profiles.instrument import ScpiChannel
from profiles.rig import Rig

METER: dict[str, Any] = {"driver": "scpi", "port": "COM3", "query": "READ?"}
LINES: dict[str, Any] = {"driver": "lines", "port": "COM3", "pattern": "(?P<value>.*)"}
BURST: dict[str, Any] = {"burst_samples": 2000, "burst_sample_s": 5e-5}


def rig(channel: str = "ripple_volts", **keys: Any) -> Rig:
    hand = {"shaft_rpm": {"driver": "hand"}, "amps": {"driver": "hand"}}
    return rig_from({"title": "Bench", "channels": {**hand, channel: keys}}, "bench.toml")


def test_a_burst_is_described_by_number_and_spacing_of_its_samples() -> None:
    channel = rig(**METER, **BURST, burst_form="f32").channels["ripple_volts"]
    assert isinstance(channel, ScpiChannel)
    assert (channel.burst_samples, channel.burst_sample_s) == (2000, 5e-5)
    assert rig(**LINES, **BURST, query="A").channels["ripple_volts"]


@pytest.mark.parametrize(
    ("keys", "key", "words"),
    [
        ({**METER, "burst_samples": 2000}, "burst_sample_s", "is missing"),
        ({**METER, "burst_sample_s": 5e-5}, "burst_samples", "is missing"),
        ({**METER, "burst_form": "f32"}, "burst_samples", "is missing"),
        ({**METER, **BURST, "burst_samples": 8}, "burst_samples", "16"),
        ({**METER, **BURST, "burst_samples": 10_001}, "burst_samples", "10000"),
        ({**METER, **BURST, "burst_sample_s": 0.0}, "burst_sample_s", "0"),
        ({**METER, **BURST, "burst_form": "f16"}, "burst_form", "f32"),
        ({**METER, **BURST, "field": 1}, "field", "chooses one number"),
        ({**LINES, **BURST}, "query", "is missing"),
        ({**LINES, **BURST, "query": "A", "burst_form": "f32"}, "burst_form", "not a key"),
    ],
)
def test_a_burst_half_described_is_refused_by_key(
    keys: dict[str, Any], key: str, words: str
) -> None:
    with pytest.raises(ProfileError) as caught:
        rig(**keys)
    problems = [p for p in caught.value.problems if p.key.endswith(f"ripple_volts.{key}")]
    assert problems, caught.value
    assert any(words in f"{p.message} {p.what_to_do}" for p in problems), problems


def test_only_an_ac_value_is_made_of_a_burst() -> None:
    with pytest.raises(ProfileError, match="makes an AC value of a burst, and output voltage"):
        rig("volts", **METER, **BURST)


def test_the_shipped_rig_pulls_the_burst_in_and_a_record_gives_it_back() -> None:
    shipped = load_rig("simulated-ripple").profile
    channel = shipped.channels["ripple_volts"]
    assert isinstance(channel, ScpiChannel)
    assert channel.burst_form == "f32"
    assert from_snapshot("rigs", snapshot(shipped)) == shipped


def test_a_rig_without_bursts_is_kept_in_the_words_of_before() -> None:
    kept = snapshot(load_rig("simulated").profile)
    assert "burst" not in str(kept)
