"""Meters, a load and a supply that speak SCPI, with the common commands of IEEE 488.2."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Collection

from drivers.simulated.rig_model import RigModel

ERRORS_KEPT = 20
NO_ERROR = '0,"No error"'
BAD_DATA = '-104,"Data type error"'
UNDEFINED = '-113,"Undefined header"'
OUT_OF_RANGE = '-222,"Data out of range"'
OVERFLOW = '-350,"Queue overflow"'
LONGEST_LINE = 4096
ON_WORDS = {"ON": True, "1": True, "OFF": False, "0": False}


class ScpiInstrument:
    """Lines in, answers out; subclasses know the commands of their kind."""

    identity = "INVENTED,SCPI,0,1.0"

    def __init__(self, model: RigModel) -> None:
        self._model = model
        self._held = b""
        self._errors: deque[str] = deque()
        self._event_enable = 0

    def speak(self, now_s: float) -> list[bytes]:
        """It speaks only when asked."""
        del now_s
        return []

    def hear(self, data: bytes, now_s: float) -> list[bytes]:
        """Answers, one line for each message that held questions."""
        del now_s
        self._held = (self._held + data)[-LONGEST_LINE:]
        *lines, self._held = self._held.split(b"\n")
        answers = [self._message(line.decode("latin-1").strip()) for line in lines]
        return [f"{answer}\n".encode("latin-1") for answer in answers if answer]

    def _message(self, line: str) -> str:
        parts = [part.strip().lstrip(":") for part in line.split(";")]
        return ";".join(answer for part in parts if part and (answer := self._one(part)))

    def _one(self, command: str) -> str:
        header, _, rest = command.partition(" ")
        header, rest = header.upper(), rest.strip()
        match header:
            case "*IDN?":
                return self.identity
            case "*ESE?":
                return str(self._event_enable)
            case "*ESR?" | "*STB?" | "*TST?":
                return "0"
            case "*OPC?":
                return "1"
            case "SYST:ERR?" | "SYSTEM:ERROR?" | "SYST:ERR:NEXT?":
                return self._errors.popleft() if self._errors else NO_ERROR
            case "*CLS":
                self._errors.clear()
            case "*RST":
                self._reset()
            case "*WAI" | "*OPC":
                pass
            case "*ESE":
                self._set_event_enable(rest)
            case _:
                return self._own(header, rest)
        return ""

    def _set_event_enable(self, text: str) -> None:
        number = self._number(text)
        if number is not None:
            self._event_enable = int(number) & 0xFF

    def _number(self, text: str) -> float | None:
        try:
            number = float(text)
        except ValueError:
            number = math.nan
        if math.isfinite(number):
            return number
        self._error(BAD_DATA)
        return None

    def _reset(self) -> None:
        """The state after power-on; the error queue stays."""

    def _own(self, header: str, rest: str) -> str:
        del header, rest
        self._error(UNDEFINED)
        return ""

    def _error(self, text: str) -> None:
        if len(self._errors) < ERRORS_KEPT:
            self._errors.append(text)
        else:
            self._errors[-1] = OVERFLOW


class Multimeter(ScpiInstrument):
    """Answers its queries with a channel of the rig, divided by `scale`."""

    identity = "INVENTED,BENCH METER,17,1.0"

    def __init__(
        self,
        model: RigModel,
        *,
        channel: str,
        queries: Collection[str] = ("MEAS:VOLT:DC?", "MEAS:VOLT?"),
        scale: float = 1.0,
    ) -> None:
        super().__init__(model)
        self._channel = channel
        self._queries = frozenset(queries) | {"READ?"}
        self._scale = scale

    def _own(self, header: str, rest: str) -> str:
        if header in self._queries:
            return f"{self._model.sense(self._channel) / self._scale:+.9E}"
        if header.startswith(("CONF:", "SENS:", "VOLT:", "CURR:", "TRIG:")):
            return ""
        return super()._own(header, rest)


class HoldingLoad(ScpiInstrument):
    """MODE:VOLT, VOLT x, INP ON|OFF and their questions; a change of mode opens the input."""

    identity = "INVENTED,HOLDING LOAD,4,1.0"
    most_volts = 80.0

    def __init__(self, model: RigModel) -> None:
        super().__init__(model)
        self._mode = "CURR"
        self._volts = 0.0
        self._on = False

    def _own(self, header: str, rest: str) -> str:
        match header:
            case "MODE:VOLT" | "MODE:CURR" | "MODE:RES":
                self._set_mode(header.removeprefix("MODE:"))
            case "MODE?":
                return self._mode
            case "VOLT":
                self._set_volts(rest)
            case "VOLT?":
                return f"{self._volts:.3f}"
            case "INP" | "INP:STAT":
                self._switch(rest.upper())
            case "INP?" | "INP:STAT?":
                return "1" if self._on else "0"
            case "MEAS:VOLT?" | "MEAS:VOLT:DC?":
                return f"{self._model.truth('volts'):+.6E}"
            case "MEAS:CURR?" | "MEAS:CURR:DC?":
                return f"{self._model.bus.load_amps:+.6E}"
            case _:
                return super()._own(header, rest)
        return ""

    def _reset(self) -> None:
        self._set_mode("CURR")
        self._input(on=False)

    def _set_mode(self, mode: str) -> None:
        if mode != self._mode:
            self._input(on=False)
        self._mode = mode

    def _set_volts(self, text: str) -> None:
        volts = self._number(text)
        if volts is None:
            return
        if not 0.0 <= volts <= self.most_volts:
            self._error(OUT_OF_RANGE)
            return
        self._volts = volts
        self._model.load_hold(volts)

    def _switch(self, word: str) -> None:
        if word not in ON_WORDS:
            self._error(BAD_DATA)
            return
        self._input(on=ON_WORDS[word])

    def _input(self, *, on: bool) -> None:
        self._on = on
        self._model.load_switch(on and self._mode == "VOLT")


class FieldSupply(ScpiInstrument):
    """OUTP ON|OFF feeds the field from the bench, or stops feeding it."""

    identity = "INVENTED,FIELD SUPPLY,8,1.0"

    def __init__(self, model: RigModel) -> None:
        super().__init__(model)
        self._on = False

    def _own(self, header: str, rest: str) -> str:
        match header:
            case "OUTP" | "OUTP:STAT":
                if rest.upper() not in ON_WORDS:
                    self._error(BAD_DATA)
                    return ""
                self._on = ON_WORDS[rest.upper()]
                self._model.field_switch(self._on)
            case "OUTP?" | "OUTP:STAT?":
                return "1" if self._on else "0"
            case _:
                return super()._own(header, rest)
        return ""
