"""How slip is told: a figure without a sign, and which of the two speeds is the lower."""

from __future__ import annotations

import pytest

from acquire.findings.case import Case
from acquire.findings.find import find
from acquire.findings.seen import Seen
from acquire.guard_words import slip_words
from acquire.sweep.plan import SpeedSource


@pytest.mark.parametrize("source", ["shaft_rpm", "w_hz", "engine_rpm"])
def test_a_shaft_faster_than_its_drive_is_told_in_words_not_by_a_sign(source: SpeedSource) -> None:
    faster = slip_words(source, slip_percent=-78.4, allowed=" (allowed 6 %)")
    slower = slip_words(source, slip_percent=78.4, allowed=" (allowed 6 %)")
    assert "disagree by 78.4 % (allowed 6 %): " in slower
    assert faster == f"{slower} Of the two speeds the drive's is the lower."


@pytest.mark.parametrize(
    ("slip", "told"),
    [(-78.4, "The shaft turns 78.4 % faster than the drive and the pulleys say."),
     (12.3, "Shaft and drive disagree by 12.3 %.")],
)  # fmt: skip
def test_what_is_found_of_a_run_that_slip_stopped_has_no_sign_either(
    slip: float, told: str
) -> None:
    seen = Seen(trip={"kind": "slip", "value": slip})
    found = find(Case([], seen=seen))
    assert told in [evidence for one in found for evidence in one.evidence]
