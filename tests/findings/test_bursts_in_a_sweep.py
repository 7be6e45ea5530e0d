"""Whole sweeps in virtual time, with the ripple of the simulated rig as a fast meter samples it."""

from __future__ import annotations

from random import Random

import pytest

from acquire.findings.burst_lines import BurstLines, BurstSeen
from acquire.judging import Judgement, judge_run
from acquire.snapshots import Snapshots
from acquire.sweep.commands import StepTaken
from acquire.sweep.plan import plan_sweep
from drivers.burst import ac_rms
from drivers.simulated.ripple_wave import wave
from profiles.catalogue import load_method, load_rated, load_rig
from tests.in_process_rig import DEFAULT_EVERY_S, InProcessRig
from tests.rehearsal import rehearse

SAMPLES, SAMPLE_S, EVERY_STEPS = 2000, 5e-5, 200


class RigWithFastMeter(InProcessRig):
    """Keeps a burst every two seconds."""

    def __init__(self, machine: str, fault: str | None) -> None:
        self.bursts: list[BurstSeen] = []
        self._noise = Random(4)
        every = DEFAULT_EVERY_S | {"ripple_volts": 0.5}
        super().__init__(machine, fault, seed=4, every_s=every)

    def _step(self) -> None:
        super()._step()
        if self._steps % EVERY_STEPS == 0:
            samples = wave(self, self._noise, samples=SAMPLES, sample_s=SAMPLE_S)
            self.bursts.append(BurstSeen(self.now_s, SAMPLE_S, samples))


def judged(machine: str, rig_name: str, fault: str | None, *, fast: bool) -> Judgement:
    rated, method = load_rated(machine).profile, load_method("quick").profile
    rig = load_rig(rig_name).profile
    channels = {**rig.channels, "ripple_volts": load_rig("simulated-ripple").profile.channels[
        "ripple_volts"]}  # fmt: skip
    profiles = Snapshots(rig.model_copy(update={"channels": channels}), method, rated, None)
    plan = plan_sweep(rig=profiles.rig, method=method, rated=profiles.rated_curve)
    simulated = RigWithFastMeter(machine, fault)
    run = rehearse(plan, profiles.rig, simulated)
    lines = BurstLines(rated.rated_curve().pole_pairs, fresh_s=plan.horizon_s)
    for t_s, command in run.commands:
        if fast and isinstance(command, StepTaken):
            burst = [one for one in simulated.bursts if one.t_s <= t_s][-1]
            note = lines.of(command, burst, now_s=t_s)
            assert note is not None
            assert note.words == ""
            run.points.seen.see(note.kind, note.data)
            step = run.points.seen.steps[command.step]
            assert ac_rms(burst.samples) == pytest.approx(step.mean("ripple_volts"), rel=0.2)
    return judge_run(
        profiles, points=run.points.with_own_slopes(), warm_up=None, seen=run.points.seen
    )


SMALL, SMALL_24 = ("small-frame-14v-90a", "simulated"), ("small-frame-28v-80a", "simulated-24")


@pytest.mark.parametrize(
    ("unit", "fault", "found"),
    [
        (SMALL, None, []),
        (SMALL, "open-diode", ["open diode"]),
        (SMALL, "two-open-diodes", ["two open diodes"]),
        (SMALL, "open-phase", ["open phase"]),
        (SMALL, "uneven-phase", ["uneven phase"]),
        (SMALL_24, None, []),
        (SMALL_24, "uneven-phase", ["uneven phase"]),
    ],
)
def test_each_fault_of_bridge_and_stator_is_named_by_a_sweep_with_bursts(
    unit: tuple[str, str], fault: str | None, found: list[str]
) -> None:
    judgement = judged(*unit, fault, fast=True)
    assert [finding.name for finding in judgement.findings] == found


def test_without_the_bursts_an_uneven_phase_is_not_named() -> None:
    judgement = judged(*SMALL, "uneven-phase", fast=False)
    assert "uneven phase" not in [finding.name for finding in judgement.findings]
