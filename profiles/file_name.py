"""A file name made from a title: small letters, figures and hyphens, allowed on every system."""

from __future__ import annotations

import re
import unicodedata

DEVICES = frozenset(
    {"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(10))}
)
"""Names that mean devices on Windows, whatever ending follows them (Microsoft, "Naming Files,
Paths, and Namespaces")."""
LONGEST = 60
_SPELT = str.maketrans({"ß": "ss", "æ": "ae", "ø": "o", "ł": "l"})


def file_name(title: str) -> str:
    """The name without its ending; empty where `title` has neither letters nor figures."""
    plain = unicodedata.normalize("NFKD", title.lower().translate(_SPELT))
    words = re.findall(r"[a-z0-9]+", plain.encode("ascii", "ignore").decode("ascii"))
    name = "-".join(words)[:LONGEST].rstrip("-")
    return f"{name}-1" if name in DEVICES else name
