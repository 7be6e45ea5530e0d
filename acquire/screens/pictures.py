"""Pictures of every page, for README and for looking at them: SVG, made without a terminal.

    python -m acquire.screens.pictures FOLDER [--size 120x40] [--light]

The runs and figures on them are invented.
"""

from __future__ import annotations

import argparse
import asyncio
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from textual.app import App, ComposeResult

from acquire.screens import made_up
from acquire.screens.filed_view import picture
from acquire.screens.inks import DARK, LIGHT
from acquire.screens.look import Look
from acquire.screens.made_up_rig import instruments_page
from acquire.screens.past_view import past_rows
from acquire.screens.ready_view import ready_rows
from acquire.screens.result_view import result_rows
from acquire.screens.rows import Row
from acquire.screens.sheet import Sheet
from acquire.screens.sweep_view import sweep_rows
from acquire.screens.themes import theme_of

View = Callable[[int, int], Sequence[Row]]
SIZE = (120, 40)


def views(look: Look) -> dict[str, View]:
    """Every page by its name."""
    return {
        "ready": lambda w, h: ready_rows(made_up.ready(is_ready=True), w, h, look),
        "sweep": lambda w, h: sweep_rows(made_up.sweep(), w, h, look),
        "hands": lambda w, h: sweep_rows(made_up.sweep(hands="MORE LOAD"), w, h, look),
        "result": lambda w, h: result_rows(made_up.result(), w, h, look),
        "past-tests": lambda w, h: past_rows(made_up.past(), w, h),
        "match": _match,
        "instruments": instruments_page,
    }


def _match(width: int, height: int) -> Sequence[Row]:
    from acquire.candidates import candidate_from
    from acquire.screens.match_figures import answer
    from acquire.screens.match_view import match_rows

    typed = {"engine_mm": "150", "unit_mm": "60", "idle": "700", "cruise": "1400..2200",
             "top": "3600"}  # fmt: skip
    units = [candidate_from("small-frame-14v-90a"), candidate_from("slow-frame-14v-150a")]
    return match_rows(
        typed=typed, at=3, units=[one.title for one in units], result=answer(typed, units),
        wants="", width=width, height=height,
    )  # fmt: skip


class OneView(App[None], inherit_bindings=False):
    """Shows one page and nothing else."""

    CSS = "Screen { background: $background; }"
    ENABLE_COMMAND_PALETTE = False

    def __init__(self, look: Look) -> None:
        super().__init__()
        palette = LIGHT if look.light else DARK
        self.register_theme(theme_of(palette))
        self.theme = palette.name
        self.sheet = Sheet()

    def compose(self) -> ComposeResult:
        yield self.sheet


async def draw(view: View, size: tuple[int, int], look: Look, title: str) -> str:
    """One page as SVG."""
    app = OneView(look)
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        app.sheet.show(view(*size))
        await pilot.pause()
        return picture(app, title)


def make(folder: Path, *, size: tuple[int, int] = SIZE, look: Look | None = None) -> list[Path]:
    """Write a picture of every page; the files."""
    look = look or Look()
    folder.mkdir(parents=True, exist_ok=True)
    made = []
    for name, view in views(look).items():
        svg = asyncio.run(draw(view, size, look, f"steadyamps: {name.replace('-', ' ')}"))
        path = folder / f"{name}.svg"
        path.write_text(svg, encoding="utf-8")
        made.append(path)
    return made


def main(arguments: Sequence[str] | None = None) -> int:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--size", default="120x40", help="columns x rows, as in 80x24")
    parser.add_argument("--light", action="store_true", help="on light paper")
    asked = parser.parse_args(arguments)
    columns, _, rows = asked.size.partition("x")
    for path in make(asked.folder, size=(int(columns), int(rows)), look=Look(light=asked.light)):
        print(path)  # noqa: T201 - a command
    return 0


if __name__ == "__main__":
    sys.exit(main())
