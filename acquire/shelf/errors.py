"""What can go wrong with the index; the runs themselves are never touched."""

from __future__ import annotations

from profiles.errors import BenchError


class ShelfError(BenchError):
    """The shelf cannot do what was asked for."""


class ServerAway(ShelfError):
    """The database of the shelf does not answer."""


class IndexBroken(ShelfError):
    """The index is damaged, or of another make: it is made again from the run folders."""


class NoSuchRun(ShelfError):
    """No run on the shelf is called so."""
