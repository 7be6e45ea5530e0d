"""Bursts over real wires, in each of their forms, and what the readiness list says of them."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager

import pytest

from acquire.readiness import Item, bursts
from drivers.bench_wiring import BenchWiring
from drivers.simulated.ripple_wave import emf_hz
from drivers.simulated.service import SimulatedService
from profiles.catalogue import rig_from
from profiles.rig import Rig

POSIX = pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals exist on POSIX only")
RATIO = 1.8


@contextmanager
def turning(wires: str) -> Iterator[SimulatedService]:
    """The simulated rig at 3000 rpm with its load on."""
    service = SimulatedService(pace=20.0, wires=wires)
    service.start()
    try:
        service.tell(lambda model: model.set_ratio(RATIO))
        service.tell(lambda model: model.load_hold(13.5))
        service.tell(lambda model: model.load_switch(on=True))
        service.tell(lambda model: model.set_motor_rpm(3000.0 / RATIO))
        service.tell(lambda model: model.set_run(on=True))
        service.clock.sleep_s(8.0)
        yield service
    finally:
        service.close()


def rig(address: str, **keys: object) -> Rig:
    hand = {"shaft_rpm": {"driver": "hand"}, "amps": {"driver": "hand"}}
    meter = {"like": "fast-meter-ripple", "port": address, "every_s": 1.0, **keys}
    return rig_from({"title": "One", "channels": {**hand, "ripple_volts": meter}}, "one.toml")


def setup(count: int, form: str, order: str = "NORM") -> list[str]:
    return [f"SAMP:COUN {count}", "SAMP:TIM 50E-6", f"FORM {form}", f"FORM:BORD {order}"]


@pytest.mark.parametrize("wires", ["sockets", pytest.param("pseudo-terminals", marks=POSIX)])
@pytest.mark.parametrize(
    "keys",
    [
        {"setup": setup(2000, "REAL,32")},
        {"setup": setup(2000, "ASC"), "burst_form": "text"},
        {"setup": setup(2000, "REAL,64", "SWAP"), "burst_form": "f64", "burst_order": "swapped"},
    ],
    ids=["block", "text", "doubles, swapped"],
)
def test_a_burst_comes_whole_over_a_wire_in_every_form(wires: str, keys: dict[str, object]) -> None:
    with turning(wires) as service:
        described = rig(service.address("burst meter"), **keys)
        wiring = BenchWiring(described, service.clock)
        try:
            wiring.open(5.0)
            latest, burst = wiring.readings.latest("ripple_volts"), wiring.burst("ripple_volts")
            (item,) = bursts(described, wiring)
        finally:
            wiring.close()
        truth, hz = service.model.truth("ripple_volts"), emf_hz(service.model)
    assert latest is not None
    assert latest.value == pytest.approx(truth, rel=0.15)
    assert burst is not None
    assert len(burst.samples) == 2000
    assert hz == pytest.approx(300.0, rel=0.02)
    assert item == Item(
        "burst of ripple_volts",
        "good",
        "2000 samples in 0.1 s: lines of the ripple from 80 to 1333 Hz of the EMF (800 to 13333 rpm"
        " with 6 pole pairs)",
    )


def test_a_burst_that_can_show_no_lines_is_looked_at() -> None:
    with turning("sockets") as service:
        keys = {"setup": setup(64, "REAL,32"), "burst_samples": 64}
        described = rig(service.address("burst meter"), **keys)
        wiring = BenchWiring(described, service.clock)
        try:
            wiring.open(5.0)
            (item,) = bursts(described, wiring)
        finally:
            wiring.close()
    assert item.state == "look"
    assert item.what_to_do.startswith("Let it take 121 samples or more")
