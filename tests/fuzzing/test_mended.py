"""What fuzzing brought to light, each said as what holds now."""

from __future__ import annotations

import json
import time
from datetime import timedelta
from pathlib import Path

import pytest
from pydantic import ValidationError

from acquire.candidates import candidate_from
from acquire.cli.main import run
from acquire.cli.voice import Voice
from acquire.errors import OrderError, RunFileError
from acquire.findings.seen import seen_in
from acquire.judge.budget import Budget, Part, degrees_of_freedom
from acquire.judging import points_in, warm_up_in
from acquire.match.pulley import BeltDrive
from acquire.record.curve_table import HEADING as HEADING_OF_CURVE
from acquire.record.curve_table import curve_from
from acquire.record.journal import JournalEntry, first_prev, journal_from
from acquire.record.keys import PublicKey, trusted_fingerprints
from acquire.record.other_hands import number
from acquire.record.read_run import read_run, with_rows_of_the_journal
from acquire.record.reopen import reopen
from acquire.record.run_header import header_from_bytes
from acquire.record.samples import HEADING, iterate_samples, samples_from
from acquire.replay import replay
from acquire.report.language import language, read_language
from acquire.report.recorded_words import in_language
from acquire.run_order import steps_from
from acquire.shelf.entry import RunEntry
from acquire.shelf.reading import read_entry
from acquire.shelf.search_keys import search_key
from acquire.shelf.server_url import checked_url
from acquire.shelf.wanted import first_day
from acquire.shelf.where import local_ground
from acquire.typed_number import typed_number
from acquire.typed_path import is_there, typed_path
from drivers.clock import HandClock
from drivers.errors import Unreadable
from drivers.line_pattern import strict_number
from drivers.port_address import port_of
from drivers.readings import Quality, Reading
from drivers.scpi_text import is_token, scpi_number
from drivers.simulated.rig_model import RigModel
from drivers.simulated.servers.scpi_server import BAD_DATA, HoldingLoad
from profiles.address import Wire, port_wrong
from profiles.catalogue import load_rated
from profiles.checking import checked
from profiles.errors import BenchError, ProfileError
from profiles.instrument import HandChannel
from profiles.plain_text import shown
from profiles.plate import parse_plate
from profiles.settings import Settings
from profiles.toml_file import parse_toml
from tests.record.runs import QUICK, header
from tests.report.runs import BEGAN, Order, make_run

TEXT = "1,1500.0,1500.1,0.05,45.2,0.2,13.5,0.01,,yes,0.3,3"


def _entry(kind: str, **data: object) -> JournalEntry:
    return JournalEntry(1.0, "2026-01-02T03:04:05.000Z", kind, data)


@pytest.mark.parametrize("digits", [4000, 60_000])
def test_a_long_run_of_digits_on_a_wire_is_refused_at_once(digits: int) -> None:
    began_s = time.process_time()
    with pytest.raises(Unreadable):
        scpi_number(b"9" * digits + b"!")
    with pytest.raises(Unreadable):
        strict_number("9" * digits)
    assert time.process_time() - began_s < 0.3


def test_a_separator_of_ascii_is_no_part_of_a_token() -> None:
    assert is_token(b" 17\r", 17)
    assert not is_token(b"17\x1e", 17)


def test_the_simulated_load_calls_nan_and_inf_wrong_data() -> None:
    for said in (b"*ESE nan\n", b"*ESE inf\n", b"VOLT nan\n"):
        load = HoldingLoad(RigModel())
        load.hear(said, 0.0)
        assert load.hear(b"SYST:ERR?\n", 0.0) == [f"{BAD_DATA}\n".encode()]


def test_options_behind_a_port_stand_only_where_they_are_understood() -> None:
    assert port_wrong("socket://bench:80/x") is not None
    assert port_wrong("socket://bench:80/") is None
    assert port_wrong("rfc2217://bench:80?ign_set_control") is None


def test_a_plate_of_thousands_of_amps_is_refused_as_points_are() -> None:
    with pytest.raises(ProfileError, match="9000 A; a current lies between 0 and 2000 A"):
        load_rated("45/9000A 14V @1500/6000")


def test_a_list_with_a_number_of_thousands_of_digits_can_be_shown() -> None:
    assert shown([1 << 40_000]) == "a list with a number of very many digits"


@pytest.mark.parametrize("text", ["9" * 400, "٣", "1_000", "nan", "1e3", "\x1b[2J"])
def test_a_typed_figure_is_plain_and_finite_or_a_sentence_that_cannot_steer(text: str) -> None:
    said = typed_number(text)
    assert isinstance(said, str)
    assert said.isprintable()
    with pytest.raises(OrderError):
        steps_from(text)


def test_a_drive_of_no_finite_ratio_is_none() -> None:
    with pytest.raises(BenchError):
        BeltDrive(float("inf"))
    with pytest.raises(BenchError):
        BeltDrive.from_pulleys(engine_mm=float("inf"), alternator_mm=60.0)


def test_dates_are_in_ascii_digits() -> None:
    with pytest.raises(BenchError, match="is no date"):
        first_day("2024-１２-29")


def test_month_and_day_zero_are_none() -> None:
    for text in ("2024-00-29", "2024-00", "2024-05-00"):
        with pytest.raises(BenchError, match="is no date"):
            first_day(text)


@pytest.mark.parametrize("driver", ["psycopg2", "pg8000", "①"])
def test_a_server_is_reached_only_by_the_driver_whose_encryption_is_seen_to(driver: str) -> None:
    with pytest.raises(BenchError, match="psycopg is the one that is used"):
        checked_url(f"postgresql+{driver}://bench@server.example/shelf")


def test_a_unit_of_measure_alone_is_no_speed() -> None:
    with pytest.raises(ProfileError, match="speeds after the @"):
        parse_plate("28V 80A@ 1/min")


def test_a_key_of_great_length_is_not_repeated_whole() -> None:
    with pytest.raises(ProfileError) as caught:
        checked(Settings, {"k" * 100_000: 1}, "settings.toml")
    assert len(str(caught.value)) < 500


def test_a_language_that_is_none_is_named_so_that_it_cannot_steer() -> None:
    with pytest.raises(ProfileError) as caught:
        language("x\x1b[3J")
    assert str(caught.value).isprintable()


def test_a_name_folds_to_the_same_key_however_often() -> None:
    assert search_key("𝜜-7") == search_key("α7") == search_key(search_key("𝜜7"))


@pytest.mark.parametrize("path", ["~no-such-user-here/x", "a\0b", "x" * 300])
def test_a_path_that_can_be_none_is_refused_with_a_sentence(path: str) -> None:
    with pytest.raises(OrderError):
        typed_path(path)
    with pytest.raises(BenchError):
        trusted_fingerprints([path])


def test_a_name_too_long_for_the_disk_is_not_there() -> None:
    assert not is_there(Path("x" * 300))


def test_a_public_key_of_an_unknown_kind_is_no_key() -> None:
    pem = PublicKey(
        "-----BEGIN PUBLIC KEY-----\n"
        "MCowBQYDK1VwAyEABvF4wMYNdpgXtKTtq/U6MXqhmlOfio3GH3MBmapKs4I=\n"
        "-----END PUBLIC KEY-----\n"
    )
    with pytest.raises(ValueError, match=r"."):
        _ = pem.fingerprint


@pytest.mark.parametrize("time_text", [b"9" * 400, b"1e999"])
def test_a_row_without_a_finite_time_is_no_row(tmp_path: Path, time_text: bytes) -> None:
    data = HEADING + b"0.0,amps,1.5,ok\r\n" + time_text + b",amps,1.5,ok\r\n"
    read = samples_from(tmp_path / "samples.csv", data)
    assert read.rows == 1
    assert read.tail is not None


def test_a_value_that_is_not_finite_is_a_bad_reading(tmp_path: Path) -> None:
    path = tmp_path / "samples.csv"
    path.write_bytes(HEADING + b"0.0,amps,1e999,ok\r\n0.5,amps,1.5,ok\r\n")
    first, second = iterate_samples(path)
    assert (first.value, first.quality) == (None, Quality.BAD)
    assert second.value == 1.5


@pytest.mark.parametrize("t_s", ["1" + "0" * 400, "1e300"])
def test_a_journal_line_at_an_impossible_time_ends_the_journal(t_s: str) -> None:
    line = (
        f'{{"t_s":{t_s},"utc":"2026-01-02T03:04:05.000Z","kind":"tick","data":{{"row":0}},'
        f'"prev":"{first_prev("run")}"}}\n'
    )
    read = journal_from(line.encode(), "run")
    assert read.entries == ()
    assert read.tail is not None


def test_steps_of_a_run_are_numbers() -> None:
    table = {**header().table(), "steps": [1500.0, "nan"]}
    with pytest.raises(RunFileError, match="steps"):
        header_from_bytes(Path("run.json"), json.dumps(table).encode())


def test_a_row_with_a_control_character_in_its_text_is_cut_off() -> None:
    row = f"{TEXT},,,,,,,pass\x07\r\n".encode()
    assert curve_from(Path("curve.csv"), HEADING_OF_CURVE + row).rows == ()


@pytest.mark.parametrize("began", ["2026-13-45T99:99:99Z", "２０２６-01-01T00:00:00Z"])
def test_a_run_began_at_a_time_that_is_one(began: str) -> None:
    table = {**header().table(), "began_utc": began}
    with pytest.raises(RunFileError, match="began_utc"):
        header_from_bytes(Path("run.json"), json.dumps(table).encode())


def test_a_step_told_twice_by_the_journal_gets_one_row() -> None:
    entries = (_entry("steady point", text=TEXT), _entry("steady point", text=TEXT, step=1))
    assert [row.step for row in with_rows_of_the_journal((), entries)] == [1]


@pytest.mark.parametrize(
    "entry",
    [
        _entry("steady point", step=[]),
        _entry("steady point", step=2),
        _entry("steady point", step=2, text='"'),
    ],
)
def test_a_steady_point_of_other_hands_is_refused(entry: JournalEntry) -> None:
    with pytest.raises(RunFileError, match=r"journal\.jsonl: holds a steady point"):
        with_rows_of_the_journal((), (entry,))


@pytest.mark.parametrize(
    "entry",
    [
        _entry("zero taken", amps="0.1"),
        _entry("zero taken", amps=0.1, volts=[]),
        _entry("warm-up over", amps_first=1.0),
        _entry("speed not reached", wanted_rpm=10**400),
        _entry("steady point", step=1, set_rpm=1500.0, channels={"amps": {"mean": None}}),
        _entry("ripple lines", step=1, lines=[]),
    ],
)
def test_what_a_journal_of_other_hands_says_was_seen_is_refused(entry: JournalEntry) -> None:
    with pytest.raises(RunFileError, match=r"journal\.jsonl: holds the entry"):
        seen_in([entry])


def test_the_end_of_a_warm_up_and_points_of_other_hands_are_refused() -> None:
    with pytest.raises(RunFileError, match="the end of the warm-up"):
        warm_up_in([_entry("warm-up over", lasted_s=None)])
    with pytest.raises(RunFileError, match=r"verdict\.json: holds steady points"):
        points_in({"steady_points": [{"step": 1}], "budget": []})


@pytest.mark.parametrize("value", [True, "1", None, []])
def test_a_figure_of_a_record_is_a_number(value: object) -> None:
    with pytest.raises(TypeError):
        number(value)


@pytest.mark.parametrize("value", [1e308, 10**400, float("nan")])
def test_a_figure_of_a_record_is_no_larger_than_any_of_a_run(value: float) -> None:
    with pytest.raises(ValueError, match="larger"):
        number(value)


@pytest.mark.parametrize("dof", [0, -1.0, float("nan")])
def test_degrees_of_freedom_of_a_record_are_above_zero(dof: float) -> None:
    with pytest.raises(ValueError, match=r"degrees|larger"):
        degrees_of_freedom(dof)
    assert degrees_of_freedom(None) == float("inf")


@pytest.mark.parametrize("port", ["٣", "9" * 5000])
def test_a_socket_of_visa_has_a_port_in_ascii_digits_or_is_left_to_visa(port: str) -> None:
    assert port_of(Wire(resource=f"TCPIP::bench::{port}::SOCKET")).startswith("visa:")
    assert port_of(Wire(resource="TCPIP::bench::5025::SOCKET")) == "socket://bench:5025"


def test_a_number_beyond_64_bits_is_refused_in_toml() -> None:
    """TOML 1.0.0, Integer: what cannot be represented without loss is an error."""
    with pytest.raises(ProfileError, match="very many digits"):
        parse_toml("a = [0x" + "f" * 5000 + "]", "bench.toml")
    assert parse_toml("a = 9223372036854775807", "bench.toml") == {"a": 2**63 - 1}


@pytest.mark.parametrize("text", ["xx = 1", "[word]\nand = 1", '[word]\nand = "{"', "[word"])
def test_a_language_file_that_is_none_is_named(tmp_path: Path, text: str) -> None:
    path = tmp_path / "xx.toml"
    path.write_text(text)
    with pytest.raises(ProfileError, match=r"xx\.toml"):
        read_language(path)


def test_what_a_command_prints_cannot_steer(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["profiles", "list", "\x1b[2J\u202e"]) == 2
    assert run(["shelf", "search", "--since", "\x1b[2J"]) == 2
    said = capsys.readouterr().err
    assert "\x1b" not in said
    assert "\u202e" not in said
    Voice(json=True).document({"serial": "\u202e7"})
    assert capsys.readouterr().out == '{\n "serial": "\\u202e7"\n}\n'


def test_a_replay_whose_time_leaps_for_ever_is_refused(tmp_path: Path) -> None:
    folder = make_run(tmp_path)
    path = folder / "samples.csv"
    path.write_bytes(path.read_bytes().replace(b"\r\n40.0,shaft", b"\r\n1e+308,shaft", 1))
    with pytest.raises(RunFileError, match=r"goes on at 1e\+308 s after"):
        replay(read_run(folder))


def test_a_replay_goes_on_after_an_interruption_of_days(tmp_path: Path) -> None:
    """What is written when a run is opened again stands at the time of the opening."""
    folder = make_run(tmp_path, Order(stopped="stopped by the operator"))
    clock = HandClock(start_utc=BEGAN + timedelta(days=9))
    reopened = reopen(folder, clock, files=QUICK, sync_every_s=None)
    reopened.add_readings([reopened.time.reading(Reading("amps", clock.monotonic_s(), 50.0))])
    reopened.close()
    assert replay(read_run(folder)).readings > 10


@pytest.mark.parametrize("ends", [[0, 10**400], [float("-inf"), 0.0]])
def test_what_is_plausible_ends_at_numbers(ends: list[float]) -> None:
    with pytest.raises(ValidationError):
        HandChannel.model_validate({"driver": "hand", "plausible": ends})
    assert HandChannel.model_validate({"driver": "hand", "plausible": [0, 9]}).plausible == (0, 9)


def test_a_part_of_a_budget_is_of_a_known_kind() -> None:
    kept = Budget((Part("scatter", "scatter of the reading", 0.2),)).to_data()
    assert Budget.from_data(kept).u == 0.2
    for key in ("kind", "distribution"):
        spoilt = json.loads(json.dumps(kept))
        spoilt["parts"][0][key] = []
        with pytest.raises(ValueError, match="no kind"):
            Budget.from_data(spoilt)


def test_a_run_with_a_giant_figure_in_its_verdict_is_listed_without_it(tmp_path: Path) -> None:
    folder = make_run(tmp_path)
    path = folder / "verdict.json"
    table = json.loads(path.read_bytes())
    path.write_text(json.dumps({**table, "p_all": 10**400}), encoding="utf-8")
    entry = read_entry(local_ground(tmp_path), folder.name)
    assert isinstance(entry, RunEntry)
    assert entry.p_all is None


def test_a_unit_of_a_name_too_long_for_the_disk_is_refused_with_a_sentence() -> None:
    with pytest.raises(ProfileError, match="no rated curve of this name"):
        candidate_from("x" * 300)


def test_a_text_longer_than_the_program_writes_stays_as_it_is() -> None:
    """To look for phrases in 300 kB took seconds."""
    text = "At 1500 rpm, and, " * 20_000
    said = in_language(language("de"), text)
    assert (said.text, said.lang) == (text, "en")
