"""Points from CSV files: what is read, and how faults are named."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.curve.measured_point import MeasuredPoint
from acquire.curve.points_file import parse_points, read_points
from profiles.errors import ProfileError


def faults(text: str) -> str:
    with pytest.raises(ProfileError) as caught:
        parse_points(text, file="points.csv")
    return str(caught.value)


def test_points_come_ascending_in_speed_with_what_else_is_known() -> None:
    text = 'amps,shaft_rpm,u_amps,volts\r\n90,6000,0.5,13.5\r\n"45.5", 1500 ,,\r\n\r\n'
    assert parse_points(text, file="points.csv") == [
        MeasuredPoint(1500.0, 45.5),
        MeasuredPoint(6000.0, 90.0, u_amps=0.5, volts=13.5),
    ]


def test_a_file_with_a_byte_order_mark_is_read(tmp_path: Path) -> None:
    path = tmp_path / "points.csv"
    path.write_bytes(b"\xef\xbb\xbfshaft_rpm,amps\n1500,45\n")
    assert read_points(path) == [MeasuredPoint(1500.0, 45.0)]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", ["empty", "shaft_rpm,amps"]),
        ("shaft_rpm,amps\n", ["no point"]),
        ("1500,45\n2000,60\n", ["line 1", "header row is missing"]),
        ("shaft_rpm;amps\n1500;45,0\n", ["semicolons", "12.5, not 12,5"]),
        ("shaft_rpm\tamps\n1500\t45\n", ["tabs"]),
        ("shaft_rpm,amp\n1500,45\n", ['column "amp"', "Did you mean amps?"]),
        ("rpm,amps\n1500,45\n", ['column "rpm"', "Did you mean shaft_rpm?"]),
        ("Speed (rpm),Current [A]\n1,2\n", ["Did you mean shaft_rpm?", "Did you mean amps?"]),
        ("n,I\n1,2\n", ["Did you mean shaft_rpm?", "Did you mean amps?"]),
        ("shaft_rpm,amps,V\n1,2,3\n", ["Did you mean volts?"]),
        ("engine_rpm,amps\n1,2\n", ["shaft_rpm? Speeds of the engine must be multiplied"]),
        ("drive_rpm,amps\n1,2\n", ["shaft_rpm? Speeds of the motor must be multiplied"]),
        ("shaft_rpm,rpm,amps\n1,2,3\n", ['column "rpm"', "Leave it out."]),
        ("shaft_rpm,foo\n1,2\n", ['column "foo"', "amps is missing"]),
        ("shaft_rpm,amps,colour\n1,2,3\n", ['column "colour"', "Known columns"]),
        ("shaft_rpm,amps,amps\n1,2,3\n", ["column amps", "twice"]),
        ('shaft_rpm,amps\n1500,"45,2"\n', ["line 2", "column amps", "12.5, not 12,5"]),
        ("shaft_rpm,amps\n1500,45,2\n", ["line 2", "3 cells", "12.5, not 12,5"]),
        ("shaft_rpm,amps\n1500\n", ["line 2", "1 cells"]),
        ("shaft_rpm,amps\n1500,45 A\n", ["line 2", "without its unit of measure"]),
        ("shaft_rpm,amps\n1500,nan\n", ["line 2", "column amps", "not a reading"]),
        ("shaft_rpm,amps\n1500,inf\n", ["not a reading"]),
        ("shaft_rpm,amps\n-1500,45\n", ["line 2", "column shaft_rpm", "below zero"]),
        ("shaft_rpm,amps,u_amps\n1500,45,-1\n", ["column u_amps", "below zero"]),
        ("shaft_rpm,amps\n1500,\n", ["line 2", "Fill it in"]),
        ("shaft_rpm,amps\n1_500,45\n", ["is not a number"]),
        ("shaft_rpm,amps\n1e300,45\n", ["too large"]),
        ('shaft_rpm,amps\n1500,"45\n', ["line 2", "quotation mark"]),
    ],
)
def test_faults_are_named_with_place_and_remedy(text: str, words: list[str]) -> None:
    message = faults(text)
    for word in ["points.csv", *words]:
        assert word in message


def test_a_column_with_another_name_is_not_told_as_missing_too() -> None:
    assert "is missing" not in faults("rpm,A\n1500,45\n")


def test_all_faults_of_a_file_come_at_once() -> None:
    message = faults("shaft_rpm,amps\nx,1\n1500,y\n-1,2\n")
    assert all(f"line {line}" in message for line in (2, 3, 4))


def test_a_quoted_line_break_keeps_the_line_numbers_right() -> None:
    assert "line 4" in faults('shaft_rpm,amps\n"\n1500",45\n2000,x\n')


def test_control_characters_are_shown_not_sent() -> None:
    assert "\x1b" not in faults("shaft_rpm,amps\n1500,\x1b[31m\n")


def test_a_missing_a_huge_and_a_binary_file_are_told_apart(tmp_path: Path) -> None:
    huge, binary = tmp_path / "huge.csv", tmp_path / "binary.csv"
    huge.write_bytes(b"shaft_rpm,amps\n" + b"1500,45\n" * 700_000)
    binary.write_bytes(b"shaft_rpm,amps\n\xff\xfe\x00")
    for path, words in (
        (tmp_path / "missing.csv", "cannot be read"),
        (huge, "larger than"),
        (binary, "UTF-8"),
    ):
        with pytest.raises(ProfileError, match=words):
            read_points(path)


@given(st.text(max_size=300))
def test_any_text_gives_points_or_a_named_fault(text: str) -> None:
    fault = ""
    try:
        points = parse_points(text, file="points.csv")
    except ProfileError as refused:
        points, fault = [], str(refused)
    assert bool(points) != ("points.csv" in fault)


@given(st.lists(st.tuples(st.floats(0, 20_000), st.floats(-5, 500)), min_size=1, max_size=20))
def test_what_is_written_is_read_back(rows: list[tuple[float, float]]) -> None:
    text = "shaft_rpm,amps\n" + "".join(f"{rpm!r},{amps!r}\n" for rpm, amps in rows)
    points = parse_points(text, file="points.csv")
    assert [(p.shaft_rpm, p.amps) for p in points] == sorted(rows, key=lambda row: row[0])
