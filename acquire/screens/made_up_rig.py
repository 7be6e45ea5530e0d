"""A rig that is not there, for a picture of the instruments page and a test of its layout.

Every name, figure and byte is invented.
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import TYPE_CHECKING, cast

from acquire.readiness import Item
from acquire.screens.instruments_view import instruments_text
from acquire.screens.rows import EMPTY, Row, cut, offer, row, strip_of
from drivers.readings import Quality, Reading
from drivers.statistics import PortStatistics
from drivers.traffic import Passed
from profiles.catalogue import load_rig

if TYPE_CHECKING:
    from acquire.opened_rig import OpenedRig

METER, CLAMP, DRIVE = "tcp://192.0.2.10:5025", "/dev/ttyUSB0", "/dev/ttyUSB1"
NOW_S = 412.6
LATEST = {
    "shaft_rpm": Reading("shaft_rpm", 412.5, 0.0, raw=b"0"),
    "drive_rpm": Reading("drive_rpm", 412.5, 0.0),
    "amps": Reading("amps", 412.55, 0.12, raw=b"A +000.12"),
    "volts": Reading("volts", 408.4, None, Quality.TIMEOUT, note="no answer within 1 s"),
    "case_c": Reading("case_c", 412.0, 22.4, raw=b"22.4 C"),
}
FOUND = (
    Item("stopping", "good", "the drive answered a stop at standstill"),
    Item("zero of the current sensor", "good", "+0.12 A, scatter 0.03 A"),
    Item("calibration of volts", "look", "was due on 2026-09-01", "The record says so; have it"
         " calibrated."),
)  # fmt: skip
TRAFFIC = (
    ("    412.34 amps          ", "0.12 ok A +000.12"),
    ("    412.40 volts         ", "timeout no answer within 1 s"),
    ("    412.50 shaft_rpm     ", "0 ok 0"),
    ("    412.55 amps          ", "0.12 ok A +000.12"),
)


class _Wiring:
    """Who is there, what was counted, what passed."""

    def identities(self) -> dict[str, str]:
        return {"volts": "bench meter, serial 40217", "drive": "drive at address 3"}

    def statistics(self) -> dict[str, PortStatistics]:
        return {
            METER: PortStatistics(sent=4127, received=4085, timeouts=42, reopened=2),
            CLAMP: PortStatistics(received=4126),
            DRIVE: PortStatistics(sent=8252, received=8252),
        }

    def traffic(self) -> dict[str, list[Passed]]:
        return {
            METER: [Passed(412.4, sent=True, data=b"MEAS:VOLT:DC?\n")],
            CLAMP: [Passed(412.55, sent=False, data=b"A +000.12\r\n")],
        }


def instruments_page(width: int, height: int) -> list[Row]:
    """The page as it is drawn."""
    rig = load_rig("simulated").profile
    opened = cast("OpenedRig", SimpleNamespace(rig=rig, wiring=_Wiring()))
    text = instruments_text(
        opened, LATEST, now_s=NOW_S, found=FOUND, traffic=TRAFFIC, width=width
    )  # fmt: skip
    offers = [offer("[Esc] back", "back"), offer("look [a]t the rig again", "again"),
              offer("[f]ile this view", "file")]  # fmt: skip
    room = height - 1
    shown = [*text, *([EMPTY] * room)][:room]
    if len(text) > room:
        left = f"{len(text) - room} lines more: "
        offers.append(row((left, "dim"), offer("[down]", "down")))
    return [*shown, cut(row(" ", strip_of(offers)), width)]
