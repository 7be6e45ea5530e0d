"""Which parts share a port, and which cannot."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from importlib.metadata import EntryPoint, EntryPoints

import pytest

from drivers import code_drivers
from drivers.code_drivers import code_driver
from drivers.errors import CannotOpen
from drivers.exchange import Exchange
from drivers.links import SerialSettings
from drivers.port_address import VISA, link_for, open_link, port_of
from drivers.port_driver import Poll, PortDriver
from drivers.serial_link import SerialLink
from drivers.socket_links import SocketLink
from drivers.visa import VisaLink
from drivers.wiring_plan import plan_ports
from profiles.instrument import CodeChannel, ScpiChannel
from tests.drivers.rigs import WHOLE_BENCH, rig_of


def wire(**keys: str) -> ScpiChannel:
    return ScpiChannel.model_validate({"driver": "scpi", "query": "A?", **keys})


@pytest.mark.parametrize(
    ("keys", "address"),
    [
        ({"port": "socket://Bench:4001"}, "socket://bench:4001"),
        ({"port": "tcp://bench:502"}, "tcp://bench:502"),
        ({"port": "com7"}, "COM7"),
        ({"port": "/dev/ttyUSB0"}, "/dev/ttyUSB0"),
        ({"resource": "TCPIP::bench::4001::SOCKET"}, "socket://bench:4001"),
        ({"resource": "TCPIP0::10.0.0.7::5025::SOCKET"}, "socket://10.0.0.7:5025"),
        ({"resource": "ASRL/dev/ttyUSB0::INSTR"}, "/dev/ttyUSB0"),
        ({"resource": "ASRLCOM7::INSTR"}, "COM7"),
        ({"resource": "TCPIP::bench::inst0::INSTR"}, f"{VISA}TCPIP::bench::inst0::INSTR"),
        ({"resource": "GPIB0::7::INSTR"}, f"{VISA}GPIB0::7::INSTR"),
    ],
)
def test_one_port_has_one_spelling(keys: dict[str, str], address: str) -> None:
    assert port_of(wire(**keys)) == address


def test_a_numbered_visa_serial_port_is_a_com_port_on_windows_only() -> None:
    numbered = port_of(wire(resource="ASRL3::INSTR"))
    assert numbered == ("COM3" if sys.platform == "win32" else f"{VISA}ASRL3::INSTR")


def test_each_address_gets_its_link() -> None:
    described = wire(port="COM1")
    assert isinstance(link_for("socket://h:1", described, "amps"), SocketLink)
    assert isinstance(link_for("COM1", described, "amps"), SerialLink)
    assert isinstance(link_for(f"{VISA}GPIB0::7::INSTR", described, "amps"), VisaLink)
    assert isinstance(open_link("rfc2217://h:1", SerialSettings(), instrument="amps"), SerialLink)


def test_parts_on_one_port_share_it() -> None:
    plans = plan_ports(rig_of(WHOLE_BENCH, lines=1, scpi=2, modbus=3))
    assert [plan.names for plan in plans] == ["shaft_rpm", "amps, volts, load", "drive"]
    assert [type(actuator).__name__ for plan in plans for actuator in plan.actuators] == [
        "HoldingLoad",
        "DriveLine",
    ]


MIXED = """
title = "Mixed up (invented)"
[channels.shaft_rpm]
driver = "lines"
port = "COM7"
pattern = '(?P<value>\\\\d+)'
[channels.amps]
driver = "scpi"
port = "COM7"
query = "A?"
[channels.volts]
driver = "scpi"
port = "COM8"
query = "A?"
[channels.case_c]
driver = "scpi"
port = "COM8"
query = "B?"
baud = 115200
"""


def test_all_parts_that_cannot_share_a_port_are_named_at_once() -> None:
    with pytest.raises(CannotOpen) as caught:
        plan_ports(rig_of(MIXED.replace("\\\\", "\\")))
    text = str(caught.value)
    assert "one port cannot speak several languages (shaft_rpm speaks lines, amps" in text
    assert "share COM8 but not its baud rate" in text


class OwnDriver(PortDriver):
    """What a package might bring."""

    def __init__(self, channels: dict[str, CodeChannel]) -> None:
        self._polls = [
            Poll(name, channel.every_s, lambda exchange: 42.0) for name, channel in channels.items()
        ]

    @property
    def polls(self) -> Sequence[Poll]:
        return self._polls

    def opened(self, exchange: Exchange) -> None:
        del exchange


def no_driver(channels: dict[str, CodeChannel]) -> object:
    return channels


def entry_points(*, group: str, name: str = "") -> EntryPoints:
    known = [
        EntryPoint("own", "tests.drivers.test_wiring_plan:OwnDriver", group),
        EntryPoint("broken", "tests.drivers.test_wiring_plan:NotThere", group),
        EntryPoint("none", "tests.drivers.test_wiring_plan:no_driver", group),
    ]
    return EntryPoints(entry for entry in known if name in ("", entry.name))


def asked_for(entry: str) -> dict[str, CodeChannel]:
    keys = {"driver": "code", "port": "COM1", "entry": entry}
    return {"torque_nm": CodeChannel.model_validate(keys)}


@pytest.fixture
def installed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(code_drivers, "entry_points", entry_points)


@pytest.mark.usefixtures("installed")
def test_a_driver_in_code_is_found_by_its_entry_point() -> None:
    driver = code_driver(asked_for("own"))
    assert type(driver).__name__ == "OwnDriver"
    assert driver.channels == ["torque_nm"]


@pytest.mark.usefixtures("installed")
@pytest.mark.parametrize(
    ("entry", "words"),
    [
        ("unknown", "there is no driver named unknown (installed: broken, none, own)"),
        ("broken", "the driver broken cannot be used (AttributeError"),
        ("none", "is no driver for a port"),
    ],
)
def test_a_driver_in_code_that_cannot_be_used_is_named(entry: str, words: str) -> None:
    with pytest.raises(CannotOpen) as caught:
        code_driver(asked_for(entry))
    assert words in str(caught.value)
