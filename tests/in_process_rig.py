"""The simulated rig without wires or threads, on a clock moved by hand."""

from __future__ import annotations

from collections.abc import Mapping

from drivers.clock import HandClock
from drivers.readings import Quality, Reading
from drivers.simulated.machine import Machine
from drivers.simulated.rig_model import (
    AMBIENT_C,
    DEFAULT_MACHINE,
    DEFAULT_SEED,
    RATIO,
    STEP_S,
    RigModel,
)

DEFAULT_EVERY_S: dict[str, float] = {
    "shaft_rpm": 0.1,
    "drive_rpm": 0.1,
    "amps": 0.1,
    "volts": 0.1,
    "case_c": 1.0,
}
"""Channels read unless others are asked for, and how often [s]."""

_NOT_OK: dict[str, tuple[Quality, str]] = {
    "sensor-unplugged": (Quality.LINK_LOST, "the cable is out"),
    "garbage": (Quality.BAD, "not a reading"),
    "late-answer": (Quality.TIMEOUT, "no answer in time"),
    "late-answers": (Quality.TIMEOUT, "no answer in time"),
}


class InProcessRig(RigModel):
    """A rig whose readings come back from `advance`; the same seed gives the same readings."""

    def __init__(
        self,
        machine: str | Machine = DEFAULT_MACHINE,
        fault: str | None = None,
        seed: int = DEFAULT_SEED,
        *,
        every_s: Mapping[str, float] | None = None,
        clock: HandClock | None = None,
        ratio: float = RATIO,
        ambient_c: float = AMBIENT_C,
        step_s: float = STEP_S,
        field_from_bench: bool = False,
    ) -> None:
        super().__init__(
            machine,
            fault,
            seed,
            ratio=ratio,
            ambient_c=ambient_c,
            step_s=step_s,
            field_from_bench=field_from_bench,
        )
        self.clock = clock or HandClock()
        self._began_s = self.clock.monotonic_s()
        self._every = {
            channel: max(round(every / step_s), 1)
            for channel, every in (every_s or DEFAULT_EVERY_S).items()
        }

    def advance(self, dt_s: float) -> list[Reading]:  # type: ignore[override]
        """Move the clock and the rig on by `dt_s`; every reading that fell due, in order."""
        self.clock.advance(dt_s)
        due = round((self.clock.monotonic_s() - self._began_s) / self.step_s)
        readings: list[Reading] = []
        while self._steps < due:
            self._step()
            for channel, every in self._every.items():
                if self._steps % every == 0:
                    readings.append(self._reading(channel))
        return readings

    def _reading(self, channel: str) -> Reading:
        t_s = self._began_s + self.now_s
        fault = self.wire_faults.get(channel, "")
        if fault in _NOT_OK:
            quality, note = _NOT_OK[fault]
            if fault == "late-answer":
                del self.wire_faults[channel]
            return Reading(channel, t_s, None, quality, note=note)
        return Reading(channel, t_s, self.sense(channel))
