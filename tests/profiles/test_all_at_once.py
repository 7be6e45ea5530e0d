"""Every problem of a file in one go, also behind a key that is wrong itself."""

from __future__ import annotations

from pathlib import Path

import pytest

from profiles.catalogue import load_rated, load_rig
from profiles.errors import ProfileError

RIG = r"""
title = "Bench of many mistakes"
[channels.shaft_rpm]
driver = "lines"
port = "socket://127.0.0.1"
pattern = 'RPM=(?P<value>\d+'
in = "rpn"
[channels.amps]
driver = "scip"
resource = "TCPIP::127.0.0.1::4002::SOCKET"
in = "V"
scal = 3
[channels.volts]
driver = "scpi"
resource = "TCPIP::127.0.0.1::4003::SOCKET"
in = "Vv"
"""
RATED = """
title = "Curve of many mistakes"
[alternator]
system_volts = 12
[rated]
volts = 13.5
state = "warm"
points = [[3000, 45], [2000, 60], [4000, -5]]
"""


def problems(tmp_path: Path, text: str, load: object) -> str:
    path = tmp_path / "file.toml"
    path.write_text(text, encoding="utf-8")
    assert callable(load)
    with pytest.raises(ProfileError) as found:
        load(str(path))
    return str(found.value)


def test_what_stands_beside_a_wrong_pattern_query_or_driver_is_looked_at_too(
    tmp_path: Path,
) -> None:
    said = problems(tmp_path, RIG, load_rig)
    for key in (
        "shaft_rpm.pattern", "shaft_rpm.port", "shaft_rpm.in", "amps.driver", "amps.scal",
        "amps.query", "amps.in", "volts.query", "volts.in",
    ):  # fmt: skip
        assert f"channels.{key}: " in said, key


def test_the_order_of_points_is_told_with_what_else_is_wrong_with_them(tmp_path: Path) -> None:
    said = problems(tmp_path, RATED, load_rated)
    assert "point 3 has -5 A" in said
    assert "point 2 (2000 rpm) does not rise above 3000 rpm" in said


@pytest.mark.parametrize("pattern", [r"(?P<value>\d+\.\d)", r"\s*(?P<value>[+-]?\d+(?:\.\d+)?)$"])
def test_a_bare_number_needs_limits_of_what_is_plausible(tmp_path: Path, pattern: str) -> None:
    rig = f"""
title = "Bench"
[channels.shaft_rpm]
driver = "lines"
port = "/dev/ttyUSB0"
pattern = '{pattern}'
[channels.amps]
driver = "hand"
"""
    assert "channels.shaft_rpm.plausible: is missing" in problems(tmp_path, rig, load_rig)
    path = tmp_path / "limits.toml"
    path.write_text(rig.replace("[channels.amps]", "plausible = [0, 20000]\n[channels.amps]"))
    assert load_rig(str(path)).profile.channels["shaft_rpm"].plausible == (0.0, 20000.0)
