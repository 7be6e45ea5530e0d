"""Eyes on the simulated drive: when it was told to run and to stop, and what the shaft did."""

from __future__ import annotations

from tests.endurance.wires import RigWires

LOOK_S = 0.05


class DriveWatch:
    """Looks at the rig twenty times a second, whatever the program does."""

    def __init__(self, rig: RigWires) -> None:
        self._rig = rig
        self.runs: list[tuple[float, bool]] = []
        """When the drive's run command changed, by whoever's doing."""
        self.over_rpm = self.over_volts = float("inf")
        self.over_s: dict[str, float] = {}
        """Since when a limit is passed while the drive runs [s]."""
        self.longest_over_s: dict[str, float] = {}
        self._set_run = rig.model.set_run
        rig.model.set_run = self._told  # type: ignore[method-assign]
        rig.world.at(LOOK_S, self._look)

    @property
    def running(self) -> bool:
        """As the drive's run command stands."""
        return bool(self.runs) and self.runs[-1][1]

    def was_running(self, t_s: float) -> bool:
        """Whether the drive ran at an instant."""
        return next((on for when, on in reversed(self.runs) if when <= t_s), False)

    def off_after(self, t_s: float) -> float | None:
        """When the drive was first off from an instant on; None when it never was."""
        if not self.was_running(t_s):
            return t_s
        return next((when for when, on in self.runs if when > t_s and not on), None)

    def _told(self, on: bool) -> None:
        self._set_run(on)
        self._note()

    def _look(self) -> None:
        now_s = self._rig.now()
        self._note()
        model = self._rig.model
        self._over("shaft_rpm", now_s, over=model.shaft_rpm > self.over_rpm)
        self._over("volts", now_s, over=model.bus.volts > self.over_volts)
        self._rig.world.at(now_s + LOOK_S, self._look)

    def _over(self, what: str, now_s: float, *, over: bool) -> None:
        if not (over and self.running):
            self.over_s.pop(what, None)
            return
        since_s = self.over_s.setdefault(what, now_s)
        self.longest_over_s[what] = max(self.longest_over_s.get(what, 0.0), now_s - since_s)

    def _note(self) -> None:
        on = self._rig.model.motor.run
        if on is not self.running:
            self.runs.append((self._rig.world.now_s, on))
