"""The report of a run, written where the run is."""

from __future__ import annotations

from pathlib import Path


def write_report(folder: Path, before: Path | None = None) -> str:
    """Write report.html and report.pdf into the run's folder; a sentence that says so.

    Raises:
        BenchError: If the run or the settings cannot be used.
    """
    from acquire.record.keys import trusted_fingerprints
    from acquire.report.write import Wanted, write_papers
    from profiles.catalogue import load_settings

    settings = load_settings()
    written = write_papers(
        folder,
        folder,
        settings=settings,
        wanted=Wanted(before),
        trusted=trusted_fingerprints(settings.seal.trust),
    )
    names = " and ".join(file.name for file in written.files)
    remarks = " ".join((*written.marks, *written.remarks))
    return f"Written: {names} in {folder}. {remarks}".rstrip()
