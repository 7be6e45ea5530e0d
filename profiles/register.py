"""Modbus registers as TOML describes them; addresses are wire addresses, counted from 0."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from profiles.table import Fault, Positive, Table, Wrong

RegisterTable = Literal["holding", "input"]
RegisterType = Literal["u16", "s16", "u32", "s32", "f32"]
RegisterOrder = Literal["ABCD", "CDAB", "BADC", "DCBA"]
ONE_REGISTER = ("u16", "s16")
DEVICE_HIGHEST = 247


def _not_zero(scale: float) -> float:
    if scale == 0:
        raise Wrong("is zero, which would make every reading the same.", "Give the true scale.")
    return scale


Scale = Annotated[float, AfterValidator(_not_zero)]
RegisterAddress = Annotated[int, Field(ge=0, le=65535)]
DeviceNumber = Annotated[int, Field(ge=0, le=DEVICE_HIGHEST)]


class Register(Table):
    """One value in one register, or in two."""

    register_: RegisterAddress = Field(alias="register", description="its wire address, from 0")
    table: RegisterTable = "holding"
    type: RegisterType = "u16"
    order: RegisterOrder = "ABCD"
    """Order of the bytes of a value in two registers; also BADC turns the bytes of a single one."""

    @property
    def words(self) -> int:
        """How many registers the value fills."""
        return 1 if self.type in ONE_REGISTER else 2

    def faults(self) -> Iterator[Fault]:
        """The second register must exist too."""
        if self.register_ + self.words > 65536:
            yield Fault("register", "is the last one, and the value fills two.", "", ("type",))


class ScaledRegister(Register):
    """A register holding a quantity: quantity = raw * scale + offset."""

    scale: Scale = 1.0
    offset: float = 0.0

    def quantity(self, raw: float) -> float:
        """What a raw value means, in the unit of measure that `scale` and `offset` lead to."""
        return raw * self.scale + self.offset

    def raw(self, quantity: float) -> float:
        """The raw value that means `quantity`, not rounded yet."""
        return (quantity - self.offset) / self.scale


class RunRegister(Register):
    """Starts and stops the motor."""

    on: Annotated[int, Field(ge=0, le=65535)] = 1
    off: Annotated[int, Field(ge=0, le=65535)] = 0

    def faults(self) -> Iterator[Fault]:
        """On and off must differ, in a register that can be written."""
        yield from super().faults()
        if self.on == self.off:
            yield Fault("off", "is the same as on.", "The motor could never be stopped.", ("on",))
        if self.table != "holding":
            yield Fault("table", "is not holding.", "Only holding registers can be written.")


class SpeedRegister(ScaledRegister):
    """Motor speed as the drive counts it."""

    in_: Literal["Hz", "rpm", "%"] = Field(default="rpm", alias="in")
    rpm_per_unit: Positive | None = None
    """Motor rpm for one Hz, rpm or percent; 1 where `in` is rpm."""

    @property
    def motor_rpm_per_unit(self) -> float:
        """Motor rpm for one of what `in` names."""
        return self.rpm_per_unit or 1.0

    def motor_rpm(self, raw: float) -> float:
        """Motor speed that a raw value means [rpm]."""
        return self.quantity(raw) * self.motor_rpm_per_unit

    def raw_of_rpm(self, motor_rpm: float) -> float:
        """The raw value for a motor speed [rpm], not rounded yet."""
        return self.raw(motor_rpm / self.motor_rpm_per_unit)


class TimeoutRegister(ScaledRegister):
    """The drive's own communication-loss timeout."""

    in_: Literal["s", "ms"] = Field(default="s", alias="in")
    set_s: Annotated[float, Field(gt=0, le=60)] = 2.0

    @property
    def raw_set(self) -> int:
        """The raw value to write."""
        return round(self.raw(self.set_s * (1000.0 if self.in_ == "ms" else 1.0)))


class BankStep(Table):
    """One switched resistor of a load bank: a bit of a register, and what it draws."""

    register_: RegisterAddress = Field(alias="register", description="its wire address, from 0")
    bit: Annotated[int, Field(ge=0, le=15)] = Field(description="0 to 15")
    amps: Positive = Field(description="what it draws at the test voltage")
