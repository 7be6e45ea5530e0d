"""A meter and an electronic load that speak SCPI, with the common commands of IEEE 488.2."""

from __future__ import annotations

from collections import deque

from drivers.simulated.servers.answering import SharedRig

ERRORS_KEPT = 20
NO_ERROR = '0,"No error"'
UNDEFINED = '-113,"Undefined header"'
BAD_DATA = '-104,"Data type error"'
OVERFLOW = '-350,"Queue overflow"'
LONGEST_LINE = 4096


class ScpiInstrument:
    """Lines in, answers out; subclasses know the commands of their kind."""

    identity = "INVENTED,SCPI,0,1.0"

    def __init__(self, rig: SharedRig) -> None:
        self._rig = rig
        self._held = b""
        self._errors: deque[str] = deque()
        self._event_enable = 0

    def speak(self, now_s: float) -> list[bytes]:
        """It speaks only when asked."""
        return []

    def hear(self, data: bytes) -> list[bytes]:
        """Answers, one line for each message that held questions."""
        self._held = (self._held + data)[-LONGEST_LINE:]
        *lines, self._held = self._held.split(b"\n")
        answers = [self._message(line.decode("latin-1").strip()) for line in lines]
        return [f"{answer}\n".encode("latin-1") for answer in answers if answer]

    def _message(self, line: str) -> str:
        parts = [part.strip().lstrip(":") for part in line.split(";")]
        return ";".join(answer for part in parts if part and (answer := self._one(part)))

    def _one(self, command: str) -> str:
        header, _, rest = command.partition(" ")
        header = header.upper()
        match header:
            case "*IDN?":
                return self.identity
            case "*ESE?":
                return str(self._event_enable)
            case "*OPC?":
                return "1"
            case "SYST:ERR?" | "SYSTEM:ERROR?":
                return self._errors.popleft() if self._errors else NO_ERROR
            case "*CLS":
                self._errors.clear()
            case "*RST" | "*WAI":
                pass
            case "*ESE":
                self._set_event_enable(rest)
            case _:
                return self._own(header, rest.strip())
        return ""

    def _set_event_enable(self, text: str) -> None:
        try:
            self._event_enable = int(text) & 0xFF
        except ValueError:
            self._error(BAD_DATA)

    def _own(self, header: str, rest: str) -> str:
        self._error(UNDEFINED)
        return ""

    def _error(self, text: str) -> None:
        if len(self._errors) < ERRORS_KEPT:
            self._errors.append(text)
        else:
            self._errors[-1] = OVERFLOW


class Multimeter(ScpiInstrument):
    """Answers MEAS:VOLT:DC? with a channel of the rig, divided by `scale`."""

    identity = "INVENTED,BENCH METER,17,1.0"

    def __init__(self, rig: SharedRig, *, channel: str, scale: float = 1.0) -> None:
        super().__init__(rig)
        self._channel = channel
        self._scale = scale

    def _own(self, header: str, rest: str) -> str:
        if header in ("MEAS:VOLT:DC?", "READ?", "MEAS:VOLT:AC?"):
            value = self._rig.ask(lambda rig: rig.sense(self._channel)) / self._scale
            return f"{value:+.9E}"
        if header.startswith(("CONF:", "VOLT:")):
            return ""
        return super()._own(header, rest)


class HoldingLoad(ScpiInstrument):
    """MODE:VOLT, VOLT x, INP ON|OFF and what they read back as."""

    identity = "INVENTED,HOLDING LOAD,4,1.0"

    def __init__(self, rig: SharedRig) -> None:
        super().__init__(rig)
        self._mode = "CURR"
        self._volts = 0.0
        self._on = False

    def _own(self, header: str, rest: str) -> str:
        match header:
            case "MODE:VOLT":
                self._mode = "VOLT"
            case "MODE?":
                return self._mode
            case "VOLT":
                self._set_volts(rest)
            case "VOLT?":
                return f"{self._volts:.3f}"
            case "INP" | "OUTP":
                self._switch(rest.upper())
            case "INP?" | "OUTP?":
                return "1" if self._on else "0"
            case "MEAS:VOLT?" | "MEAS:VOLT:DC?":
                return f"{self._rig.ask(lambda rig: rig.sense('volts')):+.6E}"
            case _:
                return super()._own(header, rest)
        return ""

    def _set_volts(self, text: str) -> None:
        try:
            self._volts = float(text)
        except ValueError:
            self._error(BAD_DATA)
            return
        volts = self._volts
        self._rig.tell(lambda rig: rig.load_hold(volts))

    def _switch(self, word: str) -> None:
        if word not in ("ON", "1", "OFF", "0"):
            self._error(BAD_DATA)
            return
        self._on = on = word in ("ON", "1") and self._mode == "VOLT"
        self._rig.tell(lambda rig: rig.load_switch(on))
