"""`steadyamps` alone, and `sweep --screen`: the screens."""

from __future__ import annotations

import contextlib
import sys
import threading
from typing import TYPE_CHECKING

from acquire.cli.exit_codes import Exit
from acquire.cli.voice import Voice, is_terminal
from acquire.errors import OrderError

if TYPE_CHECKING:
    from collections.abc import Callable

    from acquire.ending import RunEnd
    from acquire.resuming import Interrupted
    from acquire.run_order import RunOrder
    from acquire.screens.app import BenchApp
    from acquire.screens.desk import Desk
    from acquire.screens.keeper import Keeper
    from acquire.screens.look import Look


CLOSING_LOOK_S = 0.2


def open_screens(voice: Voice) -> int:
    """Open the screens on the bench as it was left.

    Raises:
        OrderError: If there is no terminal to draw on.
    """
    _must_be_terminal(voice)

    def prepare() -> Desk:
        from acquire.cli.places import shelf_to_write
        from acquire.record.signing import workshop_key
        from acquire.screens.desk import desk_as_left

        return desk_as_left(shelf_to_write(voice), workshop_key)

    _, code = _run(voice, prepare)
    return code


def screen_sweep(
    voice: Voice,
    order: RunOrder,
    confirmed: bool,
    going_on: Interrupted | None = None,
) -> int:
    """One order on the screens; begins at once when its cautions were confirmed.

    Raises:
        OrderError: If there is no terminal to draw on, or rig and method make no sweep.
    """
    _must_be_terminal(voice)
    order.plan()

    def prepare() -> Desk:
        from acquire.cli.places import shelf_to_write
        from acquire.record.signing import workshop_key
        from acquire.screens.desk import desk_for

        shelf = shelf_to_write(voice)
        return desk_for(order, shelf, workshop_key, confirmed=confirmed, going_on=going_on)

    ends, code = _run(voice, prepare)
    if ends:
        from acquire.cli.plain_run import exit_of

        return exit_of(ends[-1])
    return code or Exit.STOPPED


def _run(voice: Voice, prepare: Callable[[], Desk]) -> tuple[list[RunEnd], int]:
    """The screens from first paint to the rig at rest and the terminal given back."""
    from acquire.screens.app import BenchApp, run_app
    from acquire.signal_watch import SignalWatch

    app = BenchApp(prepare, look=_look(voice))
    with SignalWatch(lambda name: _signal(app, name), on_suspend=lambda: _suspend(app)):
        try:
            run_app(app)
        except OSError as error:  # the terminal is gone, as when a line drops
            app.died = app.died or error
        ends = _end_in_order(voice, app)
    if app.refused is not None:
        raise app.refused
    _tell(voice, ends, app)
    return ends, Exit.OK if app.died is None and not app.signalled else Exit.STOPPED


def _end_in_order(voice: Voice, app: BenchApp) -> list[RunEnd]:
    """Whatever became of the screens: the rig comes to rest, the run is sealed."""
    if app.desk is None:
        return []
    keeper = app.desk.keeper
    if keeper.busy:
        _say(voice, "Bringing the rig to rest; keep clear until the shaft stands still.")
    _close_telling(voice, keeper)
    if keeper.trouble is not None and not keeper.ends:
        from acquire.screens.keeper import shown_trouble

        _say(voice, shown_trouble(keeper.trouble))
    return keeper.ends


def _close_telling(voice: Voice, keeper: Keeper) -> None:
    """Wait for the end of all; what fails at the stop is told at once: a shaft may turn still."""
    run = keeper.run
    closing = threading.Thread(target=keeper.close, name="closing", daemon=True)
    closing.start()
    told = 0
    while True:
        over = not closing.is_alive()
        report = run.stop_path.report if run is not None and run.stop_path is not None else None
        events = list(report.events) if report is not None else []
        for event in events[told:]:
            if not event.ok:
                _say(voice, f"  ! {event.words}")
        told = len(events)
        if over:
            return
        closing.join(CLOSING_LOOK_S)


def _signal(app: BenchApp, name: str) -> None:
    """First the rig, then the screens; a suspend ends nothing but the run."""
    from acquire.signal_watch import happened

    app.stop_run("signal", f"{happened(name)}.")
    if name != "SIGTSTP":
        app.end_from_outside()


def _suspend(app: BenchApp) -> None:
    """Ctrl-Z: the rig stands still before this program does."""
    run = app.desk.keeper.run if app.desk is not None else None
    if run is not None and run.stop_path is not None:
        run.stop_path.wait()
    app.suspend_from_outside()


def _tell(voice: Voice, ends: list[RunEnd], app: BenchApp) -> None:
    """After the terminal is given back: what became of each run, and where it is."""
    from acquire.cli.result_text import going_on_lines

    if app.died is not None:
        _say(voice, f"The screens failed ({type(app.died).__name__}: {app.died}).")
        _say(voice, "What was running was brought to rest, and its record is kept.")
    with contextlib.suppress(OSError):
        for end in ends:
            lines = [
                end.judgement.verdict.reason,
                f"Run folder: {end.folder}",
                *going_on_lines(end),
            ]
            voice.result("\n".join(lines))
    if ends and app.desk is not None:
        _, left = app.desk.keeper.left_to_do(stopped=ends[-1].stopped)
        if left:
            _say(voice, f"  ! {left}")


def _say(voice: Voice, words: str) -> None:
    """Say it, where there is still a terminal to say it on."""
    with contextlib.suppress(OSError):
        voice.talk(words)


def _look(voice: Voice) -> Look:
    from acquire.screens.look import look_of_terminal

    return look_of_terminal(glyphs=voice.glyphs, light=voice.light, mouse=voice.mouse)


def _must_be_terminal(voice: Voice) -> None:
    if voice.json:
        raise OrderError(
            "--json and the screens do not go together.",
            what_to_do="Leave one of them out; `sweep --plain` with --json gives the document.",
        )
    if not (is_terminal(sys.stderr) and sys.stdin.isatty()):
        raise OrderError(
            "The screens need a terminal: they draw on stderr and read the keyboard.",
            what_to_do="Do not redirect them; `steadyamps sweep --plain` needs no terminal.",
        )
