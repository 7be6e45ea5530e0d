"""Where a page ends: no note, last row or heading is left alone, wherever that is."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pytest

from acquire.report.blocks import Beside, Block, Paper, Paragraph, Table, Words
from acquire.report.html_paper import WHOLE_ROWS, html_of
from acquire.report.material import material_of
from acquire.report.papers import report_paper
from acquire.report.pdf_paper import TEMPLATE, pdf_of
from profiles.settings import Settings
from tests.report.outside import chromium, said_by
from tests.report.runs import EIGHT, GOOD, WEAK, Order, add_photo, make_run

MANY = {1000.0 + 100.0 * k: 30.0 + k for k in range(40)}


def _paper(shelf: Path, order: Order, address_lines: int, language: str) -> Paper:
    run = make_run(shelf / "run", order)
    add_photo(run, shelf)
    before = make_run(shelf / "before", Order(amps=dict(WEAK), stage="before"))
    workshop = {"name": "Quay Electrics (invented)", "address": "Quay 7\n" * address_lines}
    settings = Settings.model_validate({"workshop": workshop, "report": {"language": language}})
    return report_paper(material_of(run, settings), before=material_of(before, settings))


def _pages(file: Path) -> list[list[str]]:
    """The lines of each page, without running head, banner and foot."""
    pages = said_by("pdftotext", "-layout", file, "-").split("\f")[:-1]
    return [[line for line in map(_plain, page.splitlines()) if line][1:-1] for page in pages]


def _plain(line: str) -> str:
    return " ".join(line.split())


def _tables(paper: Paper) -> Iterator[Table]:
    for section in paper.sections:
        yield from _tables_in(section.blocks)


def _tables_in(blocks: tuple[Block, ...]) -> Iterator[Table]:
    for block in blocks:
        if isinstance(block, Table):
            yield block
        elif isinstance(block, Beside):
            yield from _tables_in(block.left + block.right)


def _notes(paper: Paper) -> list[str]:
    """How each note begins: those of tables, and small paragraphs."""
    found = [table.note.text for table in _tables(paper) if table.note]
    blocks = [block for section in paper.sections for block in section.blocks]
    said = [block.words for block in blocks if isinstance(block, Paragraph)]
    found += [words[0].text for words in said if {one.mark for one in words} == {"small"}]
    return [_plain(text)[:40] for text in found]


def _leading(paper: Paper) -> Iterator[tuple[Words, ...]]:
    """Paragraphs right before a table."""
    for section in paper.sections:
        for block, following in pairwise(section.blocks):
            if isinstance(block, Paragraph) and isinstance(following, Table):
                yield block.words


def _lonely(paper: Paper, pages: list[list[str]]) -> list[str]:
    """What stands where it should not."""
    heads = {section.title for section in paper.sections if section.title}
    heads |= {table.caption.text for table in _tables(paper)}
    heads |= {_plain(" ".join(one.text for one in words)) for words in _leading(paper)}
    notes = tuple(_notes(paper))
    wrong = [
        f"page {k} ends with {page[-1]}" for k, page in enumerate(pages, 1) if page[-1] in heads
    ]
    wrong += [
        f"page {k} begins with the note {page[0]}"
        for k, page in enumerate(pages, 1)
        if page[0].startswith(notes)
    ]
    for table in _tables(paper):
        if table.note and len(table.rows) <= WHOLE_ROWS:
            first, last = (_page_of(text, pages) for text in (table.caption.text, table.note.text))
            if first & last == set():
                wrong.append(f"{table.caption.text}: on {first}, its note on {last}")
    return wrong


def _page_of(text: str, pages: list[list[str]]) -> set[int]:
    start = _plain(text)[:40]
    return {k for k, page in enumerate(pages, 1) if any(line.startswith(start) for line in page)}


@pytest.mark.parametrize("address_lines", range(1, 26, 3))
def test_nothing_is_left_alone_in_the_pdf(tmp_path: Path, address_lines: int) -> None:
    """The head of the paper pushes all else down, line by line."""
    order = Order(amps=dict(EIGHT)) if address_lines % 2 else Order(amps=dict(GOOD))
    paper = _paper(tmp_path, order, address_lines, "de" if address_lines % 4 == 1 else "en")
    file = tmp_path / "report.pdf"
    file.write_bytes(pdf_of(paper).data)
    pages = _pages(file)
    assert len(pages) >= 3
    assert _lonely(paper, pages) == []


@pytest.mark.server
@pytest.mark.parametrize(("address_lines", "language"), [(1, "en"), (5, "de"), (9, "en")])
def test_nothing_is_left_alone_when_a_browser_prints(
    tmp_path: Path, address_lines: int, language: str
) -> None:
    paper = _paper(tmp_path, Order(amps=dict(EIGHT)), address_lines, language)
    page, file = tmp_path / "report.html", tmp_path / "printed.pdf"
    page.write_text(html_of(paper), encoding="utf-8")
    chromium("--no-pdf-header-footer", f"--print-to-pdf={file}", page=page)
    assert _lonely(paper, _pages(file)) == []


@pytest.mark.parametrize("address_lines", [1, 4, 7, 10])
def test_a_long_table_never_leaves_its_last_row_alone(tmp_path: Path, address_lines: int) -> None:
    paper = _paper(tmp_path, Order(amps=dict(MANY), rated=None, rule=None), address_lines, "en")
    file = tmp_path / "report.pdf"
    file.write_bytes(pdf_of(paper).data)
    pages = _pages(file)
    assert _lonely(paper, pages) == []
    speeds = next(table for table in _tables(paper) if table.note and len(table.rows) == len(MANY))
    assert speeds.note is not None
    lines = [line for page in pages for line in page]
    at = lines.index(next(one for one in lines if one.startswith(_plain(speeds.note.text)[:40])))
    (page,) = _page_of(speeds.note.text, pages)
    before = pages[page - 1][: pages[page - 1].index(lines[at])]
    assert [line.split()[0] for line in before[-2:]] == ["4800", "4900"]


def test_both_renderings_keep_tables_of_the_same_length_whole() -> None:
    assert f"#let whole-rows = {WHOLE_ROWS}\n" in TEMPLATE.read_text(encoding="utf-8")
