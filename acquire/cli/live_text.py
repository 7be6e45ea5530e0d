"""What a plain sweep shows while it runs: a block of live lines, or a line for each event."""

from __future__ import annotations

from acquire.bench import Bench
from acquire.freshness import is_live, quiet_words
from acquire.hand_words import PRESSING_S, counted, load_counted
from acquire.judge.budget import HALF_WIDTH_K
from acquire.judge.steady_point import SteadyPoint
from acquire.sentences import SIGNS, channel_state, now_doing
from acquire.settle.looks import HoldLook
from acquire.stop_path import EMERGENCY, StopReport
from acquire.stop_words import stopping_sentence
from acquire.sweep.holding import Holding
from acquire.sweep.warming import Warming
from drivers.readings import Reading
from profiles.channels import CHANNELS
from profiles.rig import Rig

MUST_HOLD = ("shaft_rpm", "amps", "volts")
SHOWN = ("shaft_rpm", "engine_rpm", "w_hz", "drive_rpm", "amps", "volts", "case_c")


def live_block(bench: Bench, rig: Rig, stopping: StopReport | None = None) -> str:
    """The sentence, a line per channel, and the step being worked on; `stopping`: the stop."""
    now_s = bench.now_s()
    look = _look(bench) if stopping is None else None
    if stopping is not None:
        lines = [stopping_sentence(stopping)]
    else:
        lines = [quiet_words(bench, rig) or now_doing(bench.sweep, now_s)]
    told = _told(bench, now_s, stopping=stopping is not None)
    if stopping is not None and stopping.hands == EMERGENCY:
        lines.insert(0, f"  {EMERGENCY}")
    elif told:
        lines.insert(0, told)
    if load := _load_line(bench, now_s):
        lines.append(load)
    lines += [_channel_line(r, now_s, look, rig) for r in _in_order(bench)]
    step = bench.sweep.current if stopping is None else None
    total = len(bench.sweep.plan.steps)
    if step is not None:
        lines.append(f"  step {step.number} of {total}")
    return "\n".join(lines)


def _told(bench: Bench, now_s: float, *, stopping: bool) -> str:
    """What the hands must do, with the seconds counted."""
    hands = bench.view.hands
    said = ("", "") if hands is None else (hands.words, hands.detail)
    words, detail = said if stopping else counted(bench.sweep.phase, hands, now_s)
    return f"  {words}  {detail}".rstrip()


def _load_line(bench: Bench, now_s: float) -> str:
    """The seconds a pile has been on, of those it is good for."""
    hand_load = bench.sweep.plan.hand_load
    view = bench.view
    words, left_s = load_counted(
        on=view.load_on,
        since_s=view.load_since_s,
        now_s=now_s,
        most_s=hand_load.max_on_s if hand_load is not None else None,
    )
    return f"  {'!' if left_s < PRESSING_S else '='} {words}" if words else ""


def _in_order(bench: Bench) -> list[Reading]:
    latest = bench.view.latest
    return [latest[name] for name in SHOWN if name in latest]


def _look(bench: Bench) -> HoldLook | None:
    phase = bench.sweep.phase
    return phase.look if isinstance(phase, Holding | Warming) else None


def _channel_line(reading: Reading, now_s: float, look: HoldLook | None, rig: Rig) -> str:
    kind = CHANNELS[reading.channel]
    age_s = now_s - reading.t_s
    if not reading.usable or reading.value is None:
        return f"  {kind.words:<18} {'--':>8} {kind.unit_of_measure:<4} ! {reading.quality.value}"
    value = f"{reading.value:.{kind.decimals}f}"
    if not is_live(rig, reading, now_s):
        value, state = "--", f"! stale {age_s:.0f} s"
    else:
        word, sign = channel_state(look, reading.channel)
        if word == "waiting" and reading.channel not in MUST_HOLD:
            word, sign = "", ""
        state = f"{sign} {word}".strip()
        if look is not None and word in ("rising", "falling"):
            drift = look.channels[reading.channel].drift
            state += f" {abs(drift):.{max(kind.decimals, 1)}f} in 10 s"
    return f"  {kind.words:<18} {value:>8} {kind.unit_of_measure:<4} {state}".rstrip()


def point_line(point: SteadyPoint, *, unsteady: bool = False) -> str:
    """One row of the step table; `unsteady`: its current came and went in bursts."""
    if not point.usable:
        return f"  {point.set_rpm:6.0f} rpm   no usable reading"
    half = HALF_WIDTH_K * (point.u_amps_at_set_rpm or point.u_amps or 0.0)
    volts = f"  {point.volts:6.2f} V" if point.volts is not None else ""
    case = f"  {point.case_c:3.0f} °C" if point.case_c is not None else ""
    how = {"yes": "still =", "predicted": "known early =", "no": "not still !"}[
        point.settled or "no"
    ]
    how = "unsteady ~" if unsteady else how
    amps = point.amps_at_set_rpm if point.amps_at_set_rpm is not None else point.amps
    return (
        f"  {point.set_rpm:6.0f} rpm  {amps:7.1f} A ±{half:.1f}{volts}{case}"
        f"  {how} after {point.settle_s:.0f} s"
    )


__all__ = ["SIGNS", "live_block", "point_line"]
