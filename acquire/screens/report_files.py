"""The papers of a run, written where the run is: report, sheet to sign, tag to tie on."""

from __future__ import annotations

from pathlib import Path


def write_report(folder: Path, before: Path | None = None) -> str:
    """Write report, sheet and tag into the run's folder; a sentence that says so.

    Raises:
        BenchError: If the run or the settings cannot be used.
    """
    from acquire.record.signing import known_keys
    from acquire.report.write import Wanted, write_papers
    from profiles.catalogue import load_settings

    settings = load_settings()
    written = write_papers(
        folder,
        folder,
        settings=settings,
        wanted=Wanted(before, sheet=True, tag=True),
        trusted=known_keys(),
    )
    names = ", ".join(dict.fromkeys(file.stem for file in written.files))
    remarks = " ".join((*written.marks, *written.remarks))
    return f"Written: {names} (HTML and PDF) in {folder}. {remarks}".rstrip()
