"""`steadyamps shelf`: finds runs, shows them, exports them."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Annotated

import typer

from acquire.cli import completing
from acquire.cli.voice import Voice
from acquire.typed_path import typed_path

if TYPE_CHECKING:
    from acquire.shelf.shelf import Shelf
    from acquire.shelf.wanted import Wanted

shelf_app = typer.Typer(
    name="shelf",
    help="Past runs: list, search, show, export.\n\nExample: steadyamps shelf list",
    no_args_is_help=True,
)

Serial = Annotated[str, typer.Option("--serial", metavar="S", help="Serial, or its beginning.")]
Job = Annotated[str, typer.Option("--job", metavar="J", help="Job number, or its beginning.")]
Unit = Annotated[str, typer.Option("--unit", metavar="TEXT", help="Words in the unit's text.")]
Since = Annotated[
    str, typer.Option("--since", metavar="DATE", help="First day (UTC): 2026-11-25, 2026-11, 2026.")
]
Until = Annotated[str, typer.Option("--until", metavar="DATE", help="Last day (UTC).")]
Outcome = Annotated[
    list[str] | None,
    typer.Option(
        "--outcome",
        metavar="O",
        autocompletion=completing.one_of("pass", "fail", "undecided", "stopped"),
        help="pass, fail, undecided, ...; may be repeated.",
    ),
]
Stage = Annotated[
    str,
    typer.Option(
        "--stage",
        metavar="P",
        autocompletion=completing.one_of("before", "after", "incoming", "reference"),
        help="before, after, incoming, reference, ...",
    ),
]
Rated = Annotated[
    str, typer.Option("--rated", metavar="TEXT", help="Words in the rated profile's title or name.")
]
Simulated = Annotated[
    bool | None, typer.Option("--simulated/--real", help="Only simulated runs, or only real ones.")
]
Limit = Annotated[int, typer.Option("--limit", metavar="N", min=1, max=1000, help="Runs a page.")]
PageNumber = Annotated[int, typer.Option("--page", metavar="K", min=1, help="Which page.")]
Text = Annotated[
    list[str] | None, typer.Argument(metavar="[TEXT]", help="Words in any of the run's names.")
]


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.add_typer(shelf_app)


@shelf_app.command("list")
def list_runs(context: typer.Context, limit: Limit = 20, page: PageNumber = 1) -> int:
    """List the runs on the shelf, newest first.

    Example: steadyamps shelf list --limit 50
    """
    from acquire.shelf.wanted import Wanted

    return _tell_page(context.obj, Wanted(), limit, page)


@shelf_app.command("search")
def search(
    context: typer.Context,
    text: Text = None,
    serial: Serial = "",
    job: Job = "",
    unit: Unit = "",
    since: Since = "",
    until: Until = "",
    outcome: Outcome = None,
    stage: Stage = "",
    rated: Rated = "",
    simulated: Simulated = None,
    limit: Limit = 20,
    page: PageNumber = 1,
) -> int:
    """Find runs of which all of this is true.

    Example: steadyamps shelf search --serial SF90 --outcome fail --since 2026-11
    """
    wanted = _wanted(
        text, serial=serial, job=job, unit=unit, since=since, until=until, outcome=outcome,
        stage=stage, rated=rated, simulated=simulated,
    )  # fmt: skip
    return _tell_page(context.obj, wanted, limit, page)


@shelf_app.command("show")
def show(
    context: typer.Context,
    run: Annotated[
        str,
        typer.Argument(
            metavar="RUN",
            autocompletion=completing.runs,
            help="Folder, its name, or its last four letters.",
        ),
    ],
) -> int:
    """Show one run: what it was and what came out.

    Also what it is to be compared with, and its seal.

    Example: steadyamps shelf show kqzd
    """
    from acquire.cli.exit_codes import Exit
    from acquire.cli.shelf_text import run_lines
    from acquire.record.seal_words import SealWords, look_at_seal
    from acquire.shelf.pairs import Partners

    voice: Voice = context.obj
    with _shelf(voice) as shelf:
        entry = shelf.find(run)
        partners = shelf.partners([entry]).get(entry.run_id, Partners())
    here = entry.is_here
    seal = look_at_seal(entry.path) if here else SealWords("unknown", entry.elsewhere)
    voice.result("\n".join(run_lines(entry, partners, seal)))
    told = {
        "before": partners.before.as_json() if partners.before else None,
        "after": partners.after.as_json() if partners.after else None,
    }
    sealed = {"state": seal.state, "words": seal.words}
    voice.document({"run": entry.as_json(), **told, "seal": sealed})
    return Exit.OK


@shelf_app.command("rebuild")
def rebuild(context: typer.Context) -> int:
    """Make the index again from the run folders.

    They stay as they are.

    Example: steadyamps shelf rebuild
    """
    from acquire.cli.exit_codes import Exit
    from acquire.cli.shelf_text import Counter

    voice: Voice = context.obj
    began_s = time.monotonic()
    with _shelf(voice, refresh=False) as shelf:
        counter = Counter("run folders read")
        changes = shelf.rebuild(tell=counter.of)
        counter.end()
        total = shelf.page(limit=1).total
    took_s = time.monotonic() - began_s
    voice.result(f"{total} runs on the shelf; {changes.read} folders read in {took_s:.1f} s.")
    for one in changes.set_aside:
        voice.result(f"  ! {one.folder}: {one.problem}")
    voice.document(
        {
            "runs": total,
            "read": changes.read,
            "unreadable": [one.as_json() for one in changes.set_aside],
            "seconds": round(took_s, 3),
        }
    )
    return Exit.OK


@shelf_app.command("export")
def export(
    context: typer.Context,
    text: Text = None,
    xlsx: Annotated[
        str | None, typer.Option("--xlsx", metavar="FILE", help="A workbook: runs and points.")
    ] = None,
    csv: Annotated[
        str | None, typer.Option("--csv", metavar="FILE", help="A CSV file; - is standard output.")
    ] = None,
    points: Annotated[
        bool, typer.Option("--points", help="With --csv: a line a steady point, not one a run.")
    ] = False,
    serial: Serial = "",
    job: Job = "",
    unit: Unit = "",
    since: Since = "",
    until: Until = "",
    outcome: Outcome = None,
    stage: Stage = "",
    rated: Rated = "",
    simulated: Simulated = None,
) -> int:
    """Write runs as CSV or XLSX.

    XLSX is for spreadsheets that write decimals with a comma.

    Example: steadyamps shelf export --xlsx november.xlsx --since 2026-11
    """
    from acquire.cli.exit_codes import Exit

    voice: Voice = context.obj
    _one_file(voice, xlsx=xlsx, csv=csv, points=points)
    wanted = _wanted(
        text, serial=serial, job=job, unit=unit, since=since, until=until, outcome=outcome,
        stage=stage, rated=rated, simulated=simulated,
    )  # fmt: skip
    _export(voice, wanted, xlsx=xlsx, csv=csv, points=points)
    return Exit.OK


def _one_file(voice: Voice, *, xlsx: str | None, csv: str | None, points: bool) -> None:
    """Refuse an export that does not say where to, or says it twice."""
    from acquire.errors import OrderError

    if xlsx is not None and csv is not None:
        raise OrderError("--xlsx and --csv stand together.", what_to_do="Give one at a time.")
    if xlsx is None and csv is None and points:
        raise OrderError(
            "--points makes a CSV file one line a steady point instead of one a run.",
            what_to_do="Say which file with it: --csv FILE --points (- is standard output).",
        )
    if xlsx is None and csv is None:
        raise OrderError(
            "No file is named.",
            what_to_do="Say --xlsx FILE for a spreadsheet, or --csv FILE (- is standard output).",
        )
    if voice.json and csv == "-":
        raise OrderError(
            "With --json standard output is one JSON document.", what_to_do="Name a file."
        )
    if xlsx is not None and points:
        voice.talk("A workbook holds runs and steady points anyway; --points is for --csv.")


def _export(
    voice: Voice, wanted: Wanted, *, xlsx: str | None, csv: str | None, points: bool
) -> None:
    from acquire.cli.shelf_text import Counter
    from acquire.shelf.exporting import points_to_csv, runs_to_csv, to_xlsx

    with _shelf(voice) as shelf:
        counter = Counter("runs")
        if xlsx is not None:
            done = to_xlsx(shelf, wanted, typed_path(xlsx), counter.at)
        else:
            path = str(csv) if csv == "-" else str(typed_path(str(csv)))
            write = points_to_csv if points else runs_to_csv
            done = write(shelf, wanted, path, counter.at)
        counter.end()
    file = xlsx if xlsx is not None else csv
    file = "standard output" if file == "-" else file
    readings = f", {done.points} readings of them" if xlsx is not None or points else ""
    voice.talk(f"{done.runs} runs{readings}, written to {file}.")
    if done.not_here:
        voice.talk(f"  ! {done.not_here} run folders cannot be read from here: no readings.")
    if done.left_out:
        voice.talk(f"  ! {done.left_out} readings did not fit on the sheet; use --csv --points.")
    voice.document(
        {
            "file": file,
            "runs": done.runs,
            "points": done.points,
            "not_here": done.not_here,
            "left_out": done.left_out,
        }
    )


def _wanted(
    text: list[str] | None,
    *,
    serial: str,
    job: str,
    unit: str,
    since: str,
    until: str,
    outcome: list[str] | None,
    stage: str,
    rated: str,
    simulated: bool | None,
) -> Wanted:
    from acquire.shelf.wanted import Wanted, outcome_of

    return Wanted(
        text=" ".join(text or ()),
        serial=serial,
        job=job,
        unit=unit,
        since=since,
        until=until,
        outcomes=tuple(outcome_of(one) for one in outcome or ()),
        stage=stage,
        rated=rated,
        simulated=simulated,
    ).checked()


@contextmanager
def _shelf(voice: Voice, *, refresh: bool = True) -> Iterator[Shelf]:
    from acquire.cli.places import shelf_to_read
    from acquire.shelf.shelf import open_shelf
    from acquire.shelf.where import server_of

    folder = shelf_to_read(voice)
    with open_shelf(folder, server_of(folder), refresh=refresh) as shelf:
        if shelf.away:
            voice.talk(shelf.away)
        yield shelf


def _tell_page(voice: Voice, wanted: Wanted, limit: int, number: int) -> int:
    from acquire.cli.exit_codes import Exit
    from acquire.cli.shelf_text import page_lines
    from acquire.shelf.pairs import Partners

    with _shelf(voice) as shelf:
        page = shelf.page(wanted, limit=limit, number=number)
        partners = shelf.partners(page.entries)
        unreadable = shelf.unreadable()
        away, place = shelf.away, shelf.folder
    voice.result("\n".join(page_lines(page, partners, place=place)))
    for one in unreadable:
        voice.talk(f"  ! {one.folder} cannot be listed: {one.problem}")
    runs = []
    for entry in page.entries:
        mine = partners.get(entry.run_id, Partners())
        runs.append({
            **entry.as_json(),
            "before": mine.before.run_id if mine.before else None,
            "after": mine.after.run_id if mine.after else None,
        })  # fmt: skip
    voice.document(
        {
            "shelf": str(place),
            "runs": runs,
            "total": page.total,
            "total_exact": page.exact,
            "page": page.number,
            "pages": page.pages,
            "limit": page.limit,
            "unreadable": [one.as_json() for one in unreadable],
            "server_away": away or None,
        }
    )
    return Exit.OK
