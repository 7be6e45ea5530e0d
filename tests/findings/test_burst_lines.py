"""What the journal keeps of a burst: the lines, or once in words why not."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pytest

from acquire.findings.burst_lines import NOT_TOLD, BurstLines, BurstSeen
from acquire.findings.seen import RIPPLE_LINES, Seen
from acquire.settle.looks import ChannelLook, HoldLook
from acquire.sweep.commands import StepTaken

RPM, POLE_PAIRS, EMF_HZ = 3000.0, 6, 300.0


def still(mean: float) -> ChannelLook:
    return ChannelLook(
        state="still", drift=0.0, half_width=0.0, tolerance=1.0, mean=mean, u=0.1, dof=20.0,
        window_s=10.0, readings=100, rejected=0, unsteady=False,
    )  # fmt: skip


def taken(step: int = 1, settle_s: float = 12.0, **channels: float) -> StepTaken:
    look = HoldLook(
        t_s=20.0,
        channels={name: still(mean) for name, mean in {"shaft_rpm": RPM, **channels}.items()},
        taken="yes",
        about_s=None,
        waiting_for="",
    )
    return StepTaken(step, RPM, settle_s, look, None)


def burst(hz: float = EMF_HZ, samples: int = 2000, t_s: float = 19.0) -> BurstSeen:
    sample_s = 5e-5
    values: Sequence[float] = [
        14.0 + 0.03 * math.cos(math.tau * 2 * hz * n * sample_s)
        + 0.05 * math.cos(math.tau * 6 * hz * n * sample_s)
        for n in range(samples)
    ]  # fmt: skip
    return BurstSeen(t_s, sample_s, values)


def test_the_lines_are_kept_with_their_step_as_the_findings_read_them() -> None:
    note = BurstLines(POLE_PAIRS, fresh_s=10.0).of(taken(3), burst(), now_s=20.0)
    assert note is not None
    assert (note.kind, note.words) == (RIPPLE_LINES, "")
    assert note.data["emf_hz"] == EMF_HZ
    seen = Seen()
    seen.see(note.kind, note.data)
    assert seen.ripple_lines[3] == pytest.approx({1: 0.0, 2: 0.03, 3: 0.0, 6: 0.05}, abs=1e-4)


def test_what_w_reads_goes_before_speed_and_pole_pairs() -> None:
    wrong_poles = BurstLines(8, fresh_s=10.0)
    note = wrong_poles.of(taken(w_hz=EMF_HZ), burst(), now_s=20.0)
    assert note is not None
    assert note.kind == RIPPLE_LINES
    alone = BurstLines(None, fresh_s=10.0).of(taken(w_hz=EMF_HZ), burst(), now_s=20.0)
    assert alone is not None
    assert alone.kind == RIPPLE_LINES


def test_without_pole_pairs_it_says_once_what_is_missing() -> None:
    lines = BurstLines(None, fresh_s=10.0)
    first, second = (lines.of(taken(n), burst(), now_s=20.0) for n in (1, 2))
    assert first is not None
    assert second is not None
    assert "alternator.pole_pairs" in first.words
    assert second.words == ""
    assert second.kind == NOT_TOLD
    assert second.data == {"step": 2, "why": first.data["why"]}


def test_each_reason_is_said_once_with_what_it_would_need() -> None:
    lines = BurstLines(POLE_PAIRS, fresh_s=10.0)
    bursts = [burst(samples=300), burst(samples=300), burst(hz=410.0), burst(hz=410.0), burst()]
    notes = [lines.of(taken(n), one, now_s=20.0) for n, one in enumerate(bursts, 1)]
    words = [note.words for note in notes if note is not None]
    assert [bool(said) for said in words] == [True, False, True, False, False]
    assert "let it take 534 samples or more" in words[0]
    assert "number of pole pairs" in words[2]
    assert [note.kind for note in notes if note is not None] == [NOT_TOLD] * 4 + [RIPPLE_LINES]


@pytest.mark.parametrize(
    ("settle_s", "burst_s"),
    [(12.0, 9.9), (0.5, 19.0), (12.0, 5.0)],
    ids=["older than the look-ahead", "of the step before", "both"],
)
def test_a_burst_that_is_not_of_this_hold_says_nothing(settle_s: float, burst_s: float) -> None:
    lines = BurstLines(POLE_PAIRS, fresh_s=10.0)
    assert lines.of(taken(settle_s=settle_s), burst(t_s=burst_s), now_s=20.0) is None


def test_a_step_without_a_point_or_a_burst_says_nothing() -> None:
    lines = BurstLines(POLE_PAIRS, fresh_s=10.0)
    assert lines.of(StepTaken(1, RPM, 12.0, None, None), burst(), now_s=20.0) is None
    assert lines.of(taken(), None, now_s=20.0) is None
