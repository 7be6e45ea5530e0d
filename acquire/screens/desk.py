"""What the screens work with: keeper of the rig, choices of the operator, memory of the shelf.

Made while the first page is on the screen already: reading profiles takes longer than painting.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from acquire.record.run_header import read_header
from acquire.screens.choices import Choices, choices_like
from acquire.screens.keeper import Keeper
from acquire.screens.memory import Memory
from acquire.shelf.by_folder import runs_by_folder

if TYPE_CHECKING:
    from acquire.record.keys import SigningKey
    from acquire.resuming import Interrupted
    from acquire.run_order import RunOrder


@dataclass
class Desk:
    """Keeper, choices and memory; the pages share them."""

    keeper: Keeper
    choices: Choices
    begin_at_once: bool = False
    """The order and its cautions were confirmed on the command line."""
    engine_figures: dict[str, str] = field(default_factory=dict)
    """What was typed of an engine, kept from one match to the next."""
    memory: Memory = field(init=False)

    def __post_init__(self) -> None:
        self.memory = Memory(self.keeper.shelf, lambda: self.choices)


def desk_as_left(shelf: Path, key: Callable[[], SigningKey | None]) -> Desk:
    """The bench as the newest run on the shelf left it."""
    newest = next(runs_by_folder(shelf), None)
    choices = choices_like(read_header(newest.path) if newest is not None else None)
    return Desk(Keeper(shelf, key), choices)


def desk_for(
    order: RunOrder,
    shelf: Path,
    key: Callable[[], SigningKey | None],
    *,
    confirmed: bool,
    going_on: Interrupted | None = None,
) -> Desk:
    """The bench with one order on it; `confirmed`: its cautions and wiring are."""
    choices = Choices()
    choices.take_order(order)
    choices.confirmed_elsewhere, choices.going_on = confirmed, going_on
    return Desk(Keeper(shelf, key), choices, begin_at_once=confirmed)
