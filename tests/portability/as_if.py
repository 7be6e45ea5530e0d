"""The program as if it ran on another system; for a child process.

    python -m tests.portability.as_if win32 import
    python -m tests.portability.as_if win32 see
    python -m tests.portability.as_if win32 run CTRL_CLOSE@'run drive' -- sweep --rig simulated ...

Only the program's own modules see the other system: `sys.platform` is its, modules and names it
lacks are missing (`reach`), and what it has is a stand-in. The standard library and other packages
go on seeing the real one. So it shows that the program's own branches for that system work as
written; it is NOT a run on the real system.
"""

from __future__ import annotations

import builtins
import ctypes
import errno
import fcntl
import importlib
import importlib.abc
import importlib.machinery
import json
import os
import signal
import stat
import sys
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from types import ModuleType
from typing import Any

from tests.portability.reach import MODULES, NAMES, PACKAGES, modules, name_of

HANDLERS: list[Callable[[int], int]] = []
"""Handlers of the console that the program has added and not removed."""
EVENTS = {"CTRL_CLOSE": 2, "CTRL_LOGOFF": 5, "CTRL_SHUTDOWN": 6}
SIGBREAK = 21
"""Its number on Windows; here it is some other signal's, which serves as well."""


class Seen(ModuleType):
    """A module as the other system has it."""

    def __init__(self, real: ModuleType, lacks: frozenset[str], has: Mapping[str, Any]) -> None:
        super().__init__(real.__name__)
        self.__dict__.update(has)
        self.__dict__["_real"], self.__dict__["_lacks"] = real, lacks

    def __getattr__(self, name: str) -> Any:
        if name in self.__dict__["_lacks"]:
            raise AttributeError(f"as if there were no {self.__name__}.{name}")
        return getattr(self.__dict__["_real"], name)


class OtherSystem(importlib.abc.MetaPathFinder):
    """Finds the program's own modules and gives them their view of the system."""

    def __init__(self, system: str) -> None:
        self._lacking = MODULES[system]
        has = _windows() if system == "win32" else {"fcntl": {"F_FULLFSYNC": 51}}
        names = {*NAMES[system], *has, "sys"} - self._lacking
        self._seen: dict[str, ModuleType] = {
            name: Seen(
                sys.modules.get(name) or _module(name),
                NAMES[system].get(name, frozenset()),
                {"platform": system} if name == "sys" else has.get(name, {}),
            )
            for name in names
        }

    def imported(
        self,
        name: str,
        globals_: Any = None,
        locals_: Any = None,
        fromlist: Sequence[str] = (),
        level: int = 0,
    ) -> ModuleType:
        """In the place of `__import__`, for the program's own modules."""
        top = name.partition(".")[0]
        if level == 0 and top in self._lacking:
            raise ModuleNotFoundError(f"as if there were no {name}", name=name)
        if level == 0 and top in self._seen and (name == top or not fromlist):
            return self._seen[top]
        return builtins.__import__(name, globals_, locals_, fromlist, level)

    def find_spec(self, name: str, path: Any, target: Any = None) -> Any:
        """The module as it lies on the disk, with a loader of ours."""
        if name.partition(".")[0] not in PACKAGES:
            return None
        spec = importlib.machinery.PathFinder.find_spec(name, path, target)
        if spec is not None and isinstance(spec.loader, importlib.machinery.SourceFileLoader):
            spec.loader = _Loader(spec.loader.name, spec.loader.path, self)
        return spec


class _Loader(importlib.machinery.SourceFileLoader):
    def __init__(self, name: str, path: str, system: OtherSystem) -> None:
        super().__init__(name, path)
        self._system = system

    def exec_module(self, module: ModuleType) -> None:
        module.__dict__["__builtins__"] = {
            **vars(builtins),
            "__import__": self._system.imported,
        }
        super().exec_module(module)


def _module(name: str) -> ModuleType:
    try:
        return importlib.import_module(name)
    except ImportError:
        return ModuleType(name)


# ---- what Windows has ----------------------------------------------------------------------


def _windows() -> dict[str, dict[str, Any]]:
    return {
        "os": {"O_BINARY": 0, "O_NOINHERIT": 0, "open": _open, "name": "nt"},
        "signal": {"SIGBREAK": SIGBREAK},
        "ctypes": {"WINFUNCTYPE": ctypes.CFUNCTYPE, "windll": _Windll()},
        "msvcrt": {"LK_NBLCK": 2, "LK_UNLCK": 0, "locking": locking},
    }


def _open(path: str, flags: int, mode: int = 0o777) -> int:
    """A folder cannot be opened there."""
    if os.path.isdir(path):  # noqa: PTH112 - takes whatever os.open takes
        raise PermissionError(errno.EACCES, "as if a folder could not be opened", str(path))
    return os.open(path, flags, mode)


def locking(descriptor: int, mode: int, _length: int) -> None:
    """The byte at the file's position, as far as one lock a file shows it."""
    if not stat.S_ISREG(os.fstat(descriptor).st_mode):
        raise OSError(errno.EINVAL, "not a file")
    try:
        fcntl.flock(descriptor, fcntl.LOCK_UN if mode == 0 else fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError as error:
        raise PermissionError(errno.EACCES, "Permission denied") from error


class _Windll:
    """`ctypes.windll`, as far as the program uses it."""

    @property
    def kernel32(self) -> _Windll:
        return self

    def SetConsoleCtrlHandler(self, handler: Callable[[int], int], add: int) -> int:  # noqa: N802
        if add:
            HANDLERS.append(handler)
        else:
            HANDLERS.remove(handler)
        return 1


# ---- the child -----------------------------------------------------------------------------


def _happens(event: str, shelf: Path) -> None:
    """`CTRL_CLOSE@run drive`: when that stands in the journal, in a thread of the system's own."""
    name, _, kind = event.partition("@")
    while not any(f'"{kind}"' in _text(path) for path in shelf.glob("*/journal.jsonl")):
        time.sleep(0.02)
    if name in EVENTS:
        began_s = time.monotonic()
        answer = HANDLERS[-1](EVENTS[name])
        told = f"answered {answer} after {time.monotonic() - began_s:.2f} s"
        print(f"{name} {told}", file=sys.stderr, flush=True)
    else:
        number = {"CTRL_C": signal.SIGINT, "CTRL_BREAK": SIGBREAK}[name]
        os.kill(os.getpid(), number)


def _text(path: Path) -> str:
    return path.read_text(encoding="utf-8")


def main(arguments: list[str]) -> int:
    """`SYSTEM import|see`, or `SYSTEM run [EVENT@S] -- ARGUMENTS [-- ARGUMENTS]`."""
    system, what, *rest = arguments
    if system == "win32":
        os.environ.pop("TERM", None)
    sys.meta_path.insert(0, OtherSystem(system))
    if what == "import":
        skipped = set(rest)
        names = [name for path in modules() if (name := name_of(path)) not in skipped]
        for name in names:
            importlib.import_module(name)
        print(f"imported {len(names)}")
        return 0
    if what == "see":
        print(json.dumps(_what_it_sees()))
        return 0
    events, *commands = _parted(rest)
    shelf = Path(commands[0][commands[0].index("--shelf") + 1]) if events else Path()
    threads = [threading.Thread(target=_happens, args=(e, shelf), daemon=True) for e in events]
    for thread in threads:
        thread.start()
    run = importlib.import_module("acquire.cli.main").run
    codes = [int(run(command)) for command in commands]
    for thread in threads:
        thread.join(30.0)
    print(f"handlers left: {len(HANDLERS)}", file=sys.stderr)
    return max(codes)


def _parted(words: list[str]) -> list[list[str]]:
    parts: list[list[str]] = [[]]
    for word in words:
        if word == "--":
            parts.append([])
        else:
            parts[-1].append(word)
    return parts


def _what_it_sees() -> dict[str, object]:
    """Proof that the stand-ins are what the program's modules get."""
    watch = importlib.import_module("acquire.signal_watch")
    files = importlib.import_module("acquire.record.files")
    locks = importlib.import_module("drivers.locks")
    try:
        files.os.close(files.os.open(".", 0))
        folder_opens = True
    except PermissionError:
        folder_opens = False
    try:
        exec("import fcntl", vars(locks))
        has_fcntl = True
    except ModuleNotFoundError:
        has_fcntl = False
    return {
        "platform": locks.sys.platform,
        "signals": sorted(watch.watched_signals().values()),
        "folder_opens": folder_opens,
        "fcntl": has_fcntl,
        "the_real_platform": sys.platform,
    }


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
