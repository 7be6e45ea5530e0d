"""Asking the operator at a plain terminal: one question, one line, checked before it is taken."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable, Sequence

from acquire.errors import OrderError
from acquire.typed_number import typed_number

BACK = ("<", "back")
"""Typed instead of an answer: the question before, where there is a way back."""


class WentBack(Exception):
    """The operator wants the question before: no error, it ends one question."""


def forget_typed_ahead() -> None:
    """Throw away what was typed before the question stood there: nobody can have read it."""
    if sys.platform == "win32":
        import msvcrt

        while msvcrt.kbhit():
            msvcrt.getwch()
    else:
        import termios

        with contextlib.suppress(termios.error, OSError):
            termios.tcflush(sys.stdin.fileno(), termios.TCIFLUSH)


def confirmed(question: str, say: Callable[[str], None]) -> bool:
    """Whether a caution is accepted in so many words; a slip of the keys is asked about once more.

    Only a typed yes accepts it; no, the end of the input, or a second slip does not.
    """
    for again in (False, True):
        if again:
            forget_typed_ahead()  # a yes meant for another question
            say("Please answer yes or no.")
        say(f"{question}? (yes)")
        line = sys.stdin.readline()
        text = line.strip().lower()
        if text in ("yes", "y"):
            return True
        if not line or text in ("no", "n"):
            return False
    return False


def ask(question: str, *, default: str | None = None, back: bool = False) -> str:
    """A line of text; an empty answer takes the default, if there is one.

    `back`: there is a question before this one to which the operator may go back.

    Raises:
        OrderError: If nobody can answer any more.
        WentBack: If that is wanted.
    """
    shown = f" [{default}]" if default else ""
    print(f"{question}{shown}: ", end="", file=sys.stderr, flush=True)
    line = sys.stdin.readline()
    if not line:
        raise OrderError("Nobody answers any more; nothing was written.")
    text = line.strip()
    if back and text.lower() in BACK:
        raise WentBack
    return text or default or ""


def ask_number(question: str, *, default: float | None = None, back: bool = False) -> float | None:
    """A number, or None for an empty answer without a default."""
    while True:
        text = ask(question, default=None if default is None else f"{default:g}", back=back)
        if not text:
            return None
        value = typed_number(text)
        if isinstance(value, float):
            return value
        print(value, file=sys.stderr)


def ask_choice(question: str, choices: Sequence[tuple[str, str]], *, back: bool = False) -> str:
    """One of (key, words), by its number; the first is the default."""
    for number, (_key, words) in enumerate(choices, 1):
        print(f"  {number}  {words}", file=sys.stderr)
    while True:
        text = ask(question, default="1", back=back)
        if text.isdigit() and 1 <= int(text) <= len(choices):
            return choices[int(text) - 1][0]
        print(f"Type a number from 1 to {len(choices)}.", file=sys.stderr)


def ask_yes(question: str, *, default: bool = True, back: bool = False) -> bool:
    """Yes or no; `default` is what an empty answer means."""
    usual = "yes" if default else "no"
    return ask(f"{question} (yes/no)", default=usual, back=back).lower() in ("y", "yes")
