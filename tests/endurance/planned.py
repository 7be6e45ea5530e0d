"""Which sweeps follow each other on the bench: drawn from a seed, each by its number alone."""

from __future__ import annotations

from dataclasses import dataclass, replace
from random import Random
from typing import Any

from acquire.record.run_header import Job
from acquire.run_order import RunOrder
from profiles.catalogue import (
    Loaded,
    load_method,
    load_rated,
    load_rig,
    load_rule,
    rig_from,
    snapshot,
)
from profiles.rig import Rig
from tests.endurance.faults import Planted, draw

RIGS = ("driven", "driven", "driven on serial lines", "24 V", "pile", "aboard", "bank")
MACHINES_12 = ("small-frame-14v-90a", "mid-frame-14v-120a", "fast-frame-14v-180a")
METHODS = ("quick",) * 12 + ("quick, kept to one speed",) * 3 + ("warm",) * 3 + ("fine",)
FAULTS_WITHIN_S = {"quick": 75.0, "quick, kept to one speed": 22.0, "warm": 500.0, "fine": 2600.0}
STAGES = ("before", "after")
BANK = {
    "driver": "modbus",
    "port": "simulated:bank",
    "device": 2,
    "steps": [{"register": 0, "bit": bit, "amps": amps}
              for bit, amps in enumerate((5.0, 10.0, 20.0, 40.0, 80.0))],
}  # fmt: skip
UNREAD = "drive that is not read"
"""Its output is no channel: only tests that ask for it run on this rig."""
REAL_TIMES = {"timeout_s": 0.5}


@dataclass(frozen=True)
class PlannedSweep:
    """One sweep before it is run."""

    number: int
    seed: str
    rig: str
    machine: str
    method: str
    serial: str
    stage: str
    faults: tuple[Planted, ...]
    goes_on: bool
    """If it ends early it is resumed, with everything in order again."""

    def __str__(self) -> str:
        faults = "; ".join(map(str, self.faults)) or "no fault"
        return (
            f"sweep {self.number}: {self.rig} rig, {self.machine}, {self.method}, "
            f"{self.serial} {self.stage}: {faults}{'; resumed' if self.goes_on else ''}"
        )

    def order(self) -> RunOrder:
        """As the operator would order it."""
        method = load_method(self.method.split(",")[0])
        one_speed = "one speed" in self.method
        return RunOrder(
            rig=rig_for(self.rig, self.machine),
            method=method,
            rated=load_rated(self.machine),
            rule=load_rule("within-10-percent"),
            steps=(3000.0,) if one_speed else None,
            job=Job(number=f"J{self.number // 2}"),
            serial=self.serial,
            stage=self.stage,
        )


def planned_sweep(seed: int, number: int) -> PlannedSweep:
    """The sweep of that number."""
    chance = Random(f"endurance {seed} {number}")
    rig = chance.choice(RIGS)
    machine = "small-frame-28v-80a" if rig == "24 V" else chance.choice(MACHINES_12)
    if rig in ("pile", "aboard", "bank"):
        machine = "small-frame-14v-90a"
    by_hand = rig in ("pile", "aboard", "bank")
    method = "quick" if by_hand else chance.choice(METHODS)
    there = ["tachometer", "ammeter", "voltmeter"]
    there += [] if rig == "aboard" else ["drive"]
    there += [] if by_hand else ["thermometer", "load"]
    faults = draw(
        chance, there=tuple(there), driven=rig != "aboard", within_s=FAULTS_WITHIN_S[method]
    )
    return PlannedSweep(
        number=number,
        seed=f"{seed}-{number}",
        rig=rig,
        machine=machine,
        method=method,
        serial=f"E{seed}-{number // 2:04d}",
        stage=STAGES[number % 2],
        faults=tuple(faults),
        goes_on=chance.random() < 0.6,
    )


def rig_for(kind: str, machine: str) -> Loaded[Rig]:
    """The shipped simulated rig of a kind, with the time-outs of a real bench where it has them."""
    shipped = {"24 V": "simulated-24", "pile": "simulated-pile", "aboard": "simulated-aboard"}
    loaded = load_rig(shipped.get(kind, "simulated"))
    values: dict[str, Any] = snapshot(loaded.profile)
    values["simulated"]["machine"] = machine
    if kind == UNREAD:
        values["drive"]["output"] = None
    if kind == "bank":
        values["load"] = BANK
    if kind in ("driven on serial lines", "bank"):
        for part in (*values["channels"].values(), values["drive"]):
            part.update(REAL_TIMES)
        values["drive"]["comm_timeout"]["set_s"] = 2.0
        values["limits"]["silent_s"] = 3.0
    return replace(loaded, profile=rig_from(values, f"{kind} rig"))
