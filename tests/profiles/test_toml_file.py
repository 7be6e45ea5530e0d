"""A file that cannot be read at all says why and where."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from profiles.checking import checked
from profiles.errors import ProfileError
from profiles.method import Method
from profiles.plain_text import visible
from profiles.rig import Rig
from profiles.toml_file import parse_toml, read_toml


def refused(path: Path) -> str:
    with pytest.raises(ProfileError) as caught:
        read_toml(path)
    assert caught.value.problems[0].file == str(path)
    return str(caught.value)


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    assert "does not exist" in refused(tmp_path / "nowhere.toml")


def test_a_folder_is_no_file(tmp_path: Path) -> None:
    assert "is a folder" in refused(tmp_path)


def test_a_file_that_is_not_utf_8_tells_its_line(tmp_path: Path) -> None:
    path = tmp_path / "latin.toml"
    path.write_bytes(b'title = "x"\nnote = "25 \xb0C"\n')
    assert "is not UTF-8 text (line 2, byte 0xb0). Save it again as UTF-8." in refused(path)


def test_a_byte_order_mark_and_windows_line_ends_are_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "windows.toml"
    path.write_bytes(b'\xef\xbb\xbftitle = "x"\r\n[a]\r\nb = 1\r\n')
    assert read_toml(path) == {"title": "x", "a": {"b": 1}}


def test_a_huge_file_is_refused_unread(tmp_path: Path) -> None:
    path = tmp_path / "huge.toml"
    path.write_bytes(b"#" * 1_000_001)
    assert "larger than 1 MB" in refused(path)


def test_a_path_with_a_null_character_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ProfileError, match=r"cannot be read|does not exist"):
        read_toml(tmp_path / "a\0b.toml")


@pytest.mark.skipif(sys.platform == "win32", reason="permissions work otherwise on Windows")
def test_a_loop_of_links_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "loop.toml"
    path.symlink_to(path)
    assert "cannot be read" in refused(path)


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("title = \n", "line 1, column 9"),
        ('title = "x"\n[rig\n', "line 2, column 5"),
        ('title = "x', "line 1, column 11 (the end of the file)"),
        ("a = 1\na = 2\n", "line 2, column 6"),
        ("a = 1\n\n  b == 2\n", "line 3, column 6"),
    ],
)
def test_a_syntax_error_tells_line_and_column(text: str, place: str) -> None:
    with pytest.raises(ProfileError, match="is not valid TOML at") as caught:
        parse_toml(text, "given.toml")
    assert place in str(caught.value)
    assert str(caught.value).startswith("given.toml: ")


@pytest.mark.parametrize("depth", [13, 300, 100_000])
def test_lists_nested_absurdly_deep_are_refused(depth: int) -> None:
    with pytest.raises(ProfileError, match="nested absurdly deep"):
        parse_toml(f"a = {'[' * depth}{']' * depth}", "deep.toml")


def test_tables_nested_absurdly_deep_are_refused() -> None:
    with pytest.raises(ProfileError, match="nested absurdly deep"):
        parse_toml(f"{'a.' * 400}a = 1", "deep.toml")


def test_a_number_of_thousands_of_digits_is_refused() -> None:
    with pytest.raises(ProfileError, match="cannot be read"):
        parse_toml(f"a = {'9' * 5000}", "long.toml")


@given(st.text(max_size=60))
def test_any_text_is_toml_or_a_printable_profile_error(text: str) -> None:
    said = "read"
    try:
        parse_toml(text, "any.toml")
    except ProfileError as error:
        said = str(error)
    assert visible(said) == said


KEYS = (
    "title rig channels amps volts shaft_rpm driver port drive speed run register load limits "
    "pulley drive_mm in accuracy sweep rpm check name low kind accept x"
)
PLAIN = st.one_of(
    st.booleans(),
    st.integers(),
    st.floats(),
    st.text(max_size=5),
    st.sampled_from(["scpi", "lines", "modbus", "hand", "tcp://h:1", "{value:d}"]),
)
VALUES = st.recursive(
    PLAIN,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(st.sampled_from(KEYS.split()), inner, max_size=4),
    ),
    max_leaves=12,
)


@settings(max_examples=150)
@given(st.dictionaries(st.sampled_from(["title", "channels", "drive", "sweep", "check"]), VALUES))
def test_any_values_become_a_profile_or_a_plain_profile_error(data: dict[str, object]) -> None:
    for model in (Rig, Method):
        said = "whole"
        try:
            checked(model, data, "any.toml")
        except ProfileError as error:
            said = str(error)
        assert said
        assert "cannot be used here" not in said
