"""Units of measure and command templates."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from profiles.channels import CHANNEL_NAMES, CHANNELS
from profiles.instrument import HandChannel
from profiles.table import Wrong
from profiles.template import _template, filled
from profiles.units_of_measure import known_for


def read(channel: str, unit_of_measure: str, raw: float) -> float:
    return HandChannel.model_validate({"driver": "hand", "in": unit_of_measure}).value_of(
        channel, raw
    )


@pytest.mark.parametrize(
    ("channel", "unit_of_measure", "raw", "value"),
    [
        ("shaft_rpm", "rpm", 1500.0, 1500.0),
        ("shaft_rpm", "Hz", 25.0, 1500.0),
        # 5000 rpm are 83.3 turns a second, 2000 rpm are 33.3; at least one manual confuses them
        ("shaft_rpm", "1/s", 83.3333333333, 5000.0),
        ("w_hz", "kHz", 0.6, 600.0),
        ("amps", "mA", 1500.0, 1.5),
        ("volts", "mV", 13500.0, 13.5),
        ("case_c", "°C", 85.0, 85.0),
        ("case_c", "F", 212.0, 100.0),  # boiling and freezing of water
        ("case_c", "°F", 32.0, 0.0),
        ("case_c", "K", 273.15, 0.0),  # SI Brochure, 9th edition, 2.3.1: t/°C = T/K − 273.15
        ("torque_nm", "N·m", 6.3, 6.3),
        ("torque_nm", "lbf ft", 1.0, 1.355818),  # NIST SP 811 (2008), B.8
    ],
)
def test_units_of_measure_become_the_channels_own(
    channel: str, unit_of_measure: str, raw: float, value: float
) -> None:
    assert read(channel, unit_of_measure, raw) == pytest.approx(value, rel=1e-6, abs=1e-9)


def test_scale_and_offset_come_before_the_unit_of_measure() -> None:
    channel = HandChannel.model_validate(
        {"driver": "hand", "in": "mA", "scale": 2.0, "offset": 100.0}
    )
    assert channel.value_of("amps", 200.0) == pytest.approx(0.5)


@pytest.mark.parametrize("name", CHANNEL_NAMES)
def test_every_channel_knows_its_own_unit_of_measure(name: str) -> None:
    kind = CHANNELS[name]
    assert kind.name == name
    assert known_for(name)[kind.unit_of_measure] == (1.0, 0.0)


@pytest.mark.parametrize(
    ("template", "command"),
    [
        ("VOLT {value:.2f}", "VOLT 13.50"),
        ("VOLT {value}", "VOLT 13.5"),
        ("S{value:04d}X", "S0014X"),
        ("{value:.3e}", "1.350e+01"),
    ],
)
def test_a_template_is_filled(template: str, command: str) -> None:
    assert filled(_template(template), 13.5) == command


@given(st.text(max_size=30) | st.from_regex(r"\{value[:.!\[]?[^}]{0,6}\}", fullmatch=True))
def test_any_text_is_a_safe_template_or_refused(text: str) -> None:
    try:
        template = _template(text)
    except Wrong as error:
        assert str(error)  # noqa: PT017
        return
    command = filled(template, 13.5)
    assert "13" in command or "14" in command or "1." in command or "1e" in command.lower()
    assert "{" not in command
