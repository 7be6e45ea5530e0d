"""report.html: one file that asks nothing of anybody, read by a browser and a checker."""

from __future__ import annotations

import html.parser
import importlib.util
import json
import os
import re
from pathlib import Path

import pytest

from acquire.record.run_header import Job
from acquire.report.html_paper import html_of
from acquire.report.material import material_of
from acquire.report.papers import report_paper, sheet_paper, tag_paper
from tests.report.outside import chromium, said_by
from tests.report.runs import WEAK, Order, add_photo, make_run, settings

EVIL = '"><script>alert(1)</script><img src=http://evil.invalid/x onerror=alert(2)>\x1b[31m\u202e'


def _report(tmp_path: Path, order: Order | None = None, **report: str) -> Path:
    run = make_run(tmp_path / "shelf", order)
    add_photo(run, tmp_path)
    page = tmp_path / "report.html"
    paper = report_paper(material_of(run, settings(**report)))
    page.write_text(html_of(paper), encoding="utf-8")
    return page


class _Tags(html.parser.HTMLParser):
    """Collects tags, and complains of one closed that was not open."""

    VOID = frozenset({"meta", "img", "br", "link", "path", "rect", "circle", "wbr"})

    def __init__(self, text: str) -> None:
        super().__init__()
        self.names: list[str] = []
        self.links: list[str] = []
        self.handlers: list[str] = []
        self.headings: list[int] = []
        self.open: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.names.append(tag)
        self.links += [value or "" for name, value in attrs if name in ("src", "href", "action")]
        self.handlers += [name for name, _ in attrs if name.startswith("on")]
        if re.fullmatch(r"h\d", tag):
            self.headings.append(int(tag[1]))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag not in self.VOID:
            assert self.open.pop() == tag


def test_the_file_needs_no_script_and_no_network(tmp_path: Path) -> None:
    tags = _Tags(_report(tmp_path).read_text(encoding="utf-8"))
    assert "script" not in tags.names
    assert "link" not in tags.names
    assert tags.links
    assert all(link.startswith("data:image/png;base64,") for link in tags.links)
    assert tags.open == []


def test_the_security_policy_forbids_what_is_not_there_anyway(tmp_path: Path) -> None:
    text = _report(tmp_path).read_text(encoding="utf-8")
    assert "default-src &#x27;none&#x27;; img-src data:" in text


def test_headings_begin_at_one_and_leave_no_level_out(tmp_path: Path) -> None:
    levels = _Tags(_report(tmp_path).read_text(encoding="utf-8")).headings
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert set(levels[1:]) == {2}


@pytest.mark.parametrize("place", ["serial", "unit", "operator", "job"])
def test_nothing_typed_for_a_job_becomes_markup(tmp_path: Path, place: str) -> None:
    order = Order(job=Job(number=EVIL, customer=EVIL, complaint=EVIL))
    if place != "job":
        order = Order()
        setattr(order, place, EVIL)
    text = _report(tmp_path, order).read_text(encoding="utf-8")
    tags = _Tags(text)
    assert "script" not in tags.names
    assert tags.handlers == []
    assert all(link.startswith("data:") for link in tags.links)
    assert "\x1b" not in text
    assert "\u202e" not in text
    assert "&lt;script&gt;alert(1)" in text.replace("<wbr>", "")


def test_words_in_the_style_sheet_cannot_end_it(tmp_path: Path) -> None:
    text = _report(tmp_path, Order(serial='"; } </style><script>')).read_text(encoding="utf-8")
    style = text[text.index("<style>") : text.index("</style>")]
    assert "@bottom-right" in style
    assert "<script" not in style
    assert _Tags(text).names.count("style") == 1


def test_a_note_and_a_picture_that_is_none_do_no_harm(tmp_path: Path) -> None:
    from acquire.record.add_note import add_note
    from tests.record.runs import QUICK

    run = make_run(tmp_path / "shelf")
    bad = tmp_path / "photo.svg"
    bad.write_text("<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>")
    add_note(run, EVIL, who=EVIL, attach=[bad], files=QUICK)
    tags = _Tags(html_of(report_paper(material_of(run, settings()))))
    assert "script" not in tags.names
    assert tags.links == []


def test_sheet_and_tag_are_whole_files_too(tmp_path: Path) -> None:
    material = material_of(make_run(tmp_path), settings())
    for paper in (sheet_paper(material), tag_paper(material)):
        tags = _Tags(html_of(paper))
        assert tags.headings == [1]
        assert tags.open == []


OF_THE_BROWSER = re.compile(r"https?://([\w-]+\.)*(googleapis|google|gvt1|gstatic)\.com[:/]")
"""What the browser asks for by itself, page or no page."""


@pytest.mark.server
def test_a_browser_sends_nothing_and_complains_of_nothing(tmp_path: Path) -> None:
    order = Order(amps=dict(WEAK), simulated=True, job=Job(number="J-1", customer=EVIL))
    page, log = _report(tmp_path, order, language="de"), tmp_path / "net.json"
    seen = chromium("--enable-logging=stderr", f"--log-net-log={log}", "--dump-dom", page=page)
    assert "Nicht bestanden" in seen.stdout
    assert "CONSOLE" not in seen.stderr
    logged = log.read_text(encoding="utf-8")
    assert page.name in logged
    asked = re.findall(r'"url":"((?:http|ws)s?://[^"]*)"', logged)
    assert [url for url in asked if not OF_THE_BROWSER.match(url)] == []


@pytest.mark.server
def test_a_browser_would_be_caught_sending(tmp_path: Path) -> None:
    """The check above can fail: a page that does ask somebody is seen to."""
    page, log = tmp_path / "asks.html", tmp_path / "net.json"
    page.write_text("<img src='http://evil.invalid/x'><script>console.log('said')</script>")
    seen = chromium("--enable-logging=stderr", f"--log-net-log={log}", "--dump-dom", page=page)
    assert "CONSOLE" in seen.stderr
    assert '"url":"http://evil.invalid/x"' in log.read_text(encoding="utf-8")


@pytest.mark.server
def test_nothing_is_wider_than_a_phone_but_what_may_be_scrolled(tmp_path: Path) -> None:
    page = _report(tmp_path)
    text = page.read_text(encoding="utf-8").replace("default-src &#x27;none&#x27;;", "")
    probe = (
        "<script>document.title = JSON.stringify({page: document.documentElement.scrollWidth,"
        " window: innerWidth})</script></body>"
    )
    page.write_text(text.replace("</body>", probe), encoding="utf-8")
    seen = chromium("--window-size=500,900", "--dump-dom", page=page)
    found = re.search(r"<title>(\{.*?\})</title>", seen.stdout)
    assert found is not None
    widths = json.loads(found[1])
    assert widths["page"] <= widths["window"] <= 500


@pytest.mark.server
@pytest.mark.parametrize(("paper", "points"), [("A4", (595, 842)), ("letter", (612, 792))])
def test_it_prints_on_a4_and_letter_with_job_and_page_on_each_page(
    tmp_path: Path, paper: str, points: tuple[int, int]
) -> None:
    page, printed = _report(tmp_path, Order(simulated=True), paper=paper), tmp_path / "print.pdf"
    chromium("--no-pdf-header-footer", f"--print-to-pdf={printed}", page=page)
    assert printed.exists()
    size = re.search(r"Page size: +([\d.]+) x ([\d.]+)", said_by("pdfinfo", printed))
    assert size is not None
    assert (round(float(size[1])), round(float(size[2]))) == points
    pages = said_by("pdftotext", "-layout", printed, "-").split("\f")[:-1]
    assert len(pages) >= 3
    for number, text in enumerate(pages, 1):
        assert f"Page {number} of {len(pages)}" in text
        assert "Job J-1044, Serial no. SF90-0417" in text
        assert "SIMULATED" in text


@pytest.mark.server
def test_a_checker_of_accessibility_finds_nothing(tmp_path: Path) -> None:
    """axe-core (Deque Systems) with its rules for WCAG 2.1 A and AA."""
    found = importlib.util.find_spec("axe_core_python")
    if found is None or found.origin is None:
        if os.environ.get("STEADYAMPS_CI"):
            pytest.fail("axe-core-python is not installed, and STEADYAMPS_CI asks for it")
        pytest.skip("axe-core-python is not installed here")
    axe = Path(found.origin).with_name("axe.min.js").read_text(encoding="utf-8")
    page = _report(tmp_path, Order(amps=dict(WEAK), simulated=True), language="de")
    text = page.read_text(encoding="utf-8")
    text = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", text)
    run = (
        "axe.run({runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'best-practice']}).then("
        "found => {document.title = 'AXE' + JSON.stringify({passes: found.passes.length, wrong:"
        " found.violations.map(v => [v.id, v.nodes.map(n => n.html)])})})"
    )
    script = f"<script>{axe}</script><script>{run}</script></body>"
    page.write_text(text.replace("</body>", script), encoding="utf-8")
    seen = chromium("--virtual-time-budget=20000", "--dump-dom", page=page)
    result = re.search(r"<title>AXE(\{.*?\})</title>", seen.stdout, re.DOTALL)
    assert result is not None
    answer = json.loads(result[1].replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&"))
    assert answer["passes"] > 15
    assert answer["wrong"] == []
