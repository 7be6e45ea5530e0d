"""Two tests at once on rigs without a wire: nobody is in the other's way."""

from __future__ import annotations

from pathlib import Path

import pytest

from acquire.opened_rig import OpenedRig
from drivers.errors import CannotOpen
from profiles.catalogue import load_rig

WIRED = r"""
title = "Bench with one meter"
[channels.shaft_rpm]
driver = "hand"
[channels.amps]
driver = "lines"
port = "socket://127.0.0.1:9"
pattern = '(?P<value>\d+)'
in = "A"
plausible = [0.0, 300.0]
"""


def test_two_may_type_at_the_same_time() -> None:
    with OpenedRig(load_rig("by-hand")) as one, OpenedRig(load_rig("by-hand")) as other:
        assert one.open() is not other.open()


def test_a_rig_with_a_port_is_held_by_one_program(tmp_path: Path) -> None:
    file = tmp_path / "bench.toml"
    file.write_text(WIRED, encoding="utf-8")
    one, other = OpenedRig(load_rig(str(file))), OpenedRig(load_rig(str(file)))
    with one, other:
        one._lock_file()
        with pytest.raises(CannotOpen, match=r"the rig .*bench\.toml is held by"):
            other.open()
