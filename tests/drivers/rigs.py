"""Rig files for tests."""

from __future__ import annotations

import tomllib
from typing import Any

from profiles.rig import Rig


def rig_of(text: str, **places: object) -> Rig:
    """The rig that `text` describes; `$name` stands for a place."""
    for name, place in places.items():
        text = text.replace(f"${name}", str(place))
    described: dict[str, Any] = tomllib.loads(text)
    return Rig.model_validate(described)


WHOLE_BENCH = r"""
title = "Loopback bench (invented)"
[rig]
pulley = { drive_mm = 180.0, alternator_mm = 60.0 }
max_shaft_rpm = 12000
[channels.shaft_rpm]
driver = "lines"
port = "socket://127.0.0.1:$lines"
pattern = 'RPM=(?P<value>\d+\.\d)\*(?P<xor>[0-9A-F]{2})'
[channels.amps]
driver = "scpi"
resource = "TCPIP::127.0.0.1::$scpi::SOCKET"
query = "MEAS:CURR:DC?"
scale = 5000.0
identify = { send = "*IDN?", match = "METER" }
setup = ["CONF:VOLT:DC 0.1"]
[channels.volts]
driver = "scpi"
resource = "TCPIP::127.0.0.1::$scpi::SOCKET"
query = "MEAS:VOLT:DC?"
[channels.case_c]
driver = "hand"
[drive]
driver = "modbus"
port = "tcp://127.0.0.1:$modbus"
device = 1
run = { register = 0, on = 1, off = 0 }
speed = { register = 1, scale = 0.01, in = "Hz", rpm_per_unit = 30.0 }
output = { register = 10, scale = 0.01, in = "Hz" }
comm_timeout = { register = 20, scale = 0.1, in = "s", set_s = 2.0 }
[load]
driver = "scpi"
resource = "TCPIP::127.0.0.1::$scpi::SOCKET"
mode = "MODE:VOLT"
set = "VOLT {value:.2f}"
on = "INP ON"
off = "INP OFF"
[limits]
volts_max = 16.0
"""
