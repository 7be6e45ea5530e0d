"""What a paper is made of, before anybody decides how it looks: words, tables, pictures.

Both renderings walk the same blocks. A block holds plain text only, never markup: whatever came
from an instrument, a profile or a job name stays text to the end.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Mark = Literal["", "missing", "good", "bad", "doubt", "strong", "mono", "small"]
"""How words are set off; never by colour alone, the words say it too."""
Align = Literal["left", "right"]
Media = Literal["image/svg+xml", "image/png", "image/jpeg", "image/gif", "image/webp"]


@dataclass(frozen=True, slots=True)
class Words:
    """A piece of text."""

    text: str
    lang: str = ""
    """Set where the text is in another language than the paper, as words of the record may be."""
    sub: str = ""
    """Index of a symbol, as the A of n_A: then `text` is the symbol."""
    mark: Mark = ""


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Some sentences."""

    words: tuple[Words, ...]


@dataclass(frozen=True, slots=True)
class Items:
    """A list of sentences."""

    items: tuple[Words, ...]


@dataclass(frozen=True, slots=True)
class Fact:
    """A name and what belongs to it."""

    label: Words
    value: tuple[Words, ...]


@dataclass(frozen=True, slots=True)
class Facts:
    """Names and values, one pair below the other."""

    facts: tuple[Fact, ...]
    narrow: bool = False
    """True where they stand in a narrow column."""


@dataclass(frozen=True, slots=True)
class Column:
    """The head of a column."""

    head: Words
    align: Align = "right"


@dataclass(frozen=True, slots=True)
class Table:
    """A table; the first cell of a row names the row."""

    caption: Words
    columns: tuple[Column, ...]
    rows: tuple[tuple[Words, ...], ...]
    note: Words | None = None


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture with the words that stand in for it."""

    name: str
    """A file name without a folder; one a paper."""
    media: Media
    data: bytes = field(repr=False)
    alt: str
    caption: Words | None = None
    width_mm: float | None = None
    """None = as wide as there is room."""


@dataclass(frozen=True, slots=True)
class Beside:
    """Two groups side by side where there is room, else one below the other."""

    left: tuple[Block, ...]
    right: tuple[Block, ...]
    left_share: float = 0.66


@dataclass(frozen=True, slots=True)
class VerdictBox:
    """The verdict, larger than all else."""

    mark: Mark
    sign: str
    """A sign besides the word, so that nothing hangs on colour."""
    word: Words
    sentence: tuple[Words, ...]
    what_next: Words | None = None


@dataclass(frozen=True, slots=True)
class Signature:
    """Lines to be signed by hand."""

    labels: tuple[Words, ...]


Block = Paragraph | Items | Facts | Table | Picture | Beside | VerdictBox | Signature


@dataclass(frozen=True, slots=True)
class Section:
    """A heading with what belongs under it; an empty title stands for the head of the paper."""

    name: str
    """Short and unique: the anchor of the section."""
    title: str
    blocks: tuple[Block, ...]
    new_page: bool = False
    """Begins on a new page of the PDF: its template reads this."""


@dataclass(frozen=True, slots=True)
class Maker:
    """The workshop, as it stands at the top."""

    name: str = ""
    address: tuple[str, ...] = ()
    logo: Picture | None = None


@dataclass(frozen=True, slots=True)
class Attachment:
    """A file that travels inside the PDF."""

    name: str
    """As it comes out of the PDF: without a folder."""
    data: bytes = field(repr=False)
    media: str


PaperSize = Literal["A4", "letter", "tag"]


@dataclass(frozen=True, slots=True)
class Paper:
    """A whole paper: report, sheet or tag."""

    name: str
    """File name without ending."""
    language: str
    title: str
    maker: Maker
    size: PaperSize
    running: tuple[str, str]
    """On each page: what it is about (job and serial), and the run."""
    page_words: str
    """`Page {page} of {pages}` in the paper's language."""
    banners: tuple[str, ...]
    """Said on each page: simulated, stopped, not sealed, seal broken."""
    sections: tuple[Section, ...]
    attachments: tuple[Attachment, ...] = ()
    enclosed: tuple[Paper, ...] = ()
    """Whole papers that travel inside the PDF as PDFs, each with its own attachments."""
    made_utc: str = ""
    """When the record was sealed: the date of the paper, so that it comes out the same again."""
