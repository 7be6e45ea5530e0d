"""`profiles new`: every way in gives a file that the loader takes, and nothing else is written."""

from __future__ import annotations

import contextlib
import io
import json
import math
import random
import shutil
import tomllib
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.cli.main import run
from acquire.cli.new_rated_curve import CurveOrder, content_of, rated_toml
from acquire.printed_curve import MOST_POINTS, parse_printed, read_printed, scatter_amps, thinned
from profiles.catalogue import load_rated, user_folder
from profiles.errors import ProfileError
from tests.curve.published_tables import TABLES, PublishedTable

SAMPLE = Path(__file__).parents[2] / "sample_runs" / "pass-van-alternator"
POINTS = ["--points", "1500:40, 3000:78, 6000:105"]
FACTS = ["--name", "Long bracket 105", "--volts", "13.5", "--state", "warm"]


def printed(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "printed.csv"
    path.write_text(text, encoding="utf-8")
    return path


def answers(monkeypatch: pytest.MonkeyPatch, *lines: str) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in lines)))


def test_points_given_as_options_become_a_named_curve(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["--json", "profiles", "new", *POINTS, *FACTS, "--source", "its data sheet"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["points"] == [[1500.0, 40.0], [3000.0, 78.0], [6000.0, 105.0]]
    curve = load_rated(told["name"]).profile.rated_curve()
    assert (curve.volts, curve.state, curve.system_volts) == (13.5, "warm", 12.0)
    assert curve.source == "its data sheet"
    assert Path(told["profile"]) == user_folder("alternators") / "long-bracket-105.toml"


def test_a_file_that_is_there_is_kept_until_told_to_replace_it() -> None:
    assert run(["profiles", "new", *POINTS, *FACTS]) == 0
    path = user_folder("alternators") / "long-bracket-105.toml"
    before = path.read_bytes()
    other = ["--points", "1500:41, 6000:90"]
    assert run(["profiles", "new", *other, *FACTS]) == 2
    assert path.read_bytes() == before
    assert run(["profiles", "new", *other, *FACTS, "--replace"]) == 0
    assert load_rated(path).profile.rated_curve().points == ((1500.0, 41.0), (6000.0, 90.0))


def test_a_plate_means_the_same_as_where_rated_takes_it() -> None:
    plate = "45/90A 14V @1500/6000"
    assert run(["profiles", "new", "--plate", plate, "--name", "van"]) == 0
    written, direct = (load_rated(one).profile.rated_curve() for one in ("van", plate))
    assert written.points == direct.points == ((1500.0, 45.0), (6000.0, 90.0))
    assert (written.volts, written.state, written.derived) == (14.0, direct.state, True)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([*POINTS], "--name, --volts and --state"),
        ([*POINTS, *FACTS, "--plate", "x"], "--points and --plate"),
        (["--points", "1500:40, 3000 78", *FACTS], "3000 78"),
        (["--points", "1500:40,5, 3000:78", *FACTS], '"5"'),
        (["--points", "3000:40, 1500:78", *FACTS], "does not rise"),
        (["--points", "1500:90, 3000:40", *FACTS], "falls to 40 A"),
        (["--plate", "45/90A 14V"], "@1500/6000"),
        (["--plate", "45/90A 20V @1500/6000"], "fits no system"),
        ([*POINTS, "--name", "x", "--volts", "20", "--state", "warm"], "20 V fits no system"),
        ([*POINTS, "--name", "x", "--volts", "13.5", "--state", "hot"], '"hot"'),
        ([*POINTS, "--name", "???", "--volts", "13.5", "--state", "warm"], "file name"),
        ([*POINTS, *FACTS, "--to", "curve.txt"], ".toml"),
        (["--csv", "nowhere.csv", *FACTS], "nowhere.csv"),
        (["--from-run", "no-such-run"], "no-such-run"),
    ],
)
def test_what_cannot_be_a_curve_is_told_and_nothing_is_written(
    capsys: pytest.CaptureFixture[str], arguments: list[str], said: str
) -> None:
    assert run(["profiles", "new", *arguments]) == 2
    told = capsys.readouterr()
    assert said in told.err
    assert told.out == ""
    folder = user_folder("alternators")
    assert not folder.exists() or list(folder.iterdir()) == []


def test_asked_step_by_step_a_wrong_answer_is_asked_again(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    typed = "Digger 55 A|1|20|28|2|1500 30|1400 20|abc|6000:55||the machine's handbook"
    answers(monkeypatch, *typed.split("|"))
    assert run(["profiles", "new"]) == 0
    curve = load_rated("digger-55-a").profile.rated_curve()
    assert curve.points == ((1500.0, 30.0), (6000.0, 55.0))
    assert (curve.state, curve.volts, curve.system_volts) == ("cold", 28.0, 24.0)
    assert curve.source == "the machine's handbook"
    said = capsys.readouterr().err
    assert "1400 rpm does not rise" in said
    assert '"abc" is not a point' in said
    assert "20 V fits no system" in said


def test_asked_for_a_plate_its_speeds_are_asked_for_and_not_assumed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    answers(monkeypatch, "Digger plate", "2", "nonsense", "30/55A 28V", "1800", "", "1")
    assert run(["profiles", "new"]) == 0
    assert load_rated("digger-plate").profile.rated_curve().points == (
        (1800.0, 30.0),
        (6000.0, 55.0),
    )


def test_when_nobody_answers_any_more_nothing_is_written(monkeypatch: pytest.MonkeyPatch) -> None:
    answers(monkeypatch, "Digger", "1", "28", "1", "1500 30")
    assert run(["profiles", "new"]) == 2
    assert not user_folder("alternators").exists()


def test_a_curve_from_a_run_has_its_amps_its_state_and_its_seal(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run(["--json", "profiles", "new", "--from-run", str(SAMPLE), "--name", "good one"]) == 0
    told = json.loads(capsys.readouterr().out)
    rows = (SAMPLE / "curve.csv").read_text(encoding="utf-8").splitlines()
    column = rows[0].split(",").index("amps_at_set_rpm")
    expected = [round(float(row.split(",")[column]), 1) for row in rows[1:]]
    assert [amps for _, amps in told["points"]] == expected
    seal = json.loads((SAMPLE / "seal.json").read_text(encoding="utf-8"))
    assert seal["whole"] in told["source"]
    assert seal["run_id"] in told["source"]
    assert told["state"] == "cold"
    assert any("one unit" in words for words in told["told"])


def test_no_curve_is_taken_from_a_run_that_is_not_as_sealed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    copy = tmp_path / SAMPLE.name
    shutil.copytree(SAMPLE, copy)
    curve = copy / "curve.csv"
    data = bytearray(curve.read_bytes())
    data[-3] ^= 1  # one letter of the last outcome
    curve.write_bytes(bytes(data))
    assert run(["profiles", "new", "--from-run", str(copy)]) == 2
    assert "not as it was sealed" in capsys.readouterr().err


def test_a_run_cannot_be_called_warm_when_it_was_cold(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["profiles", "new", "--from-run", str(SAMPLE), "--state", "warm"]) == 2
    assert "the run was cold" in capsys.readouterr().err


def test_every_row_of_a_printed_curve_that_cannot_stand_is_told_by_its_line(
    tmp_path: Path,
) -> None:
    path = printed(tmp_path, "rpm,amps\n1500,40\n\n1400,30\n1400,-2\n1600,50\n")
    with pytest.raises(ProfileError) as caught:
        read_printed(path)
    told = {problem.key: problem.message for problem in caught.value.problems}
    keys = sorted(problem.key for problem in caught.value.problems)
    assert keys == ["line 4", "line 5", "line 5"]
    assert told["line 4"] == "1400 rpm comes after 1500 rpm."


def true_amps(rpm: float) -> float:
    return 105.0 * math.sqrt(1.0 - (1100.0 / rpm) ** 2)


def test_many_scattering_points_are_thinned_to_a_curve_nearer_the_truth_than_their_scatter() -> (
    None
):
    dice = random.Random(5)
    noisy = [(float(rpm), true_amps(rpm) + dice.gauss(0, 1.0)) for rpm in range(1300, 8001, 100)]
    found = thinned(noisy)
    assert found.smoothed
    assert len(found.points) <= MOST_POINTS
    assert found.scatter_amps == pytest.approx(1.0, rel=0.35)
    errors = [amps - true_amps(rpm) for rpm, amps in found.points]
    assert math.sqrt(sum(e * e for e in errors) / len(errors)) < 1.0
    assert len(found.told) == 2


def test_clean_points_are_thinned_without_being_changed() -> None:
    clean = [(float(rpm), round(true_amps(rpm), 2)) for rpm in range(1300, 8001, 100)]
    found = thinned(clean)
    assert not found.smoothed
    assert set(found.points) <= set(clean)
    assert len(found.points) <= MOST_POINTS
    assert (found.points[0], found.points[-1]) == (clean[0], clean[-1])
    assert found.furthest_amps < 0.02 * 105.0


def test_the_scatter_told_is_that_put_in() -> None:
    dice = random.Random(11)
    line = [(1000.0 + k, 50.0 + 0.01 * k + dice.gauss(0.0, 0.3)) for k in range(4000)]
    assert scatter_amps(line) == pytest.approx(0.3, rel=0.05)


@pytest.mark.parametrize(
    "speeds",
    [
        (1500, 1800, 3000, 6000),
        (1300, 1500, 2000, 6000),
        (1200, 1400, 1700, 2200, 3000, 4500, 8000),
        range(1300, 8001, 600),
        range(1200, 8001, 300),
    ],
)
@pytest.mark.parametrize("foot", [(), ((800, 0.0), (1000, 0.0))])
def test_the_bend_of_a_smooth_curve_is_no_scatter(
    speeds: Sequence[int], foot: tuple[tuple[float, float], ...]
) -> None:
    smooth = [*foot, *((float(rpm), round(true_amps(rpm), 1)) for rpm in speeds)]
    found = thinned(smooth)
    assert not found.smoothed
    assert not any("scatter by" in words for words in found.told)


@pytest.mark.parametrize("table", TABLES, ids=lambda table: str(table.name))
def test_what_makers_printed_does_not_scatter(table: PublishedTable) -> None:
    assert thinned(tuple(zip(table.rpm, table.amps, strict=True))).told == ()


@pytest.mark.parametrize("seed", range(5))
def test_few_points_that_scatter_are_told(seed: int) -> None:
    dice = random.Random(seed)
    few = [(float(rpm), true_amps(rpm) + dice.gauss(0, 4.0)) for rpm in range(3000, 8001, 500)]
    (words,) = thinned(few).told
    assert words.startswith("The points scatter by ±")


def test_a_dent_in_four_points_is_told() -> None:
    dent = ((1500.0, 44.1), (1800.0, 70.0), (3000.0, 70.0), (6000.0, 120.0))
    assert thinned(dent).told


def test_twelve_points_or_fewer_stay_as_they_are() -> None:
    few = [(1000.0 * k, 10.0 * k) for k in range(1, MOST_POINTS + 1)]
    assert thinned(few).points == tuple(few)
    assert thinned(few).told == ()


@given(st.text(max_size=60), st.text(max_size=60))
def test_any_name_and_source_come_back_as_words_that_can_be_shown(name: str, source: str) -> None:
    values, _ = content_of(CurveOrder(name, 13.5, "warm", "1500:40, 6000:90", source=source))
    read = tomllib.loads(rated_toml(values))
    assert read["title"] == values["title"]
    assert read["rated"]["points"] == [[1500.0, 40.0], [6000.0, 90.0]]
    assert read["title"].isprintable()
    assert read["rated"]["source"].isprintable()


@given(st.text(alphabet='rpmasht_,\n\r0123456789.-"; ', max_size=80))
def test_whatever_stands_in_a_file_gives_points_or_told_problems(text: str) -> None:
    points: tuple[tuple[float, float], ...] = ()
    with contextlib.suppress(ProfileError):
        points = parse_printed(text, file=Path("any.csv"))
    assert all(before[0] < after[0] and after[1] >= 0 for before, after in pairwise(points))
