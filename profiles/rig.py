"""The rig: what turns the unit, loads it and reads it, and the limits nothing may pass."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from typing import Annotated, Literal

from pydantic import Field

from profiles.address import SIMULATED, Wire
from profiles.channels import SPEED_CHANNELS, ChannelName
from profiles.drive import AnyField, AnyLoad, Drive
from profiles.instrument import AnyChannel
from profiles.plain_text import shown
from profiles.table import Fault, Positive, ProfileFile, ShaftRpm, Table, Words

LARGEST_RATIO = 20.0
LARGEST_PACE = 1000.0
_FAULT = re.compile(r"[a-z][a-z0-9 _-]*(?:@[0-9]+(?:\.[0-9]+)?)?")


_SPEED_KEYS = (*(f"channels.{name}" for name in SPEED_CHANNELS), "drive.output", "drive")


class Pulley(Table):
    """Pitch diameters of the two pulleys."""

    drive_mm: Positive = Field(description="the pulley on the motor or engine, in mm")
    alternator_mm: Positive = Field(description="the pulley on the unit, in mm")

    @property
    def ratio(self) -> float:
        """Shaft speed over drive speed, without slip."""
        return self.drive_mm / self.alternator_mm

    def faults(self) -> Iterator[Fault]:
        """A ratio beyond reason is a typing error, or inches."""
        if not 1.0 / LARGEST_RATIO <= self.ratio <= LARGEST_RATIO:
            yield Fault(
                "drive_mm",
                f"gives a ratio of {self.ratio:.3g}.",
                "Check both diameters; they are in mm.",
                ("alternator_mm",),
            )


class RigTable(Table):
    """The table [rig]."""

    pulley: Pulley | None = None
    """Left out = the motor turns the shaft directly."""
    max_shaft_rpm: ShaftRpm | None = None
    """No speed above it is ever set."""
    field_fed: Literal["by unit", "from bench"] = "by unit"
    """Where the field current comes from; from the bench, amps at B+ are not net."""


class Limits(Table):
    """The table [limits]: the guard stops the run when one is passed."""

    volts_max: Positive | None = None
    battery_volts_max: Positive | None = None
    amps_max: Positive | None = None
    field_amps_max: Positive | None = None
    field_volts_max: Positive | None = None
    ripple_volts_max: Positive | None = None
    case_c_max: float | None = None
    ambient_c_max: float | None = None
    torque_nm_max: Positive | None = None
    slip_percent_max: Annotated[float, Field(gt=0, le=100)] = 6.0
    silent_s: Annotated[float, Field(gt=0, le=600)] = 3.0
    """A channel without an ok reading for so long stops the run."""


class Reference(Table):
    """The table [reference]: the unit that shows whether the bench is where it was."""

    serial: Words = Field(description="the serial of the unit that is kept to test the bench with")
    every_days: Positive | None = None
    """A last run of it that is older is said to be old; left out = no age is."""
    since: date | None = None
    """Runs before this day do not count: after a change of the bench a new chart begins."""


class SimulatedRig(Table):
    """The table [simulated]: the rig is a machine in software, reached over the same wires."""

    machine: Words = Field(description="the name of a simulated machine")
    pace: Annotated[float, Field(gt=0, le=LARGEST_PACE)] = 8.0
    """How many seconds pass on the rig in one of ours."""
    fault: str | None = None
    """NAME or NAME@S: a fault of the unit or the rig, from the start or from second S on."""
    wires: Literal["sockets", "pseudo-terminals"] = "sockets"
    served: bool = False
    """True: `rig simulate` serves it already, and the addresses of this file are its own."""
    seed: Annotated[int, Field(ge=0, le=2**31 - 1)] = 1
    """The same seed gives the same noise."""

    def faults(self) -> Iterator[Fault]:
        """A fault is a name, and perhaps a time."""
        if self.fault is not None and not _FAULT.fullmatch(self.fault):
            yield Fault(
                "fault",
                f"{shown(self.fault)} is not written as NAME or NAME@SECONDS.",
                'Write it as in fault = "worn brush@30".',
            )


class Rig(ProfileFile):
    """A file of the folder `rigs`."""

    rig: RigTable = RigTable()
    channels: dict[ChannelName, AnyChannel] = Field(
        description="tables such as [channels.amps] and [channels.shaft_rpm]"
    )
    drive: Drive | None = None
    """Left out = the operator sets the speed and the program follows."""
    load: AnyLoad | None = None
    field: AnyField | None = None
    limits: Limits = Limits()
    reference: Reference | None = None
    """Left out = the shop keeps no reference unit."""
    simulated: SimulatedRig | None = None
    note: Words | None = None

    @property
    def ratio(self) -> float:
        """Shaft speed over drive speed, without slip; 1 when the drive is direct."""
        return 1.0 if self.rig.pulley is None else self.rig.pulley.ratio

    def faults(self) -> Iterator[Fault]:
        """The rig must be able to tell speed and current, and its parts must fit together."""
        yield from self._speed_faults()
        yield from self._channel_faults()
        yield from self._port_faults()
        yield from self._simulated_faults()
        if self.drive is not None and self.drive.output and "drive_rpm" in self.channels:
            yield Fault(
                "channels.drive_rpm",
                "is there, and drive.output gives the same channel.",
                "Leave one of them out.",
                ("drive.output",),
            )

    def _speed_faults(self) -> Iterator[Fault]:
        by_belt = {"engine_rpm", "drive_rpm"} & set(self.channels)
        if self.drive is not None and self.drive.output is not None:
            by_belt.add("drive_rpm")
        if {"shaft_rpm", "w_hz"} & set(self.channels) or (by_belt and self.rig.pulley is not None):
            return
        if by_belt:
            only = sorted(by_belt)[0]
            yield Fault(
                "rig.pulley",
                f"is missing: {only} is the only speed, and without the pulleys it does not give"
                " the shaft speed.",
                "Add pulley = { drive_mm = …, alternator_mm = … } (equal for a direct drive).",
                _SPEED_KEYS,
            )
            return
        yield Fault(
            "channels",
            "have no speed.",
            "Add [channels.shaft_rpm] or [channels.w_hz]; with a pulley, engine_rpm or drive_rpm.",
            _SPEED_KEYS,
        )

    def _channel_faults(self) -> Iterator[Fault]:
        if "amps" not in self.channels:
            yield Fault("channels.amps", "is missing.", "Add the table [channels.amps].")
        for name, channel in self.channels.items():
            place = f"channels.{name}"
            for fault in channel.unit_faults(name):
                yield Fault(f"{place}.{fault.key}", fault.message, fault.what_to_do)
        for place, wire in self.wires():
            yield from self._timeout_faults(place, wire)

    def _timeout_faults(self, place: str, wire: Wire) -> Iterator[Fault]:
        if wire.timeout_s >= self.limits.silent_s:
            yield Fault(
                f"{place}.timeout_s",
                f"is {wire.timeout_s:g} s, not less than limits.silent_s ="
                f" {self.limits.silent_s:g} s.",
                "A silent channel would stop the run before its answer is given up.",
                ("limits.silent_s",),
            )

    def _port_faults(self) -> Iterator[Fault]:
        """A port may carry several instruments, but has one setting of its line."""
        seen: dict[str, tuple[str, Wire]] = {}
        for place, wire in self.wires():
            if not wire.address:
                continue
            first_place, first = seen.setdefault(wire.address, (place, wire))
            for key in ("baud", "data_bits", "parity", "stop_bits"):
                here, there = getattr(wire, key), getattr(first, key)
                if here != there:
                    yield Fault(
                        f"{place}.{key}",
                        f"is {shown(here)}; {first_place}, on the same port, has {shown(there)}.",
                        "One port has one setting; give the same for both.",
                        (f"{first_place}.{key}", f"{first_place}.port", f"{place}.port"),
                    )

    def wires(self) -> Iterator[tuple[str, Wire]]:
        """Give every part of the rig that is on a wire, with its dotted key."""
        for name, channel in self.channels.items():
            if isinstance(channel, Wire):
                yield f"channels.{name}", channel
        for place, part in (("drive", self.drive), ("load", self.load), ("field", self.field)):
            if isinstance(part, Wire):
                yield place, part

    def _simulated_faults(self) -> Iterator[Fault]:
        if self.simulated is not None:
            return
        for place, wire in self.wires():
            if wire.address.startswith(SIMULATED):
                yield Fault(
                    f"{place}.port",
                    f"is {shown(wire.address)}, but this rig is not simulated.",
                    "Name a real port, or add the table [simulated].",
                    ("simulated", f"{place}.resource"),
                )
