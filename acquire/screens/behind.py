"""Long work behind a page, in a thread of its own: keys, and the stop first, never wait for it."""

from __future__ import annotations

import threading
from collections.abc import Callable
from functools import partial
from typing import Protocol, TypeVar

from profiles.errors import BenchError

T = TypeVar("T")


class Told(Protocol):
    """A page, as far as it is told what went wrong behind it."""

    said: str


def work_behind(
    page: Told,
    work: Callable[[], T],
    then: Callable[[T], None],
    *,
    give: Callable[[Callable[[], None]], None],
) -> None:
    """Do `work` in a thread of its own; its outcome goes to `then`, through `give` to the screens.

    What goes wrong is said on the page.
    """

    def in_thread() -> None:
        try:
            outcome = work()
        except BenchError as error:
            page.said = str(error)
        except Exception as error:  # noqa: BLE001 - told, not fatal: a run may be on
            page.said = f"That did not work: {type(error).__name__}: {error}"
        else:
            give(partial(then, outcome))

    threading.Thread(target=in_thread, name="behind a page", daemon=True).start()
