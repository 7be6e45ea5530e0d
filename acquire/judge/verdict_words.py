"""The verdict in one sentence a customer understands, and what to do next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from acquire.judge.budget import Kind
from acquire.judge.checks import CheckResult
from acquire.judge.speed_result import Bar, SpeedResult, Why
from acquire.judge.to_spare import to_spare
from profiles.alternator import RatedCurve

GO_ON = "Go on at the speed where it stopped (`steadyamps resume`), or test again."
"""What to do next with a run that was stopped."""
LOOK_AT_SCALE = (
    "Look whether it was read in mA (scale of the current's channel in the rig file), and whether"
    " the rated curve is this unit's."
)
"""What to do next where a current is far above any rated one."""
RUN_WARM = "Run it warm and test again."
"""What to do next where only what heat takes keeps a speed open."""
UNDECIDED_WORDS = {"voltage": "voltage", "not settled": "moving", "cold": "cold"}
"""In a row of a table, where it is not the doubt that comes close: the voltage was off, the reading
had not settled, or it is enough cold and heat may take it below."""
BEYOND_A_LIMIT = (
    "If a scale or a limit in the rig file is wrong, mend the rig file, then test anew; else put"
    " right what it came from and go on with `steadyamps resume`."
)
"""The same where a figure passed a limit: only who stands there knows whether it is true."""
LOOK_AT_FINDINGS = "Look at the findings for the cause."
"""What to do next with a unit that gives too little."""
NO_CAUSE_SHOWN = (
    "These readings do not show the cause: check the ammeter (shunt or clamp, `scale`), then rotor,"
    " stator and diodes one by one."
)
"""The same where no finding tells of a cause."""
BEGIN_ANEW = "This run cannot go on: mend that, and begin a new one."


@dataclass(frozen=True, slots=True)
class Told:
    """All that the words are made of."""

    results: tuple[SpeedResult, ...]
    checks: tuple[CheckResult, ...]
    rated: RatedCurve
    bar: Bar
    test_volts: float
    volts_within: float
    at: str
    load_holds: bool = False
    """True where the load holds the voltage by itself."""
    stricter: bool = False
    """True when a warm run meets a cold rating."""
    far_above: str = ""
    """The current that is far above any rated one, in words; empty where none is."""
    high_above: str = ""
    """That it gives far more than rated, and what to check; empty where it does not."""

    def having(self, outcome: str) -> list[SpeedResult]:
        """Speeds with a limit and this outcome."""
        return [r for r in self.results if r.limit_amps is not None and r.outcome == outcome]


def tell(outcome: str, told: Told, *, stopped: str = "", then: str = GO_ON) -> tuple[str, str]:
    """Give the sentence of a verdict and what to do next; `then`: once stopped."""
    if outcome == "stopped":
        judged = len(told.having("pass")) + len(told.having("fail"))
        return (
            f"Stopped: {stopped.rstrip('.')}. {speeds_words(judged)} judged so far.",
            then,
        )
    if outcome == "pass":
        sentence, what_next = _passes(told), ""
    else:
        sentence, what_next = _fails(told) if outcome == "fail" else _undecided(told)
    return f"{sentence} {told.high_above}".rstrip(), what_next


def speeds_words(count: int) -> str:
    """Say how many speeds."""
    if count == 0:
        return "No speed"
    return "1 speed" if count == 1 else f"{count} speeds"


def rpm_list(speeds: Sequence[float]) -> str:
    """Name speeds, as in `1500, 2000 and 6000 rpm`."""
    names = [f"{rpm:.0f}" for rpm in speeds]
    if len(names) > 1:
        names = [", ".join(names[:-1]), names[-1]]
    return f"{' and '.join(names)} rpm"


def sure_words(chance: float) -> str:
    """Say a chance in percent; never more than 99.9."""
    return f"{percent_down(chance):g} % sure"


def chance_words(chance: float | None) -> str:
    """A chance for a table: cut to a tenth of a percent as in the sentence, never rounded up."""
    if chance is None:
        return ""
    return "<0.1 %" if chance < 0.001 else f"{percent_down(chance):.1f} %"


def percent_down(chance: float) -> float:
    """A chance in percent, cut to a tenth; never more than 99.9, for nothing is certain."""
    return min(99.9, int(chance * 1000.0) / 10.0)


def _passes(told: Told) -> str:
    passed = told.having("pass")
    nearest = min(passed, key=to_spare)
    cold = nearest.hot_amps is not None
    if len(passed) == 1:
        return f"Passes. At {nearest.shaft_rpm:.0f} rpm it gives {_given(nearest, told)}."
    every = "every measured speed" if told.at == "measured speeds" else "every speed"
    heat = f"Tested cold: even after what heat takes, {every}" if cold else every.capitalize()
    whole = f"{heat} is {_above(passed)} what is allowed"
    return f"Passes. {whole}; nearest at {nearest.shaft_rpm:.0f} rpm: {_given(nearest, told)}."


def _above(passed: Sequence[SpeedResult]) -> str:
    on_it = any(result.margin_amps == 0.0 for result in passed)
    return "on or above" if on_it else "above"


def _given(result: SpeedResult, told: Told) -> str:
    """As in `45.2 A where 40.5 A is allowed (99.9 % sure)`."""
    chance = result.p_decided
    if result.hot_amps is None:
        given, limit = _apart(result.amps, result.limit_amps)
        amps = f"{given} A"
    else:
        given, limit = _apart(result.hot_amps, result.limit_amps)
        amps = f"{_tenth(result.amps)} A cold, about {given} A warm,"
    sure = [] if told.bar.guarded else ["as read"]
    sure += [] if chance is None else [sure_words(chance)]
    return f"{amps} where {limit} A is allowed ({', '.join(sure)})"


def _fails(told: Told) -> tuple[str, str]:
    said = [f"{check.words}" for check in told.checks if check.outcome == "fail"]
    failed = told.having("fail")
    if failed:
        said.insert(0, _too_low(failed, told))
    advice = LOOK_AT_FINDINGS if failed else "Put that right and test again."
    if failed and told.stricter:
        advice = "It was tested warm against a cold rating: test it cold before turning it away."
    return f"Fails. {'; '.join(said)}.", advice


def _too_low(failed: Sequence[SpeedResult], told: Told) -> str:
    worst = min(failed, key=lambda r: (r.amps or 0.0) / max(r.rated_amps or 0.0, 1e-9))
    others = [r.shaft_rpm for r in failed if r is not worst]
    place = "At" if worst.hot_amps is None else "Even cold, at"
    given, limit = _apart(worst.amps, worst.limit_amps)
    words = f"{place} {worst.shaft_rpm:.0f} rpm it gives {given} A where {limit} A is allowed"
    if others:
        words += f"; also too low at {rpm_list(others)}"
    passed = [r.shaft_rpm for r in told.having("pass")]
    return f"{words}; at {rpm_list(passed)} it passes" if passed else words


_ORDER: tuple[Why, ...] = ("not measured", "voltage", "not settled", "cold", "doubt")


def _undecided(told: Told) -> tuple[str, str]:
    if told.far_above:
        return f"Undecided. {told.far_above}.", LOOK_AT_SCALE
    left = told.having("not measured") + told.having("undecided")
    for why in _ORDER:
        here = [result for result in left if result.why == why]
        if here:
            sentence, what_next = _say(why, here, told)
            return f"Undecided. {sentence}", what_next
    undone = [c.name for c in told.checks if c.insisted and c.outcome == "not done"]
    if undone and told.having("pass"):
        names = ", ".join(undone)
        return f"Undecided. Every speed is good, but not done: {names}.", "Do it and judge again."
    top, end = told.rated.points[0][0], told.rated.points[-1][0]
    return (
        f"Undecided. No measured speed lies between {top:.0f} and {end:.0f} rpm, "
        "the first and last rated speed.",
        "Measure there.",
    )


def _say(why: Why, here: Sequence[SpeedResult], told: Told) -> tuple[str, str]:
    if why == "not measured":
        return _not_measured(here, told)
    worst = min(here, key=to_spare)
    place = f"At {worst.shaft_rpm:.0f} rpm"
    if why == "voltage":
        return (
            f"{place} the voltage was {worst.volts:.2f} V "
            f"where the test asks for {told.test_volts:.2f} V{_also(here, worst)}.",
            _about_voltage(worst, told),
        )
    given, limit = _apart(worst.amps, worst.limit_amps)
    against = f"{given} A against {limit} A allowed"
    if why == "not settled":
        doubt = "" if worst.u_amps is None else f", good to ±{_doubt(worst, told):.1f} A only"
        return (
            f"{place} the reading had not settled: {against}{doubt}{_also(here, worst)}.",
            "Hold that speed longer and read again.",
        )
    if why == "cold":
        warm, limit = _apart(worst.hot_amps, worst.limit_amps)
        return (
            f"{place} it gives {_tenth(worst.amps)} A cold, about {warm} A warm, "
            f"where {limit} A is allowed warm{_also(here, worst)}.",
            RUN_WARM,
        )
    return _in_doubt(worst, f"{place} {against}", _also(here, worst), told)


def _about_voltage(worst: SpeedResult, told: Told) -> str:
    """Where the load holds the voltage no hand can hold it better."""
    if not told.load_holds:
        return f"Hold it within {told.volts_within:g} V and read again."
    if (worst.volts or 0.0) > told.test_volts:
        return (
            "The load holds the voltage, so the voltmeter or its leads read high, or the load takes"
            " no more: compare with a second meter at B+ and case of the unit."
        )
    return (
        "The load takes nothing below the test voltage, so the unit does not raise it so far, or"
        " the voltmeter or its leads read low: compare with a second meter at B+ and case of the"
        " unit."
    )


def _also(here: Sequence[SpeedResult], told_of: SpeedResult) -> str:
    others = [result.shaft_rpm for result in here if result is not told_of]
    return f"; the same at {rpm_list(others)}" if others else ""


def _not_measured(here: Sequence[SpeedResult], told: Told) -> tuple[str, str]:
    speeds = [result.shaft_rpm for result in here]
    were = "was" if len(speeds) == 1 else "were"
    near = here[0].measured_rpm
    away = f" (nearest reading at {near[0]:.0f} rpm, more than 2 % away)" if near else ""
    passed = told.having("pass")
    rest = f"; {speeds_words(len(passed))} passed" if passed else ""
    sentence = f"{rpm_list(speeds)} {were} not measured{away if len(speeds) == 1 else ''}{rest}."
    top = told.rated.max_shaft_rpm
    if top is not None and max(speeds) > top:
        advice = f"The unit may run at {top:.0f} rpm at most: correct the rated curve."
    else:
        advice = f"Measure {'it' if len(speeds) == 1 else 'them'} and judge again."
    return sentence, advice


def _doubt(result: SpeedResult, told: Told) -> float:
    """How far from the limit a reading must be to decide [A]."""
    below = result.margin_amps is not None and result.margin_amps < 0.0
    return (told.bar.fail_z if below else told.bar.pass_z) * (result.u_amps or 0.0)


def _in_doubt(result: SpeedResult, against: str, also: str, told: Told) -> tuple[str, str]:
    doubt = _doubt(result, told)
    margin = abs(result.margin_amps or 0.0)
    if margin >= doubt and result.p_conform is not None:
        sure = max(result.p_conform, 1.0 - result.p_conform)
        return (
            f"{against} is only {sure_words(sure)}{also}.",
            "Hold that speed longer, so that more readings count.",
        )
    heavy = result.budget.biggest if result.budget else None
    kind: Kind = heavy.kind if heavy else "stated"
    owner = heavy.name.removesuffix("'s accuracy").removesuffix("'s zero") if heavy else "it"
    if kind in ("accuracy", "zero"):
        inside = f"inside {owner}'s ±{doubt:.1f} A"
    elif kind == "stated":
        inside = f"inside its stated doubt of ±{doubt:.1f} A"
    else:
        inside = f"inside the doubt of ±{doubt:.1f} A, most of it {heavy.name if heavy else ''}"
    return f"{against} is {inside}{also}.", _ADVICE[kind]


_ADVICE: dict[Kind, str] = {
    "accuracy": "Read it on a shunt or a better meter.",
    "zero": "Zero the clamp at standstill and read again.",
    "scatter": "Hold that speed longer and read again.",
    "speed scatter": "Hold the speed steadier and read again.",
    "speed accuracy": "Read the speed with a better tachometer.",
    "slope": "Set the speed nearer and read again.",
    "voltage": "Hold the voltage nearer to the test voltage and read again.",
    "gap": "Let it settle longer at each speed, and sweep again.",
    "heat": RUN_WARM,
    "stated": "Read it again with a better meter, or take more readings.",
}


def _tenth(amps: float | None) -> str:
    """To a tenth; what rounds to nothing has no sign."""
    return "no" if amps is None else f"{round(amps, 1) + 0.0:.1f}"


MOST_DIGITS = 6


def _apart(amps: float | None, limit_amps: float | None) -> tuple[str, str]:
    """Current and limit to a tenth, or to as many digits as tell the two apart."""
    if amps is not None and limit_amps is not None:
        for digits in range(1, MOST_DIGITS):
            given, limit = (f"{round(one, digits) + 0.0:.{digits}f}" for one in (amps, limit_amps))
            if given != limit:
                return given, limit
    return _tenth(amps), _tenth(limit_amps)
