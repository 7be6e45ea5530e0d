"""Command templates such as `VOLT {value:.2f}`: one placeholder, a number format, nothing else."""

from __future__ import annotations

import re
from typing import Annotated

from pydantic import AfterValidator, Field

from profiles.plain_text import shown
from profiles.table import Wrong

LONGEST = 256
_PLACEHOLDER = re.compile(r"\{value(?::([+ -]?0?[0-9]{0,2}(?:\.[0-9]{1,2})?[dfeEgG]?))?\}")
_LIKE = 'Write it as in "VOLT {value:.2f}".'


def _template(text: str) -> str:
    _command(text)
    found = _PLACEHOLDER.findall(text)
    if re.search(r"[{}]", _PLACEHOLDER.sub("", text)):
        raise Wrong(f"{shown(text)} holds more than {{value}} with a number format.", _LIKE)
    if len(found) != 1:
        raise Wrong(f"{shown(text)} must hold {{value}} once.", _LIKE)
    try:
        filled(text, 1.5)
    except ValueError:
        raise Wrong(f"{shown(text)} has a format that does not suit a number.", _LIKE) from None
    return text


def _command(text: str) -> str:
    if not text:
        raise Wrong("is empty.", "Write the command as the instrument's manual has it.")
    if len(text) > LONGEST:
        raise Wrong(f"is longer than {LONGEST} characters.", "No command is: is it another text?")
    if "\n" in text or "\r" in text:
        raise Wrong("holds a line end.", "Leave it out; `terminator` says how a line ends.")
    return text


def filled(template: str, value: float) -> str:
    """Put a number into a template (whole numbers where the format asks for `d`)."""
    match = _PLACEHOLDER.search(template)
    form = (match[1] or "") if match else ""
    number = format(round(value) if form.endswith("d") else value, form)
    return _PLACEHOLDER.sub(lambda _: number, template)


Template = Annotated[str, AfterValidator(_template)]
"""A command with `{value}` in it, once, with a number format or none."""
Command = Annotated[str, Field(), AfterValidator(_command)]
"""A command sent as it stands."""
