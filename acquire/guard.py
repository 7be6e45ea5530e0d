"""The guard: limits, silence, slip, a drive that does not follow. Independent of the sweep.

Pure: readings and times in, a trip out. What a trip leads to is in `acquire.stop_path`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from acquire.guard_words import follow_words, refused_words, slip_words, stall_words
from acquire.sweep.plan import SpeedSource
from drivers.readings import Quality, Reading
from profiles.channels import CHANNELS

AFTER_RAMP_S = 3.0
"""After the set speed was moved, slip and a drive that does not follow are not judged so long."""
PERSIST_S = 1.0
"""They trip once they have lasted so long: one odd reading is no slipping belt."""
STALL_RPM = 60.0
"""A shaft below this stands still."""
STALL_S = 3.0
"""A shaft that stands still while the drive turns trips after so long."""
FOLLOW_PERCENT = 10.0
"""A drive may be off the set speed by so much before it counts as not under control."""
LOST_TOO = 0.8
"""Of what was lost at once each falls silent within a reading or two: who has been quiet for this
share of the time allowed is named beside the first."""
CLOCK_JUMP_S = 2.0
"""Clocks that part by more than this between two looks mean that the computer slept."""

CAME_AND_REFUSED = (Quality.BAD, Quality.OVERLOAD, Quality.REFUSED)
"""An answer came, and was no reading: it has a reason that helps."""


@dataclass(frozen=True, slots=True)
class Trip:
    """Why the guard wants the rig stopped."""

    kind: str
    channel: str
    value: float | None
    limit: float | None
    words: str
    """One sentence for the operator, with what to look at."""


@dataclass(frozen=True, slots=True)
class GuardPlan:
    """What is watched. A limit that is absent is not watched."""

    highest: Mapping[str, float]
    """Channel -> highest value allowed, in the channel's own unit of measure."""
    watched: frozenset[str]
    """Channels that must not fall silent once the drive may turn, or a hand turns the unit."""
    silent_s: float = 3.0
    slip_percent_max: float = 6.0
    speed_ratio: float = 1.0
    """Shaft speed / drive speed by the pulleys."""
    reads_drive: bool = True
    """False where the drive's own output is not read: the set speed is taken for it."""
    speed_source: SpeedSource = "shaft_rpm"
    """The channel the shaft speed comes from."""
    shaft_per_source: float = 1.0
    """Shaft speed for one unit of the speed source [rpm]."""
    load_on_s_max: float | None = None
    where: Mapping[str, str] = field(default_factory=dict)
    """Channel -> port or address, for the message."""
    set_by: Mapping[str, str] = field(default_factory=dict)
    """What is limited (a channel, or `silent_s`, `slip_percent_max`, `load_on_s_max`) -> the key
    and the file that say so, for the message."""


EITHER_WAY = ("amps", "field_amps")
"""A clamp may be on backwards: currents are limited whichever way they seem to flow."""


def _size(channel: str, value: float) -> float:
    return abs(value) if channel in EITHER_WAY else value


class Guard:
    """Sees every reading and every command; answers with a trip, once, or None."""

    def __init__(self, plan: GuardPlan) -> None:
        self._plan = plan
        self._heard_s: dict[str, float] = {}
        self._refused: dict[str, Reading] = {}
        """The last answer of each channel that came and was no reading."""
        self._values: dict[str, float] = {}
        self._running_since_s: float | None = None
        self._watching_since_s: float | None = None
        """From when on silence counts [s]."""
        self._set_rpm = 0.0
        self._moved_s = -math.inf
        self._wrong_since_s: dict[str, float] = {}
        self._load_since_s: float | None = None
        self._turned = False
        """True once the shaft speed was read as turning."""

    # ---- what the rig is told -------------------------------------------------------------

    def told_to_run(self, t_s: float) -> None:
        """The drive may turn from now on."""
        self._running_since_s = t_s
        self.watch_silence(t_s)

    def watch_silence(self, t_s: float) -> None:
        """Silence counts from now on: without a drive too, once the first step has begun."""
        if self._watching_since_s is None:
            self._watching_since_s = t_s

    def told_speed(self, t_s: float, shaft_rpm: float) -> None:
        """The set speed was moved."""
        self._set_rpm, self._moved_s = shaft_rpm, t_s
        self._wrong_since_s.pop("slip", None)
        self._wrong_since_s.pop("follow", None)

    def load_is_on(self, t_s: float, *, on: bool) -> None:
        """A load with a time limit was closed or opened."""
        if not on:
            self._load_since_s = None
        elif self._load_since_s is None:
            self._load_since_s = t_s

    # ---- what the rig shows ---------------------------------------------------------------

    def see(self, reading: Reading) -> Trip | None:
        """Look at one reading."""
        if not reading.usable or reading.value is None:
            if reading.quality in CAME_AND_REFUSED:
                self._refused[reading.channel] = reading
            return None
        self._heard_s[reading.channel] = reading.t_s
        self._values[reading.channel] = reading.value
        self._turned = self._turned or (self._shaft() or 0.0) >= STALL_RPM
        return self._over(reading.channel, reading.value) or self._turning_right(reading.t_s)

    def tick(self, now_s: float) -> Trip | None:
        """Let time pass: silence, and a load that is on for too long."""
        return self._silence(now_s) or self._load_too_long(now_s)

    def quiet(self, now_s: float) -> tuple[str, float]:
        """The watched channel without a good reading for longest, and for how long [s].

        `("", 0.0)` before silence counts.
        """
        quiet = self._quiet_for(now_s)
        channel = max(quiet, key=quiet.__getitem__, default="")
        return channel, quiet.get(channel, 0.0)

    def _quiet_for(self, now_s: float) -> dict[str, float]:
        """Each watched channel -> how long it has been without a good reading [s]."""
        since_s = self._watching_since_s
        if since_s is None:
            return {}
        return {
            name: now_s - max(self._heard_s.get(name, since_s), since_s)
            for name in sorted(self._plan.watched)
        }

    @property
    def silent_s(self) -> float:
        """A watched channel that is quiet for longer trips [s]."""
        return self._plan.silent_s

    @property
    def highest(self) -> Mapping[str, float]:
        """The limits that are watched, by channel, in its own unit of measure."""
        return self._plan.highest

    def margins(self) -> dict[str, float]:
        """How much of each limit is used, 0 to 1 and beyond, by channel."""
        return {
            channel: _size(channel, self._values[channel]) / limit
            for channel, limit in self._plan.highest.items()
            if channel in self._values and limit > 0
        }

    # ---- rules ----------------------------------------------------------------------------

    def _over(self, channel: str, value: float) -> Trip | None:
        limit = self._plan.highest.get(channel)
        if limit is None or _size(channel, value) <= limit:
            return None
        kind = CHANNELS[channel]
        what = f"{kind.words} is {value:.{kind.decimals}f} {kind.unit_of_measure}"
        return Trip(
            kind="limit",
            channel=channel,
            value=value,
            limit=limit,
            words=f"{what}; the limit is {limit:g} {kind.unit_of_measure}{self._by(channel)}.",
        )

    def _silence(self, now_s: float) -> Trip | None:
        channel, for_s = self.quiet(now_s)
        if for_s <= self._plan.silent_s:
            return None
        lost_s = LOST_TOO * self._plan.silent_s
        others = [n for n, s in self._quiet_for(now_s).items() if s > lost_s and n != channel]
        return self._silent(channel, for_s, others)

    def _silent(self, channel: str, silent_s: float, others: Sequence[str]) -> Trip:
        place = self._plan.where.get(channel, "")
        at = f" at {place}" if place else ""
        return Trip(
            kind="silent",
            channel=channel,
            value=silent_s,
            limit=self._plan.silent_s,
            words=(
                f"No good reading of the {CHANNELS[channel].words} for {silent_s:.1f} s{at}"
                f"{self._allowed('silent_s', f'{self._plan.silent_s:g} s')}: look at its cable,"
                f" plug and supply before you run again.{self._why_refused(channel)}"
                f"{_nor_of(others)}"
            ),
        )

    def _why_refused(self, channel: str) -> str:
        """What was wrong with the last answer, where one came after the last good reading."""
        last = self._refused.get(channel)
        if last is None or last.t_s <= self._heard_s.get(channel, -math.inf):
            return ""
        return refused_words(channel, last.note)

    def _turning_right(self, t_s: float) -> Trip | None:
        if self._running_since_s is None:
            return None
        if not self._plan.reads_drive:
            told = (self._stall(t_s, self._set_rpm), self._shaft_follows(t_s))
            return next((trip for trip in told if trip is not None), None)
        if "drive_rpm" not in self._values:
            return None
        expected = self._values["drive_rpm"] * self._plan.speed_ratio
        rules = (self._stall, self._follows, self._slips)
        trips = [rule(t_s, expected) for rule in rules]  # each keeps its own time: ask them all
        return next((trip for trip in trips if trip is not None), None)

    def _shaft(self) -> float | None:
        """The shaft speed by its own channel [rpm]; the drive's own output is no witness of it."""
        value = self._values.get(self._plan.speed_source)
        if value is None or self._plan.speed_source == "drive_rpm":
            return None
        return value * self._plan.shaft_per_source

    def _stall(self, t_s: float, expected_rpm: float) -> Trip | None:
        shaft, source = self._shaft(), self._plan.speed_source
        wrong = shaft is not None and shaft < STALL_RPM and expected_rpm > 10 * STALL_RPM
        # the W terminal shows nothing before the unit is excited: it gets the ramp to be so
        judged = source != "w_hz" or self._turned or t_s - self._moved_s >= AFTER_RAMP_S
        if not self._lasting("stall", t_s, wrong=wrong and judged, for_s=STALL_S) or shaft is None:
            return None
        return Trip(
            kind="stall",
            channel=source,
            value=shaft,
            limit=STALL_RPM,
            words=stall_words(
                source,
                expected_rpm=expected_rpm,
                shaft_rpm=shaft,
                read=self._plan.reads_drive,
            ),
        )

    def _follows(self, t_s: float, expected_rpm: float) -> Trip | None:
        off = abs(expected_rpm - self._set_rpm)
        allowed = max(self._set_rpm * FOLLOW_PERCENT / 100, STALL_RPM)
        judged = t_s - self._moved_s >= AFTER_RAMP_S
        if not self._lasting("follow", t_s, wrong=judged and off > allowed, for_s=PERSIST_S):
            return None
        return Trip(
            kind="drive",
            channel="drive_rpm",
            value=expected_rpm,
            limit=self._set_rpm,
            words=(
                f"The drive gives {expected_rpm:.0f} rpm at the shaft where {self._set_rpm:.0f} rpm"
                " are set: overloaded, limited by its own settings, or not under control."
            ),
        )

    def _shaft_follows(self, t_s: float) -> Trip | None:
        """Where the drive is not read, its error and the belt's are seen as one."""
        shaft, source = self._shaft(), self._plan.speed_source
        if shaft is None or (source == "w_hz" and shaft < STALL_RPM):
            return None
        percent = FOLLOW_PERCENT + self._plan.slip_percent_max
        allowed = max(self._set_rpm * percent / 100, STALL_RPM)
        wrong = t_s - self._moved_s >= AFTER_RAMP_S and abs(shaft - self._set_rpm) > allowed
        if not self._lasting("follow", t_s, wrong=wrong, for_s=PERSIST_S):
            return None
        words = follow_words(set_rpm=self._set_rpm, shaft_rpm=shaft)
        return Trip("drive", source, shaft, self._set_rpm, words)

    def _slips(self, t_s: float, expected_rpm: float) -> Trip | None:
        shaft, source = self._shaft(), self._plan.speed_source
        if shaft is None or expected_rpm < STALL_RPM:
            return None
        if source == "w_hz" and shaft < STALL_RPM:
            return None  # an unexcited unit does not slip: `_stall` says what it may be
        slip = 100 * (1 - shaft / expected_rpm)
        judged = t_s - self._moved_s >= AFTER_RAMP_S
        wrong = judged and abs(slip) > self._plan.slip_percent_max
        if not self._lasting("slip", t_s, wrong=wrong, for_s=PERSIST_S):
            return None
        allowed = self._allowed("slip_percent_max", f"{self._plan.slip_percent_max:g} %")
        return Trip(
            kind="slip",
            channel=source,
            value=slip,
            limit=self._plan.slip_percent_max,
            words=slip_words(source, slip_percent=slip, allowed=allowed),
        )

    def _load_too_long(self, now_s: float) -> Trip | None:
        most = self._plan.load_on_s_max
        if most is None or self._load_since_s is None or now_s - self._load_since_s <= most:
            return None
        return Trip(
            kind="load",
            channel="amps",
            value=now_s - self._load_since_s,
            limit=most,
            words=(
                f"The load has been on for {now_s - self._load_since_s:.0f} s; it is good for"
                f" {most:g} s{self._by('load_on_s_max')}. OPEN THE PILE and let it cool."
            ),
        )

    def _by(self, name: str) -> str:
        """` (limits.volts_max, bench.toml)`: who says so; empty where that is not known."""
        by = self._plan.set_by.get(name)
        return f" ({by})" if by else ""

    def _allowed(self, name: str, most: str) -> str:
        """` (allowed 6 % by limits.slip_percent_max, bench.toml)`."""
        by = self._plan.set_by.get(name)
        return f" (allowed {most} by {by})" if by else f" (allowed {most})"

    def _lasting(self, name: str, t_s: float, *, wrong: bool, for_s: float) -> bool:
        """True when `wrong` has held without a break for `for_s`."""
        if not wrong:
            self._wrong_since_s.pop(name, None)
            return False
        return t_s - self._wrong_since_s.setdefault(name, t_s) >= for_s


def _nor_of(others: Sequence[str]) -> str:
    """` Nor of the drive speed, output voltage: look at what they share.`; empty without any."""
    names = ", ".join(CHANNELS[name].words for name in others)
    return f" Nor of the {names}: look at what they share." if names else ""


class ClockWatch:
    """Notices that the computer slept: monotonic and wall clock part by more than 2 s."""

    def __init__(self, monotonic_s: float, wall_s: float) -> None:
        self._offset_s = wall_s - monotonic_s

    def tick(self, monotonic_s: float, wall_s: float) -> Trip | None:
        """Compare the clocks; a trip when one has jumped."""
        jump = wall_s - monotonic_s - self._offset_s
        self._offset_s = wall_s - monotonic_s
        if abs(jump) <= CLOCK_JUMP_S:
            return None
        return Trip(
            kind="clock",
            channel="",
            value=jump,
            limit=CLOCK_JUMP_S,
            words=f"The computer's clocks parted by {jump:.1f} s: it slept, or its clock was set.",
        )
