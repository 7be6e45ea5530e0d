"""How one channel is read: by lines, SCPI, Modbus or NMEA 0183, by hand, or by a driver in code."""

from __future__ import annotations

import re
import sys
import warnings
from collections.abc import Iterator
from datetime import date
from typing import Annotated, Any, ClassVar, Literal

from pydantic import AfterValidator, BeforeValidator, Field

from profiles.accuracy import Accuracy
from profiles.address import Wire
from profiles.channels import CHANNELS
from profiles.plain_text import listed, nearest, shown
from profiles.register import (
    DeviceNumber,
    RegisterAddress,
    RegisterOrder,
    RegisterTable,
    RegisterType,
    Scale,
)
from profiles.table import Fault, Listed, Table, Words, Wrong
from profiles.template import Command
from profiles.units_of_measure import conversion, known_for

LONGEST_PATTERN = 256
ENTRY_POINTS = "steadyamps.drivers"
"""Entry-point group of drivers in code."""


class Calibration(Table):
    """When an instrument was calibrated, until when that holds, and the paper that says so."""

    on: date | None = None
    due: date | None = None
    certificate: Words | None = None

    def faults(self) -> Iterator[Fault]:
        """Due comes after on."""
        if self.on is not None and self.due is not None and self.due <= self.on:
            yield Fault("due", f"is {self.due}, not after on = {self.on}.", "Mend the dates.")


class Identify(Table):
    """Ask the instrument who it is, and refuse to work with another."""

    send: Command = Field(description='the question, such as send = "*IDN?"')
    match: Annotated[str, Field(min_length=1, max_length=LONGEST_PATTERN)] | None = None
    """A regular expression that the answer must contain; left out: the answer is only recorded."""

    def faults(self) -> Iterator[Fault]:
        """The expression must be one."""
        if self.match is not None and (wrong := _regex_wrong(self.match)):
            yield Fault("match", wrong, "Mend the regular expression.")


def _regex_wrong(text: str) -> str:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", FutureWarning)
            re.compile(text, re.ASCII)
    except (re.error, OverflowError, RecursionError) as error:
        return f"{shown(text)} is not a regular expression: {error}."
    return ""


def _pattern(text: str) -> str:
    if wrong := _regex_wrong(text):
        raise Wrong(wrong, "Mend the regular expression.")
    if "(?P<value>" not in text:
        raise Wrong(
            f"{shown(text)} does not say which part is the value.",
            r"Put it in a group named value, as in 'RPM=(?P<value>\d+)'.",
        )
    return text


def is_bare_number(pattern: str) -> bool:
    """True where nothing but the value stands in a line: no letter, no sign, no checksum."""
    return not re.sub(r"\(\?P<value>(?:[^()\\]|\\.|\([^()]*\))*\)|\\s|[\s^$*+?]", "", pattern)


def _range(value: object) -> object:
    pair = tuple(value) if isinstance(value, list) else value
    numbers = isinstance(pair, tuple) and all(
        isinstance(end, int | float)
        and not isinstance(end, bool)
        and abs(end) <= sys.float_info.max
        for end in pair
    )
    if not isinstance(pair, tuple) or len(pair) != 2 or not numbers or not pair[0] < pair[1]:
        raise Wrong(
            f"must be [low, high], low below high; it is {shown(value)}.",
            "Write it as in plausible = [0.0, 20.0].",
        )
    return (float(pair[0]), float(pair[1]))


class Channel(Table):
    """What all channels have in common, whatever the driver."""

    like: str | None = None
    """Name of an instrument description; its keys hold where the rig's own do not."""
    in_: str | None = Field(default=None, alias="in")
    """Unit of measure after scale and offset; default: the channel's own."""
    scale: Scale = 1.0
    offset: float = 0.0
    plausible: Annotated[tuple[float, float], BeforeValidator(_range)] | None = None
    """Values outside are bad readings; in the channel's own unit of measure."""
    accuracy: Accuracy | None = None
    calibration: Calibration | None = None
    model: Words | None = None
    serial_number: Words | None = None

    def value_of(self, channel: str, raw: float) -> float:
        """Turn what the instrument said into the channel's own unit of measure."""
        factor, added = conversion(channel, self.in_)
        return (raw * self.scale + self.offset) * factor + added

    def unit_faults(self, channel: str) -> Iterator[Fault]:
        """The unit of measure must suit the channel."""
        known = known_for(channel)
        if self.in_ is not None and self.in_ not in known:
            near = nearest(self.in_, known)
            hint = f'Did you mean "{near}"? ' if near else ""
            yield Fault(
                "in",
                f"{shown(self.in_)} is no unit of measure for {CHANNELS[channel].words}.",
                f"{hint}Known for it: {listed(known)}.",
            )


class WiredChannel(Channel, Wire):
    """A channel with an instrument on a wire."""

    every_s: Annotated[float, Field(ge=0.005, le=60)] = 0.1
    """How often it is asked."""


class SpokenChannel(WiredChannel):
    """A channel whose instrument takes commands in text."""

    identify: Identify | None = None
    setup: Annotated[tuple[Command, ...], Listed] = ()
    """Commands sent once after opening."""


MOST_SAMPLES = 10_000
BURST_CHANNELS = ("ripple_volts",)
"""Channels whose value is an AC rms, as it can be had from a burst of samples."""


class BurstChannel(SpokenChannel):
    """A channel whose answer may be a burst: a list of samples, evenly spaced in time.

    Its value is then the AC rms of the burst.
    """

    burst_samples: Annotated[int, Field(ge=16, le=MOST_SAMPLES)] | None = None
    """How many samples one answer holds; fewer or more are a bad reading."""
    burst_sample_s: Annotated[float, Field(gt=0.0, le=0.01)] | None = None
    """Time from one sample to the next [s]."""

    def unit_faults(self, channel: str) -> Iterator[Fault]:
        """Both keys or none, and only where an AC value is meant."""
        yield from super().unit_faults(channel)
        said = [name for name in type(self).model_fields if name.startswith("burst_")]
        said = [name for name in said if getattr(self, name) is not None]
        if not said:
            return
        if channel not in BURST_CHANNELS:
            yield Fault(
                said[0],
                f"makes an AC value of a burst, and {CHANNELS[channel].words} is none.",
                f"Leave it out, or read {listed(BURST_CHANNELS)} here.",
            )
        for name, words in _BURST_KEYS.items():
            if getattr(self, name) is None:
                yield Fault(name, f"is missing: {words}.", f"A burst needs {listed(_BURST_KEYS)}.")


_BURST_KEYS = {
    "burst_samples": "how many samples one answer holds",
    "burst_sample_s": "the time from one sample to the next, in seconds",
}


class LinesChannel(BurstChannel):
    """Text lines: sent by the instrument as it likes, or on a request.

    With a burst, group `value` of the pattern is its samples, parted by commas.
    """

    STAND_INS: ClassVar[dict[str, object]] = {"pattern": r"V=(?P<value>\d+)"}
    driver: Literal["lines"]
    pattern: Annotated[str, Field(max_length=LONGEST_PATTERN), AfterValidator(_pattern)] = Field(
        description=r"a regular expression, such as pattern = 'RPM=(?P<value>\d+)'"
    )
    """Must match the whole line; group `value` is the reading, group `xor` its checksum."""
    query: Command | None = None
    """Sent every `every_s`; left out: the instrument sends by itself."""
    terminator: Annotated[str, Field(min_length=1, max_length=4)] = "\n"

    def unit_faults(self, channel: str) -> Iterator[Fault]:
        """A burst must be asked for: nobody knows when one that comes by itself was begun."""
        yield from super().unit_faults(channel)
        if self.burst_samples is not None and self.query is None:
            yield Fault("query", "is missing.", "A burst is asked for: say what is sent for one.")
        alone = self.burst_samples is None and is_bare_number(self.pattern)
        if alone and self.plausible is None:
            yield Fault(
                "plausible",
                "is missing.",
                "The line is a bare number without a checksum, and a cut or doubled one looks the"
                " same: say what can be, as in plausible = [0.0, 300.0].",
            )


class ScpiChannel(BurstChannel):
    """An instrument that speaks SCPI."""

    STAND_INS: ClassVar[dict[str, object]] = {"query": "READ?"}
    driver: Literal["scpi"]
    query: Command = Field(description='the question, such as query = "MEAS:VOLT:DC?"')
    field: Annotated[int, Field(ge=0, le=99)] = 0
    """Which of several numbers in the answer, parted by commas, counted from 0."""
    terminator: Annotated[str, Field(min_length=1, max_length=4)] = "\n"
    burst_form: Literal["text", "f32", "f64"] | None = None
    """A burst as numbers parted by commas (left out), or as a block of 32 or 64 bit floats."""
    burst_order: Literal["normal", "swapped"] | None = None
    """Bytes of a block's floats: highest first (left out: FORMat:BORDer NORMal), or SWAPped."""

    def unit_faults(self, channel: str) -> Iterator[Fault]:
        """A burst is taken as a whole: one number of it means nothing."""
        yield from super().unit_faults(channel)
        if self.burst_samples is not None and self.field > 0:
            yield Fault("field", "chooses one number, and a burst counts whole.", "Leave it out.")


class ModbusChannel(WiredChannel):
    """A register of a Modbus device: RTU on a serial port, TCP on `tcp://`."""

    STAND_INS: ClassVar[dict[str, object]] = {"register": 0}
    driver: Literal["modbus"]
    device: DeviceNumber = 1
    register_: RegisterAddress = Field(alias="register", description="its wire address, from 0")
    table: RegisterTable = "holding"
    type: RegisterType = "u16"
    order: RegisterOrder = "ABCD"


class NmeaChannel(WiredChannel):
    """A field of an NMEA 0183 sentence. Fields are counted from 1 after the address."""

    driver: Literal["nmea0183"]
    baud: Annotated[int, Field(gt=0, le=4_000_000)] = 4800
    sentence: Annotated[str, Field(pattern=r"^[A-Z]{3}$")] = Field(
        description='its three letters, such as sentence = "RPM"'
    )
    talker: Annotated[str, Field(pattern=r"^[A-Z]{2}$")] | None = None
    """Two letters; left out: any talker."""
    field: Annotated[int, Field(ge=1, le=80)] = Field(description="the number of the field")
    where: dict[str, str] = Field(default_factory=dict)
    """Only sentences whose fields have these texts, as in `{ "1" = "E", "2" = "1" }`."""
    status: Annotated[int, Field(ge=1, le=80)] | None = None
    """Number of the field that must be `A` for a valid reading."""

    def faults(self) -> Iterator[Fault]:
        """Conditions name fields by number."""
        yield from super().faults()
        for number in self.where:
            if not (number.isascii() and number.isdigit() and 1 <= int(number[:3]) <= 80):
                yield Fault(
                    f"where.{number}",
                    "is not the number of a field.",
                    'Write it as in where = { "1" = "E" }.',
                )


class HandChannel(Channel):
    """The operator types the reading."""

    driver: Literal["hand"]


class CodeChannel(SpokenChannel):
    """An instrument that needs a driver in code, found by its entry-point name."""

    driver: Literal["code"]
    entry: Words = Field(description="the entry-point name of the driver")
    options: dict[str, Any] = Field(default_factory=dict)
    """Handed to the driver as they stand."""


AnyChannel = Annotated[
    LinesChannel | ScpiChannel | ModbusChannel | NmeaChannel | HandChannel | CodeChannel,
    Field(discriminator="driver"),
]
