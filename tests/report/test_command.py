"""`steadyamps report`: what it writes, what it leaves alone, what it says."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest
import typer

from acquire.cli import report_command
from acquire.cli.voice import Voice
from acquire.errors import OrderError, RunFileError
from acquire.record.verify import verify
from profiles.errors import ProfileError
from tests.report.runs import WEAK, Order, make_run, tiny_png


def _command() -> typer.Typer:
    app = typer.Typer()

    @app.callback()
    def options(context: typer.Context, json: bool = False) -> None:
        context.obj = Voice(json=json)

    report_command.register(app)
    return app


def _run(*arguments: str | Path) -> int:
    done = _command()([str(one) for one in arguments], standalone_mode=False)
    assert isinstance(done, int)
    return done


def _hashes(run: Path) -> dict[str, str]:
    return {
        path.relative_to(run).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in run.rglob("*")
        if path.is_file()
    }


def test_it_writes_beside_the_seal_and_changes_nothing(tmp_path: Path) -> None:
    run = make_run(tmp_path)
    before = _hashes(run)
    assert _run("report", run, "--sheet", "--tag") == 0
    after = _hashes(run)
    papers = {f"{n}.{e}" for n in ("report", "sheet", "tag") for e in ("html", "pdf")}
    assert set(after) - set(before) == papers
    assert {name: after[name] for name in before} == before
    checked = verify(run)
    assert checked.sealed
    assert set(checked.aside) == papers


def test_a_report_made_again_is_the_same_report(tmp_path: Path) -> None:
    run = make_run(tmp_path)
    _run("report", run)
    first = _hashes(run)
    _run("report", run)
    assert _hashes(run) == first


def test_with_json_it_names_the_files(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run = make_run(tmp_path / "shelf", Order(simulated=True))
    assert _run("--json", "report", run, "--out", tmp_path / "paper") == 0
    document = json.loads(capsys.readouterr().out)
    assert [Path(file).name for file in document["files"]] == ["report.html", "report.pdf"]
    assert all(Path(file).is_file() for file in document["files"])
    assert [mark.partition(":")[0] for mark in document["marks"]] == ["SIMULATED"]
    assert not (run / "report.html").exists()


def test_settings_give_workshop_logo_language_and_paper(
    tmp_path: Path, nobody_elses_settings: Path
) -> None:
    (nobody_elses_settings / "logo.png").write_bytes(tiny_png())
    (nobody_elses_settings / "settings.toml").write_text(
        '[workshop]\nname = "Kai-Werk (erfunden)"\nlogo = "logo.png"\n'
        '[report]\nlanguage = "de"\npaper = "letter"\n',
        encoding="utf-8",
    )
    _run("report", make_run(tmp_path / "shelf"), "--out", tmp_path)
    text = (tmp_path / "report.html").read_text(encoding="utf-8")
    assert '<html lang="de">' in text
    assert "Kai-Werk (erfunden)" in text
    assert '<img alt="Kai-Werk (erfunden)" src="data:image/png;base64,' in text
    assert "size: letter" in text


def test_a_logo_that_is_not_there_is_said_and_left_out(
    tmp_path: Path, nobody_elses_settings: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (nobody_elses_settings / "settings.toml").write_text('[workshop]\nlogo = "none.png"\n')
    assert _run("report", make_run(tmp_path / "shelf"), "--out", tmp_path) == 0
    assert "The logo none.png is not there" in capsys.readouterr().err


def test_before_and_engine_have_their_parts(tmp_path: Path) -> None:
    before = make_run(tmp_path / "b", Order(amps=dict(WEAK), stage="before"))
    run = make_run(tmp_path / "a")
    engine = ("--ratio", "2.5", "--idle", "700", "--cruise", "1400..2200", "--top", "3600")
    assert _run("report", run, "--before", before, *engine, "--out", tmp_path) == 0
    text = (tmp_path / "report.html").read_text(encoding="utf-8")
    assert "<h2>Before and after</h2>" in text
    part = text[text.index("On this engine") : text.index("<h2>Checks")]
    assert part.count("<tr>") == 6
    assert "1732\u00a0rpm" in part  # 700 x 2.5 x 0.99
    assert "beyond the measured speeds" in part


def test_half_an_engine_is_refused(tmp_path: Path) -> None:
    with pytest.raises(OrderError, match="not known whole"):
        _run("report", make_run(tmp_path), "--idle", "700")


@pytest.mark.parametrize("arguments", [("--language", "xx"), ("--before", "nowhere")])
def test_what_cannot_be_done_is_said_before_anything_is_written(
    tmp_path: Path, arguments: tuple[str, str]
) -> None:
    with pytest.raises((OrderError, RunFileError)):
        _run("report", make_run(tmp_path / "shelf"), *arguments, "--out", tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_a_language_that_is_not_there_is_the_fault_of_who_asked_for_it(
    tmp_path: Path, nobody_elses_settings: Path
) -> None:
    run = make_run(tmp_path / "shelf")
    with pytest.raises(OrderError, match=r'--language "xx"') as asked:
        _run("report", run, "--language", "xx")
    assert asked.value.what_to_do == "Known: de and en."
    assert "settings" not in str(asked.value)
    (nobody_elses_settings / "settings.toml").write_text('[report]\nlanguage = "xx"\n')
    with pytest.raises(ProfileError, match=r"settings\.toml.*report\.language"):
        _run("report", run)
    _run("report", run, "--language", "de", "--out", tmp_path / "out")
    assert '<html lang="de">' in (tmp_path / "out" / "report.html").read_text(encoding="utf-8")


def test_a_folder_that_is_no_run_is_refused(tmp_path: Path) -> None:
    with pytest.raises(RunFileError, match=r"no run\.json"):
        _run("report", tmp_path)
