"""The app: holds keeper, choices and memory, and switches pages; it knows nothing of layouts."""

from __future__ import annotations

import threading
import traceback
from collections.abc import Callable, Sequence
from pathlib import Path

from rich.text import Text
from textual import events
from textual.app import App
from textual.driver import Driver
from textual.theme import Theme

from acquire.screens.choices import Choices
from acquire.screens.filed_view import write_view
from acquire.screens.help_page import CautionsPage, HelpPage
from acquire.screens.inks import DARK, LIGHT, Palette
from acquire.screens.instruments_page import InstrumentsPage
from acquire.screens.keeper import Keeper, Wanted, shown_trouble
from acquire.screens.look import Look
from acquire.screens.match_page import MatchPage
from acquire.screens.memory import Memory
from acquire.screens.page import Page
from acquire.screens.past_page import PastPage
from acquire.screens.ready_page import ReadyPage
from acquire.screens.result_facts import (
    ResultFacts,
    facts_of_end,
    facts_of_folder,
)
from acquire.screens.result_page import ResultPage
from acquire.screens.rows import Row
from acquire.screens.stop_key import stops_first
from acquire.screens.sweep_page import SweepPage
from acquire.signal_watch import suspend_now
from acquire.stop_path import StopReason
from profiles.errors import BenchError

STOP_KEYS = {
    "space": "the space bar was pressed.",
    "ctrl+c": "Ctrl-C was pressed.",
}


class BenchApp(App[None], inherit_bindings=False):
    """The screens. Stop is the space bar whenever a run is on."""

    CSS = "Screen { background: $background; }"
    ENABLE_COMMAND_PALETTE = False
    NOTIFICATION_TIMEOUT = 0.0
    ALLOW_SELECT = False

    def __init__(
        self,
        keeper: Keeper,
        choices: Choices,
        *,
        look: Look | None = None,
        begin_at_once: bool = False,
    ) -> None:
        """`begin_at_once`: the order and its cautions were confirmed on the command line."""
        self.keeper = keeper
        self.choices = choices
        self.look = look or Look()
        self.memory = Memory(keeper.shelf, lambda: self.choices)
        self.died: BaseException | None = None
        """What went wrong in the screens themselves."""
        self.signalled = False
        """True once a signal has asked for the end."""
        self.engine_figures: dict[str, str] = {}
        """What was typed of an engine, kept from one match to the next."""
        self._begin_at_once = begin_at_once
        super().__init__()
        self.set_keymap({})
        for palette in (DARK, LIGHT):
            self.register_theme(theme_of(palette))
        self.theme = (LIGHT if self.look.light else DARK).name

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
        await super().on_event(event)

    def stop_by_key(self, key: str) -> bool:
        """Stop, if that is what this key does and a run is on. From any thread."""
        words = STOP_KEYS.get(key)
        return words is not None and self.stop_run(words)

    def stop_run(self, words: str) -> bool:
        """Bring the rig to rest; True when a run is on. From any thread."""
        return self.keeper.stop(StopReason("operator", words))

    def _handle_exception(self, error: Exception) -> None:
        """The rig is made safe before the screens fall."""
        self.died = self.died or error
        self.keeper.stop(StopReason("error", f"the screens failed: {error}"))
        super()._handle_exception(error)

    def _fatal_error(self) -> None:
        """What went wrong, in plain text; the run's record is told of by who started us."""
        self.panic(Text(traceback.format_exc()))

    # ---- life ------------------------------------------------------------------------------

    def on_mount(self) -> None:
        self.memory.refresh()
        self.push_screen(ReadyPage())
        if self._begin_at_once:
            order = self.choices.order()
            if order is not None:
                self.begin(Wanted(order, self.choices.accepted(), self.choices.going_on))
                return
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
        """Open the chosen rig to look at it."""
        if self.choices.rig is not None:
            self.keeper.open_rig(self.choices.rig)
        self.memory.look_for_earlier()

    def begin(self, wanted: Wanted) -> None:
        """Begin a run and show it."""
        self.keeper.begin(wanted)
        self.push_screen(SweepPage())

    def show_the_run(self) -> None:
        """Whatever lies over the sweep is taken off: one sees the rig come to rest."""
        if any(isinstance(page, SweepPage) for page in self.screen_stack):
            while not isinstance(self.screen, SweepPage):
                self.pop_screen()

    def run_is_over(self) -> None:
        """From the sweep to its result, or back to ready where there is none."""
        end, trouble = self.keeper.end, self.keeper.trouble
        before = self.memory.earlier.folder if self.memory.earlier is not None else None
        self.memory.refresh()
        if end is None and trouble is None:
            self.back_to_ready()
            return
        page = ResultPage(None, live=True, trouble=shown_trouble(trouble))
        self.switch_screen(page)
        if end is not None:
            stop_trouble = self.keeper.stop_trouble
            self.in_background(lambda: facts_of_end(end, before, stop_trouble), page)

    def show_run(self, folder: Path, before: Path | None = None) -> None:
        """A run from the shelf, with another one drawn beside it."""
        page = ResultPage(None, live=False)
        self.open_page(page)

        self.in_background(lambda: facts_of_folder(folder, before), page)

    def in_background(self, read: Callable[[], ResultFacts], page: ResultPage) -> None:
        """Read a result without holding the screen up."""

        def work() -> None:
            try:
                page.facts = read()
            except BenchError as error:
                page.trouble = str(error)
            except Exception as error:  # noqa: BLE001 - a record of any age may be opened
                page.trouble = f"This run cannot be shown: {type(error).__name__}: {error}"

        threading.Thread(target=work, name="result", daemon=True).start()

    def show_help(self, page: Page) -> None:
        """Help for a page."""
        if not isinstance(page, HelpPage):
            self.open_page(HelpPage(page.name_in_words))

    def show_cautions(self) -> None:
        """The cautions, to be accepted."""
        self.open_page(CautionsPage(self.choices.accept_cautions))

    def show_past(self) -> None:
        """Past tests."""
        self.open_page(PastPage())

    def show_match(self, folder: Path | None = None) -> None:
        """Which unit for which engine; with the run at hand where there is one."""
        self.open_page(MatchPage(folder))

    def show_instruments(self) -> None:
        """Instruments."""
        self.open_page(InstrumentsPage())

    # ---- files and looks -------------------------------------------------------------------

    def file_view(self, name: str, rows: Sequence[Row]) -> str:
        """Write what is shown to a text and an SVG file; where they are, in words."""
        try:
            return write_view(self, self.keeper.shelf, name, rows)
        except OSError as error:
            return f"The view could not be written: {error}"

    def change_light(self) -> None:
        """Light paper for dark, and back."""
        self.look = self.look.other_light()
        self.theme = (LIGHT if self.look.light else DARK).name

    @property
    def can_report(self) -> bool:
        """True once there is something that writes reports."""
        return False

    def write_report(self, folder: Path) -> str:
        """Write the report of a run."""
        return f"No report is written of {folder.name}."


def theme_of(palette: Palette) -> Theme:
    """A palette as the toolkit wants it."""
    return Theme(
        name=palette.name,
        primary=palette.text,
        foreground=palette.text,
        background=palette.paper,
        surface=palette.paper,
        panel=palette.paper,
        dark=palette is DARK,
    )


def run_app(app: BenchApp) -> None:
    """Run the app in this terminal until it is left."""
    app.run(mouse=app.look.mouse)
