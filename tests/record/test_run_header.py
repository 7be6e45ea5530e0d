"""run.json, verdict.json, their schemas, and the names of runs."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from datetime import UTC, datetime
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from acquire.errors import RunFileError
from acquire.judge.verdict import judge
from acquire.record.migrate import up_to_date
from acquire.record.read_run import read_run
from acquire.record.run_folder import RunFolder
from acquire.record.run_header import RUN_FILE, RunHeader, header_from, read_header, this_host
from acquire.record.run_name import run_name, safe_label, utc_of, utc_text
from acquire.record.shelf_folder import default_shelf
from acquire.record.verdict_file import VERDICT_FILE, read_verdict, verdict_bytes
from drivers.clock import HandClock
from tests.record.runs import QUICK, VERDICT, finished_run, header, new_run

SOMEWHERE = Path("run.json")
BEGAN = datetime(2026, 11, 25, 11, 15, 47, tzinfo=UTC)
CONTRACT = [
    *("schema", "program", "run_id", "began_utc", "ended_utc", "state", "simulated", "job", "unit"),
    *("serial", "stage", "operator", "steps", "rig", "rated", "method", "rule", "instruments"),
    "host",
]


def schema(name: str) -> Draft202012Validator:
    text = (files("acquire.record") / "schemas" / f"{name}.schema.json").read_text("utf-8")
    table = json.loads(text)
    Draft202012Validator.check_schema(table)
    return Draft202012Validator(table)


def content(path: Path) -> dict[str, Any]:
    table = json.loads(path.read_bytes())
    assert isinstance(table, dict)
    return table


def test_run_json_has_the_keys_of_the_contract_and_fits_its_schema(tmp_path: Path) -> None:
    with new_run(tmp_path) as folder:
        running = content(folder.folder / RUN_FILE)
    complete = content(finished_run(tmp_path) / RUN_FILE)
    stopped = content(finished_run(tmp_path, state="stopped") / RUN_FILE)
    for table, state in ((running, "running"), (complete, "complete"), (stopped, "stopped")):
        assert list(table) == CONTRACT
        assert table["state"] == state
        schema("run").validate(table)


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("state", "running"),
        ("state", "gone"),
        ("began_utc", "yesterday"),
        ("schema", "1"),
        ("run_id", ""),
        ("simulated", "yes"),
        ("steps", "1500"),
        ("rig", {"title": "x"}),
        ("job", []),
    ],
)
def test_schema_and_reader_refuse_the_same(tmp_path: Path, key: str, value: object) -> None:
    table = {**content(finished_run(tmp_path) / RUN_FILE), key: value}
    assert not schema("run").is_valid(table)
    with pytest.raises(RunFileError, match=r"run\.json"):
        header_from(SOMEWHERE, table)


def test_every_problem_of_a_run_json_is_named_with_its_key() -> None:
    table = {**header().table(), "state": "gone", "steps": ["fast"], "simulated": 3}
    with pytest.raises(RunFileError) as caught:
        header_from(SOMEWHERE, table)
    assert all(key in str(caught.value) for key in ("state", "steps.0", "simulated"))


def test_verdict_json_fits_its_schema(tmp_path: Path) -> None:
    folder = finished_run(tmp_path)
    schema("verdict").validate(content(folder / VERDICT_FILE))
    assert read_verdict(folder) == {"schema": 1, **VERDICT}
    assert not schema("verdict").is_valid({"schema": 1, "outcome": "good", "reason": "x"})


def test_what_the_judgement_says_fits_the_schema() -> None:
    verdict = judge([], rated=None, accept=None)
    said = json.loads(verdict_bytes(verdict.to_data()))
    assert list(schema("verdict").iter_errors(said)) == []


def test_a_verdict_without_a_reason_is_refused() -> None:
    with pytest.raises(ValueError, match="reason"):
        verdict_bytes({"outcome": "pass"})


def test_a_verdict_may_hold_what_is_not_finite() -> None:
    assert b'"u_amps": "nan"' in verdict_bytes({**VERDICT, "u_amps": float("nan")})


def test_seal_json_fits_its_schema(tmp_path: Path) -> None:
    seal = content(finished_run(tmp_path) / "seal.json")
    assert list(schema("seal").iter_errors(seal)) == []


def test_keys_a_later_program_added_are_kept() -> None:
    table = {**header().table(), "weather": "wet"}
    assert header_from(SOMEWHERE, table).changed(stage="after").table()["weather"] == "wet"


@pytest.mark.parametrize("key", CONTRACT[1:])
def test_a_missing_key_is_named(key: str) -> None:
    table = {name: value for name, value in header().table().items() if name != key}
    assert not schema("run").is_valid(table)
    with pytest.raises(RunFileError, match=f"has no {key}"):
        header_from(SOMEWHERE, table)


def test_a_newer_schema_is_one_clear_error() -> None:
    with pytest.raises(RunFileError, match=r"newer program \(schema 2; this one knows 1\)"):
        header_from(SOMEWHERE, {**header().table(), "schema": 2})


def test_older_schemas_go_through_every_step() -> None:
    steps = {1: lambda t: {**t, "b": t["a"]}, 2: lambda t: {**t, "c": t["b"] + 1}}
    table = up_to_date(SOMEWHERE, {"schema": 1, "a": 5}, steps=steps, newest=3)
    assert table == {"schema": 3, "a": 5, "b": 5, "c": 6}


@pytest.mark.parametrize("table", [[], {}, {"schema": 0}, {"schema": True}, {"schema": "1"}])
def test_a_table_without_a_schema_number_is_refused(table: object) -> None:
    with pytest.raises(RunFileError):
        up_to_date(SOMEWHERE, table, steps={})


def test_a_folder_without_run_json_is_no_run(tmp_path: Path) -> None:
    with pytest.raises(RunFileError, match="is not a run") as caught:
        read_header(tmp_path)
    assert "a run never began" in caught.value.what_to_do
    with pytest.raises(RunFileError, match="not a run folder"):
        read_run(tmp_path / "missing")


# ---- names ---------------------------------------------------------------------------------


def test_a_run_is_named_after_time_and_job(tmp_path: Path) -> None:
    assert run_name(BEGAN, "J 1044/b", "kqzd") == "2026-11-25T111547Z-J-1044-b-kqzd"
    name = new_run(tmp_path).folder.name
    assert re.fullmatch(r"2026-01-02T030405Z-J-1044-[a-z]{4}", name)


@given(st.text())
def test_no_label_leads_out_of_the_shelf_or_is_refused_by_windows(label: str) -> None:
    """Microsoft, "Naming Files, Paths, and Namespaces": no < > : " / | ? *, no dot at the end."""
    name = run_name(BEGAN, label, "abcd")
    assert re.fullmatch(r"[A-Za-z0-9-]{1,80}", name)
    assert Path(name).name == name
    assert not name.endswith((".", " "))


@pytest.mark.parametrize(
    "label",
    ["../../etc", "..\\..\\x", "C:\\x", "/abs", "a\x00b", "nul", "", None, "....", "Ümlaut"],
)
def test_tricks_with_job_and_serial_stay_on_the_shelf(tmp_path: Path, label: str | None) -> None:
    head = header().changed(job={"number": label}, serial=label, unit=label)
    folder = RunFolder.create(tmp_path, head, HandClock(), files=QUICK, sync_every_s=None)
    folder.close()
    assert folder.folder.parent == tmp_path
    assert read_run(folder.folder).header.serial == label


def test_labels_keep_what_can_be_read() -> None:
    assert safe_label("Ünit 7 / left") == "Unit-7-left"
    assert safe_label("測試") == "unit"
    assert len(safe_label("x" * 500)) == 40


def test_times_read_back(tmp_path: Path) -> None:
    assert utc_text(BEGAN) == "2026-11-25T11:15:47.000Z"
    assert utc_of(utc_text(BEGAN)) == BEGAN


def test_runs_live_in_the_users_data_folder() -> None:
    assert default_shelf().is_absolute()
    assert default_shelf().parts[-2:] == ("steadyamps", "runs")


def test_the_host_is_described_in_text() -> None:
    assert set(this_host()) == {"name", "system", "machine", "python"}


def test_a_run_is_called_by_its_serial_else_its_unit_else_its_folder() -> None:
    head = header()
    assert head.title == "SN 7/1"
    assert head.changed(serial=None).title == "14 V 90 A (invented)"
    assert RunHeader(program="p", run_id="r", began_utc="2026-01-02T03:04:05Z").title == "r"


def test_the_record_stays_light_to_start() -> None:
    """Keys, numbers and screens are loaded where they are used, not with the record."""
    code = (
        "import sys, acquire.record.reopen, acquire.record.verify\n"
        "print(sorted({'cryptography', 'numpy', 'scipy', 'textual', 'rich'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_a_new_run_makes_the_last_folder_of_its_shelf_and_never_those_above(tmp_path: Path) -> None:
    assert new_run(tmp_path / "runs").folder.parent == tmp_path / "runs"
    with pytest.raises(RunFileError, match="is not there"):
        new_run(tmp_path / "no" / "runs")
    assert not (tmp_path / "no").exists()


def test_the_default_shelf_is_made_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    usual = tmp_path / "data" / "steadyamps" / "runs"
    monkeypatch.setattr("acquire.record.shelf_folder.default_shelf", lambda: usual)
    assert new_run(usual).folder.parent == usual
