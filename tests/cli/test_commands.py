"""The commands as a user types them: exit codes, JSON on stdout, sentences on stderr."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from acquire.cli.main import run
from acquire.run_order import steps_from
from tests.record.runs import finished_run

SAMPLES = Path(__file__).parents[2] / "sample_runs"
RATED = "45/90A 13.5V @1500/6000"


def csv(tmp_path: Path, text: str) -> str:
    path = tmp_path / "points.csv"
    path.write_text(text, encoding="utf-8")
    return str(path)


def document(capsys: pytest.CaptureFixture[str]) -> dict[str, object]:
    found = json.loads(capsys.readouterr().out)
    assert isinstance(found, dict)
    return found


@pytest.mark.parametrize(
    ("amps", "code", "outcome"),
    [((44.0, 88.0), 0, "pass"), ((30.0, 60.0), 1, "fail"), ((40.6, 81.1), 3, "undecided")],
)
def test_judge_ends_with_the_exit_code_of_its_verdict(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    amps: tuple[float, float],
    code: int,
    outcome: str,
) -> None:
    low, high = amps
    text = f"shaft_rpm,amps,u_amps\n1500,{low},0.4\n6000,{high},0.5\n"
    assert run(["--json", "judge", csv(tmp_path, text), "--rated", RATED]) == code
    told = document(capsys)
    assert told["outcome"] == outcome
    keys = {"reason", "acceptance", "decision", "points", "p_all", "checks", "findings", "run"}
    assert keys <= told.keys()
    points = told["points"]
    assert isinstance(points, list)
    assert set(points[0]) >= {
        "shaft_rpm", "amps", "u_amps", "settled", "rated_amps", "limit_amps", "margin_amps",
        "p_conform", "outcome",
    }  # fmt: skip


def test_without_uncertainties_judge_is_simple_and_gives_no_chance(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = csv(tmp_path, "shaft_rpm,amps\n1500,40.6\n6000,81.1\n")
    assert run(["--json", "judge", path, "--rated", RATED]) == 0
    told = document(capsys)
    assert told["decision"] == "simple"
    assert told["p_all"] is None
    assert told["cautions"]


def test_judge_without_a_curve_takes_the_one_the_run_carries_and_says_so(
    capsys: pytest.CaptureFixture[str],
) -> None:
    run_of_then = str(SAMPLES / "pass-van-alternator")
    verdict = json.loads((Path(run_of_then) / "verdict.json").read_text(encoding="utf-8"))
    title = json.loads((Path(run_of_then) / "run.json").read_text(encoding="utf-8"))["rated"][
        "title"
    ]
    assert run(["--json", "judge", run_of_then]) == 0
    said = capsys.readouterr()
    told = json.loads(said.out)
    assert f"the run itself carries: {title}." in said.err
    assert told["rated_curve"] == {"title": title, "from": "run"}
    figures = [(one["shaft_rpm"], one["limit_amps"], one["outcome"]) for one in told["points"]]
    assert figures == [
        (one["shaft_rpm"], one["limit_amps"], one["outcome"]) for one in verdict["points"]
    ]
    assert run(["--json", "judge", run_of_then, "--rated", RATED]) in (0, 1, 3)
    told = document(capsys)
    assert isinstance(told["rated_curve"], dict)
    assert told["rated_curve"]["from"] == "given"


def test_judge_asks_for_a_curve_where_nothing_carries_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = csv(tmp_path, "shaft_rpm,amps\n1500,40.6\n6000,81.1\n")
    unjudged = finished_run(tmp_path / "runs")
    for named, said in ((path, "points.csv"), (str(unjudged), "carries no rated curve")):
        assert run(["judge", named]) == 2
        told = capsys.readouterr()
        assert said in told.err
        assert "--rated" in told.err
        assert told.out == ""


def test_fit_gives_parameters_cut_in_speed_and_band_at_the_speeds_asked_for(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Published table: Citroen CX Op. MA 530.0, 12 V 80 A unit: cut-in 1100 rpm, 1500 rpm 40 A,
    3000 rpm 69 A, 6000 rpm 78 A, 8000 rpm 80 A at 14 V."""
    table = "shaft_rpm,amps\n1500,40\n3000,69\n6000,78\n8000,80\n"
    assert run(["--json", "fit", csv(tmp_path, table), "--at", "1500,2000"]) == 0
    told = document(capsys)
    assert set(told) >= {
        "model", "parameters", "residual_sd_amps", "cut_in_rpm", "at", "warnings",
    }  # fmt: skip
    cut_in = told["cut_in_rpm"]
    assert isinstance(cut_in, dict)
    assert abs(cut_in["value"] - 1100) < 3 * cut_in["u"]
    at = told["at"]
    assert isinstance(at, list)
    assert [point["shaft_rpm"] for point in at] == [1500.0, 2000.0]
    assert all(point["low"] < point["amps"] < point["high"] for point in at)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["judge", "nowhere.csv", "--rated", RATED], "nowhere.csv"),
        (["judge", "nowhere.csv", "--rated", "smal-frame-14v-90a"], "small-frame-14v-90a"),
        (["sweep", "--rig", "simulatd", "--yes"], "simulated"),
        (["sweep", "--rig", "by-hand", "--yes"], "--steps"),
        (["sweep", "--rig", "by-hand", "--rated", "45/90A 13.5V", "--yes"], "@1500/6000"),
        (["sweep", "--rig", "by-hand", "--rated", RATED, "--steps", "15oo", "--yes"], "15oo"),
        (["sweep", "--rig", "by-hand", "--rated", RATED, "--fault", "open-diode"], "real rig"),
        (["replay", "no-such-run"], "no-such-run"),
        (["verify", "no-such-run"], "no-such-run"),
        (["profiles", "list", "engines"], "engines"),
    ],
)
def test_what_cannot_be_done_is_exit_code_2_and_a_sentence_that_names_it(
    capsys: pytest.CaptureFixture[str], arguments: list[str], said: str
) -> None:
    assert run(arguments) == 2
    told = capsys.readouterr()
    assert said in told.err
    assert told.out == ""


def test_verify_lists_the_seal_of_the_test_and_of_each_note(
    tmp_path: Path, nobody_elses_settings: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = str(finished_run(tmp_path))
    assert run(["key", "new"]) == 0
    assert run(["note", folder, "--text", "belt changed", "--who", "M. Example"]) == 0
    capsys.readouterr()
    assert run(["verify", folder]) == 0
    head, test, note = capsys.readouterr().out.splitlines()
    assert "as sealed on" in head
    assert test.startswith("  the test, sealed on ")
    assert test.endswith(": not signed")
    assert note.startswith("  note-0001, sealed on ")
    assert ": signed with key " in note
    assert note.endswith(", known")


def test_the_run_in_which_one_stands_is_verified_by_its_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = finished_run(tmp_path)
    monkeypatch.chdir(folder)
    assert run(["verify", "."]) == 0
    assert capsys.readouterr().out.startswith(f"{folder.name}: as sealed on ")


def test_a_run_is_matched_by_its_last_letters_and_a_rated_curve_by_its_name(
    tmp_path: Path, nobody_elses_settings: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.copytree(SAMPLES / "pass-van-alternator", tmp_path / "2026-11-25T195332Z-J-7-kqzd")
    engine = ["--ratio", "2.5", "--idle", "700", "--cruise", "1400", "--top", "3600"]
    on_the_shelf = ["--shelf", str(tmp_path), "match"]
    assert run([*on_the_shelf, "kqzd", "small-frame-14v-90a", *engine]) == 0
    assert capsys.readouterr().out.startswith("SF90-0417 gives ")
    assert run([*on_the_shelf, "small-frame-14v-90", *engine]) == 2
    assert "Did you mean the rated curve small-frame-14v-90a" in capsys.readouterr().err


def test_a_photo_alone_is_a_note_and_nothing_at_all_is_none(
    tmp_path: Path, nobody_elses_settings: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder, photo = str(finished_run(tmp_path)), tmp_path / "brushes.jpg"
    photo.write_bytes(b"\xff\xd8\xff invented")
    assert run(["note", folder, "--who", "M. Example"]) == 2
    assert "the note would be empty" in capsys.readouterr().err
    assert run(["note", folder, "--file", str(photo), "--who", "M. Example"]) == 0
    assert "note-0001.json, sealed" in capsys.readouterr().out


ENGINE = ["match", "small-frame-14v-90a", "--idle", "700", "--top", "3600"]


@pytest.mark.parametrize(
    ("arguments", "option", "right"),
    [
        ([*ENGINE, "--cruise", "1400", "--ratio", "2,5"], "--ratio", "2.5"),
        ([*ENGINE, "--cruise", "1400,5", "--ratio", "2.5"], "--cruise", "1400.5"),
        ([*ENGINE, "--cruise", "1400", "--ratio", "2.5", "--slip", "1,5"], "--slip", "1.5"),
        ([*ENGINE, "--cruise", "1400", "--engine-pulley", "180,5"], "--engine-pulley", "180.5"),
        ([*ENGINE, "--cruise", "1400", "--need-amps", "40,5"], "--need-amps", "40.5"),
        (["profiles", "new", "--plate", "45/90A 14V", "--volts", "13,5"], "--volts", "13.5"),
        (["report", "x", "--ratio", "2,5"], "--ratio", "2.5"),
        (["rig", "simulate", "--pace", "2,5"], "--pace", "2.5"),
        (["rig", "study", "x", "--reference", "--at", "1500,5"], "--at", "1500.5"),
    ],
)
def test_a_decimal_comma_in_an_option_is_told_as_one(
    capsys: pytest.CaptureFixture[str], arguments: list[str], option: str, right: str
) -> None:
    assert run(arguments) == 2
    said = " ".join(capsys.readouterr().err.replace("│", " ").split())
    assert option in said
    assert f"write decimals with a point, as in {right}" in said


def test_a_decimal_comma_among_points_is_told_as_one(capsys: pytest.CaptureFixture[str]) -> None:
    facts = ["--name", "x", "--volts", "13.5", "--state", "warm", "--source", "x"]
    assert run(["profiles", "new", *facts, "--points", "1500:40,5, 3000:78"]) == 2
    assert "was the comma before it meant for decimals" in capsys.readouterr().err


@pytest.mark.parametrize("speeds", ["1500,5", "1500,5,2000", "800,1500,50"])
def test_a_decimal_comma_among_speeds_is_no_speed_of_its_own(
    capsys: pytest.CaptureFixture[str], speeds: str
) -> None:
    ordered = ["sweep", "--rig", "simulated", "--yes", "--steps", speeds]
    assert run(ordered) == 2
    said = capsys.readouterr().err
    assert "--steps: 5" in said
    assert "Write 1500.5" in said


def test_speeds_by_falling_order_and_slow_ones_first_are_taken() -> None:
    assert steps_from("3000,2000,150,100") == (3000.0, 2000.0, 150.0, 100.0)
    assert steps_from("50,1500") == (50.0, 1500.0)


@pytest.mark.parametrize(
    ("arguments", "kind", "said"),
    [
        (["--json", "verify", "no-such-run"], "RunFileError", "no-such-run"),
        (
            ["--shelf", ".", "--json", "judge", "a.csv", "--rated", "nowhere"],
            "ProfileError",
            "nowh",
        ),
        (["--json", "sweep"], "Usage", "--rig"),
    ],
)
def test_with_json_an_error_is_a_document_too(
    capsys: pytest.CaptureFixture[str], arguments: list[str], kind: str, said: str
) -> None:
    assert run(arguments) == 2
    error = document(capsys)["error"]
    assert isinstance(error, dict)
    assert set(error) == {"kind", "message", "what_to_do"}
    assert error["kind"] == kind
    assert said in error["message"]


def test_usage_errors_are_exit_code_2(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["sweep"]) == 2
    assert run(["no-such-command"]) == 2
    assert "--rig" in capsys.readouterr().err


def test_profiles_check_names_every_error_of_a_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "bench.toml"
    path.write_text(
        'title = "Bench"\n[channels.shaft_rpm]\ndriver = "hand"\n'
        '[channels.ampss]\ndriver = "hand"\n'
        "[limits]\nvolts_maxx = 16.0\n",
        encoding="utf-8",
    )
    assert run(["profiles", "check", str(path)]) == 2
    told = capsys.readouterr().out
    assert "channels.ampss" in told
    assert 'Did you mean "amps"?' in told
    assert 'Did you mean "volts_max"?' in told, "both at once"


def test_profiles_check_says_which_lines_of_a_rig_are_weak(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "bench.toml"
    path.write_text(
        'title = "Bench"\n[channels.shaft_rpm]\ndriver = "hand"\n'
        '[channels.amps]\ndriver = "lines"\nport = "COM7"\npattern = "(?P<value>[0-9.]+)"\n'
        "plausible = [0, 200]\n"
        "[limits]\nvolts_max = 16.0\n",
        encoding="utf-8",
    )
    assert run(["profiles", "check", str(path)]) == 0
    told = capsys.readouterr().out
    assert "lines of amps: no checksum" in told
    assert "plausible" in told


def test_profiles_list_and_show_tell_where_things_come_from(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run(["--json", "profiles", "list", "methods"]) == 0
    told = document(capsys)
    methods = told["methods"]
    assert isinstance(methods, list)
    assert {"quick", "warm", "fine"} <= {one["name"] for one in methods}
    assert {one["origin"] for one in methods} == {"shipped"}
    assert run(["profiles", "show", "quick"]) == 0
    assert "quick.toml" in capsys.readouterr().out


def test_ctrl_c_outside_a_sweep_is_exit_code_4(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupted(*_arguments: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("acquire.cli.places.run_folder", interrupted)
    assert run(["verify", "some-run"]) == 4
    assert "Ctrl-C" in capsys.readouterr().err


def test_a_decimal_comma_in_a_file_is_told_as_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "mine.toml"
    path.write_text('title = "x"\n[rated]\nvolts = 13,5\n', encoding="utf-8")
    assert run(["profiles", "check", str(path)]) == 2
    assert "13.5, not 13,5" in capsys.readouterr().out
