"""Is the rig itself right? What is known, what is missing, what to do about it, line by line."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from acquire.sweep.standstill import STANDSTILL_RPM
from drivers.bench_wiring import BenchWiring
from drivers.burst import Burst
from drivers.clock import Clock
from drivers.drive import DriveLine
from drivers.errors import InstrumentError
from drivers.field import FieldLine
from drivers.load import LoadLine
from drivers.readings import Reading
from profiles.channels import CHANNELS
from profiles.drive import LoadHolds
from profiles.errors import BenchError
from profiles.instrument import LinesChannel, NmeaChannel
from profiles.rig import Rig

State = Literal["good", "look", "bad"]
SIGNS: dict[State, str] = {"good": "=", "look": "~", "bad": "!"}
LISTEN_S = 2.5
"""Long enough for two readings of a meter that gives one a second [s]."""
LARGE_ZERO_SHARE = 0.01
"""Of the rig's amps_max: a zero farther off is an unzeroed clamp, or current that flows."""
TURNS_ABOVE = {
    "shaft_rpm": STANDSTILL_RPM,
    "engine_rpm": STANDSTILL_RPM,
    "drive_rpm": STANDSTILL_RPM,
    "w_hz": 6.0,
}
"""What a channel shows at most while nothing turns; 6 Hz are 60 rpm with six pole pairs."""
REST_VOLTS = {12: 12.4, 24: 24.8, 36: 37.2, 48: 49.6}
"""A lead-acid battery below this at rest is far from charged (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Item:
    """One line of the readiness list."""

    name: str
    state: State
    words: str
    what_to_do: str = ""

    def to_data(self) -> dict[str, object]:
        """As plain data for JSON."""
        return {
            "name": self.name,
            "state": self.state,
            "words": self.words,
            "what_to_do": self.what_to_do or None,
        }


def listen(wiring: BenchWiring, clock: Clock, for_s: float = LISTEN_S) -> dict[str, list[Reading]]:
    """All readings of some seconds, by channel [s of the rig's time]."""
    began_s = clock.monotonic_s()
    heard: dict[str, list[Reading]] = {}
    while clock.monotonic_s() - began_s < for_s:
        for reading in wiring.readings.take(0.1):
            heard.setdefault(reading.channel, []).append(reading)
    return heard


def readiness(
    rig: Rig,
    wiring: BenchWiring,
    heard: dict[str, list[Reading]],
    *,
    today: date,
    test_volts: float | None = None,
    system_volts: int | None = None,
) -> list[Item]:
    """Everything that can be told at standstill, from what was `heard` on the open rig."""
    return [
        *identities(rig, wiring),
        *live_values(rig, heard),
        *weak_lines(rig),
        *bursts(rig, wiring),
        *standstill(heard),
        *tachometer_against_drive(rig, heard),
        *zero_of_the_sensor(rig, heard),
        *battery_at_rest(heard, system_volts),
        *calibrations(rig, today),
        *stopping(rig, wiring),
        *left_alone(rig, wiring),
    ]


def with_failures(items: list[Item], failures: Sequence[InstrumentError]) -> list[Item]:
    """The list with what did not open said first; lines that only say the same are left out."""
    dead = [
        Item(one.instrument, "bad", one.message.rstrip("."), one.what_to_do) for one in failures
    ]
    names = {name.strip() for one in failures for name in one.instrument.split(",")}
    return [*dead, *(item for item in items if item.state != "bad" or item.name not in names)]


def identities(rig: Rig, wiring: BenchWiring) -> Iterator[Item]:
    """Who each instrument says it is."""
    said = wiring.identities()
    for name in rig.channels:
        if name in said:
            yield Item(f"identity of {name}", "good", said[name])


def live_values(rig: Rig, heard: dict[str, list[Reading]]) -> Iterator[Item]:
    """What each channel reads now, how often, and how old the last of it is."""
    now_s = max((r.t_s for readings in heard.values() for r in readings), default=0.0)
    for name, channel in rig.channels.items():
        if channel.driver == "hand":
            yield Item(name, "good", "typed by the operator")
            continue
        readings = heard.get(name, [])
        good = [r for r in readings if r.usable and r.value is not None]
        if not good:
            notes = {r.note or r.quality.value for r in readings}
            why = f" ({'; '.join(sorted(notes))})" if notes else ""
            yield Item(name, "bad", f"no good reading{why}", "Look at cable, supply and rig file.")
            continue
        yield _live_value(name, good, len(readings), now_s)
    for other in sorted(heard.keys() - rig.channels.keys()):  # what the drive says of itself
        if good := [r for r in heard[other] if r.usable and r.value is not None]:
            yield _live_value(other, good, len(heard[other]), now_s)


def _live_value(name: str, good: list[Reading], total: int, now_s: float) -> Item:
    kind = CHANNELS[name]
    last = good[-1].value or 0.0
    span_s = good[-1].t_s - good[0].t_s
    rate = f", {(len(good) - 1) / span_s:.1f} a second" if span_s > 0 else ""
    rate += f", the last {now_s - good[-1].t_s:.1f} s old"
    bad = total - len(good)
    spoiled = f"; {bad} of {total} not good" if bad else ""
    words = f"{last:z.{kind.decimals}f} {kind.unit_of_measure}{rate}{spoiled}"
    return Item(name, "look" if bad else "good", words)


def weak_lines(rig: Rig) -> Iterator[Item]:
    """Line patterns without a checksum: two fused lines may look like one good one."""
    for name, channel in rig.channels.items():
        if isinstance(channel, NmeaChannel) or not isinstance(channel, LinesChannel):
            continue
        if any(f"<{check}" in channel.pattern for check in ("xor", "sum", "crc")):
            continue
        yield Item(
            f"lines of {name}",
            "look",
            "no checksum: a cut or doubled line can pass for a reading",
            "Let the instrument send one, or keep `plausible` limits tight.",
        )


def bursts(rig: Rig, wiring: BenchWiring) -> Iterator[Item]:
    """From which EMF frequency to which a fast channel shows the lines of the ripple."""
    for name in rig.channels:
        burst = wiring.burst(name)
        if burst is not None:
            yield _burst(name, burst)


def _burst(name: str, burst: Burst) -> Item:
    from acquire.findings.ripple_lines import resolvable_hz

    samples = len(burst.samples)
    low_hz, high_hz = resolvable_hz(samples, burst.sample_s)
    words = f"{samples} samples in {samples * burst.sample_s:.3g} s"
    if low_hz >= high_hz:
        words += ": lines of the ripple at no speed at all"
        enough = math.floor(samples * low_hz / high_hz) + 1
        return Item(f"burst of {name}", "look", words, f"Let it take {enough} samples or more.")
    rpm = f"{10 * low_hz:.0f} to {10 * high_hz:.0f} rpm with 6 pole pairs"
    words += f": lines of the ripple from {low_hz:.0f} to {high_hz:.0f} Hz of the EMF ({rpm})"
    return Item(f"burst of {name}", "good", words)


def standstill(heard: dict[str, list[Reading]]) -> Iterator[Item]:
    """Nothing should turn now, whichever channel tells of it."""
    for name, at_most in TURNS_ABOVE.items():
        kind = CHANNELS[name]
        fastest = max((r.value for r in heard.get(name, []) if r.value is not None), default=0.0)
        if fastest > at_most:
            words = f"{kind.words} is {fastest:.0f} {kind.unit_of_measure}: it turns"
            yield Item("standstill", "bad", words, "Bring it to rest, then check again.")


def tachometer_against_drive(rig: Rig, heard: dict[str, list[Reading]]) -> Iterator[Item]:
    """Both tell of one shaft: at rest both must say so; turning, every sweep compares them."""
    shaft, drive = _mean_of(heard, "shaft_rpm"), _mean_of(heard, "drive_rpm")
    if shaft is None or drive is None:
        return
    name = "tachometer against drive"
    words = f"{shaft:.0f} rpm where the drive gives {drive * rig.ratio:.0f} rpm at the shaft"
    parted = abs(shaft - drive * rig.ratio)
    if parted > max(STANDSTILL_RPM, rig.limits.slip_percent_max / 100.0 * shaft):
        remedy = "Look at tachometer, mark, belt, and pulley sizes in the rig file."
        yield Item(name, "bad", words, remedy)
    else:
        allowed = f"more than {rig.limits.slip_percent_max:g} % apart stops a sweep"
        yield Item(name, "good", f"{words}; {allowed}")


def _mean_of(heard: dict[str, list[Reading]], name: str) -> float | None:
    values = [r.value for r in heard.get(name, []) if r.usable and r.value is not None]
    return math.fsum(values) / len(values) if values else None


def zero_of_the_sensor(rig: Rig, heard: dict[str, list[Reading]]) -> Iterator[Item]:
    """What the current sensor reads with nothing flowing."""
    amps = [r.value for r in heard.get("amps", []) if r.usable and r.value is not None]
    if len(amps) < 3:
        return
    mean = math.fsum(amps) / len(amps)
    spread = math.sqrt(math.fsum((a - mean) ** 2 for a in amps) / (len(amps) - 1))
    accuracy = rig.channels["amps"].accuracy
    allowed = accuracy.limit(0.0) if accuracy else 0.0
    reach = max(allowed, LARGE_ZERO_SHARE * (rig.limits.amps_max or 100.0))
    words = f"{mean:+z.2f} A (scatter {spread:.2f} A), subtracted in every sweep"
    if abs(mean) > reach:
        yield Item(
            "zero of the current sensor", "look", words, "Zero the clamp; is the ignition off?"
        )
    else:
        yield Item("zero of the current sensor", "good", words)


def battery_at_rest(heard: dict[str, list[Reading]], system_volts: int | None) -> Iterator[Item]:
    """A low battery keeps the bus below the test voltage at low speed."""
    name = "battery_volts" if "battery_volts" in heard else "volts"
    volts = [r.value for r in heard.get(name, []) if r.usable and r.value is not None]
    if not volts:
        return
    mean = math.fsum(volts) / len(volts)
    system = system_volts or min(REST_VOLTS, key=lambda v: abs(v * 1.06 - mean))
    if mean < REST_VOLTS[system]:
        yield Item(
            "battery at rest",
            "look",
            f"{mean:.2f} V is low for {system} V",
            "Charge it: the test voltage will not be reached at low speed.",
        )
    else:
        yield Item("battery at rest", "good", f"{mean:.2f} V")


def overdue(rig: Rig, today: date) -> Iterator[tuple[str, date]]:
    """Channel and due date of every calibration that was due before `today`."""
    for name, channel in rig.channels.items():
        due = channel.calibration.due if channel.calibration else None
        if due is not None and due < today:
            yield name, due


def calibrations(rig: Rig, today: date) -> Iterator[Item]:
    """Due dates; overdue is said in the record, never a stop."""
    late = dict(overdue(rig, today))
    for name, channel in rig.channels.items():
        calibration = channel.calibration
        if channel.driver == "hand" and calibration is None:
            continue
        if calibration is None:
            yield Item(f"calibration of {name}", "look", "none is stated in the rig file")
        elif name in late:
            yield Item(
                f"calibration of {name}",
                "look",
                f"was due on {late[name]}",
                "The record says so; have it calibrated.",
            )
        else:
            due = f", due {calibration.due}" if calibration.due else ""
            yield Item(f"calibration of {name}", "good", f"of {calibration.on}{due}")


def stopping(rig: Rig, wiring: BenchWiring) -> Iterator[Item]:
    """The stop path, exercised at standstill: drive, load and field are told, and read back."""
    if wiring.drive is None:
        yield Item("stopping", "good", "no drive: the operator's hand stops it")
    else:
        yield from _drive_stops(wiring.drive)
    if isinstance(rig.load, LoadHolds) and wiring.load is not None:
        yield _goes_off(wiring.load, "shedding the load", "load")
    if wiring.field is not None:
        yield _goes_off(wiring.field, "switching the field off", "field's switch")


def _drive_stops(drive: DriveLine) -> Iterator[Item]:
    if drive.found_running:
        words = "the drive was found told to run"
        yield Item("drive as found", "look", words, "It has been told to stop now.")
    try:
        drive.halt(2.0)
    except BenchError as error:
        yield Item(
            "stopping", "bad", str(error).rstrip("."), "Do not run this rig before it stops."
        )
    else:
        yield Item("stopping", "good", "the drive took run off and speed 0, and reads them back")


def _goes_off(switch: LoadLine | FieldLine, name: str, what: str) -> Item:
    try:
        switch.off_now(2.0)
    except BenchError as error:
        remedy = f"Look at the {what} and its cable; do not run this rig before it goes off."
        return Item(name, "bad", str(error).rstrip("."), remedy)
    return Item(name, "good", f"the {what} took off")


def left_alone(rig: Rig, wiring: BenchWiring) -> Iterator[Item]:
    """What stops the motor if this computer dies."""
    if rig.drive is None:
        return
    timeout = rig.drive.comm_timeout
    if timeout is None:
        yield Item(
            "if this computer dies",
            "look",
            "nothing in the rig file stops the motor: it may run on",
            "Set the drive's own communication time-out (comm_timeout), or rely on the hard-wired"
            " emergency stop and stay beside it.",
        )
        return
    if wiring.drive is None or wiring.drive.found_running is None:  # its time-out was never set
        remedy = "See the drive answer, then check again."
        yield Item("if this computer dies", "look", "not known, the drive does not answer", remedy)
        return
    yield Item(
        "if this computer dies",
        "good",
        f"the drive stops by itself after {timeout.set_s:g} s without a message",
    )
