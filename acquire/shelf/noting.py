"""Writing into the index: what is known of a shelf, and one entry for each run."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from sqlalchemy import Connection, Table, delete, select
from sqlalchemy.dialects import postgresql, sqlite

from acquire.shelf.entry import COLUMNS, RunEntry, SetAside
from acquire.shelf.finding import chunks
from acquire.shelf.reading import Ground, set_aside
from acquire.shelf.search_keys import last_letters
from acquire.shelf.tables import aside, runs, seen


@dataclass(frozen=True, slots=True)
class Known:
    """What the index knows of a folder."""

    stamp: str


@dataclass(frozen=True, slots=True)
class _Holder:
    """The folder that is listed as a run."""

    shelf: str
    folder: str
    state: str


# ---- what is known -------------------------------------------------------------------------


def seen_at(connection: Connection, ground: Ground) -> int | None:
    """The shelf's time of change when this bench last listed it [ns]."""
    query = select(seen.c.changed_ns).where(
        seen.c.shelf == ground.shelf, seen.c.bench == ground.bench
    )
    return connection.execute(query).scalar()


def note_seen(connection: Connection, ground: Ground, changed_ns: int | None) -> None:
    """Remember the shelf's time of change; None: list it again next time."""
    row = {"shelf": ground.shelf, "bench": ground.bench, "changed_ns": changed_ns}
    _put(connection, seen, [row])


def folders_of(connection: Connection, ground: Ground) -> dict[str, str]:
    """Every folder of this shelf that the index knows, and which bench noted it."""
    found: dict[str, str] = {}
    for table in (runs, aside):
        query = select(table.c.folder, table.c.bench).where(table.c.shelf == ground.shelf)
        found.update((row.folder, row.bench) for row in connection.execute(query))
    return found


def open_folders(connection: Connection, ground: Ground) -> dict[str, Known]:
    """Folders of this shelf that may have changed since they were read.

    A second copy is among them when the run it is a copy of is no longer listed.
    """
    running = select(runs.c.folder, runs.c.stamp).where(
        runs.c.may_change, runs.c.shelf == ground.shelf
    )
    listed = select(runs.c.run_id).where(runs.c.run_id == aside.c.run_id)
    unreadable = select(aside.c.folder, aside.c.stamp).where(
        aside.c.shelf == ground.shelf, ~listed.exists()
    )
    return {
        row.folder: Known(row.stamp)
        for query in (running, unreadable)
        for row in connection.execute(query)
    }


# ---- writing -------------------------------------------------------------------------------


def strike(connection: Connection, ground: Ground, folders: Sequence[str]) -> None:
    """Forget folders of this shelf."""
    for table in (runs, aside):
        for some in chunks(folders):
            connection.execute(
                delete(table).where(table.c.shelf == ground.shelf, table.c.folder.in_(some))
            )


def note(
    connection: Connection,
    ground: Ground,
    entries: Sequence[RunEntry],
    unreadable: Sequence[SetAside],
    *,
    take_over: bool,
) -> list[SetAside]:
    """Write what was read; the second folders of a run, which are not listed, are given back.

    `take_over`: a run that is listed from another shelf is listed from this one instead.
    """
    listed, copies = _once_each(connection, ground, entries, take_over=take_over)
    set_aside_now = [*unreadable, *copies]
    folders = [one.folder for one in entries] + [one.folder for one in set_aside_now]
    strike(connection, ground, folders)
    _put(connection, runs, [_row(one) for one in sorted(listed, key=lambda one: one.run_id)])
    _put(connection, aside, [asdict(one) for one in set_aside_now])
    return copies


def _once_each(
    connection: Connection, ground: Ground, entries: Sequence[RunEntry], *, take_over: bool
) -> tuple[list[RunEntry], list[SetAside]]:
    """One folder for each run: the others are copies."""
    holders = _holders(connection, [one.run_id for one in entries])
    listed: dict[str, RunEntry] = {}
    copies: list[SetAside] = []
    for one in entries:
        holder = holders.get(one.run_id)
        if holder is not None and not _takes(one, holder, ground, take_over=take_over):
            copies.append(_copy(ground, one.folder, one.run_id, holder))
            continue
        if holder is not None and _beside(holder, one, ground):
            copies.append(_copy(ground, holder.folder, one.run_id, one))
        listed[one.run_id] = one
        holders[one.run_id] = _Holder(one.shelf, one.folder, one.state)
    return list(listed.values()), copies


def _holders(connection: Connection, run_ids: Sequence[str]) -> dict[str, _Holder]:
    query = select(runs.c.run_id, runs.c.shelf, runs.c.folder, runs.c.state)
    return {
        row.run_id: _Holder(row.shelf, row.folder, row.state)
        for some in chunks(run_ids)
        for row in connection.execute(query.where(runs.c.run_id.in_(some)))
    }


def _takes(one: RunEntry, holder: _Holder, ground: Ground, *, take_over: bool) -> bool:
    """True when `one` is to be listed in the holder's place."""
    if holder.shelf != one.shelf:
        return take_over or (holder.state == "running" and one.state != "running")
    if not _beside(holder, one, ground):
        return True
    return (one.folder != one.run_id, one.folder) < (holder.folder != one.run_id, holder.folder)


def _beside(holder: _Holder, one: RunEntry, ground: Ground) -> bool:
    """True when the holder is another folder on this shelf, and there."""
    if holder.shelf != one.shelf or holder.folder == one.folder:
        return False
    return (ground.folder / holder.folder).is_dir()


def _copy(ground: Ground, folder: str, run_id: str, holder: RunEntry | _Holder) -> SetAside:
    where = holder.folder if holder.shelf == ground.shelf else f"{holder.folder} on another shelf"
    # Without a stamp it is read again as soon as the other one is gone.
    return set_aside(ground, folder, f"is a copy of {where}, which is listed.", run_id=run_id)


def _row(entry: RunEntry) -> dict[str, Any]:
    row = {name: getattr(entry, name) for name in COLUMNS}
    return {**row, "last_letters": last_letters(entry.run_id)}


def _put(connection: Connection, table: Table, rows: Sequence[dict[str, Any]]) -> None:
    """Insert, or replace what has the same key: never two lines for one thing."""
    if not rows:
        return
    dialect = sqlite if connection.dialect.name == "sqlite" else postgresql
    keys = [column.name for column in table.primary_key]
    new = dialect.insert(table)
    others = {c.name: new.excluded[c.name] for c in table.c if not c.primary_key}
    connection.execute(new.on_conflict_do_update(index_elements=keys, set_=others), rows)
