"""What README.md names is there: profiles, files, keys, columns, exit codes, links, messages."""

from __future__ import annotations

import re
import tomllib

import pytest

from acquire.cli.exit_codes import Exit
from profiles.catalogue import Kind, entries
from profiles.channels import CHANNEL_NAMES
from profiles.settings import Settings
from tests.docs import readme
from tests.docs.test_readme_commands import PROVOKED

ROOT = readme.README.parent
FIRST = "python3 -m venv .venv && .venv/bin/pip install -q .\n"
KINDS: tuple[Kind, ...] = ("alternators", "rigs", "instruments", "methods", "rules")


def _section(title: str) -> str:
    found = re.search(rf"^##+ {re.escape(title)}\n(.*?)(?=^##|\Z)", readme.text(), re.M | re.S)
    assert found, title
    return found[1]


def _rows(section: str) -> list[list[str]]:
    """The rows of the tables in a section, without head and rule."""
    rows = [line for line in _section(section).splitlines() if line.startswith("|")]
    cells = [[cell.strip() for cell in row.strip("|").split("|")] for row in rows]
    return [row for row in cells[2:] if not set(row[0]) <= {"-"}]


def test_the_two_commands_come_first() -> None:
    first, second = (block.text for block in readme.blocks("sh")[:2])
    assert first.startswith(FIRST)
    assert first.splitlines()[1].endswith("--rig simulated --rated small-frame-14v-90a --yes")
    assert second.splitlines()[1].endswith("python -m pytest -q -n 2 --dist loadfile")


def test_every_profile_named_is_shipped() -> None:
    shipped = {entry.name for kind in KINDS for entry in entries(kind)}
    own = {name.removesuffix(".toml") for name in readme.files()} | {"bench-1"}
    given = re.findall(r"--(?:rig|rated|method|rule) ([a-z][a-z0-9-]+)", readme.text())
    liked = re.findall(r'like = "([^"]+)"', readme.text())
    spoken = re.findall(
        r"`((?:simulated|within|at-least|rebuild|drive|load)-[a-z0-9-]+)`", readme.text()
    )
    assert len(given) > 5
    assert {*given, *liked, *spoken} <= shipped | own


def test_every_shipped_method_and_rule_is_named() -> None:
    for kind in KINDS[3:]:
        for entry in entries(kind):
            assert f"`{entry.name}`" in readme.text() or f"--method {entry.name}" in readme.text()


def test_paths_named_are_there() -> None:
    for path in re.findall(r"(?<![\w/])sample_runs/[\w-]+", readme.text()):
        assert (ROOT / path).is_dir(), path
    for name in ("DEVELOPERS.md", "LICENSE"):
        assert f"`{name}`" in readme.text()
        assert (ROOT / name).is_file()


def test_links_lead_to_headings() -> None:
    headings = re.findall(r"^#+ (.+)$", readme.text(), re.M)
    anchors = {re.sub(r"[^\w -]", "", title.lower()).replace(" ", "-") for title in headings}
    targets = re.findall(r"\]\(#([^)]+)\)", readme.text())
    assert targets
    assert set(targets) <= anchors


def test_exit_codes_are_those_of_the_program() -> None:
    codes = [int(row[0]) for row in _rows("Exit codes and `--json`") if row[0].isdigit()]
    assert codes == [code.value for code in Exit]


def test_all_channels_are_listed() -> None:
    row = next(row for row in _rows("Words") if row[0] == "channel")
    assert tuple(re.findall(r"`(\w+)`", row[1])) == CHANNEL_NAMES


def test_files_of_a_run_are_those_of_a_sample_run() -> None:
    named = set(re.findall(r"`([\w.-]+\.(?:json|jsonl|csv))`", _section("Files of a run")))
    there = {path.name for path in (ROOT / "sample_runs" / "pass-van-alternator").iterdir()}
    assert named | {"report.html", "report.pdf"} >= there - {"attachments"}
    assert named <= there


def test_settings_shown_are_settings() -> None:
    shown = Settings.model_validate(tomllib.loads(readme.files()["settings.toml"]))
    assert shown.report.paper == "A4"
    assert shown.seal.trust == ("partner.pub.pem",)


def _sources(*folders: str) -> str:
    files = [path for folder in folders for path in (ROOT / folder).rglob("*.py")]
    return "\n".join(path.read_text(encoding="utf-8") for path in files)


def test_keys_named_are_keys_of_the_schemas() -> None:
    schemas = _sources("profiles")
    rows = _rows("Keys you may not expect")
    assert len(rows) > 15
    for row in rows:
        for key in re.findall(r"`(\w+)", row[1]):
            assert re.search(rf"^    {key}_?: ", schemas, re.M), key


@pytest.fixture(scope="module")
def program_text() -> str:
    """All texts of the program, with broken string literals joined."""
    source = _sources("acquire", "drivers", "profiles")
    return re.sub(r'"\s*\n\s*f?"', "", source)


FILLED_IN = re.compile(r"[\d.]+ V|\b[\d.]+ s\b|[\d.]+ port \d+|of amps|COM7|usb:…|…")
"""Figures, names and places in a message, which the program fills in."""
MESSAGES = [row[0].strip("`") for row in _rows("When it says no")]


@pytest.mark.parametrize("message", [said for said in MESSAGES if said not in PROVOKED])
def test_a_message_that_needs_a_rig_is_in_the_program(message: str, program_text: str) -> None:
    pieces = [piece.strip() for piece in FILLED_IN.split(message)]
    words = [piece for piece in pieces if len(piece) > 3]
    assert words
    for piece in words:
        assert piece in program_text, piece
