"""The view written to files: as plain text and as a picture."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from acquire.screens.rows import Row, text_of

if TYPE_CHECKING:
    from textual.app import App

FOLDER = "views"
BUTTONS = re.compile(r"<circle\b[^>]*/>")


def picture(app: App[Any], title: str) -> str:
    """What is shown, as SVG; without the buttons of a window that is not there."""
    return BUTTONS.sub("", app.export_screenshot(title=title))


def write_view(app: App[Any], shelf: Path, name: str, rows: Sequence[Row]) -> str:
    """Write text and SVG into the folder `views` on the shelf; a sentence that says where.

    Raises:
        OSError: They cannot be written.
    """
    folder = shelf / FOLDER
    folder.mkdir(parents=True, exist_ok=True)
    stamp = datetime.now().astimezone().strftime("%Y-%m-%dT%H%M%S")
    base = folder / f"{name.replace(' ', '-')}-{stamp}"
    text = "\n".join(text_of(one).rstrip() for one in rows) + "\n"
    base.with_suffix(".txt").write_text(text, encoding="utf-8")
    base.with_suffix(".svg").write_text(picture(app, name), encoding="utf-8")
    return f"Written to {base}.txt and .svg."
