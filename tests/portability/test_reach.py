"""Nothing of the program names what a system does not have, except where it cannot get there.

Read from the source; nothing here was run on Windows or macOS.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.portability.reach import PACKAGES, ROOT, SYSTEMS, Miss, misses, modules

OWN_PLACE = {"drivers/simulated/servers/terminal.py": {"win32"}}
"""Modules that are for some systems only, and the systems that never import them."""


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("package", PACKAGES)
def test_no_line_names_what_the_system_lacks(package: str, system: str) -> None:
    found = {
        f"{path.relative_to(ROOT).as_posix()}:{miss.line}": miss.what
        for path in modules(package)
        if system not in OWN_PLACE.get(path.relative_to(ROOT).as_posix(), set())
        for miss in misses(path.read_text(encoding="utf-8"), system)
    }
    assert found == {}


def test_a_module_for_some_systems_is_imported_inside_a_function_only() -> None:
    for place in OWN_PLACE:
        name = place.removesuffix(".py").replace("/", ".")
        for path in modules():
            for line in path.read_text(encoding="utf-8").splitlines():
                if name in line and "import" in line:
                    assert line.startswith(" "), f"{path}: {line}"


@pytest.mark.parametrize(
    ("source", "system", "what"),
    [
        ("import fcntl", "win32", "fcntl"),
        ("from termios import error", "win32", "termios"),
        ("def f():\n    import pwd", "win32", "pwd"),
        ("import msvcrt", "linux", "msvcrt"),
        ("import os\nos.getuid()", "win32", "os.getuid"),
        ("import os\ndef f(flags=os.O_CLOEXEC): ...", "win32", "os.O_CLOEXEC"),
        ("import signal\nx = signal.SIGHUP", "win32", "signal.SIGHUP"),
        ("from signal import SIGTSTP", "win32", "signal.SIGTSTP"),
        ("import ctypes\nctypes.windll.kernel32", "darwin", "ctypes.windll"),
        ("import sys\nif sys.platform == 'win32':\n    import fcntl", "win32", "fcntl"),
        ("import sys\nif sys.platform != 'win32':\n    import msvcrt", "darwin", "msvcrt"),
        ("import fcntl\nfcntl.F_FULLFSYNC", "linux", "fcntl.F_FULLFSYNC"),
        ("import os\nif x:\n    pass\nelse:\n    os.fork()", "win32", "os.fork"),
        ("from pathlib import Path\ndef f(p):\n    return Path(p).group()", "win32", "Path.group"),
    ],
)
def test_what_a_system_lacks_is_seen(source: str, system: str, what: str) -> None:
    assert what in {miss.what for miss in misses(source, system)}


@pytest.mark.parametrize(
    "source",
    [
        "import sys\nif sys.platform != 'win32':\n    import fcntl",
        "import sys\nif sys.platform == 'win32':\n    import msvcrt\nelse:\n    import fcntl",
        "import sys\ndef f():\n    if sys.platform == 'win32':\n        return\n    import fcntl",
        "try:\n    import fcntl\nexcept ImportError:\n    pass",
        "import signal\nif hasattr(signal, 'SIGHUP'):\n    signal.SIGHUP",
        "def f():\n    if not hasattr(signal, 'SIGHUP'):\n        return\n    signal.SIGHUP",
        "import os\nx = os.getuid() if sys.platform != 'win32' else 0",
        "with suppress(NotImplementedError):\n    Path(p).group()",
        "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    import fcntl",
    ],
)
def test_a_guard_is_understood(source: str) -> None:
    assert misses(source, "win32") == []


def test_it_is_told_whether_importing_is_enough_to_fail() -> None:
    assert misses("import pty\ndef f():\n    import tty", "win32") == [
        Miss(1, "pty", at_import=True),
        Miss(3, "tty", at_import=False),
    ]


def test_every_module_is_looked_at() -> None:
    names = {path.relative_to(ROOT).as_posix() for path in modules()}
    assert {"acquire/signal_watch.py", "drivers/locks.py", "profiles/catalogue.py"} <= names
    assert len(names) > 300
    assert Path("tests") not in {Path(name).parents[-2] for name in names if "/" in name}
