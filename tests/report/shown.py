"""The model of a paper as plain text, for golden files and for looking things up."""

from __future__ import annotations

from collections.abc import Iterator

from acquire.report.blocks import (
    Beside,
    Block,
    Facts,
    Items,
    Paper,
    Paragraph,
    Picture,
    Signature,
    Table,
    VerdictBox,
    Words,
)


def shown(paper: Paper) -> str:
    """Every word of a paper in its order; run names and hashes are cut out by the caller."""
    lines = [f"{paper.title} [{paper.language}, {paper.size}]", " | ".join(paper.running)]
    lines += [f"ON EACH PAGE: {banner}" for banner in paper.banners]
    lines += [paper.maker.name, *paper.maker.address]
    for section in paper.sections:
        lines += ["", f"## {section.title}"]
        for block in section.blocks:
            lines += _block(block)
    return "\n".join(lines) + "\n"


def _block(block: Block) -> Iterator[str]:
    match block:
        case Paragraph():
            yield " ".join(_words(one) for one in block.words)
        case Items():
            yield from (f"- {_words(one)}" for one in block.items)
        case Facts():
            for fact in block.facts:
                yield f"{_words(fact.label)}: {' / '.join(_words(one) for one in fact.value)}"
        case Table():
            yield from _table(block)
        case Picture():
            yield f"[{block.name}: {block.alt}]"
            if block.caption:
                yield _words(block.caption)
        case Beside():
            for one in (*block.left, *block.right):
                yield from _block(one)
        case VerdictBox():
            yield f"*** {block.sign} {_words(block.word)} ***"
            yield from (_words(one) for one in block.sentence)
            if block.what_next:
                yield _words(block.what_next)
        case Signature():
            yield from (f"____ {_words(one)}" for one in block.labels)


def _table(table: Table) -> Iterator[str]:
    yield f"<{_words(table.caption)}>"
    yield " | ".join(_words(column.head) for column in table.columns)
    for row in table.rows:
        yield " | ".join(_words(one) for one in row)
    if table.note:
        yield _words(table.note)


def _words(words: Words) -> str:
    text = words.text.replace("\u00a0", " ")
    text = f"{text}_{words.sub}" if words.sub else text
    text = f"{text} {{{words.lang}}}" if words.lang else text
    return f"({text})" if words.mark == "missing" else text
