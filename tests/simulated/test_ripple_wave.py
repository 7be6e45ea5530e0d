"""The waveform of the simulated rig against scipy's transform, and the meter that samples it."""

from __future__ import annotations

import struct
from random import Random

import numpy as np
import pytest
from scipy import signal

from drivers.simulated.rig_model import RigModel
from drivers.simulated.ripple_wave import emf_hz, line_volts, wave
from drivers.simulated.servers.burst_meter import BurstMeter

SAMPLES, SAMPLE_S = 4000, 25e-6


def turning(fault: str | None, shaft_rpm: float = 3000.0) -> RigModel:
    model = RigModel(fault=fault)
    model.load_hold(13.5)
    model.load_switch(on=True)
    model.set_motor_rpm(shaft_rpm / model.ratio)
    model.set_run(True)
    model.advance(12.0)
    return model


@pytest.mark.parametrize(
    "fault", [None, "open-diode", "two-open-diodes", "open-phase", "uneven-phase"]
)
def test_the_lines_of_the_waveform_are_those_of_the_bridge(fault: str | None) -> None:
    model = turning(fault)
    samples = np.array(wave(model, Random(1), samples=SAMPLES, sample_s=SAMPLE_S))
    window = signal.get_window("hann", SAMPLES, fftbins=False)
    weighed = (samples - samples.mean()) * window * 2.0 / window.sum()
    turn = np.exp(-2j * np.pi * emf_hz(model) * SAMPLE_S)
    amplitudes = np.abs(signal.czt(weighed, m=13, w=turn))
    gain = model.sensors["ripple_volts"].gain
    for line, volts in line_volts(model).items():
        assert amplitudes[line] == pytest.approx(gain * volts, rel=0.01, abs=2e-4), line
    assert samples.mean() == pytest.approx(model.truth("volts"), abs=0.01)
    assert np.std(samples) == pytest.approx(model.truth("ripple_volts"), rel=0.12)


def test_a_shaft_at_rest_gives_a_flat_line() -> None:
    samples = np.array(wave(RigModel(), Random(1), samples=500, sample_s=SAMPLE_S))
    assert np.std(samples) < 0.002


def asked(meter: BurstMeter, *lines: str) -> bytes:
    return b"".join(b"".join(meter.hear(f"{line}\n".encode(), 0.0)) for line in lines)


def test_the_meter_says_the_same_in_text_and_in_blocks() -> None:
    model = turning("open-phase")
    shown = {}
    for form, letter in (("ASC", ""), ("REAL,32", ">f"), ("REAL,64", ">d")):
        meter = BurstMeter(model)
        answer = asked(meter, "SAMP:COUN 64", "SAMP:TIM 25E-6", f"FORM {form}", "READ?")
        if letter:
            digits = int(answer[1:2])
            length = int(answer[2 : 2 + digits])
            body = answer[2 + digits : -1]
            assert len(body) == length
            shown[form] = [one for (one,) in struct.iter_unpack(letter, body)]
        else:
            shown[form] = [float(one) for one in answer.decode().split(",")]
    assert len(shown["ASC"]) == 64
    assert shown["REAL,32"] == pytest.approx(shown["REAL,64"], rel=1e-6)
    assert shown["ASC"] == pytest.approx(shown["REAL,64"], rel=1e-6)


def test_the_meter_swaps_bytes_and_refuses_what_it_cannot_do() -> None:
    model = turning(None)
    normal, swapped = (
        asked(BurstMeter(model), "FORM REAL,32", f"FORM:BORD {order}", "SAMP:COUN 16", "READ?")
        for order in ("NORM", "SWAP")
    )
    assert normal[4:8] == swapped[4:8][::-1]
    meter = BurstMeter(model)
    refused = asked(meter, "SAMP:COUN 1E9", "SYST:ERR?", "FORM HEX", "SYST:ERR?")
    assert refused == b'-222,"Data out of range"\n-104,"Data type error"\n'
    assert float(asked(meter, "MEAS:VOLT:AC?")) == pytest.approx(
        model.truth("ripple_volts"), rel=0.1
    )


def test_a_frozen_meter_repeats_its_burst() -> None:
    model = turning(None)
    meter = BurstMeter(model)
    first = asked(meter, "READ?")
    model.wire_faults["ripple_volts"] = "frozen-value"
    model.advance(model.now_s + 1.0)
    assert asked(meter, "READ?") == first
    del model.wire_faults["ripple_volts"]
    assert asked(meter, "READ?") != first
