"""Writes the papers of a run: into its folder, where they lie outside the seal, or elsewhere."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from pathlib import Path

from acquire.record.files import DISK, replace_file, translated
from acquire.report.blocks import Paper
from acquire.report.html_paper import html_of
from acquire.report.material import material_of
from acquire.report.papers import logo_problem, report_paper, sheet_paper, tag_paper
from acquire.report.part_engine import Engine
from acquire.report.pdf_paper import pdf_of
from profiles.settings import Settings


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which papers are wanted besides the report, and what goes into it."""

    before: Path | None = None
    engine: Engine | None = None
    sheet: bool = False
    tag: bool = False


@dataclass(frozen=True, slots=True)
class Written:
    """What was written, and what had to be left out."""

    files: tuple[Path, ...]
    marks: tuple[str, ...]
    """What is said on every page."""
    remarks: tuple[str, ...]


def write_papers(
    run: Path,
    out: Path,
    *,
    settings: Settings,
    wanted: Wanted | None = None,
    trusted: Collection[str] = (),
) -> Written:
    """Write report.html and report.pdf, and the sheet and the tag where they are wanted.

    Raises:
        RunFileError: A run cannot be read, or a file cannot be written.
        ProfileError: There is no such language.
    """
    wanted = wanted or Wanted()
    material = material_of(run, settings, trusted)
    before = material_of(wanted.before, settings, trusted) if wanted.before else None
    makers: list[Callable[[], Paper]] = [
        lambda: report_paper(material, before=before, engine=wanted.engine)
    ]
    makers += [lambda: sheet_paper(material)] if wanted.sheet else []
    makers += [lambda: tag_paper(material)] if wanted.tag else []
    papers = [make() for make in makers]
    made = [(paper, html_of(paper), pdf_of(paper)) for paper in papers]
    with translated(out):
        out.mkdir(parents=True, exist_ok=True)
    files: list[Path] = []
    for paper, html, pdf in made:
        for ending, data in (("html", html.encode()), ("pdf", pdf.data)):
            path = out / f"{paper.name}.{ending}"
            replace_file(DISK, path, data)
            files.append(path)
    remarks = [logo_problem(material), *(word for _, _, pdf in made for word in pdf.remarks)]
    return Written(tuple(files), papers[0].banners, tuple(dict.fromkeys(filter(None, remarks))))
