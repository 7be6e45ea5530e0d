"""One case for each kind of finding that there is, made by hand."""

from __future__ import annotations

import ast
from collections.abc import Iterator, Mapping
from pathlib import Path

from acquire.findings import finding as finding_module
from acquire.findings.case import Case
from acquire.findings.curve_causes import _TEXTS
from acquire.findings.find import find
from acquire.findings.finding import Finding
from acquire.findings.seen import ChannelSeen, Seen, Warming
from acquire.judge.checks import CheckResult
from profiles.catalogue import load_rig
from tests.findings.cases import case, rating
from tests.findings.test_rules import AT_LOW, OPEN, PLATE, SOUND, brushed

LOW = {rpm: 0.8 * amps for rpm, amps in SOUND.items()}
FROZEN = (
    "The current reads 52.13 A to the last digit at 1500 and at 3005 rpm, and did not change"
    " between: the meter is on HOLD or frozen, and says nothing of this unit. Mend that, and test"
    " anew; this run is not to be gone on with."
)
NOTHING = dict.fromkeys(SOUND, 0.0)
LATE = {1200.0: 9.7, 1500.0: 26.4, 2100.0: 51.0, 3000.0: 68.4, 4000.0: 78.5, 6000.0: 88.8}


def did_not_stop() -> Seen:
    """A bench on which nothing helped."""
    seen = Seen()
    for what in (
        "THE DRIVE DOES NOT STOP: PRESS THE EMERGENCY STOP",
        "THE SHAFT DOES NOT SLOW DOWN (1486 rpm): PRESS THE EMERGENCY STOP",
        "after 60 s the shaft still turns: the load stays on until you switch it off",
    ):
        seen.see("stop", {"what": what, "ok": False})
    return seen


def kinds() -> set[str]:
    """Every name that the rules give a finding, read from their source."""
    names = {text.name for text in _TEXTS.values()}
    for path in Path(finding_module.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Finding":
                named = [k.value for k in node.keywords if k.arg == "name"]
                parts = [part for value in named for part in ast.walk(value)]
                names |= {
                    part.value
                    for part in parts
                    if isinstance(part, ast.Constant) and isinstance(part.value, str)
                }
    return names


def findings() -> list[Finding]:
    """What all the cases find."""
    return [found for one in _cases() for found in find(one)]


def _cases() -> Iterator[Case]:
    rig = load_rig("simulated").profile
    rest = Seen(rest_volts=12.7)
    yield case(OPEN)
    yield case(OPEN, seen=Seen(current_not_seen=FROZEN))
    yield case(OPEN, state="cold")
    yield case(OPEN, channels=[{"ripple_volts": 0.4}] * len(OPEN))
    yield case({1500.0: 13.0}, state=None)
    yield case({6000.0: 90.0})
    yield case(AT_LOW, rated=rating(PLATE))
    yield case({1500.0: 36.0, 2000.0: 54.0})
    yield case({6000.0: 90.0}, channels=[{"ripple_volts": 0.03}])
    yield case({1500.0: 14.0, 2000.0: 24.0, 3000.0: 44.0, 6000.0: 80.0})
    yield case({1500.0: 13.0, 2000.0: 26.0, 3000.0: 41.0, 6000.0: 49.0})
    lines: dict[int, Mapping[int, float]] = {
        n: {1: 0.1, 2: 3.6, 3: 0.1, 6: 5.7} for n in (1, 2, 3, 4)
    }
    yield case(SOUND, seen=Seen(ripple_lines=lines))
    yield case({1500.0: 30.0, 2000.0: 38.0, 3000.0: 40.0, 6000.0: 42.0})
    yield case({1500.0: 5.0, 2000.0: 50.0, 3000.0: 20.0, 6000.0: 30.0})
    for ohm in (1.8, 4.8):
        check = CheckResult("rotor resistance", "number", "noted", ohm, "ohm")
        yield case({1500.0: 19.0, 2000.0: 42.0, 3000.0: 64.0, 6000.0: 81.0}, checks=(check,))
    check = CheckResult("ripple", "number", "noted", 0.42, "V")
    yield case(OPEN, checks=(check,))
    yield case({1500.0: 19.0, 2000.0: 42.0, 3000.0: 64.0, 6000.0: 81.0})
    for volts, field in ((12.7, None), (12.7, 0.0), (12.5, 4.1)):
        channels = [] if field is None else [{"field_amps": field}] * 4
        yield case(NOTHING, volts=volts, channels=channels, seen=Seen(rest_volts=12.7))
        yield case({3000.0: 0.0}, volts=volts, channels=channels[:1])
    few = dict.fromkeys(SOUND, 1.2)
    yield case(few, volts=12.93, seen=Seen(rest_volts=12.7), rig=rig)
    kiloamps = {rpm: amps / 1000.0 for rpm, amps in SOUND.items()}
    yield case(kiloamps, volts=13.5, seen=rest, rig=rig)
    shut = [{"field_volts": 2.0, "field_amps": 0.5}] * 4
    yield case(few, volts=12.93, seen=rest, rig=rig, channels=shut)
    held = {1500.0: 52.0, 2000.0: 71.0, 3000.0: 85.0, 6000.0: 12.0}
    yield case(held, volts=(13.5, 13.5, 13.5, 13.4), seen=Seen(rest_volts=12.7), rig=rig)
    for unsteady in (None, True, False):
        yield brushed(field_unsteady=unsteady)
    for shares in ((0.09, 0.14, 0.05, 0.01), (0.06, 0.062, 0.06, 0.058), (-0.05,) * 4):
        drive: list[dict[str, float | ChannelSeen]] = [
            {"drive_rpm": rpm / rig.ratio / (1 - s)} for rpm, s in zip(SOUND, shares, strict=True)
        ]
        yield case(SOUND, channels=drive, rig=rig)
        yield case(SOUND, channels=drive, rig=rig, speed_source="w_hz")
    yield case(SOUND, told_rpm=[1500 / 0.9, 2000 / 0.86, 3000 / 0.95, 6000 / 0.99])
    yield case({1500.0: 45.0}, seen=Seen(trip={"kind": "slip", "value": 14.2}))
    yield case({1500.0: 45.0}, seen=Seen(trip={"kind": "slip"}))
    yield case({1500.0: 45.0}, seen=Seen(trip={"kind": "slip", "value": -78.5}))
    for pairs in (8.0, 7.4):
        yield case(SOUND, channels=[{"w_hz": rpm * pairs / 60} for rpm in SOUND])
    shifted = {rpm * 8 / 6: amps for rpm, amps in SOUND.items()}
    quiet = [{"ripple_volts": 0.0003 * amps} for amps in SOUND.values()]
    yield case(shifted, speed_source="w_hz", channels=quiet)
    yield case(SOUND, channels=[{"battery_volts": 13.5 - 0.007 * a} for a in SOUND.values()])
    yield case(SOUND, seen=Seen(zero_amps=-2.5), rig=rig)
    yield case(SOUND, seen=did_not_stop(), rig=rig)
    yield case(SOUND, seen=Seen(warming=Warming(90.0, 63.0, 1800.0)))
    yield case(LATE, no_rating=True)
    yield case({6000.0: 90.0, 5000.0: 87.0}, no_rating=True, channels=[{"ripple_volts": 0.4}] * 2)
    yield case(LATE, no_rating=True, channels=[{"ripple_volts": 0.4}] * len(LATE))
