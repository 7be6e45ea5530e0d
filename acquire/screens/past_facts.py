"""What the page of past tests shows: some runs of a long list, and what is said about it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from acquire.record.seal_words import SealWords
from acquire.shelf.entry import RunEntry
from acquire.shelf.pairs import Partners


@dataclass(frozen=True, slots=True)
class PastFacts:
    """One look at the list."""

    entries: tuple[RunEntry, ...] = ()
    """The runs about the one picked."""
    first: int = 0
    """The place of the first of them in the whole list; 0 is the newest run."""
    at: int = 0
    """The place of the one picked."""
    total: int = 0
    exact: bool = True
    all_runs: int = 0
    read: bool = True
    """False: nothing has been answered yet."""
    search: str = ""
    """What stands in the line of the search."""
    found_for: str = ""
    """What these runs were looked for by; a moment behind what is typed."""
    searching: bool = False
    complaint: str = ""
    """Why what is typed cannot be looked for (yet)."""
    marked: str = ""
    """The run id of the one marked."""
    partners: Mapping[str, Partners] = field(default_factory=dict)
    states: tuple[str, ...] = ()
    """What goes on, or does not go, each in one line."""
    said: str = ""
    written: Mapping[str, bool | None] = field(default_factory=dict)
    """Of the runs that did not end, by run id: whether another program writes them still."""
    seal: SealWords | None = None
    """Of the run picked; None while it is being checked."""

    @property
    def picked(self) -> RunEntry | None:
        """The run picked, where it has been fetched."""
        return self.run_at(self.at)

    def run_at(self, place: int) -> RunEntry | None:
        """The run at a place of the whole list, where it has been fetched."""
        here = place - self.first
        return self.entries[here] if 0 <= here < len(self.entries) else None

    @property
    def partner(self) -> RunEntry | None:
        """The run before or after the rebuild that belongs to the one picked."""
        picked = self.picked
        pair = self.partners.get(picked.run_id) if picked is not None else None
        return None if pair is None else pair.before or pair.after

    @property
    def sentence(self) -> str:
        """The top line."""
        if not self.read:
            return "Reading the shelf."
        if self.all_runs == 0:
            return "There are no past tests on this shelf yet; every run is kept here."
        if self.found_for:
            more = "" if self.exact else "more than "
            of = f"{more}{self.total} of {tests(self.all_runs)}"
            return f"Found for '{self.found_for}': {of}."
        return f"{tests(self.all_runs)}, the newest first."


def tests(count: int) -> str:
    """As in `1 past test`."""
    return f"{count} past test{'' if count == 1 else 's'}"
