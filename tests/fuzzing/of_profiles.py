"""Targets: plates, port addresses, command templates, and TOML files of every kind."""

from __future__ import annotations

import json
import math
import random
import re
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

from drivers.errors import CannotOpen, InstrumentError
from drivers.port_address import link_for, port_of
from drivers.wiring_plan import plan_ports
from profiles.address import Wire, port_wrong
from profiles.catalogue import (
    KINDS,
    Kind,
    from_snapshot,
    kind_of,
    load,
    load_rated,
    shipped_folder,
    snapshot,
)
from profiles.checking import checked
from profiles.plain_text import near_names, nearest, shown, visible
from profiles.plate import looks_like_plate, parse_plate
from profiles.settings import Settings
from profiles.table import Table
from profiles.template import LONGEST, Template, filled
from profiles.toml_file import parse_toml, read_text
from tests.fuzzing.target import AcceptedWrong, NotTaken, Target, claim, text_of

PLATES = (
    "45/90A 14V @1500/6000", "14V 90A @6000", "90A 14 V", "14V 90A",
    "13,5 V; 45 / 90 amps @ 1500/6000 rpm", "28V 80A@5000 1/min", "volts 14",
    "65 ampere | 14.2 volt @6000 min-1", "14v 120a @ 6000 r/min", "45/90A 13.5V",
)  # fmt: skip
PORTS = (
    "/dev/ttyUSB0", "COM3", "com12", "socket://127.0.0.1:5025", "tcp://192.0.2.7:502",
    "udp://0.0.0.0:10110", "rfc2217://bench.example:4001", "usb:1A86:7523",
    "usb:0403:6001:A5XK3RJT", "usb-place:1-2.3", "socket://[::1]:4001", "loop://",
    "TCPIP::192.0.2.9::5025::SOCKET", "TCPIP0::h::5025::SOCKET", "ASRL3::INSTR",
    "ASRL/dev/ttyS0::INSTR", "USB0::0x1AB1::0x09C4::DM3R::INSTR", "GPIB0::22::INSTR",
    "simulated:amps",
)  # fmt: skip
TEMPLATES = (
    "VOLT {value:.2f}",
    "CURR {value}",
    "SET {value:d};*WAI",
    "V{value:+08.3f}",
    "{value:e}",
    "A {value:G}",
)


class _One(Table):
    """A command template by itself."""

    template: Template


def feed_plate(data: bytes) -> None:
    """Every figure of the text is in the plate, and no other; written again it is the same."""
    text = text_of(data)
    plate = parse_plate(text)
    given = [plate.idle_amps, plate.rated_amps, plate.volts, plate.idle_rpm, plate.rated_rpm]
    values = sorted(value for value in given if value is not None)
    claim(all(0 < value < math.inf for value in values), f"not all positive: {values}")
    plain = re.sub(r"(?i)r/min|(?<![0-9])1/min|/min|min\^?-1|min⁻¹", "", text)
    figures = sorted(
        float(f.replace(",", ".")) for f in re.findall(r"[0-9]+(?:[.,][0-9]+)?", plain)
    )
    claim(figures == values, f"figures {figures} became {values}")
    claim(plate.idle_amps is None or plate.idle_amps <= plate.rated_amps, "amps fall")
    speeds = (plate.idle_rpm, plate.rated_rpm)
    claim(None in speeds or speeds[0] < speeds[1], "speeds fall")  # type: ignore[operator]
    claim(parse_plate(_written(plate)) == plate, "written again it is another plate")


def _written(plate: Any) -> str:
    def number(value: float) -> str:
        return format(Decimal(repr(value)), "f")

    def pair(first: float | None, second: float) -> str:
        return number(second) if first is None else f"{number(first)}/{number(second)}"

    speeds = "" if plate.rated_rpm is None else f" @{pair(plate.idle_rpm, plate.rated_rpm)}"
    return f"{pair(plate.idle_amps, plate.rated_amps)}A {number(plate.volts)}V{speeds}"


def feed_rated(data: bytes) -> None:
    """What may stand behind --rated: a plate, a name or a path."""
    text = text_of(data)
    loaded = load_rated(text)
    curve = loaded.profile.rated_curve()
    claim(loaded.origin != "plate" or looks_like_plate(text), "a plate that looks like none")
    claim(
        all(0 < rpm <= 30000 and 0 <= amps <= 2000 for rpm, amps in curve.points),
        "points beyond reason",
    )


def plate_from_nothing(rng: random.Random) -> bytes:
    """A marking by the rules, and a little beside them."""

    def number() -> str:
        whole = str(rng.choice((14, 28, 13, 45, 90, 120, 1500, 6000, rng.randrange(100000))))
        return whole + rng.choice(("", "", "", ".5", ",5", ".25", ".", ",12345"))

    def pair() -> str:
        return (
            f"{number()}{rng.choice(('', '/', ' / '))}{number()}"
            if rng.random() < 0.4
            else number()
        )

    amps = pair() + rng.choice(("A", " A", "a", " amps", "ampere"))
    volts = number() + rng.choice(("V", " V", "v", "volt", " volts"))
    parts = [amps, volts]
    rng.shuffle(parts)
    text = rng.choice((" ", ", ", "; ", "|", "", "-")).join(parts)
    if rng.random() < 0.6:
        text += (
            rng.choice((" @", "@", " @ "))
            + pair()
            + rng.choice(("", " rpm", " 1/min", "min-1", " /min"))
        )
    return text.encode()


def feed_port(data: bytes) -> None:
    """An address that the rig file takes must be one that the drivers understand."""
    text = text_of(data)
    wrong = port_wrong(text)
    if wrong is not None:
        claim(bool(wrong[0]) and visible(wrong[0]) == wrong[0], "a message that steers")
        raise NotTaken(" ".join(wrong))
    wire = Wire(port=text)
    address = port_of(wire)
    claim(port_of(Wire(port=address)) == address, f"{address!r} has another spelling")
    try:
        link_for(address, wire, "amps")
    except CannotOpen as error:
        raise AcceptedWrong(f"taken by the rig file, refused when opened: {error}") from error


def feed_resource(data: bytes) -> None:
    """A VISA resource name; those reached by our own links are checked for host and port."""
    text = text_of(data)
    wire = Wire(resource=text)
    address = port_of(wire)
    if address.startswith("visa:"):
        raise NotTaken(f"left to VISA: {shown(text)}")
    link_for(address, wire, "amps")
    if address.startswith("socket://"):
        number = address.rpartition(":")[2]
        claim(number.isascii() and number.isdigit() and 0 < int(number) < 65536, f"port {number!r}")


def feed_template(data: bytes) -> None:
    """A template that is taken can be filled with any speed or voltage, and holds it."""
    text = text_of(data)
    found = checked(_One, {"template": text}, "rig.toml").template
    claim(len(found) <= LONGEST, "too long")
    for value in (0.0, 13.5, -1.25, 6000.0, 1e6):
        command = filled(found, value)
        claim("\n" not in command and "\r" not in command, "a line end in a command")
        claim("{value" not in command, "not filled")
        claim(_holds_number(command, found, value), f"{found!r} with {value} became {command!r}")


def _holds_number(command: str, template: str, value: float) -> bool:
    before, _, rest = template.partition("{value")
    number = command[len(before) : len(command) - len(rest.partition("}")[2])]
    try:
        read = float(number)
    except ValueError:
        return False
    return abs(read - value) <= 0.5 + 0.5 * abs(value)


def feed_shown(data: bytes) -> None:
    """Whatever is repeated in a message is visible, bounded, and loses nothing of its meaning."""
    text = text_of(data)
    for said in (visible(text), shown(text), shown([text]), shown({"a": text}.keys())):
        claim(
            said.replace(" ", "").isprintable() or said == "" or _harmless(said),
            f"steers: {said!r:.80}",
        )
    claim(len(shown(text)) <= 62, "too long to be shown")
    known = ("shaft_rpm", "amps", "volts", "case_c", "naïve", "İstanbul")
    near = nearest(text, known)
    claim(near is None or near in known, "a word that is not known")
    claim(set(near_names(text, known)) <= set(known), "words that are not known")


def _harmless(said: str) -> bool:
    return visible(said) == said


# ---- TOML files ------------------------------------------------------------------------------


class TomlFeed:
    """Writes the input as a file of one kind and loads it as the program does."""

    def __init__(self, kind: Kind | None, folder: Path) -> None:
        self.kind = kind
        self.path = folder / "bench.toml"

    def __call__(self, data: bytes) -> None:
        self.path.write_bytes(data)
        if self.kind is None:
            self._settings()
            return
        loaded = load(self.kind, self.path)
        profile = loaded.profile
        _no_odd_numbers(profile.model_dump(by_alias=True))
        if self.kind != "instruments":
            kept = json.loads(json.dumps(snapshot(profile)))
            claim(from_snapshot(self.kind, kept) == profile, "the snapshot gives another profile")
        # Reading is no chance: the same text gives the same profile.
        claim(load(self.kind, self.path).profile == profile, "read again it is another profile")
        further = {"rigs": _rig, "alternators": _alternator}.get(self.kind)
        if further is not None:
            further(profile)

    def _settings(self) -> None:
        found = checked(Settings, parse_toml(read_text(self.path), str(self.path)), str(self.path))
        claim(found.schema_ == 1, "another schema")


def _no_odd_numbers(value: object) -> None:
    for one in _leaves(value):
        claim(not isinstance(one, float) or math.isfinite(one), f"a number that is none: {one}")


def _leaves(value: object) -> Iterator[object]:
    if isinstance(value, dict):
        for inner in value.values():
            yield from _leaves(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from _leaves(inner)
    else:
        yield value


def _rig(rig: Any) -> None:
    for channel in rig.channels.values():
        if channel.plausible is not None:
            claim(channel.plausible[0] < channel.plausible[1], "plausible is turned round")
        if channel.accuracy is not None:
            claim(channel.accuracy.u(50.0) >= 0.0, "a negative uncertainty")
    claim("amps" in rig.channels, "no amps")
    try:
        plan_ports(rig)  # patterns compiled, registers placed, terminators made bytes
    except InstrumentError as error:
        claim(bool(error.instrument), "an instrument error without an instrument")


def _alternator(profile: Any) -> None:
    curve = profile.rated_curve()
    speeds = [rpm for rpm, _ in curve.points]
    claim(bool(speeds), "a rated curve without points")
    claim(speeds == sorted(set(speeds)), "speeds do not rise")
    claim(
        all(0 < rpm <= 30000 and 0 <= amps <= 2000 for rpm, amps in curve.points),
        "points beyond reason",
    )
    low, high = {12: (12, 15.5), 24: (24, 31), 36: (36, 46.5), 48: (48, 62)}[
        int(curve.system_volts)
    ]
    claim(low <= curve.volts <= high, f"{curve.volts} V in a {curve.system_volts} V system")


def feed_any_toml(data: bytes) -> None:
    """`profiles check FILE` tells the kind by the content."""
    kind_of(parse_toml(data.decode("utf-8"), "bench.toml"))


SETTINGS = b"""schema = 1
[workshop]
name = "Invented Rebuilds"
address = '''1 Quay
Nowhere'''
logo = "logo.png"
[report]
language = "en"
paper = "A4"
[shelf]
folder = "~/runs"
url = "postgresql://bench@server.example/shelf"
[seal]
key = "workshop.pem"
trust = ["0000000000000000000000000000000000000000000000000000000000000000"]
"""
ODD_RIG = rb"""title = "Odd bench (invented)"
[rig]
pulley = { drive_mm = 180.0, alternator_mm = 60.0 }
max_shaft_rpm = 12000
field_fed = "from bench"
[channels.shaft_rpm]
driver = "lines"
port = "socket://127.0.0.1:4001"
pattern = 'RPM=(?P<value>\d+\.\d)\*(?P<xor>[0-9A-F]{2})'
terminator = "\r\n"
[channels.amps]
driver = "scpi"
resource = "TCPIP::127.0.0.1::5025::SOCKET"
query = "MEAS:CURR:DC?"
field = 1
scale = 5000.0
offset = -0.1
plausible = [-10, 400]
identify = { send = "*IDN?", match = "METER" }
setup = ["CONF:VOLT:DC 0.1"]
accuracy = { percent_of_reading = 0.5, percent_of_range = 0.1, range = 300 }
calibration = { on = 2026-01-02, due = 2027-01-02, certificate = "C-1" }
[channels.engine_rpm]
driver = "nmea0183"
port = "udp://0.0.0.0:10110"
sentence = "RPM"
talker = "II"
field = 3
status = 5
where = { "1" = "E", "2" = "1" }
[channels.case_c]
driver = "modbus"
port = "/dev/ttyUSB0"
baud = 19200
device = 3
register = 0
table = "input"
type = "s16"
scale = 0.1
in = "F"
[channels.volts]
driver = "hand"
[drive]
driver = "modbus"
port = "tcp://127.0.0.1:502"
run = { register = 0, on = 1, off = 0 }
speed = { register = 1, scale = 0.01, in = "Hz", rpm_per_unit = 30.0 }
output = { register = 10, scale = 0.01, in = "Hz" }
comm_timeout = { register = 20, scale = 0.1, in = "s", set_s = 2.0 }
[load]
driver = "modbus"
port = "tcp://127.0.0.1:503"
steps = [{ register = 0, bit = 0, amps = 20 }, { register = 0, bit = 1, amps = 40.5 }]
[field]
driver = "lines"
port = "COM7"
on = "F1"
off = "F0"
[limits]
volts_max = 16.0
silent_s = 4.0
slip_percent_max = 5
[reference]
serial = "REF-1"
every_days = 30
since = 2026-01-01
"""


def targets(folder: Path) -> list[Target]:
    """All targets of the profiles; files are written to `folder`."""
    found = [
        Target("plate", _coded(PLATES), feed_plate, names=("plate",), grammar=plate_from_nothing),
        Target(
            "rated name or plate",
            _coded((*PLATES, "small-frame-14v-90a", "no-such.toml", "x/y", "~")),
            feed_rated,
            grammar=plate_from_nothing,
            share=0.35,
        ),
        Target("port address", _coded(PORTS), feed_port),
        Target("VISA resource", _coded(PORTS), feed_resource),
        Target("command template", _coded(TEMPLATES), feed_template, names=("template",)),
        Target("words in a message", _coded((*PORTS, *PLATES, "shaft_rpn", "AMPS")), feed_shown),
    ]
    for kind in KINDS:
        samples = [path.read_bytes() for path in sorted(shipped_folder(kind).glob("*.toml"))]
        if kind == "rigs":
            samples.append(ODD_RIG)
        share = 0.08 if kind == "rigs" else 0.16
        found.append(
            Target(
                f"TOML: {kind}",
                samples,
                TomlFeed(kind, folder),
                shape="toml",
                names=(".toml",),
                share=share,
                longest=1_000_100,
            )
        )
    found.append(
        Target(
            "TOML: settings",
            [SETTINGS, b""],
            TomlFeed(None, folder),
            shape="toml",
            names=(".toml",),
            share=0.3,
        )
    )
    return found


def _coded(texts: tuple[str, ...]) -> list[bytes]:
    return [text.encode() for text in texts]
