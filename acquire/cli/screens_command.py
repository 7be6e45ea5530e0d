"""`steadyamps` alone, and `sweep --screen`: the screens."""

from __future__ import annotations

import contextlib
import sys
from typing import TYPE_CHECKING

from acquire.cli.exit_codes import Exit
from acquire.cli.voice import Voice, is_terminal
from acquire.errors import OrderError

if TYPE_CHECKING:
    from acquire.live_run import RunEnd
    from acquire.resuming import Interrupted
    from acquire.run_order import RunOrder
    from acquire.screens.app import BenchApp
    from acquire.screens.choices import Choices
    from acquire.screens.keeper import Keeper
    from acquire.screens.look import Look


def open_screens(voice: Voice) -> int:
    """Open the screens on the bench as it was left.

    Raises:
        OrderError: If there is no terminal to draw on.
    """
    _must_be_terminal(voice)
    from acquire.cli.places import shelf_folder
    from acquire.screens.choices import choices_like
    from acquire.screens.shelf_glance import glances

    newest = next(iter(glances(shelf_folder(voice))), None)
    choices = choices_like(newest.header if newest is not None else None)
    _, code = _run(voice, choices, begin_at_once=False)
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
    from acquire.cli.plain_run import exit_of
    from acquire.screens.choices import Choices

    order.plan()
    choices = Choices()
    choices.take_order(order)
    choices.confirmed_elsewhere, choices.going_on = confirmed, going_on
    ends, code = _run(voice, choices, begin_at_once=confirmed)
    if ends:
        return exit_of(ends[-1])
    return code or Exit.STOPPED


def _run(voice: Voice, choices: Choices, *, begin_at_once: bool) -> tuple[list[RunEnd], int]:
    """The screens from first paint to the rig at rest and the terminal given back."""
    from acquire.cli.places import shelf_folder
    from acquire.record.signing import workshop_key
    from acquire.screens.app import BenchApp, run_app
    from acquire.screens.keeper import Keeper, shown_trouble
    from acquire.signal_watch import SignalWatch

    with Keeper(shelf_folder(voice), workshop_key) as keeper:
        app = BenchApp(keeper, choices, look=_look(voice), begin_at_once=begin_at_once)
        with SignalWatch(
            lambda name: _signal(app, keeper, name), on_suspend=lambda: _suspend(app, keeper)
        ):
            try:
                run_app(app)
            except OSError as error:  # the terminal is gone, as when a line drops
                app.died = app.died or error
            if keeper.busy:
                _say(voice, "Bringing the rig to rest; keep clear until the shaft stands still.")
            keeper.close()
    _tell(voice, keeper.ends, app)
    if app.died is None and not app.signalled:
        return keeper.ends, Exit.OK
    if keeper.trouble is not None and not keeper.ends:
        _say(voice, shown_trouble(keeper.trouble))
    return keeper.ends, Exit.STOPPED


def _signal(app: BenchApp, keeper: Keeper, name: str) -> None:
    """First the rig, then the screens; a suspend ends nothing but the run."""
    from acquire.stop_path import StopReason

    keeper.stop(StopReason("signal", f"{name} was received."))
    if name != "SIGTSTP":
        app.end_from_outside()


def _suspend(app: BenchApp, keeper: Keeper) -> None:
    """Ctrl-Z: the rig stands still before this program does."""
    run = keeper.run
    if run is not None and run.stop_path is not None:
        run.stop_path.wait()
    app.suspend_from_outside()


def _tell(voice: Voice, ends: list[RunEnd], app: BenchApp) -> None:
    """After the terminal is given back: what became of each run, and where it is."""
    if app.died is not None:
        _say(voice, f"The screens failed ({type(app.died).__name__}: {app.died}).")
        _say(voice, "What was running was brought to rest, and its record is kept.")
    with contextlib.suppress(OSError):
        for end in ends:
            voice.result(f"{end.judgement.verdict.reason}\n  {end.folder}")


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
