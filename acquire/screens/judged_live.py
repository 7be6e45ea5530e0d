"""What the verdict has to say of each point a run has so far, while the run is on."""

from __future__ import annotations

from acquire.bench import Bench
from acquire.ending import journal_of
from acquire.judge.verdict import Verdict
from acquire.judging import WarmUpRan, judged_so_far, warm_up_in
from acquire.live_run import LiveRun
from acquire.screens.speed_words import speed_word
from acquire.snapshots import Snapshots
from profiles.errors import BenchError


class JudgedLive:
    """Judges the points as the verdict will, anew where there are more of them."""

    def __init__(self, run: LiveRun) -> None:
        self._run = run
        order = run.order
        self._profiles = Snapshots(
            rig=order.rig.profile,
            method=order.method.profile,
            rated=order.rated.profile if order.rated is not None else None,
            rule=order.rule.profile if order.rule is not None else None,
        )
        self._verdict: Verdict | None = None
        self._of: tuple[int, WarmUpRan | None] = (0, None)
        """The count of points and the warm-up that was judged by."""

    def word_of(self, bench: Bench, step: int) -> tuple[str, str]:
        """Sign and word of a step that has its point; empty where nothing is rated."""
        verdict = self._so_far(bench)
        result = verdict.for_step(step) if verdict is not None else None
        if result is None or result.limit_amps is None:
            return "", ""
        return speed_word(result.outcome, result.why)

    def _so_far(self, bench: Bench) -> Verdict | None:
        of = (len(bench.points.points), bench.warm_up)
        if of != self._of:
            self._of, self._verdict = of, self._judged(bench)
        return self._verdict

    def _judged(self, bench: Bench) -> Verdict | None:
        try:
            warm_up = bench.warm_up or self._warm_up_before()
            points = bench.points.with_own_slopes()
            return judged_so_far(self._profiles, points=points, warm_up=warm_up)
        except BenchError:
            return None  # the end of the run says what is wrong

    def _warm_up_before(self) -> WarmUpRan | None:
        """The warm-up from before a resume."""
        record = self._run.record
        return warm_up_in(journal_of(record)) if record is not None else None
