"""`rig check` of a bench that is not whole: what is dead, and what is well all the same."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.live.commands import steadyamps
from tests.live.served import served

DEAD = "//127.0.0.1:9"
"""Nobody listens at the discard port (RFC 863)."""


def checked(rig: Path, shelf: Path) -> dict[str, Any]:
    """The document of a check that ends with 5."""
    said = steadyamps("--json", "rig", "check", str(rig), shelf=shelf)
    assert said.code == 5, said.err
    assert said.document["ready"] is False
    return said.document


@pytest.mark.parametrize("dead", ["ammeter", "drive"])
def test_one_dead_instrument_hides_none_of_the_others(tmp_path: Path, dead: str) -> None:
    with served(tmp_path) as rig:
        address = rig.service.address(dead)
        scheme = address.partition(":")[0]
        text = rig.rig_file.read_text()
        assert address in text
        rig.rig_file.write_text(text.replace(address, f"{scheme}:{DEAD}"))
        told = checked(rig.rig_file, tmp_path)
    named = "amps" if dead == "ammeter" else "drive"
    first, *rest = told["items"]
    assert first["name"].split(",")[0] == named
    assert first["state"] == "bad"
    assert first["what_to_do"]
    assert named in told["error"]["message"]
    states = {item["name"]: item["state"] for item in rest}
    assert named not in states, "it is told once"
    alive = {"shaft_rpm", "volts", "case_c", "amps"} - {named}
    assert {name: states[name] for name in alive} == dict.fromkeys(alive, "good")
    assert states["stopping"] == ("good" if dead == "ammeter" else "bad")
    assert states["shedding the load"] == "good"
    dies = next(item for item in rest if item["name"] == "if this computer dies")
    if dead == "drive":
        assert dies["state"] == "look"
        assert dies["words"] == "not known, the drive does not answer"
    else:
        assert dies["state"] == "good"
        assert dies["words"].startswith("the drive stops by itself after 4 s")
