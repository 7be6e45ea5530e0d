"""A sheet and a tag are one page, whatever stands on them, from the PDF and from a browser."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

from acquire.record.run_header import Job
from acquire.report.blocks import Paper
from acquire.report.html_fit import letters_for
from acquire.report.html_paper import html_of
from acquire.report.material import Material, material_of
from acquire.report.papers import sheet_paper, tag_paper
from acquire.report.pdf_paper import pdf_of
from profiles.settings import Settings
from tests.report.outside import chromium, said_by
from tests.report.runs import GOOD, Order, make_run, tiny_png

ADDRESS = "Harbour Street 7, Building C, second yard\nOld Quay\n12345 Harbour Town"
LONG_ADDRESS = "\n".join(
    f"Line {k} of an address that goes on, Harbour Street 7" for k in range(12)
)
STOPPED = "the operator typed stop."


@dataclass(frozen=True)
class Case:
    """What makes a sheet long."""

    name: str
    order: Order
    address: str
    marked: bool = False
    """Logo and broken seal besides."""


PLAIN = Case("plain", Order(), ADDRESS)
FULL = Case(
    "full",
    Order(
        simulated=True,
        stopped=STOPPED,
        amps=dict(list(GOOD.items())[:3]),
        unit="W" * 5000,
        serial="S" * 48,
        job=Job(number="J" * 48),
    ),
    ADDRESS,
    marked=True,
)
LONG = Case(
    "long",
    Order(
        simulated=True,
        stopped=STOPPED,
        rated=None,
        rule=None,
        amps={600.0 + 100 * k: 40.0 + 0.8 * k for k in range(30)},
    ),
    LONG_ADDRESS,
    marked=True,
)


@cache
def _run(shelf: Path, name: str) -> Path:
    case = next(one for one in (PLAIN, FULL, LONG) if one.name == name)
    run = make_run(shelf / name, case.order)
    if case.marked:
        (run / "curve.csv").write_bytes((run / "curve.csv").read_bytes() + b"\n")
    return run


@pytest.fixture(scope="module")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("shelf")


def _material(shelf: Path, case: Case, language: str, paper: str) -> Material:
    logo = shelf / "logo.png"
    logo.write_bytes(tiny_png(64, 48))
    workshop = {"name": "Quay Electrics and Rewinding Workshop (invented)", "address": case.address}
    table = {
        "workshop": workshop | ({"logo": str(logo)} if case.marked else {}),
        "report": {"language": language, "paper": paper},
    }
    return material_of(_run(shelf, case.name), Settings.model_validate(table))


def _pages(file: Path) -> int:
    found = re.search(r"Pages: +(\d+)\n", said_by("pdfinfo", file))
    assert found is not None
    return int(found[1])


def _words(file: Path) -> str:
    return " ".join(said_by("pdftotext", "-layout", file, "-").split())


def _printed(paper: Paper, where: Path) -> Path:
    page, printed = where / f"{paper.name}.html", where / f"{paper.name}-printed.pdf"
    page.write_text(html_of(paper), encoding="utf-8")
    chromium("--no-pdf-header-footer", f"--print-to-pdf={printed}", page=page)
    return printed


@pytest.mark.parametrize("case", [PLAIN, FULL, LONG], ids=lambda case: case.name)
@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_sheet_pdf_is_one_page(
    shelf: Path, tmp_path: Path, case: Case, language: str, paper: str
) -> None:
    file = tmp_path / "sheet.pdf"
    file.write_bytes(pdf_of(sheet_paper(_material(shelf, case, language, paper))).data)
    assert _pages(file) == 1
    assert _ends_with_the_run(_words(file))


def _ends_with_the_run(words: str) -> bool:
    """The last line of the sheet names the run: nothing was cut off."""
    return (
        re.search(r"(whole report has|ganze Bericht enthält).*2026-09-14T083000Z", words)
        is not None
    )


@pytest.mark.server
@pytest.mark.parametrize(
    ("case", "language", "paper"),
    [
        (PLAIN, "en", "A4"),
        (PLAIN, "de", "letter"),
        (FULL, "de", "A4"),
        (FULL, "en", "letter"),
        (FULL, "de", "letter"),
        (LONG, "en", "A4"),
        (LONG, "de", "letter"),
    ],
    ids=lambda one: one.name if isinstance(one, Case) else one,
)
def test_sheet_printed_by_a_browser_is_one_page(
    shelf: Path, tmp_path: Path, case: Case, language: str, paper: str
) -> None:
    printed = _printed(sheet_paper(_material(shelf, case, language, paper)), tmp_path)
    assert _pages(printed) == 1
    assert _ends_with_the_run(_words(printed))


@pytest.mark.parametrize("case", [PLAIN, FULL], ids=lambda case: case.name)
@pytest.mark.parametrize("language", ["en", "de"])
def test_tag_pdf_is_one_page(shelf: Path, tmp_path: Path, case: Case, language: str) -> None:
    file = tmp_path / "tag.pdf"
    file.write_bytes(pdf_of(tag_paper(_material(shelf, case, language, "A4"))).data)
    assert _pages(file) == 1


@pytest.mark.server
@pytest.mark.parametrize(("case", "language"), [(PLAIN, "en"), (FULL, "de")])
def test_tag_printed_by_a_browser_is_one_small_page(
    shelf: Path, tmp_path: Path, case: Case, language: str
) -> None:
    printed = _printed(tag_paper(_material(shelf, case, language, "A4")), tmp_path)
    assert _pages(printed) == 1
    assert re.search(r"Page size: +28[23]\.\d+ x 17\d\.", said_by("pdfinfo", printed))
    words = _words(printed)
    assert "2026" in words
    assert ("SIMULIERT · ABGEBROCHEN · SIEGEL GEBROCHEN" in words) == case.marked


def test_letters_grow_smaller_only_where_there_is_much_to_say(shelf: Path) -> None:
    plain = letters_for(sheet_paper(_material(shelf, PLAIN, "en", "A4")))
    full = letters_for(sheet_paper(_material(shelf, FULL, "de", "letter")))
    assert 8.5 <= plain <= 9.0
    assert 6.0 <= full < plain
    assert letters_for(tag_paper(_material(shelf, PLAIN, "en", "A4"))) == 8.5
