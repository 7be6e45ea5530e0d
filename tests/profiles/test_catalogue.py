"""Where profiles come from: the user's folder first, then the shipped ones; and settings."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from profiles.catalogue import (
    check_file,
    config_folder,
    entries,
    find,
    from_snapshot,
    load_instrument,
    load_method,
    load_rated,
    load_rig,
    load_rule,
    load_settings,
    shipped_folder,
    snapshot,
    user_folder,
)
from profiles.errors import ProfileError

RULE = 'title = "ours"\n[accept]\nbelow_percent = 3\n'


def own_rule(config: Path, name: str = "within-10-percent", text: str = RULE) -> Path:
    path = config / "rules" / f"{name}.toml"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def test_the_users_own_profile_comes_before_the_shipped_one(config: Path) -> None:
    assert load_rule("within-10-percent").origin == "shipped"
    path = own_rule(config)
    loaded = load_rule("within-10-percent")
    assert (loaded.origin, loaded.path, loaded.text) == ("user", path, RULE)
    assert loaded.profile.accept.below_percent == 3


RATED = """title = "van"
[alternator]
system_volts = 12
[rated]
volts = 13.5
state = "warm"
points = [[1500, 45.0], [6000, 90.0]]
"""
RIG = """title = "bench"
[channels]
shaft_rpm = { driver = "hand" }
amps = { driver = "hand" }
"""
METHOD = 'title = "with a rule"\n[sweep]\n[accept]\nbelow_percent = 3\n'
METER = 'title = "meter"\nfor = ["amps"]\ndriver = "hand"\n'


@pytest.mark.parametrize(
    ("load", "text", "said"),
    [
        (load_rig, RATED, "this is a rated curve, not a rig."),
        (load_rated, RIG, "this is a rig, not a rated curve."),
        (load_rated, METER, "this is an instrument description, not a rated curve."),
        (load_instrument, RIG, "this is a rig, not an instrument description."),
        (load_method, RULE, "this is a rule, not a method."),
        (load_rule, METHOD, "this is a method, not a rule."),
    ],
)
def test_a_file_of_another_kind_is_told_as_that_and_not_key_by_key(
    tmp_path: Path, load: Callable[[Path], object], text: str, said: str
) -> None:
    path = tmp_path / "given.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ProfileError) as caught:
        load(path)
    (problem,) = caught.value.problems
    assert problem.message == said
    assert problem.what_to_do.startswith("Were the two swapped? ")


def test_a_stray_table_of_another_kind_is_still_told_by_its_key(tmp_path: Path) -> None:
    path = tmp_path / "given.toml"
    path.write_text(f"{RIG}[rated]\nvolts = 13.5\n", encoding="utf-8")
    with pytest.raises(ProfileError, match="rated: is not a key known here"):
        load_rig(path)
    path.write_text(METHOD, encoding="utf-8")
    assert load_method(path).profile.title == "with a rule"


def test_the_list_says_where_each_comes_from(config: Path) -> None:
    path = own_rule(config)
    own_rule(config, "broken", "title = ")
    found = {entry.name: entry for entry in entries("rules")}
    assert (found["within-10-percent"].origin, found["within-10-percent"].title) == ("user", "ours")
    assert found["within-10-percent"].path == path
    assert found["on-or-above"].origin == "shipped"
    assert found["broken"].title == ""


def test_a_file_with_very_many_mistakes_is_answered_with_the_first_hundred(config: Path) -> None:
    own_rule(config, "wild", RULE + "".join(f"k{number} = 1\n" for number in range(3000)))
    with pytest.raises(ProfileError) as caught:
        load_rule("wild")
    assert len(caught.value.problems) == 100


def test_a_path_is_taken_as_a_file(tmp_path: Path) -> None:
    path = tmp_path / "mine.txt"
    path.write_text(RULE, encoding="utf-8")
    assert load_rule(str(path)).origin == "file"
    assert find("rules", path) == path


def test_a_file_that_lies_in_this_folder_is_pointed_at(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "bench-1.toml").write_text('title = "Bench 1"\n')
    monkeypatch.chdir(tmp_path)
    with pytest.raises(ProfileError) as caught:
        find("rigs", "bench-1")
    assert "bench-1.toml" in str(caught.value)
    assert "in this folder" in str(caught.value)
    assert "rigs" in str(caught.value)


def test_an_unknown_name_gives_near_names() -> None:
    with pytest.raises(ProfileError) as caught:
        find("rules", "within-10-procent")
    assert str(caught.value).startswith('"within-10-procent": there is no rule of this name')
    assert "within-10-percent" in caught.value.problems[0].what_to_do


def test_a_name_like_nothing_lists_all() -> None:
    with pytest.raises(
        ProfileError, match="Known: efficiency-12v, fine, quick, rebuild-12v, rebuild-24v and warm"
    ):
        load_method("zzzz")


@pytest.mark.parametrize("name", ["", "a\0b", "\x1b[31m", "../../etc", "x" * 5000, "nul.toml"])
def test_strange_names_are_refused_printably(name: str) -> None:
    with pytest.raises(ProfileError) as caught:
        load_rated(name)
    assert str(caught.value).isprintable()


def test_folders_follow_the_environment(config: Path) -> None:
    assert config_folder() == config
    assert user_folder("rigs") == config / "rigs"
    assert (shipped_folder("rigs") / "simulated.toml").is_file()


def test_without_the_variable_the_platform_says_where(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("STEADYAMPS_CONFIG")
    assert config_folder().name == "steadyamps"
    assert config_folder().is_absolute()


@pytest.mark.parametrize("text", ["title = 'x'\n", "[sweeep]\n", ""])
def test_a_file_of_no_known_kind_is_told(tmp_path: Path, text: str) -> None:
    path = tmp_path / "other.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ProfileError, match="is no rated curve, rig, instrument"):
        check_file(path)


def test_settings_have_defaults_without_a_file() -> None:
    settings = load_settings()
    assert (settings.workshop.name, settings.report.language, settings.report.paper) == (
        "",
        "en",
        "A4",
    )
    assert (settings.shelf.folder, settings.shelf.url, settings.seal.trust) == (None, None, ())


def test_settings_are_read_from_the_users_folder(config: Path) -> None:
    config.mkdir()
    (config / "settings.toml").write_text(
        """
        [workshop]
        name = "Loopback Rewinds"
        address = "Dry Dock 3\\nNowhere"
        logo = "logo.png"
        [report]
        language = "de"
        paper = "letter"
        [shelf]
        folder = "/runs"
        url = "postgresql://shelf"
        [seal]
        key = "our.key"
        trust = "theirs.pub"
        """,
        encoding="utf-8",
    )
    settings = load_settings()
    assert settings.workshop.address == "Dry Dock 3\nNowhere"
    assert (settings.report.paper, settings.seal.trust) == ("letter", ("theirs.pub",))
    assert (settings.shelf.folder, settings.shelf.url) == ("/runs", "postgresql://shelf")


def test_wrong_settings_are_told_with_file_and_key(config: Path) -> None:
    config.mkdir()
    path = config / "settings.toml"
    path.write_text('[workshp]\n[report]\npaper = "A5"\n[seal]\ntrust = 3\n', encoding="utf-8")
    with pytest.raises(ProfileError) as caught:
        load_settings()
    assert {problem.key for problem in caught.value.problems} == {
        "workshp",
        "report.paper",
        "seal.trust",
    }
    assert {problem.file for problem in caught.value.problems} == {str(path)}


def test_a_snapshot_of_a_plate_keeps_the_curve() -> None:
    profile = load_rated("45/90A 14V @1500/6000").profile
    again = from_snapshot("alternators", snapshot(profile))
    assert again == profile


@pytest.mark.parametrize("values", [{}, {"title": 1}, {"title": float("nan")}, {"title": object()}])
def test_a_spoiled_snapshot_is_a_profile_error(values: dict[str, object]) -> None:
    with pytest.raises(ProfileError, match="holds no rig that this program can read"):
        from_snapshot("rigs", values, "run.json")


def test_the_catalogue_imports_nothing_heavy() -> None:
    """Start-up stays quick: run in a fresh interpreter, because this one has imported much."""
    program = (
        "import sys, profiles.catalogue;"
        "heavy = {'numpy', 'scipy', 'rich', 'textual', 'typer', 'pyvisa', 'serial'};"
        "print(sorted(heavy & set(sys.modules)))"
    )
    root = Path(__file__).parents[2]
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=root, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"
