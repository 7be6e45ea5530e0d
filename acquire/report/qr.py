"""The QR code of a record's seal, as SVG."""

from __future__ import annotations

from acquire.record.seal import Seal
from acquire.report.svg_text import element

BORDER = 4
"""Light modules around the code (ISO/IEC 18004, the quiet zone)."""


def seal_text(seal: Seal) -> str:
    """What the code says: enough to find the run, and to see that a record is the sealed one."""
    return (
        f"steadyamps seal\nrun {seal.run_id}\nstate {seal.state}\nsealed {seal.sealed_utc}\n"
        f"sha256 {seal.whole}\nkey {seal.key}"
    )


def qr_svg(content: str, *, alt: str) -> str:
    """A QR code (error correction M) of this text."""
    from html import escape

    import segno

    code = segno.make(content, error="m", micro=False)
    rows = [bytes(row) for row in code.matrix]
    size = len(rows) + 2 * BORDER
    squares = "".join(
        f"M{x + BORDER} {y + BORDER}h1v1h-1z"
        for y, row in enumerate(rows)
        for x, dark in enumerate(row)
        if dark
    )
    parts = element("rect", width=size, height=size, fill="#ffffff")
    parts += element("path", d=squares, fill="#000000")
    return element(
        "svg",
        element("title", escape(alt, quote=False)) + parts,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {size} {size}",
        role="img",
        shape_rendering="crispEdges",
    )
