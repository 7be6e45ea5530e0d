"""Small pieces of SVG as text; every value is escaped or a number, so nothing can slip in."""

from __future__ import annotations

from html import escape

from profiles.plain_text import visible

Value = str | float | int


def element(name: str, content: str = "", **attributes: Value | None) -> str:
    """One element; `content` is SVG made here. An underscore in a name becomes a hyphen."""
    said = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{_value(value)}"'
        for key, value in attributes.items()
        if value is not None
    )
    return f"<{name}{said}>{content}</{name}>" if content else f"<{name}{said}/>"


def text(words: str, **attributes: Value | None) -> str:
    """A text element; `words` may be anything."""
    return element("text", escape(visible(words), quote=False), **attributes)


def path(points: list[tuple[float, float]], *, closed: bool = False) -> str:
    """The `d` of a line through points."""
    steps = "M" + " L".join(f"{_short(x)} {_short(y)}" for x, y in points)
    return f"{steps} Z" if closed else steps


def _value(value: Value) -> str:
    return escape(value, quote=True) if isinstance(value, str) else _short(value)


def _short(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")
