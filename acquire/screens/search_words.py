"""What is typed into the search of past tests: words of any name, or `serial:`, `since:` and so on.

`dryer outcome:fail since:2026-11` asks what `shelf search dryer --outcome fail --since 2026-11`
does.
"""

from __future__ import annotations

import re

from acquire.shelf.wanted import OUTCOMES, Wanted, outcome_of

NAMES = ("serial", "job", "unit", "rated", "stage", "outcome", "since", "until", "only")
STAGES = ("before", "after", "incoming", "reference")
HINT = (
    "Words of any name, or serial: job: unit: rated: stage: outcome: since: until: only:real"
    " only:simulated, as in  outcome:fail since:2026-11"
)
_PIECE = re.compile(r'(?:([A-Za-z]+):)?("[^"]*"?|\S*)\s*')


def wanted_from(text: str) -> Wanted:
    """What is looked for.

    Raises:
        ShelfError: If a date or an outcome is none (yet).
    """
    words: list[str] = []
    named: dict[str, list[str]] = {}
    for match in _PIECE.finditer(text):
        name, value = (match[1] or "").casefold(), match[2].strip('"').strip()
        if name in NAMES:
            named.setdefault(name, []).append(value)
        elif match[0].strip():
            words.append(match[0].strip())
    joined = {name: " ".join(value for value in values if value) for name, values in named.items()}
    return Wanted(
        text=" ".join(words),
        serial=joined.get("serial", ""),
        job=joined.get("job", ""),
        unit=joined.get("unit", ""),
        rated=joined.get("rated", ""),
        stage=_whole(joined.get("stage", ""), STAGES),
        since=joined.get("since", ""),
        until=joined.get("until", ""),
        outcomes=_outcomes(named.get("outcome", [])),
        simulated=_only(joined.get("only", "")),
    ).checked()


def _whole(typed: str, known: tuple[str, ...]) -> str:
    """The one known word that begins so; else what was typed: there may be others."""
    begun = [word for word in known if typed and word.startswith(typed.casefold())]
    return begun[0] if len(begun) == 1 else typed


def _outcomes(typed: list[str]) -> tuple[str, ...]:
    """Every outcome that begins so; what begins none is refused where it is checked."""
    out: list[str] = []
    for piece in ",".join(typed).split(","):
        meant = outcome_of(piece)
        if meant:
            out += [one for one in OUTCOMES if one.startswith(meant)] or [meant]
    return tuple(dict.fromkeys(out))


def _only(typed: str) -> bool | None:
    """Simulated or real runs alone."""
    if not typed:
        return None
    return {"s": True, "r": False}.get(typed[0].casefold())
