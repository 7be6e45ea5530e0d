"""Drive against shaft against W: a slipping belt, a wrong pulley ratio, a wrong number of poles."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import median

from acquire.findings.case import Case, rpm_words
from acquire.findings.finding import Finding
from acquire.judge.steady_point import SteadyPoint

SLIP_FROM = 0.03
"""A sound belt creeps about a per cent, a motor droops about half (common practice, no source)."""
SPREAD_FROM = 0.02
"""Slip changes with torque by more than this; a wrong ratio does not."""
RATIO_FROM = 0.025
"""A ratio off by more than this share, the same at all speeds, is a wrong pulley and no slip."""
POLES_FROM = 0.03
"""The same for pole pairs: one too many of eight, or too few, makes 12 %."""
BELT_CAUTION = (
    "Stop the drive and lock it before touching the belt; keep hands, hair and cloth off it while"
    " it turns."
)


@dataclass(frozen=True, slots=True)
class _Slip:
    """How far the shaft stays behind the drive at one step."""

    point: SteadyPoint
    share: float
    """0.05 = 5 % slower than the pulleys say."""


def speed_ratio(case: Case) -> list[Finding]:
    """Belt slip, or a ratio that is not what the files say."""
    found = _poles(case)
    slips, read_back = _slips(case)
    if slips:
        found += _belt_or_ratio(case, slips, read_back=read_back)
    elif case.seen.trip is not None and case.seen.trip.get("kind") == "slip":
        found.append(_tripped(case))
    return found


def _slips(case: Case) -> tuple[list[_Slip], bool]:
    """By the drive's own read-back, else by what it was told."""
    if case.speed_source in ("drive_rpm", "engine_rpm"):
        return [], False
    ratio = case.rig.ratio if case.rig is not None else None
    by_drive, by_told = [], []
    for p in case.usable:
        step, shaft = case.step(p), p.shaft_rpm or 0.0
        if step is None:
            continue
        drive = step.mean("drive_rpm")
        if drive and ratio:
            by_drive.append(_Slip(p, 1.0 - shaft / (drive * ratio)))
        if step.told_rpm:
            by_told.append(_Slip(p, 1.0 - shaft / step.told_rpm))
    return (by_drive, True) if by_drive else (by_told, False)


def _belt_or_ratio(case: Case, slips: list[_Slip], *, read_back: bool) -> list[Finding]:
    most, least = max(s.share for s in slips), min(s.share for s in slips)
    middle = median(s.share for s in slips)
    tripped = case.seen.trip is not None and case.seen.trip.get("kind") == "slip"
    changes = most - least >= SPREAD_FROM
    if most >= SLIP_FROM and changes and least > -SPREAD_FROM:
        return [_slipping(case, slips, read_back=read_back)]
    if abs(middle) >= RATIO_FROM and not changes:
        return [_wrong_ratio(case, slips, middle, read_back=read_back)]
    return [_tripped(case)] if tripped else []


def _slipping(case: Case, slips: list[_Slip], *, read_back: bool) -> Finding:
    worst, best = max(slips, key=lambda s: s.share), min(slips, key=lambda s: s.share)
    measured = "the drive's own speed" if read_back else "the speed the drive was told"
    return Finding(
        name="belt slip",
        words="The belt slips where the torque is largest.",
        evidence=(
            f"Against {measured} the shaft stays {100 * worst.share:.1f} % behind at"
            f" {rpm_words(worst.point)} and {100 * best.share:.1f} % at {rpm_words(best.point)}.",
            "The torque of an alternator is largest just above idle, so a slipping belt shows"
            " there and recovers at the top.",
        ),
        sure="likely" if read_back and worst.share >= 2 * SLIP_FROM else "possible",
        rests_on="slip that changes with the torque",
        what_would_settle="Tighten the belt, or chalk a line across belt and pulley and look after"
        " a minute under load; then sweep again.",
        caution=BELT_CAUTION,
        advice="The belt slips: tighten or renew it and sweep again before judging the unit.",
        about="rig",
        put_right_first=True,
    )


def _wrong_ratio(case: Case, slips: list[_Slip], middle: float, *, read_back: bool) -> Finding:
    from_w = case.speed_source == "w_hz"
    kind = "pulley ratio or number of pole pairs" if from_w else "pulley ratio"
    ratio = case.rig.ratio if case.rig is not None else 1.0
    true = ratio * (1.0 - middle)
    evidence = [
        f"The shaft turns {100 * abs(middle):.1f} % {'slower' if middle > 0 else 'faster'} than the"
        f" drive and the pulleys say, the same within"
        f" {100 * (max(s.share for s in slips) - min(s.share for s in slips)):.1f} % at"
        f" {len(slips)} speeds: the ratio is about {true:.3f}, the rig file says {ratio:.3f}.",
    ]
    if from_w and case.rated is not None and case.rated.pole_pairs:
        pairs = case.rated.pole_pairs * (1.0 - middle)
        evidence.append(
            f"With the pulleys right it would have {pairs:.1f} pole pairs, not"
            f" {case.rated.pole_pairs}."
        )
    return Finding(
        name="wrong pulley ratio or pole count",
        words=f"The {kind} in the files is not what is on the rig.",
        evidence=tuple(evidence),
        sure="likely" if read_back and len(slips) > 1 else "possible",
        rests_on="a ratio that is off by the same share at every speed",
        what_would_settle="Measure both pulleys where the belt runs and correct the rig file; check"
        " the shaft with a hand tachometer.",
        caution=BELT_CAUTION,
        advice="The ratio of drive and shaft is not what the files say: correct it and sweep again."
        if from_w
        else "",
        about="readings",
        in_rig_file=not from_w,
    )


def _poles(case: Case) -> list[Finding]:
    """W frequency against a tachometer: the number of pole pairs is their quotient."""
    pairs = case.rated.pole_pairs if case.rated is not None else None
    if pairs is None or case.speed_source == "w_hz":
        return []
    found = []
    for p in case.usable:
        w_hz = case.mean(p, "w_hz")
        if w_hz and p.shaft_rpm:
            found.append(w_hz * 60.0 / p.shaft_rpm)
    if not found or abs(median(found) / pairs - 1.0) < POLES_FROM:
        return []
    measured = median(found)
    nearest = max(round(measured), 1)
    whole = abs(measured / nearest - 1.0) < 0.01
    return [
        Finding(
            name="wrong pulley ratio or pole count",
            words="Frequency and speed do not fit the number of pole pairs in the profile."
            if whole
            else "Frequency and speed do not fit any number of pole pairs: one of the two is read"
            " wrong.",
            evidence=(
                f"W frequency over shaft speed gives {measured:.2f} pole pairs at {len(found)}"
                f" speeds; the profile says {pairs}.",
            ),
            sure="likely" if whole else "possible",
            rests_on="two readings of the same speed",
            what_would_settle="Count the claws of one rotor half: that is the number of pole pairs;"
            " check the tachometer's pulses per turn.",
            caution="",
            about="readings",
        )
    ]


def _faster_than_the_drive(slip: float) -> Finding:
    """No belt slips that way round."""
    return Finding(
        name="wrong pulley ratio or pole count",
        words="The shaft seems to turn faster than the drive and the pulleys allow: no belt does"
        " that.",
        evidence=(f"The shaft turns {-slip:.1f} % faster than the drive and the pulleys say.",),
        sure="likely",
        rests_on="one disagreement, at the speed where the run was stopped",
        what_would_settle="Measure both pulleys and compare with the rig file; count the"
        " tachometer's marks.",
        caution=BELT_CAUTION,
        advice="The pulley sizes in the rig file or the tachometer's marks are wrong: mend that,"
        " then test anew.",
        about="rig",
        put_right_first=True,
        in_rig_file=True,
    )


def _tripped(case: Case) -> Finding:
    trip = case.seen.trip or {}
    slip = trip.get("value")
    if isinstance(slip, int | float) and slip < 0:
        return _faster_than_the_drive(float(slip))
    figure = f"{float(slip):.1f} %" if isinstance(slip, int | float) else "more than allowed"
    return Finding(
        name="belt slip",
        words="The limit on slip stopped the run because shaft and drive disagree: most likely the"
        " belt slips.",
        evidence=(f"Shaft and drive disagree by {figure}.",),
        sure="possible",
        rests_on="one disagreement, at the speed where the run was stopped",
        what_would_settle="Tighten the belt and run again; if the figure is the same at a low load,"
        " it is the pulley ratio in the rig file or the tachometer.",
        caution=BELT_CAUTION,
        advice="The belt slips, or the pulley ratio in the rig file is wrong: look before running"
        " again.",
        about="rig",
        put_right_first=True,
    )
