"""report.pdf: PDF/A-3 and PDF/UA with the sealed record inside, looked at by other programs."""

from __future__ import annotations

import json
import re
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from acquire.record.add_note import add_note
from acquire.record.run_header import Job
from acquire.record.seal import SEAL_FILE
from acquire.record.verify import verify
from acquire.report.material import material_of
from acquire.report.papers import report_paper, sheet_paper, tag_paper
from acquire.report.pdf_paper import pdf_of
from tests.record.runs import QUICK, finished_run
from tests.report.outside import said_by
from tests.report.runs import WEAK, Order, add_photo, make_run, settings, tiny_png

EVIL = '#panic("x") $a$ *b* `c` <label> @ref \\ // /* #read("/etc/passwd") [ ] { } "'


def _pdf(run: Path, where: Path, **report: str) -> Path:
    file = where / "report.pdf"
    file.write_bytes(pdf_of(report_paper(material_of(run, settings(**report)))).data)
    return file


def _text(file: Path) -> str:
    return " ".join(said_by("pdftotext", "-layout", file, "-").split())


def _with_pdfdetach(file: Path, out: Path) -> Path:
    out.mkdir()
    said_by("pdfdetach", "-saveall", "-o", out, file)
    return out


def _with_qpdf(file: Path, out: Path) -> Path:
    out.mkdir()
    listed = said_by("qpdf", "--list-attachments", file).splitlines()
    for key in (line.partition(" -> ")[0] for line in listed):
        command = ["qpdf", f"--show-attachment={key}", str(file)]
        (out / key).write_bytes(subprocess.run(command, capture_output=True, check=True).stdout)
    return out


TOOLS = pytest.mark.parametrize("taken_out", [_with_pdfdetach, _with_qpdf])


@TOOLS
def test_the_sealed_record_comes_out_of_the_pdf_and_its_seal_holds(
    tmp_path: Path, taken_out: Callable[[Path, Path], Path]
) -> None:
    run = make_run(tmp_path / "shelf")
    add_photo(run, tmp_path)
    out = taken_out(_pdf(run, tmp_path), tmp_path / "out")
    sealed = {p.relative_to(run).as_posix(): p for p in run.rglob("*") if p.is_file()}
    taken = {path.name.replace("+", "/"): path for path in out.iterdir()}
    assert set(taken) == set(sealed)
    assert {SEAL_FILE, "attachments/0001-1-p.png", "attachments/note-0001.json"} <= set(taken)
    for name, path in sealed.items():
        assert taken[name].read_bytes() == path.read_bytes(), name
    checked = verify(out)
    assert checked.sealed
    assert [one.what for one in checked.seals] == ["test", "note"]
    (out / "attachments+0001-1-p.png").write_bytes(tiny_png(17))
    assert verify(out).changed == ("attachments/0001-1-p.png",)


@TOOLS
def test_the_run_before_comes_out_too_and_is_checked_for_itself(
    tmp_path: Path, taken_out: Callable[[Path, Path], Path]
) -> None:
    before = make_run(tmp_path / "b", Order(amps=dict(WEAK), stage="before"))
    add_photo(before, tmp_path)
    run = make_run(tmp_path / "a")
    pair = report_paper(material_of(run, settings()), before=material_of(before, settings()))
    file = tmp_path / "report.pdf"
    file.write_bytes(pdf_of(pair).data)
    out = taken_out(file, tmp_path / "out")
    checked = verify(out)
    assert checked.sealed
    assert checked.aside == ("report-before.pdf",)
    inner = taken_out(out / "report-before.pdf", tmp_path / "inner")
    assert verify(inner).sealed
    assert (inner / SEAL_FILE).read_bytes() == (before / SEAL_FILE).read_bytes()
    assert len(list(inner.iterdir())) == len([p for p in before.rglob("*") if p.is_file()])
    assert seal_whole(before) in _text(file)
    assert "Output test of an alternator" in _text(out / "report-before.pdf")


def seal_whole(run: Path) -> str:
    return str(json.loads((run / SEAL_FILE).read_text(encoding="utf-8"))["whole"])


def test_a_record_taken_out_of_a_pdf_gives_the_same_report(tmp_path: Path) -> None:
    run = make_run(tmp_path / "shelf")
    add_photo(run, tmp_path)
    file = _pdf(run, tmp_path)
    out = _with_pdfdetach(file, tmp_path / "out")
    assert (
        _pdf(out, tmp_path / "out").read_bytes()
        == pdf_of(report_paper(material_of(run, settings()))).data
    )


def test_qpdf_finds_a_sound_file(tmp_path: Path) -> None:
    file = _pdf(make_run(tmp_path / "shelf"), tmp_path)
    assert "No syntax or stream encoding errors" in said_by("qpdf", "--check", file)


def test_it_says_that_it_is_pdf_a_3_and_pdf_ua(tmp_path: Path) -> None:
    """ISO 19005-3 (part 3, conformance A) and ISO 14289-1, as its metadata must state them."""
    file = _pdf(make_run(tmp_path / "shelf"), tmp_path)
    metadata = said_by("pdfinfo", "-meta", file)
    assert re.search(r"pdfaid:part[>=\"]+3", metadata)
    assert re.search(r"pdfaid:conformance[>=\"]+A", metadata)
    assert re.search(r"pdfuaid:part[>=\"]+1", metadata)
    facts = said_by("pdfinfo", file)
    assert re.search(r"Tagged: +yes", facts)
    assert re.search(r"JavaScript: +no", facts)
    assert re.search(r"Page size: .*A4", facts)


def test_it_has_alt_texts_headings_and_its_language(tmp_path: Path) -> None:
    run = make_run(tmp_path / "shelf")
    add_photo(run, tmp_path)
    file = _pdf(run, tmp_path, language="de")
    structure = said_by("pdfinfo", "-struct", file)
    assert structure.count("H1") >= 8
    assert structure.count("Figure") >= 3
    plain = tmp_path / "plain.pdf"
    said_by("qpdf", "--qdf", "--object-streams=disable", file, plain)
    data = plain.read_bytes()
    assert re.search(rb"/Lang ?\(de", data)
    assert len(re.findall(rb"/Alt ", data)) >= 3


def test_every_page_carries_job_serial_number_and_banner(tmp_path: Path) -> None:
    file = _pdf(make_run(tmp_path / "shelf", Order(simulated=True)), tmp_path)
    pages = said_by("pdftotext", "-layout", file, "-").split("\f")[:-1]
    assert len(pages) >= 3
    for number, text in enumerate(pages, 1):
        assert "Job J-1044, Serial no. SF90-0417" in text
        assert f"Page {number} of {len(pages)}" in text
        assert "SIMULATED" in text


def test_letter_paper_is_a_setting(tmp_path: Path) -> None:
    file = _pdf(make_run(tmp_path / "shelf"), tmp_path, paper="letter")
    assert re.search(r"Page size: .*letter", said_by("pdfinfo", file))


@pytest.mark.parametrize("paper", ["A4", "letter"])
@pytest.mark.parametrize("language", ["en", "de"])
def test_the_sheet_is_one_page(tmp_path: Path, paper: str, language: str) -> None:
    material = material_of(
        make_run(tmp_path, Order(simulated=True)), settings(paper=paper, language=language)
    )
    file = tmp_path / "sheet.pdf"
    file.write_bytes(pdf_of(sheet_paper(material)).data)
    assert re.search(r"Pages: +1\n", said_by("pdfinfo", file))


def test_the_tag_is_one_small_page(tmp_path: Path) -> None:
    material = material_of(make_run(tmp_path, Order(simulated=True)), settings(language="de"))
    file = tmp_path / "tag.pdf"
    file.write_bytes(pdf_of(tag_paper(material)).data)
    facts = said_by("pdfinfo", file)
    assert re.search(r"Pages: +1\n", facts)
    assert re.search(r"Page size: +283\.\d+ x 175\.\d+", facts)


def test_nothing_typed_is_read_as_code(tmp_path: Path) -> None:
    order = Order(serial=EVIL, unit=EVIL, operator=EVIL, job=Job(number=EVIL, complaint=EVIL))
    run = make_run(tmp_path / "shelf", order)
    add_note(run, EVIL, who=EVIL, files=QUICK)
    text = _text(_pdf(run, tmp_path))
    assert text.count('#panic("x") $a$ *b*') >= 4
    assert "root:" not in text


def test_letters_that_no_font_has_do_not_stop_the_report(tmp_path: Path) -> None:
    run = make_run(tmp_path / "shelf", Order(unit="机 \U0001f600 Генератор ελ"))
    made = pdf_of(report_paper(material_of(run, settings())))
    file = tmp_path / "report.pdf"
    file.write_bytes(made.data)
    text = _text(file)
    assert "Генератор ελ" in text
    assert ("机" in text) or ("[U+673A]" in text and "U+673A" in made.remarks[0])


def test_a_photo_that_cannot_be_decoded_is_left_out_and_named(tmp_path: Path) -> None:
    run = make_run(tmp_path / "shelf")
    photo = tmp_path / "broken.jpg"
    photo.write_bytes(b"\xff\xd8\xff\xe0 this is no picture")
    add_note(run, "broken", who="T. Example", attach=[photo], files=QUICK)
    made = pdf_of(report_paper(material_of(run, settings())))
    assert made.data.startswith(b"%PDF")
    assert made.remarks == ("Cannot be shown in the PDF: photo-1-1.jpg.",)


def test_the_same_record_gives_the_same_file(tmp_path: Path) -> None:
    material = material_of(make_run(tmp_path), settings())
    assert pdf_of(report_paper(material)).data == pdf_of(report_paper(material)).data


def test_a_bare_and_a_long_run_compile_too(tmp_path: Path) -> None:
    bare = finished_run(tmp_path / "bare")
    assert pdf_of(report_paper(material_of(bare, settings()))).data.startswith(b"%PDF")
    many = {600.0 + 50.0 * k: 5.0 + 0.8 * k for k in range(100)}
    long = make_run(tmp_path / "long", Order(amps=dict(many)))
    file = _pdf(long, tmp_path)
    pages = re.search(r"Pages: +(\d+)", said_by("pdfinfo", file))
    assert pages is not None
    assert int(pages[1]) >= 6


def test_json_of_the_seal_in_the_pdf_is_the_one_printed_in_it(tmp_path: Path) -> None:
    run = make_run(tmp_path / "shelf")
    assert seal_whole(run) in _text(_pdf(run, tmp_path))
