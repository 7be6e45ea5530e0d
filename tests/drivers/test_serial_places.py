"""Ports by identity and by place, with adapters that look the same."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from drivers.errors import CannotOpen
from drivers.serial_places import device_for, list_places, places


@dataclass
class Found:
    device: str
    vid: int | None = None
    pid: int | None = None
    serial_number: str | None = None
    location: str | None = None
    description: str = "n/a"


FOUND = [
    Found("/dev/ttyS0"),
    Found("/dev/ttyUSB0", 0x0403, 0x6001, "A50285BI", "1-2.3", "USB serial"),
    Found("/dev/ttyUSB1", 0x1A86, 0x7523, None, "1-2.4:1.0"),
    Found("/dev/ttyUSB2", 0x1A86, 0x7523, None, "1-2.1:1.0"),
    Found("/dev/ttyACM0", 0x2341, 0x0043, "7", "1-4"),
]


@pytest.mark.parametrize(
    ("port", "device"),
    [
        ("usb:0403:6001:A50285BI", "/dev/ttyUSB0"),
        ("usb:0403:6001:a50285bi", "/dev/ttyUSB0"),
        ("usb:2341:0043", "/dev/ttyACM0"),
        ("usb-place:1-2.4", "/dev/ttyUSB1"),
        ("usb-place:1-2.1", "/dev/ttyUSB2"),
        ("COM7", "COM7"),
        ("/dev/ttyUSB9", "/dev/ttyUSB9"),
    ],
)
def test_a_port_is_found_by_identity_or_place(port: str, device: str) -> None:
    assert device_for(port, instrument="amps", found=FOUND) == device


def test_two_adapters_that_look_the_same_are_not_guessed_between() -> None:
    with pytest.raises(CannotOpen, match=r"2 adapters answer to usb:1A86:7523.*usb-place"):
        device_for("usb:1A86:7523", instrument="amps", found=FOUND)


def test_an_adapter_that_is_not_there_is_named_with_those_that_are() -> None:
    with pytest.raises(CannotOpen, match=r"no adapter answers to usb:0403:6001:XX.*A50285BI"):
        device_for("usb:0403:6001:XX", instrument="amps", found=FOUND)
    with pytest.raises(CannotOpen, match="no adapter"):
        device_for("usb-place:9-9", instrument="amps", found=[])


def test_ports_are_listed_as_a_rig_file_names_them_without_empty_ones() -> None:
    listed = {place.device: place for place in places(FOUND)}
    assert "/dev/ttyS0" not in listed
    assert listed["/dev/ttyUSB0"].by_identity == "usb:0403:6001:A50285BI"
    assert listed["/dev/ttyUSB0"].by_place == "usb-place:1-2.3"
    assert listed["/dev/ttyUSB1"].twins
    assert not listed["/dev/ttyUSB0"].twins


def test_listing_the_real_ports_raises_nothing() -> None:
    assert all(place.device for place in list_places())
