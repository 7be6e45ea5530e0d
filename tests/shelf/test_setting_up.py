"""The page on several benches, done by the letter: certificates, settings, who gets in."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest
from sqlalchemy import make_url

from acquire.shelf import tables
from acquire.shelf.server_url import checked_url
from acquire.shelf.shelf import open_shelf
from tests.shelf.postgres_server import KEEPER, PostgresServer, as_keeper, binaries, running
from tests.shelf.server_sql import SERVER_SQL
from tests.shelf.shelves import Told, put

PAGE = Path(tables.__file__).with_name("several_benches.md")
NAME, NETWORK = "db.workshop.example", "192.0.2.0/24"
PASSWORD = "invented"


def _lines(start: str) -> list[str]:
    """The indented lines of the page that begin so."""
    found = re.findall(rf"^    ({re.escape(start)}.*)$", PAGE.read_text(encoding="utf-8"), re.M)
    assert found, start
    return found


def _certificates(folder: Path) -> None:
    """As the page makes them, for this computer."""
    for line in _lines("openssl req"):
        command = line.replace(NAME, "localhost")
        done = subprocess.run(["bash", "-c", command], cwd=folder, capture_output=True, check=False)
        assert done.returncode == 0, done.stderr.decode()


@pytest.fixture(scope="module")
def guarded(
    server: PostgresServer, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[PostgresServer, Path]]:
    """A server set up as the page says, and the root certificate that a bench has of it."""
    assert server.tools == binaries()
    if shutil.which("openssl") is None:
        pytest.skip("no openssl here")
    made = tmp_path_factory.mktemp("certificates")
    _certificates(made)
    with running() as own:
        own.sql("CREATE DATABASE shelf")
        own.sql(SERVER_SQL.read_text(encoding="utf-8"), database="shelf")
        own.sql(f"ALTER ROLE shelf_bench PASSWORD '{PASSWORD}'", database="shelf")
        own.stop()
        for name in ("server.crt", "server.key"):
            shutil.copy(made / name, own.folder / "data" / name)
            (own.folder / "data" / name).chmod(0o600)
            if as_keeper():
                shutil.chown(own.folder / "data" / name, KEEPER)
        own.admit(
            [
                line.replace(NETWORK, "127.0.0.1/32")
                for line in (*_lines("local"), *_lines("hostssl"))
            ]
        )
        (stated,) = _lines("ssl = on")
        (hashed,) = _lines("password_encryption")
        own.settings = (*own.settings, stated.replace(" ", ""), hashed.replace(" ", ""))
        own.start()
        try:
            yield own, made / "root.crt"
        finally:
            own.admit([f"host all {KEEPER} 127.0.0.1/32 trust"])


def _url(guarded: tuple[PostgresServer, Path]) -> str:
    """The URL of the page, for this server."""
    own, root = guarded
    (line,) = _lines("url = ")
    url = make_url(line.partition('"')[2].rpartition('"')[0])
    assert (url.username, url.host, url.database) == ("shelf_bench", NAME, "shelf")
    assert url.query["sslmode"] == "verify-full"
    changed = url.set(host="localhost", port=own.port, password=PASSWORD)
    query = {"sslrootcert": str(root), "hostaddr": "127.0.0.1"}
    return changed.update_query_dict(query).render_as_string(hide_password=False)


@pytest.mark.server
def test_a_bench_gets_in_by_the_url_of_the_page(
    guarded: tuple[PostgresServer, Path], tmp_path: Path
) -> None:
    put(tmp_path, Told("aaaa"))
    with open_shelf(tmp_path, _url(guarded)) as shelf:
        assert shelf.shared, shelf.away
        assert shelf.page().total == 1


@pytest.mark.server
@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("sslmode=verify-full", "sslmode=disable", "it does not let this bench in so"),
        ("/shelf?", "/postgres?", "it does not let this bench in so"),
        ("root.crt", "nowhere.crt", "there is no root certificate to know it by"),
        ("localhost", NAME, "its certificate is not one this bench trusts"),
    ],
)
def test_without_encryption_elsewhere_or_to_another_nobody_gets_in(
    guarded: tuple[PostgresServer, Path], tmp_path: Path, old: str, new: str, said: str
) -> None:
    url = _url(guarded)
    assert url.count(old) == 1
    with open_shelf(tmp_path, url.replace(old, new)) as shelf:
        assert not shelf.shared
        assert said in shelf.away


@pytest.mark.server
def test_the_keeper_of_the_server_gets_in_by_no_network(
    guarded: tuple[PostgresServer, Path],
) -> None:
    url = checked_url(_url(guarded)).set(drivername="postgresql", username=KEEPER)
    with pytest.raises(psycopg.OperationalError, match=r"no pg_hba\.conf entry"):
        psycopg.connect(url.render_as_string(hide_password=False))
