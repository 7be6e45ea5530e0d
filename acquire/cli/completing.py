"""What the shell offers when Tab is pressed: names of profiles, runs, faults.

Quick, and never an error: what cannot be found is not offered. Names only; the shell itself
completes paths where none of these fits.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from pathlib import Path

import typer

from profiles.folders import (
    KINDS,
    SETTINGS_FILE,
    Kind,
    config_folder,
    named,
    title_at_a_glance,
)

Offer = list[tuple[str, str]]
"""Words, each with what it means; some shells show both."""
RUNS_OFFERED = 200
"""The newest; who wants an older one types a letter more."""
_RUN = re.compile(r"(?P<day>\d{4}-\d\d-\d\d)T\d{6}Z-(?P<label>.+)-(?P<letters>[a-z]{4})")


def rigs(incomplete: str) -> Offer:
    """Names of rigs."""
    return _named("rigs", incomplete)


def curves(incomplete: str) -> Offer:
    """Names of rated curves."""
    return _named("alternators", incomplete)


def methods(incomplete: str) -> Offer:
    """Names of methods."""
    return _named("methods", incomplete)


def rules(incomplete: str) -> Offer:
    """Names of acceptance rules."""
    return _named("rules", incomplete)


def profiles(incomplete: str) -> Offer:
    """Names of profiles of all kinds."""
    return [offer for kind in KINDS for offer in _named(kind, incomplete)]


def kinds(incomplete: str) -> Offer:
    """Kinds of profiles."""
    return [(kind, "") for kind in KINDS if kind.startswith(incomplete)]


def _named(kind: Kind, incomplete: str) -> Offer:
    return [
        (name, title_at_a_glance(path))
        for name, (path, _) in sorted(named(kind).items())
        if name.startswith(incomplete)
    ]


def runs(context: typer.Context, incomplete: str) -> Offer:
    """Runs on the shelf, newest first: the last four letters, or the whole name begun."""
    names = sorted(_folders(_shelf(context)), reverse=True)
    found = [(match, name) for name in names if (match := _RUN.fullmatch(name))]
    letters = [match["letters"] for match, _ in found]
    short = [
        (match["letters"], f"{match['day']} {match['label']}")
        for match, _ in found
        if match["letters"].startswith(incomplete) and letters.count(match["letters"]) == 1
    ]
    whole = [(name, "") for name in names if incomplete and name.startswith(incomplete)]
    return (short + whole)[:RUNS_OFFERED]


def candidates(context: typer.Context, incomplete: str) -> Offer:
    """Rated curves, and runs."""
    return curves(incomplete) + runs(context, incomplete)


def _folders(shelf: Path) -> list[str]:
    try:
        return [one.name for one in shelf.iterdir() if one.name[:1].isalnum() and one.is_dir()]
    except (OSError, ValueError):
        return []


def _shelf(context: typer.Context) -> Path:
    """As `places.shelf_folder` has it, without reading settings in earnest."""
    stated = context.find_root().params.get("shelf") or _stated_shelf()
    if stated:
        return _expanded(str(stated))
    from acquire.record.shelf_folder import default_shelf

    return default_shelf()


def _stated_shelf() -> object:
    try:
        text = (config_folder() / SETTINGS_FILE).read_text(encoding="utf-8-sig")
        shelf = tomllib.loads(text).get("shelf", {})
    except (OSError, ValueError):
        return None
    return shelf.get("folder") if isinstance(shelf, dict) else None


def _expanded(text: str) -> Path:
    try:
        return Path(text).expanduser()
    except RuntimeError:
        return Path(text)


def faults(incomplete: str) -> Offer:
    """Faults of simulated rigs."""
    from drivers.simulated.faults import fault_names

    return [(name, words) for name, words in fault_names().items() if name.startswith(incomplete)]


def machines(incomplete: str) -> Offer:
    """Simulated machines."""
    from drivers.simulated.machines import MACHINES

    return [(name, "") for name in sorted(MACHINES) if name.startswith(incomplete)]


def one_of(*words: str) -> Callable[[str], Offer]:
    """Some words of which one is meant."""

    def offered(incomplete: str) -> Offer:
        return [(word, "") for word in words if word.startswith(incomplete)]

    return offered
