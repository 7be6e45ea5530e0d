"""Output where a sign is missing, and file names that every system takes.

Sources: code pages cp850 and cp1252 as Python has them; Microsoft Learn, "Naming Files, Paths, and
Namespaces" (what may not stand in a name there); RFC 8259, 8.1 (JSON is UTF-8).
"""

from __future__ import annotations

import io
import json
import os
import re
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.cli.plain_signs import SIGNS, in_utf8, nearest, never_fails
from acquire.record.run_name import run_name
from profiles.file_name import DEVICES, file_name
from tests.portability.reach import ROOT

FORBIDDEN = re.compile(r'[<>:"/\\|?*\x00-\x1f]|[. ]$')
RATED = "45/90A 13.5V @1500/6000"


def written(text: str, encoding: str) -> bytes:
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding=encoding, newline="\n")
    never_fails(stream)
    stream.write(text)
    stream.flush()
    return raw.getvalue()


@pytest.mark.parametrize(
    ("encoding", "text", "out"),
    [
        ("cp850", "52.1 ±0.5 A at 25 °C, a…", "52.1 ±0.5 A at 25 °C, a..."),
        ("cp1252", "a … b – c ≤ 5 √3 → Müller", "a … b – c <= 5 sqrt3 -> Müller"),
        ("ascii", "Prüfstand: 5 µV, ±2 %, Ω ✓", "Prufstand: 5 uV, +/-2 %, ohm ?"),
        ("utf-8", "≤ … ✓", "≤ … ✓"),
    ],
)
def test_a_sign_that_is_missing_is_written_as_its_nearest(
    encoding: str, text: str, out: str
) -> None:
    assert written(text, encoding).decode(encoding) == out


@given(st.text(max_size=60), st.sampled_from(["cp850", "cp1252", "ascii", "cp437"]))
def test_no_text_fails_on_any_code_page(text: str, encoding: str) -> None:
    kept = text.encode(encoding, "ignore").decode(encoding)
    assert len(written(text, encoding)) >= len(kept)


def test_every_stand_in_is_plain_itself() -> None:
    assert all(sign.isascii() for sign in SIGNS.values())
    assert nearest("čšž") == "csz"


def test_a_json_document_is_utf_8_whatever_the_terminal_is() -> None:
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding="cp1252", newline="\n")
    in_utf8(stream)
    stream.write('"≤ ü"')
    stream.flush()
    assert raw.getvalue() == '"≤ ü"'.encode()


def ran(*arguments: str, encoding: str, where: Path) -> subprocess.CompletedProcess[bytes]:
    environment = {
        **os.environ,
        "PYTHONPATH": str(ROOT),
        "PYTHONIOENCODING": encoding,
        "PYTHONUTF8": "0",
    }
    code = "from acquire.cli.main import main; main()"
    return subprocess.run(
        [sys.executable, "-W", "error", "-c", code, *arguments],
        cwd=where, env=environment, capture_output=True, check=False,
    )  # fmt: skip


@pytest.mark.parametrize("encoding", ["cp850", "cp1252", "ascii"])
def test_commands_print_on_an_old_console(encoding: str, tmp_path: Path) -> None:
    sample = str(ROOT / "sample_runs" / "pass-van-alternator")
    judged = ran("judge", sample, "--rated", RATED, encoding=encoding, where=tmp_path)
    assert judged.returncode in (0, 1, 3), judged.stderr
    assert b"Traceback" not in judged.stderr
    assert ("±" if encoding != "ascii" else "+/-") in judged.stdout.decode(encoding)


def test_titles_with_foreign_letters_reach_a_pipe(tmp_path: Path) -> None:
    folder = Path(os.environ["STEADYAMPS_CONFIG"]) / "rules"
    folder.mkdir(parents=True)
    text = (ROOT / "profiles" / "rules" / "within-10-amps.toml").read_text(encoding="utf-8")
    title = "Höchstens 10 A ≤ Kennlinie"
    text = re.sub(r'(?m)^title = ".*"$', f'title = "{title}"', text)
    (folder / "ours.toml").write_text(text, encoding="utf-8")
    plain = ran("profiles", "list", "rules", encoding="cp850", where=tmp_path)
    assert plain.returncode == 0, plain.stderr
    assert "Höchstens 10 A <= Kennlinie" in plain.stdout.decode("cp850")
    document = ran("--json", "profiles", "list", "rules", encoding="cp850", where=tmp_path)
    rules = json.loads(document.stdout.decode("utf-8"))["rules"]
    assert title in {rule["title"] for rule in rules}


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("Bench 1", "bench-1"),
        ("Prüfstand Süd", "prufstand-sud"),
        ("Straße", "strasse"),
        ("CON", "con-1"),
        ("com7", "com7-1"),
        ("nul.", "nul-1"),
        ("con bench", "con-bench"),
        ("14 V: 95 A / van?", "14-v-95-a-van"),
        ("...", ""),
    ],
)
def test_a_title_makes_a_file_name(title: str, name: str) -> None:
    assert file_name(title) == name


@given(st.text(max_size=200))
def test_no_title_makes_a_file_name_that_a_system_refuses(title: str) -> None:
    name = file_name(title)
    assert re.fullmatch(r"[a-z0-9-]*", name)
    assert name not in DEVICES
    assert len(name) <= 62


@given(st.text(max_size=200))
def test_no_job_makes_a_run_folder_that_a_system_refuses(label: str) -> None:
    name = run_name(datetime(2026, 11, 25, tzinfo=UTC), label)
    assert not FORBIDDEN.search(name)
    assert name.isascii()
    assert name.split(".")[0].lower() not in DEVICES
    assert len(name) <= 70, "leaves room below 260 characters"


POINTS = "shaft_rpm,amps,u_amps\n1500,44.1,0.6\n6000,88.2,0.9\n"


@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_points_with_the_line_ends_of_windows_are_read(
    mark: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from acquire.cli.main import run

    folder = tmp_path / "Prüfstand 1 (alt)"
    folder.mkdir()
    documents = []
    for name, text in (("unix.csv", POINTS), ("windows.csv", mark + POINTS.replace("\n", "\r\n"))):
        (folder / name).write_bytes(text.encode())
        assert run(["--json", "judge", str(folder / name), "--rated", RATED]) == 0
        documents.append(json.loads(capsys.readouterr().out)["points"])
    assert documents[0] == documents[1]


@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_a_profile_with_the_line_ends_of_windows_is_read(mark: str, tmp_path: Path) -> None:
    from profiles.catalogue import load_rig

    shipped = ROOT / "profiles" / "rigs" / "real-bench-example.toml"
    text = shipped.read_text(encoding="utf-8")
    path = tmp_path / "Prüfstand 1.toml"
    path.write_bytes((mark + text.replace("\n", "\r\n")).encode())
    assert load_rig(path).profile == load_rig(shipped).profile


@pytest.mark.skipif(os.name == "nt", reason="such names cannot be given on Windows")
@pytest.mark.parametrize("name", ["50% done", "what?x=1#2", "ä ö (1)"])
def test_the_index_lies_on_its_shelf_whatever_the_folder_is_called(
    name: str, tmp_path: Path
) -> None:
    from acquire.shelf.database import INDEX_FILE, file_database

    folder = tmp_path / name
    folder.mkdir()
    file_database(folder).close()
    assert (folder / INDEX_FILE).is_file()
    assert [path.name for path in tmp_path.iterdir()] == [name]
