"""The drive that turns the shaft, the load that takes the current, and the switch of the field."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from profiles.address import Wire
from profiles.instrument import Identify
from profiles.register import (
    BankStep,
    DeviceNumber,
    RunRegister,
    SpeedRegister,
    TimeoutRegister,
)
from profiles.table import Fault, Listed, NotNegative, Positive, Table, Words
from profiles.template import Command, Template


class Drive(Wire):
    """The table [drive]: a motor drive on Modbus (RTU on a serial port, TCP on `tcp://`)."""

    driver: Literal["modbus"]
    like: str | None = None
    model: Words | None = None
    serial_number: Words | None = None
    device: DeviceNumber = 1
    run: RunRegister = Field(description="run = { register = 0, on = 1, off = 0 }")
    speed: SpeedRegister = Field(description='speed = { register = 1, scale = 0.01, in = "Hz" }')
    output: SpeedRegister | None = None
    """What the drive says it gives: becomes the channel drive_rpm."""
    comm_timeout: TimeoutRegister | None = None
    """Set at start, so that the motor stops by itself when this computer falls silent."""
    every_s: Annotated[float, Field(ge=0.005, le=60)] = 0.1
    max_rpm_per_s: Positive = 400.0
    """Shaft rpm per second."""
    coast_s: NotNegative = 20.0
    """How long the shaft needs to stand still from top speed."""
    kw: Positive | None = None
    """Rated power of the motor; warns which steps would stall it."""

    def output_rpm_per_unit(self) -> float:
        """Motor rpm for one of what `output.in` names; taken over from `speed` where not given."""
        if self.output is None or self.output.rpm_per_unit is not None:
            return self.output.motor_rpm_per_unit if self.output else 1.0
        same = self.output.in_ == self.speed.in_
        return self.speed.motor_rpm_per_unit if same else 1.0

    def faults(self) -> Iterator[Fault]:
        """Speeds must be turned into rpm, and what is written must be writable."""
        yield from super().faults()
        if self.speed.in_ != "rpm" and self.speed.rpm_per_unit is None:
            yield Fault(
                "speed.rpm_per_unit",
                f"is missing; the program cannot guess the motor rpm for one {self.speed.in_}.",
                "Add it: 60 / pole pairs of the motor for Hz, such as rpm_per_unit = 30.0.",
                ("speed.in",),
            )
        yield from self._output_faults()
        for name in ("speed", "comm_timeout"):
            register = getattr(self, name)
            if register is not None and register.table != "holding":
                yield Fault(f"{name}.table", "is not holding.", "Only those can be written.")

    def _output_faults(self) -> Iterator[Fault]:
        output = self.output
        if output is None or output.rpm_per_unit is not None or output.in_ == "rpm":
            return
        if output.in_ != self.speed.in_:
            yield Fault("output.rpm_per_unit", "is missing.", "Add the motor rpm for one unit.")


class LoadHolds(Wire):
    """A load that holds the voltage by itself (constant voltage), spoken to in SCPI."""

    driver: Literal["scpi"]
    like: str | None = None
    model: Words | None = None
    serial_number: Words | None = None
    terminator: Annotated[str, Field(min_length=1, max_length=4)] = "\n"
    identify: Identify | None = None
    setup: Annotated[tuple[Command, ...], Listed] = ()
    mode: Command | None = None
    """Sent once: makes it hold the voltage."""
    set: Template = Field(description='set = "VOLT {value:.2f}"')
    on: Command = Field(description='on = "INP ON"')
    off: Command = Field(description='off = "INP OFF"')
    set_query: Command | None = None
    """Reads the set voltage back, as in `VOLT?`; left out: the error queue alone is asked."""
    on_query: Command | None = None
    """Reads back whether it is on, as in `INP?`."""


class LoadBank(Wire):
    """A bank of switched resistors on Modbus."""

    driver: Literal["modbus"]
    like: str | None = None
    model: Words | None = None
    serial_number: Words | None = None
    device: DeviceNumber = 1
    steps: Annotated[tuple[BankStep, ...], Listed, Field(min_length=1, max_length=64)] = Field(
        description="steps = [{ register = 0, bit = 0, amps = 20 }]"
    )

    def faults(self) -> Iterator[Fault]:
        """Each bit is one step."""
        yield from super().faults()
        seen: set[tuple[int, int]] = set()
        for number, step in enumerate(self.steps, 1):
            place = (step.register_, step.bit)
            if place in seen:
                yield Fault(f"steps[{number}].bit", "is taken by an earlier step.", "Mend it.")
            seen.add(place)


class LoadHand(Table):
    """A load the operator sets, such as a carbon pile."""

    driver: Literal["hand"]
    like: str | None = None
    model: Words | None = None
    max_on_s: Positive = 15.0
    """How long it may be on."""
    rest_s: NotNegative = 60.0
    """How long it must cool."""


class FieldText(Wire):
    """Switches the field by text commands."""

    driver: Literal["scpi", "lines"]
    like: str | None = None
    terminator: Annotated[str, Field(min_length=1, max_length=4)] = "\n"
    on: Command = Field(description='on = "OUTP ON"')
    off: Command = Field(description='off = "OUTP OFF"')


class FieldRegister(Wire):
    """Switches the field by a Modbus register."""

    driver: Literal["modbus"]
    like: str | None = None
    device: DeviceNumber = 1
    register_: Annotated[int, Field(ge=0, le=65535)] = Field(
        alias="register", description="its wire address, from 0"
    )
    on: Annotated[int, Field(ge=0, le=65535)] = 1
    off: Annotated[int, Field(ge=0, le=65535)] = 0

    def faults(self) -> Iterator[Fault]:
        """On and off must differ."""
        yield from super().faults()
        if self.on == self.off:
            yield Fault("off", "is the same as on.", "The field could not be switched.", ("on",))


class FieldHand(Table):
    """The operator switches the field."""

    driver: Literal["hand"]
    like: str | None = None


AnyLoad = Annotated[LoadHolds | LoadBank | LoadHand, Field(discriminator="driver")]
AnyField = Annotated[FieldText | FieldRegister | FieldHand, Field(discriminator="driver")]
