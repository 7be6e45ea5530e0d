"""The app: switches pages, and stops first; it knows nothing of layouts.

Pages are imported where they are opened, so that the first paint comes at once.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import threading
import traceback
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from rich.text import Text
from textual import events
from textual.app import App
from textual.driver import Driver

from acquire.screens.behind import work_behind
from acquire.screens.inks import PALETTES, palette_for
from acquire.screens.look import Look
from acquire.screens.opening_page import OpeningPage
from acquire.screens.page import Page
from acquire.screens.rows import Row
from acquire.screens.stop_key import stops_first
from acquire.screens.themes import theme_of
from acquire.signal_watch import suspend_now
from profiles.errors import BenchError

if TYPE_CHECKING:
    from acquire.screens.choices import Choices
    from acquire.screens.desk import Desk
    from acquire.screens.keeper import Keeper, Wanted
    from acquire.screens.memory import Memory

T = TypeVar("T")
MOUNTED_S = 2.0
"""A page takes some milliseconds to be there; keys wait for it, but not for ever [s]."""
STOP_KEYS = {
    "space": "the space bar was pressed.",
    "ctrl+c": "Ctrl-C was pressed.",
    "ctrl+z": "Ctrl-Z was pressed.",
}


class BenchApp(App[None], inherit_bindings=False):
    """The screens. Stop is the space bar whenever a run is on."""

    CSS = "Screen { background: $background; }"
    ENABLE_COMMAND_PALETTE = False
    ALLOW_SELECT = False

    def __init__(
        self,
        prepare: Callable[[], Desk],
        *,
        look: Look | None = None,
        at_once: bool = False,
    ) -> None:
        """`prepare` makes the desk, behind the first page; `at_once`: before it, for tests."""
        self.look = look or Look()
        self.desk: Desk | None = prepare() if at_once else None
        self.died: BaseException | None = None
        """What went wrong in the screens themselves."""
        self.refused: BenchError | None = None
        """Why the bench could not be read."""
        self.signalled = False
        """True once a signal has asked for the end."""
        self.stopped_early = ""
        """What stopped the work before it began; then nothing begins by itself."""
        self.noted_by = ""
        """Who said the last note of this sitting."""
        self._work_began = False
        self._stop_shown = False
        self._prepare = prepare
        super().__init__(ansi_color=True if "NO_COLOR" in os.environ else None)
        for palette in PALETTES.values():
            self.register_theme(theme_of(palette))
        self._paint()

    # ---- what the pages work with ----------------------------------------------------------

    @property
    def keeper(self) -> Keeper:
        """The keeper of rig and run."""
        return self._desk.keeper

    @property
    def choices(self) -> Choices:
        """What is chosen for the next run."""
        return self._desk.choices

    @property
    def memory(self) -> Memory:
        """What the shelf knows."""
        return self._desk.memory

    @property
    def engine_figures(self) -> dict[str, str]:
        """What was typed of an engine."""
        return self._desk.engine_figures

    @property
    def _desk(self) -> Desk:
        if self.desk is None:
            raise RuntimeError("the bench has not been read yet")
        return self.desk

    @property
    def busy(self) -> bool:
        """True while a run is on."""
        return self.desk is not None and self.desk.keeper.busy

    @property
    def stopping(self) -> bool:
        """True while a run is brought to rest."""
        return self.desk is not None and self.desk.keeper.stopping

    @property
    def hands_at_stop(self) -> str:
        """What hands must do while a run is brought to rest, in large words."""
        report = self.desk.keeper.report if self.desk is not None else None
        return report.hands if report is not None else ""

    def see_stop(self) -> None:
        """A run that is cut short is shown once, whatever page lies over it."""
        report = self.desk.keeper.report if self.desk is not None else None
        cut_short = report is not None and report.reason.kind != "complete"
        if cut_short and not self._stop_shown:
            self.show_the_run()
        self._stop_shown = cut_short

    # ---- stop first ------------------------------------------------------------------------

    def get_driver_class(self) -> type[Driver]:
        """The terminal's driver, with the stop key seen before anything else."""
        return stops_first(super().get_driver_class(), self.stop_by_key)

    async def on_event(self, event: events.Event) -> None:
        """The stop key goes before dialogs, fields and everything else."""
        if isinstance(event, events.Key) and self.stop_by_key(event.key):
            event.stop()
            event.prevent_default()
            self.show_the_run()
            return
        if isinstance(event, events.Key) and event.key == "ctrl+c":
            self.leave()
            return
        if isinstance(event, events.Key) and isinstance(self.screen, Page):
            await self._key_to(self.screen, event)
            return
        await super().on_event(event)

    async def _key_to(self, page: Page, event: events.Key) -> None:
        """One key after the other, each to the page on top by then.

        The toolkit would put keys typed in quick succession into the queue of the page that was on
        top: letters of a serial would be keys of the page below.
        """
        self.app_focus = True
        with contextlib.suppress(TimeoutError):
            await asyncio.wait_for(page._mounted_event.wait(), MOUNTED_S)
        await page.on_key(event)

    def stop_by_key(self, key: str) -> bool:
        """Stop, if that is what this key does and a run is on. From any thread."""
        words = STOP_KEYS.get(key)
        return words is not None and self.stop_run("operator", words)

    def stop_run(self, kind: str, words: str) -> bool:
        """Bring the rig to rest; True when a run is on. From any thread."""
        if not self._work_began:
            self.stopped_early = self.stopped_early or words
        if self.desk is None:
            return False
        from acquire.stop_path import StopReason

        return self.desk.keeper.stop(StopReason(kind, words))

    def _handle_exception(self, error: Exception) -> None:
        """The rig is made safe before the screens fall."""
        self.died = self.died or error
        self.stop_run("error", f"the screens failed: {error}")
        super()._handle_exception(error)

    def _fatal_error(self) -> None:
        """What went wrong, in plain text; the run's record is told of by who started us."""
        self.panic(Text(traceback.format_exc()))

    # ---- life ------------------------------------------------------------------------------

    def on_mount(self) -> None:
        if self.desk is not None:
            self._begin_work()
            return
        self.push_screen(OpeningPage())
        self.call_after_refresh(self._read_the_bench)

    def _read_the_bench(self) -> None:
        threading.Thread(target=self._read, name="opening", daemon=True).start()

    def _read(self) -> None:
        """Profiles, shelf and pages, behind the first page."""
        try:
            desk = self._prepare()
            from acquire.screens.all_pages import keep_for_good

            keep_for_good()
        except BenchError as error:
            self.refused = error
            self._from_outside(self.exit)
            return
        except BaseException as error:  # noqa: BLE001 - told by who started us
            self.died = error
            self._from_outside(self.exit)
            return
        self.desk = desk
        with contextlib.suppress(RuntimeError):  # left before the bench was read
            self.call_from_thread(self._begin_work)

    def _begin_work(self) -> None:
        """The bench is known: ready, or straight into the run that was confirmed."""
        from acquire.screens.ready_page import ReadyPage

        self.memory.refresh()
        ready = ReadyPage()
        if isinstance(self.screen, OpeningPage):
            self.switch_screen(ready)
        else:
            self.push_screen(ready)
        order = self.choices.order()
        if self._desk.begin_at_once and order is not None and not self.stopped_early:
            from acquire.screens.keeper import Wanted

            self.begin(Wanted(order, self.choices.accepted(), self.choices.going_on))
            self._work_began = True
            if self.stopped_early:  # pressed between the look above and the beginning
                self.stop_run("operator", self.stopped_early)
            return
        self._work_began = True
        if self.stopped_early:
            ready.said = nothing_turned(self.stopped_early)
        self.open_rig()

    def end_from_outside(self) -> None:
        """A signal came: leave as soon as the rig is at rest. From any thread."""
        self.signalled = True
        self._from_outside(self.exit)

    def suspend_from_outside(self) -> None:
        """Give the terminal back and stand still until the shell goes on. From any thread."""
        suspend = getattr(self._driver, "_sigtstp_application", suspend_now)
        self._from_outside(suspend)

    def _from_outside(self, act: Callable[[], object]) -> None:
        loop = getattr(self, "_loop", None)
        if loop is not None and not loop.is_closed():
            loop.call_soon_threadsafe(act)

    def leave(self) -> None:
        """Leave the program; whoever started it waits until the rig is at rest."""
        self.exit()

    # ---- pages -----------------------------------------------------------------------------

    def open_page(self, page: Page) -> None:
        """Put a page on top."""
        self.push_screen(page)

    def go_back(self, page: Page) -> None:
        """Take a page off, when it is on top and not the first."""
        if self.screen is page and len(self.screen_stack) > 2:
            self.pop_screen()

    def back_to_ready(self) -> None:
        """Only the ready page is left."""
        while len(self.screen_stack) > 2:
            self.pop_screen()
        self.memory.refresh()
        self.open_rig()

    def open_rig(self) -> None:
        """Open the chosen rig to look at it; not where nothing is left to measure."""
        if self.choices.rig is not None and not self.choices.nothing_left:
            self.keeper.open_rig(self.choices.rig)
        self.memory.look_for_earlier()
        self.memory.look_at_reference()

    def begin(self, wanted: Wanted) -> None:
        """Begin a run and show it."""
        from acquire.screens.sweep_page import SweepPage

        self.keeper.begin(wanted)
        self.push_screen(SweepPage())

    def show_the_run(self) -> None:
        """Whatever lies over the sweep is taken off: one sees the rig come to rest."""
        if any(_is_sweep(page) for page in self.screen_stack):
            while not _is_sweep(self.screen):
                self.pop_screen()

    def run_is_over(self) -> None:
        """From the sweep to its result, or back to ready where there is none."""
        from acquire.screens.keeper import shown_trouble
        from acquire.screens.result_facts import facts_of_end
        from acquire.screens.result_page import ResultPage

        end, trouble = self.keeper.end, self.keeper.trouble
        before = self.memory.earlier.path if self.memory.earlier is not None else None
        self.memory.refresh()
        if end is None and trouble is None:
            self.back_to_ready()
            stopped = self.keeper.stopped_early
            if stopped and isinstance(self.screen, Page):
                self.screen.say(nothing_turned(stopped))
            return
        page = ResultPage(None, live=True, trouble=shown_trouble(trouble))
        page.urgent = self.keeper.left_to_do(stopped=end is None or end.stopped)
        self.switch_screen(page)
        if end is not None:
            stop_trouble = self.keeper.stop_trouble
            page.before = before
            self.behind(page, lambda: facts_of_end(end, before, stop_trouble), page.take_facts)

    def show_run(self, folder: Path, before: Path | None = None) -> None:
        """A run from the shelf, with another one drawn beside it."""
        from acquire.screens.result_facts import facts_of_folder
        from acquire.screens.result_page import ResultPage

        page = ResultPage(None, live=False)
        self.open_page(page)
        page.before = before
        self.behind(page, lambda: facts_of_folder(folder, before), page.take_facts)

    def behind(
        self, page: Page, work: Callable[[], T], then: Callable[[T], None] | None = None
    ) -> None:
        """Do what takes long in a thread of its own, then `then` with the outcome.

        What goes wrong is said on the page.
        """

        work_behind(page, work, then or page.say, give=self._give)

    def _give(self, act: Callable[[], None]) -> None:
        """Do something with what was worked out behind the screens, where they are still there."""

        def give() -> None:
            with self._context():
                act()

        with contextlib.suppress(RuntimeError):  # they were left meanwhile
            self._from_outside(give)

    def show_help(self, page: Page) -> None:
        """Help for a page."""
        from acquire.screens.help_page import HelpPage

        if not isinstance(page, HelpPage):
            self.open_page(HelpPage(page.name_in_words))

    def show_cautions(self) -> None:
        """The cautions, to be accepted."""
        from acquire.screens.help_page import CautionsPage

        self.open_page(CautionsPage(self.choices.accept_cautions))

    def show_past(self) -> None:
        """Past tests."""
        from acquire.screens.past_page import PastPage

        self.open_page(PastPage())

    def show_match(self, folder: Path | None = None) -> None:
        """Which unit for which engine; with the run at hand where there is one."""
        from acquire.screens.match_page import MatchPage

        self.open_page(MatchPage(folder))

    def show_instruments(self) -> None:
        """Instruments."""
        from acquire.screens.instruments_page import InstrumentsPage

        self.open_page(InstrumentsPage())

    # ---- files and looks -------------------------------------------------------------------

    def file_view(self, name: str, rows: Sequence[Row]) -> str:
        """Write what is shown to a text and an SVG file; where they are, in words."""
        from acquire.screens.filed_view import write_view

        try:
            return write_view(self, self.keeper.shelf, name, rows)
        except OSError as error:
            return f"The view could not be written: {error}"

    def change_light(self) -> None:
        """Light paper for dark, and back."""
        self.look = self.look.other_light()
        self._paint()

    def _paint(self) -> None:
        sixteen = self.console.color_system == "standard"
        self.theme = palette_for(light=self.look.light, sixteen=sixteen).name


def _is_sweep(page: object) -> bool:
    return isinstance(page, Page) and page.name_in_words == "sweep"


def nothing_turned(why: str) -> str:
    """What a stop before anything turned is answered with."""
    return f"Stopped before anything turned: {why}"


def run_app(app: BenchApp) -> None:
    """Run the app in this terminal until it is left."""
    app.run(mouse=app.look.mouse)
