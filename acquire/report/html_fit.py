"""How large the letters of a printed sheet or tag may be, so that it stays one page.

The PDF is measured as it is made; a browser lays out for itself, so its lines are counted here, on
the safe side.
"""

from __future__ import annotations

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

_LARGEST = {"sheet": 9.0, "tag": 8.5}
_SMALLEST = 5.0
_STEP = 0.25
_MM_PER_POINT = 25.4 / 72.0
_LINE = 1.35
"""Height of a line in letters, as the style sheet has it."""
_WIDTH_OF_LETTER = 0.53
"""Of its height, on average and rather wide."""
_ROOM_MM = {"A4": (180.0, 261.0), "letter": (185.0, 243.4), "tag": (92.0, 53.0)}
"""Width and height between the margins."""
LEAST_CHART_MM = 52.0
_NARROW = 0.6
"""Share of the width beside a QR code."""
_QR_MM = 34.0


def letters_for(paper: Paper) -> float:
    """Points of a letter at which the whole paper is no higher than a page."""
    width, height = _ROOM_MM[paper.size]
    points = _LARGEST.get(paper.name, 9.0)
    while points > _SMALLEST and _height(paper, points, width) > height:
        points -= _STEP
    return points


def _height(paper: Paper, points: float, width: float) -> float:
    line = points * _MM_PER_POINT * _LINE
    letters = width / (points * _MM_PER_POINT * _WIDTH_OF_LETTER)
    blocks = [block for section in paper.sections for block in section.blocks]
    fixed = LEAST_CHART_MM if any(isinstance(one, Picture) for one in blocks) else 0.0
    said = _head(paper, letters) + sum(_lines(one, letters) for one in blocks)
    return fixed + line * said


def _head(paper: Paper, letters: float) -> float:
    """Lines of banners, workshop and title."""
    tag = paper.size == "tag"
    banners = 1.4 if tag and paper.banners else 1.6 * len(paper.banners)
    if tag:
        return banners + 1.3 * _of_text(paper.title, letters)
    address = _of_text(" · ".join(paper.maker.address), 0.8 * letters)
    return banners + 3.2 + max(address + 1.2, 2.6 if paper.maker.logo else 0.0)


def _lines(block: Block, letters: float) -> float:
    match block:
        case Paragraph():
            return 0.7 + sum(_of(one, letters) for one in block.words)
        case Items():
            return 0.7 + sum(_of(one, letters) for one in block.items)
        case Facts():
            width = _NARROW * letters
            return 1.0 + sum(1.1 * max(_of(w, width) for w in f.value) for f in block.facts)
        case Table():
            return 1.6 + 1.2 * (len(block.rows) + 1) + (_of(block.note, letters))
        case Picture():
            return 1.4 + _of(block.caption, letters)
        case Beside():
            sides = [sum(_lines(one, _NARROW * letters) for one in block.left)]
            sides += [
                _QR_MM / (_MM_PER_POINT * _LINE * 9.0) + _lines(one, 0.2 * letters)
                for one in block.right
            ]
            return max(sides)
        case VerdictBox():
            said = sum(1.6 * _of(one, 0.85 * letters) for one in block.sentence)
            return 3.4 + said + 1.4 * _of(block.what_next, 0.9 * letters)
        case Signature():
            return 3.0 * len(block.labels)


def _of(words: Words | None, letters: float) -> float:
    return 0.0 if words is None else _of_text(words.text, letters)


def _of_text(text: str, letters: float) -> float:
    """Full lines that a text takes; capitals are wide."""
    wide = sum(1.0 + 0.45 * letter.isupper() for letter in text)
    return float(-(-wide // max(letters, 1.0)))
