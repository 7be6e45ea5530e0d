"""Rehearsed sweeps for tests: shipped profiles, the in-process rig, one line each."""

from __future__ import annotations

from acquire.hands_at_stop import Hand
from acquire.judging import Judgement, judge_run
from acquire.snapshots import Snapshots
from acquire.sweep.plan import plan_sweep
from profiles.catalogue import load_method, load_rated, load_rig
from profiles.drive import AnyLoad
from tests.in_process_rig import InProcessRig
from tests.rehearsal import Rehearsal, rehearse

RIG_OF = {12.0: "simulated", 24.0: "simulated-24"}


def rehearsed(
    *,
    unit: str = "small-frame-14v-90a",
    method: str = "quick",
    fault: str | None = None,
    seed: int = 1,
    steps: tuple[float, ...] | None = None,
    load: AnyLoad | None = None,
    hand: Hand | None = None,
    simulated: InProcessRig | None = None,
) -> tuple[Rehearsal, Judgement]:
    """One sweep and its judgement."""
    rated = load_rated(unit).profile
    rig = load_rig(RIG_OF[float(rated.alternator.system_volts)]).profile
    if load is not None:
        rig = rig.model_copy(update={"load": load})
    chosen = load_method(method).profile
    plan = plan_sweep(rig=rig, method=chosen, rated=rated.rated_curve(), steps=steps)
    result = rehearse(plan, rig, simulated or InProcessRig(unit, fault, seed), hand=hand)
    judgement = judge_run(
        Snapshots(rig, chosen, rated, None),
        points=result.points.with_own_slopes(),
        warm_up=result.warm_up,
    )
    return result, judgement
