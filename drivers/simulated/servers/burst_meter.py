"""A fast meter that answers one question with all its samples, as text or as a block."""

from __future__ import annotations

import struct
from random import Random

from drivers.simulated.rig_model import RigModel
from drivers.simulated.ripple_wave import wave
from drivers.simulated.servers.scpi_server import BAD_DATA, OUT_OF_RANGE, ScpiInstrument

MOST_SAMPLES = 20_000
LONGEST_SAMPLE_S = 0.01
FORMS = {"ASC": "", "ASCII": "", "REAL,32": "f", "REAL,64": "d"}


class BurstMeter(ScpiInstrument):
    """Digitises B+: SAMP:COUN n, SAMP:TIM s, FORM ASC | REAL,32 | REAL,64, FORM:BORD, READ?."""

    identity = "INVENTED,FAST METER,21,1.0"

    def __init__(self, model: RigModel) -> None:
        super().__init__(model)
        self._random = Random(f"{model.seed}/burst")
        self._last = ""
        self._reset()

    def _reset(self) -> None:
        self._samples, self._sample_s = 1000, 1e-4
        self._form, self._order = "", ">"

    def _own(self, header: str, rest: str) -> str:
        match header:
            case "SAMP:COUN":
                self._samples = int(self._within(rest, MOST_SAMPLES) or self._samples)
            case "SAMP:TIM":
                self._sample_s = self._within(rest, LONGEST_SAMPLE_S) or self._sample_s
            case "FORM" | "FORM:DATA":
                if rest.upper() in FORMS:
                    self._form = FORMS[rest.upper()]
                else:
                    self._error(BAD_DATA)
            case "FORM:BORD":
                self._order = "<" if rest.upper().startswith("SWAP") else ">"
            case "READ?":
                return self._read()
            case "MEAS:VOLT:AC?":
                return f"{self._model.sense('ripple_volts'):+.6E}"
            case _:
                return super()._own(header, rest)
        return ""

    def _within(self, text: str, most: float) -> float | None:
        number = self._number(text)
        if number is not None and not 0.0 < number <= most:
            self._error(OUT_OF_RANGE)
            return None
        return number

    def _read(self) -> str:
        frozen = self._model.wire_faults.get("ripple_volts") == "frozen-value"
        if not frozen or not self._last:
            self._last = self._answer()
        return self._last

    def _answer(self) -> str:
        volts = wave(self._model, self._random, samples=self._samples, sample_s=self._sample_s)
        if not self._form:
            return ",".join(f"{one:+.6E}" for one in volts)
        body = struct.pack(f"{self._order}{len(volts)}{self._form}", *volts)
        length = str(len(body))
        return f"#{len(length)}{length}{body.decode('latin-1')}"
