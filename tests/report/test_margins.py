"""However long what was typed, nothing runs off the page or through the QR code."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from acquire.record.add_note import add_note
from acquire.record.run_header import Job
from acquire.report.blocks import Paper
from acquire.report.html_paper import html_of
from acquire.report.material import material_of
from acquire.report.papers import report_paper, sheet_paper, tag_paper
from acquire.report.pdf_paper import pdf_of
from tests.record.runs import QUICK
from tests.report.outside import chromium, said_by
from tests.report.runs import Order, make_run, settings

MAKERS = {"report": report_paper, "sheet": sheet_paper, "tag": tag_paper}
MARGIN_POINTS = {"report": 40.0, "sheet": 40.0, "tag": 10.0}
"""A little less than the margins themselves."""


def _paper(shelf: Path, name: str) -> Paper:
    word = "W" * 5000
    job = Job(number="J" * 48, customer=word, fitted_to=word, complaint=word, claim=word)
    order = Order(unit=word, serial="S" * 48, operator=word, stage=word, simulated=True, job=job)
    run = make_run(shelf, order)
    add_note(run, "N" * 900, who="O" * 200, files=QUICK)
    return MAKERS[name](material_of(run, settings()))


def _boxes(file: Path) -> list[tuple[float, list[tuple[float, float, str]]]]:
    """Of each page its width, and every word with its left and right edge."""
    text = said_by("pdftotext", "-bbox", file, "-")
    text = re.sub(r'<!DOCTYPE[^>]*>| xmlns="[^"]*"', "", text)
    pages = []
    for page in ET.fromstring(text).iter("page"):
        words = [
            (float(word.get("xMin", "0")), float(word.get("xMax", "0")), word.text or "")
            for word in page.iter("word")
        ]
        pages.append((float(page.get("width", "0")), words))
    return pages


def _outside(file: Path, name: str) -> list[str]:
    margin = MARGIN_POINTS[name]
    return [
        f"page {number}: {text[:20]} ends at {right:.0f} of {width:.0f}"
        for number, (width, words) in enumerate(_boxes(file), 1)
        for left, right, text in words
        if right > width - margin or left < margin
    ]


@pytest.mark.parametrize("name", MAKERS)
def test_all_words_of_the_pdf_lie_within_its_margins(tmp_path: Path, name: str) -> None:
    file = tmp_path / "paper.pdf"
    file.write_bytes(pdf_of(_paper(tmp_path / "shelf", name)).data)
    assert _outside(file, name) == []
    if name != "report":
        assert _reach_of_typed(file) < (0.8 if name == "sheet" else 0.64)


@pytest.mark.server
@pytest.mark.parametrize("name", MAKERS)
def test_all_words_printed_by_a_browser_lie_within_the_margins(tmp_path: Path, name: str) -> None:
    page, file = tmp_path / "paper.html", tmp_path / "printed.pdf"
    page.write_text(html_of(_paper(tmp_path / "shelf", name)), encoding="utf-8")
    chromium("--no-pdf-header-footer", f"--print-to-pdf={file}", page=page)
    assert _outside(file, name) == []
    if name != "report":
        assert _reach_of_typed(file) < (0.8 if name == "sheet" else 0.64)


def _reach_of_typed(file: Path) -> float:
    """How far right the typed words reach, as a share of the width; the QR code begins there."""
    width, words = _boxes(file)[0]
    typed = [right for _, right, text in words if re.fullmatch(r"([WSJ]\u200b?){4,}…?", text)]
    below_head = [right for right in typed if right < width]
    assert below_head
    return max(below_head) / width
