"""A paper as PDF/A-3 and PDF/UA-1 through Typst, with the sealed files inside.

The Typst file is fixed and ships with the program; everything that came from a run reaches it as
JSON and stands there as strings, which Typst never reads as code or markup.
"""

from __future__ import annotations

import json
import re
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from acquire.errors import RunFileError
from acquire.report.blocks import Attachment, Beside, Block, Paper, Picture, Words
from acquire.report.chart_svg import PAPER_FONT, SCREEN_FONT
from acquire.report.line_breaks import with_breaks
from profiles.plain_text import visible

if TYPE_CHECKING:
    import typst

TEMPLATE = Path(__file__).with_name("paper.typ")
STANDARDS = ["a-3a", "ua-1"]
_NO_GLYPH = re.compile(r'the text `"(.+?)"` could not be displayed')


@dataclass(frozen=True, slots=True)
class Pdf:
    """The file, and what could not be put into it."""

    data: bytes
    remarks: tuple[str, ...] = ()


def pdf_of(paper: Paper) -> Pdf:
    """Compile the paper.

    Letters that no font at hand has are written as their code; a picture that cannot be decoded
    is left out; both are said in `remarks`.

    Raises:
        RunFileError: Typst cannot make the file for another reason.
    """
    import typst

    paper, remarks = _with_enclosed(paper)
    with tempfile.TemporaryDirectory(prefix="steadyamps-paper-") as name:
        folder = Path(name)
        document = _laid_out(paper, folder)
        try:
            return Pdf(_compiled(folder, document, paper), tuple(remarks))
        except typst.TypstError as error:
            first = error
        if not _NO_GLYPH.search(first.diagnostic):
            bad = _undecodable(paper, folder)
            if not bad:
                raise _cannot(first) from first
            remarks.append(f"Cannot be shown in the PDF: {', '.join(bad)}.")
            document = _laid_out(_without(paper, bad), folder)
        data, said = _with_other_fonts(folder, document, paper)
        return Pdf(data, (*remarks, *said))


def _with_enclosed(paper: Paper) -> tuple[Paper, list[str]]:
    """The paper with whole papers inside it made into attachments, and what is said of these."""
    made = [(inner.name, pdf_of(inner)) for inner in paper.enclosed]
    inside = tuple(Attachment(f"{name}.pdf", pdf.data, "application/pdf") for name, pdf in made)
    remarks = [f"{name}.pdf: {remark}" for name, pdf in made for remark in pdf.remarks]
    return replace(paper, attachments=(*paper.attachments, *inside), enclosed=()), remarks


def _with_other_fonts(
    folder: Path, document: dict[str, Any], paper: Paper
) -> tuple[bytes, list[str]]:
    """Try the fonts of this computer, then write what no font has as its code."""
    import typst

    gone: set[str] = set()
    for _ in range(20):
        try:
            data = _compiled(folder, _spelled(document, gone), paper, own_fonts_only=False)
        except typst.TypstError as error:
            found = set(_NO_GLYPH.findall(error.diagnostic))
            if not found or not {letter for text in found for letter in text} - gone:
                raise _cannot(error) from error
            gone |= {letter for text in found for letter in text}
        else:
            return data, [_letters_words(gone)] if gone else []
    raise RunFileError(
        "report.pdf",
        "cannot be made: too many letters without a font.",
        what_to_do="Install a font that has them, or take the HTML report.",
    )


def _letters_words(gone: set[str]) -> str:
    codes = ", ".join(f"U+{ord(letter):04X}" for letter in sorted(gone)[:12])
    return f"No font at hand has these letters, so their codes stand in the PDF: {codes}."


def _cannot(error: typst.TypstError) -> RunFileError:
    return RunFileError(
        "report.pdf",
        f"cannot be made: {visible(str(error.message))[:300]}",
        what_to_do="report.html has the same content.",
    )


def _compiled(
    folder: Path, document: Mapping[str, Any], paper: Paper, *, own_fonts_only: bool = True
) -> bytes:
    import typst

    (folder / "paper.json").write_text(json.dumps(document), encoding="utf-8")
    return typst.compile(
        folder / "paper.typ",
        root=folder,
        ignore_system_fonts=own_fonts_only,
        pdf_standards=STANDARDS,  # type: ignore[arg-type]
        timestamp=_moment(paper.made_utc),
    )


def _moment(utc: str) -> datetime:
    """The date of the paper: that of the seal, so that the same record gives the same file."""
    try:
        when = datetime.fromisoformat(utc)
    except ValueError:
        when = datetime(2000, 1, 1, tzinfo=UTC)
    return when.replace(microsecond=0, tzinfo=when.tzinfo or UTC)


# ---- laying out the folder -------------------------------------------------------------------


def _laid_out(paper: Paper, folder: Path) -> dict[str, Any]:
    """Write template, pictures and attachments into the folder; the document for the template."""
    (folder / "paper.typ").write_bytes(TEMPLATE.read_bytes())
    for picture in _pictures(paper):
        (folder / picture.name).write_bytes(_for_paper(picture))
    attachments = []
    for number, file in enumerate(paper.attachments):
        kept = f"attached-{number}"
        (folder / kept).write_bytes(file.data)
        attachments.append({"name": file.name, "path": kept, "media": file.media})
    document: dict[str, Any] = _plain(replace(paper, attachments=()))
    document["attachments"] = attachments
    document["marked"] = " · ".join(banner.partition(":")[0] for banner in paper.banners)
    return document


def _for_paper(picture: Picture) -> bytes:
    """Words in our own SVG take the paper's font, which travels with Typst."""
    if picture.media != "image/svg+xml":
        return picture.data
    font = SCREEN_FONT.replace("'", "&#x27;")
    return picture.data.replace(font.encode(), PAPER_FONT.encode())


def _pictures(paper: Paper) -> list[Picture]:
    found = [paper.maker.logo] if paper.maker.logo else []
    for section in paper.sections:
        found += _pictures_in(section.blocks)
    return found


def _pictures_in(blocks: tuple[Block, ...]) -> list[Picture]:
    found: list[Picture] = []
    for block in blocks:
        if isinstance(block, Picture):
            found.append(block)
        elif isinstance(block, Beside):
            found += _pictures_in(block.left) + _pictures_in(block.right)
    return found


def _plain(value: object) -> Any:  # noqa: ANN401 - JSON
    """Blocks as JSON knows them; each says its kind, bytes stay outside."""
    if is_dataclass(value) and not isinstance(value, type):
        names = (field.name for field in fields(value) if field.name != "data")
        plain = {"kind": type(value).__name__} | {
            name: _plain(getattr(value, name)) for name in names
        }
        if isinstance(value, Words) and value.mark != "mono":
            plain["text"] = with_breaks(plain["text"])
        return plain
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    return visible(value) if isinstance(value, str) else value


def _spelled(value: Any, gone: set[str]) -> Any:  # noqa: ANN401 - JSON
    """The document with letters that no font has written as `[U+5BA2]`."""
    if isinstance(value, dict):
        return {key: _spelled(one, gone) for key, one in value.items()}
    if isinstance(value, list):
        return [_spelled(one, gone) for one in value]
    if not isinstance(value, str) or not gone.intersection(value):
        return value
    return "".join(f"[U+{ord(letter):04X}]" if letter in gone else letter for letter in value)


def _undecodable(paper: Paper, folder: Path) -> list[str]:
    """The names of pictures that Typst cannot read, each tried alone."""
    import typst

    bad = []
    for picture in _pictures(paper):
        probe = folder / "probe.typ"
        probe.write_text(f"#image({json.dumps(picture.name)})", encoding="utf-8")
        try:
            typst.compile(probe, root=folder, ignore_system_fonts=True)
        except typst.TypstError:
            bad.append(picture.name)
    return bad


def _without(paper: Paper, bad: list[str]) -> Paper:
    logo = paper.maker.logo
    maker = replace(paper.maker, logo=None) if logo and logo.name in bad else paper.maker
    sections = tuple(
        replace(section, blocks=tuple(b for b in section.blocks if not _is_bad(b, bad)))
        for section in paper.sections
    )
    return replace(paper, maker=maker, sections=sections)


def _is_bad(block: Block, bad: list[str]) -> bool:
    return isinstance(block, Picture) and block.name in bad
