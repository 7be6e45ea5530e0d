"""A paper as one HTML file: no script, no network, pictures inside it.

Every text goes through `_text` or `_attribute`; the content security policy forbids scripts and
foreign sources besides.
"""

from __future__ import annotations

import base64
import re
from html import escape
from pathlib import Path

from acquire.report.blocks import (
    Beside,
    Block,
    Column,
    Facts,
    Items,
    Maker,
    Paper,
    Paragraph,
    Picture,
    Section,
    Signature,
    Table,
    VerdictBox,
    Words,
)
from acquire.report.html_fit import letters_for
from acquire.report.line_breaks import MAY_BREAK, with_breaks
from profiles.plain_text import visible

WHOLE_ROWS = 14
"""A table of so many rows is not parted in print."""
STYLE = Path(__file__).with_name("html_style.css")
POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"
_SIZES = {"A4": "A4", "letter": "letter", "tag": "100mm 62mm"}
_MARGINS = {"A4": "18mm 15mm 17mm", "letter": "18mm 15mm 17mm", "tag": "4mm"}
_ROOM_MM = {"A4": 297.0 - 35.0, "letter": 279.4 - 35.0, "tag": 62.0 - 8.0}
"""Height of a page between its margins."""


def html_of(paper: Paper) -> str:
    """The whole file."""
    body = "".join(_section(section) for section in paper.sections)
    head = _maker(paper.maker) if paper.size != "tag" else ""
    title = f"<h1>{_text(paper.title)}</h1>"
    return (
        f'<!DOCTYPE html>\n<html lang="{_attribute(paper.language)}">\n<head>\n'
        '<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{_attribute(POLICY)}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{_text(f'{paper.title}: {paper.running[0]}')}</title>\n"
        f"<style>\n{STYLE.read_text(encoding='utf-8')}{_page_rule(paper)}</style>\n</head>\n"
        f'<body class="{_attribute(paper.name)}">\n'
        f'{_banners(paper)}<div class="page">\n<header>{head}{title}</header>\n'
        f"<main>\n{body}</main>\n</div>\n</body>\n</html>\n"
    )


# ---- pages -----------------------------------------------------------------------------------


def _page_rule(paper: Paper) -> str:
    """Size, and what stands on each printed page."""
    boxes = ""
    if paper.size != "tag":
        before, _, rest = paper.page_words.partition("{page}")
        middle, _, after = rest.partition("{pages}")
        counted = f"{_css(before)} counter(page) {_css(middle)} counter(pages) {_css(after)}"
        boxes = (
            f"@top-left {{ content: {_css(paper.running[0])}; }} "
            f"@top-right {{ content: {_css(paper.running[1])}; }} "
            f"@bottom-right {{ content: {counted}; }} "
        )
        if paper.banners:
            boxes += (
                f"@bottom-left {{ content: {_css(_marked(paper))}; color: #9c3b00; "
                "font-weight: bold; } "
            )
    return (
        f"@page {{ size: {_SIZES[paper.size]}; margin: {_MARGINS[paper.size]}; "
        f"font: 8pt system-ui, sans-serif; {boxes}}}\n{_fit_rule(paper)}"
    )


def _fit_rule(paper: Paper) -> str:
    """What has one page only fills it: the chart takes the height that all else leaves.

    A browser cannot make letters smaller until they fit, so their size follows from how much there
    is to say.
    """
    if paper.name not in ("sheet", "tag"):
        return ""
    points, room = letters_for(paper), _ROOM_MM[paper.size] - 1.0
    return (
        f"@media print {{ html {{ font-size: {points:g}pt; }} body {{ height: {room:g}mm; }} }}\n"
    )


def _css(text: str) -> str:
    """A CSS string; all but plain letters and digits is written as a code, so nothing ends it."""
    coded = re.sub(r"[^A-Za-z0-9 ]", lambda found: f"\\{ord(found[0]):x} ", visible(text))
    return f'"{coded}"'


def _banners(paper: Paper) -> str:
    if not paper.banners:
        return ""
    if paper.size == "tag":
        return f'<aside class="every-page"><p>{_text(_marked(paper))}</p></aside>\n'
    said = "".join(f"<p>{_text(banner)}</p>" for banner in paper.banners)
    return (
        f'<aside class="every-page">{said}</aside>\n'
        f'<div class="watermark" aria-hidden="true">{_text(_marked(paper))}</div>\n'
    )


def _marked(paper: Paper) -> str:
    """The banners in a word each."""
    return " · ".join(banner.partition(":")[0] for banner in paper.banners)


def _maker(maker: Maker) -> str:
    lines = [f'<p class="name">{_text(maker.name)}</p>'] if maker.name else []
    lines += [f'<p class="address">{_text(line)}</p>' for line in maker.address]
    logo = _image(maker.logo) if maker.logo else ""
    if not lines and not logo:
        return ""
    return f'<div class="maker"><div>{"".join(lines)}</div>{logo}</div>\n'


# ---- blocks ----------------------------------------------------------------------------------


def _section(section: Section) -> str:
    title = f"<h2>{_text(section.title)}</h2>\n" if section.title else ""
    blocks = "".join(_block(block) for block in section.blocks)
    return f'<section id="{_attribute(section.name)}">\n{title}{blocks}</section>\n'


def _block(block: Block) -> str:
    match block:
        case Paragraph():
            return f"<p{_role(block)}>{_run(block.words)}</p>\n"
        case Items():
            return f"<ul>{''.join(f'<li>{_words(one)}</li>' for one in block.items)}</ul>\n"
        case Facts():
            return _facts(block)
        case Table():
            return _table(block)
        case Picture():
            return _figure(block)
        case Beside():
            return _beside(block)
        case VerdictBox():
            return _verdict(block)
        case Signature():
            lines = "".join(f"<p>{_words(label)}</p>" for label in block.labels)
            return f'<div class="lines">{lines}</div>\n'


def _role(paragraph: Paragraph) -> str:
    """For print: a small heading stays with what follows, a note with what it belongs to."""
    marks = {one.mark for one in paragraph.words}
    return {"strong": ' class="head"', "small": ' class="note"'}.get(" ".join(sorted(marks)), "")


def _facts(facts: Facts) -> str:
    rows = "".join(
        f"<dt>{_words(fact.label)}</dt><dd>{_stacked(fact.value)}</dd>" for fact in facts.facts
    )
    narrow = ' class="narrow"' if facts.narrow else ""
    return f"<dl{narrow}>{rows}</dl>\n"


def _stacked(value: tuple[Words, ...]) -> str:
    if len(value) == 1:
        return _words(value[0])
    return "".join(f"<p>{_words(one)}</p>" for one in value)


def _table(table: Table) -> str:
    heads = "".join(
        f'<th scope="col"{_aligned(column)}>{_words(column.head)}</th>' for column in table.columns
    )
    rows = "".join(_row(table.columns, row) for row in table.rows)
    note = f'<p class="small note">{_words(table.note)}</p>' if table.note else ""
    label = _attribute(table.caption.text)
    whole = " whole" if len(table.rows) <= WHOLE_ROWS else ""
    return (
        f'<div class="rows{whole}"><div class="scroll" tabindex="0" role="region" '
        f'aria-label="{label}"><table>'
        f"<caption>{_words(table.caption)}</caption><thead><tr>{heads}</tr></thead>"
        f"<tbody>{rows}</tbody></table></div>{note}</div>\n"
    )


def _row(columns: tuple[Column, ...], row: tuple[Words, ...]) -> str:
    cells = [
        f"<td{_aligned(column)}>{_words(words)}</td>"
        for column, words in zip(columns[1:], row[1:], strict=True)
    ]
    first = f'<th scope="row"{_aligned(columns[0])}>{_words(row[0])}</th>'
    return f"<tr>{first}{''.join(cells)}</tr>"


def _aligned(column: Column) -> str:
    return ' class="right"' if column.align == "right" else ""


def _figure(picture: Picture) -> str:
    caption = f"<figcaption>{_words(picture.caption)}</figcaption>" if picture.caption else ""
    style = f' style="max-width:{picture.width_mm:g}mm"' if picture.width_mm else ""
    return f"<figure{style}>{_image(picture)}{caption}</figure>\n"


def _image(picture: Picture) -> str:
    """Our own SVG stands in the page as it is; all else as data that cannot act."""
    if picture.media == "image/svg+xml":
        return picture.data.decode()
    data = base64.b64encode(picture.data).decode()
    return f'<img alt="{_attribute(picture.alt)}" src="data:{picture.media};base64,{data}">'


def _beside(beside: Beside) -> str:
    left, right = round(100 * beside.left_share), round(100 * (1 - beside.left_share))
    sides = (beside.left, beside.right)
    inner = "".join(f"<div>{''.join(_block(one) for one in side)}</div>" for side in sides)
    return f'<div class="beside" style="--share:{left}fr {right}fr">{inner}</div>\n'


def _verdict(box: VerdictBox) -> str:
    said = "".join(f'<p class="sentence">{_words(words)}</p>' for words in box.sentence)
    if box.what_next:
        said += f'<p class="strong">{_words(box.what_next)}</p>'
    word = f'<p class="word">{_text(box.sign)} {_words(box.word)}</p>'
    return f'<div class="verdict {box.mark}">{word}{said}</div>\n'


# ---- words -----------------------------------------------------------------------------------


def _run(words: tuple[Words, ...]) -> str:
    return " ".join(_words(one) for one in words)


def _words(words: Words) -> str:
    shown = visible(words.text)
    text = escape(shown if words.mark == "mono" else with_breaks(shown), quote=False)
    text = text.replace(MAY_BREAK, "<wbr>")
    if words.sub:
        return f"<var>{text}</var><sub>{_text(words.sub)}</sub>"
    said = (f' class="{words.mark}"' if words.mark else "") + (
        f' lang="{_attribute(words.lang)}"' if words.lang else ""
    )
    return f"<span{said}>{text}</span>" if said else text


def _text(text: str) -> str:
    return escape(visible(text), quote=False)


def _attribute(text: str) -> str:
    return escape(visible(text), quote=True)
