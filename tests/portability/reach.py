"""Which names of the standard library each line of the program can reach on each system.

Reads source, runs nothing: `sys.platform == "..."` is worked out for a system, a branch that ends
in return or raise takes the rest of its block with it, and `hasattr(module, "name")` or an
enclosing `except` that catches the miss vouches for a name.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parents[2]
PACKAGES = ("profiles", "drivers", "acquire")
SYSTEMS = ("linux", "darwin", "win32")

_POSIX_MODULES = frozenset(
    {"fcntl", "termios", "pty", "tty", "grp", "pwd", "resource", "syslog", "posix", "curses",
     "readline", "crypt", "spwd", "nis", "ossaudiodev"}
)  # fmt: skip
_WINDOWS_MODULES = frozenset({"msvcrt", "winreg", "winsound", "nt", "_winapi", "_overlapped"})
MODULES = {
    "linux": _WINDOWS_MODULES,
    "darwin": _WINDOWS_MODULES,
    "win32": _POSIX_MODULES,
}
"""System -> modules it does not have. Source: "Availability" in the Python library reference."""

_POSIX_NAMES = {
    "os": """getuid geteuid getgid getegid getgroups setuid setgid seteuid setegid fork forkpty
        killpg setsid setpgid getpgid getpgrp getsid mkfifo mknod openpty ttyname uname pipe2
        statvfs fstatvfs chown fchown lchown lchmod fchmod chroot fchdir ctermid tcgetpgrp
        tcsetpgrp nice getpriority setpriority getloadavg sysconf confstr pathconf fpathconf
        pread pwrite preadv pwritev readv writev sendfile wait wait3 wait4 waitid WNOHANG
        posix_spawn register_at_fork sched_yield lockf initgroups getresuid sync major minor
        set_blocking get_blocking O_DIRECTORY O_NOFOLLOW O_CLOEXEC O_NONBLOCK O_SYNC O_DSYNC
        O_NOCTTY EX_OK P_PID""",
    "signal": """SIGHUP SIGQUIT SIGTSTP SIGSTOP SIGKILL SIGCONT SIGCHLD SIGUSR1 SIGUSR2 SIGALRM
        SIGPIPE SIGWINCH SIGTTIN SIGTTOU alarm setitimer getitimer pause pthread_kill
        pthread_sigmask sigwait sigpending siginterrupt""",
    "socket": "AF_UNIX SO_REUSEPORT sethostname recvmsg sendmsg",
    "select": "poll epoll kqueue devpoll",
    "time": "tzset clock_gettime clock_gettime_ns clock_settime pthread_getcpuclockid",
}
_WINDOWS_NAMES = {
    "os": "startfile O_BINARY O_TEXT O_NOINHERIT O_SEQUENTIAL O_RANDOM add_dll_directory",
    "signal": "SIGBREAK CTRL_C_EVENT CTRL_BREAK_EVENT",
    "socket": "SO_EXCLUSIVEADDRUSE SIO_RCVALL SIO_KEEPALIVE_VALS ioctl",
    "ctypes": "windll oledll WinDLL OleDLL WINFUNCTYPE WinError FormatError GetLastError",
    "errno": "WSAECONNRESET WSAEWOULDBLOCK",
}
_ONLY_LINUX = {
    "os": """pipe2 O_PATH O_TMPFILE O_DIRECT posix_fadvise posix_fallocate sched_setaffinity
        getrandom eventfd memfd_create setresuid getresuid""",
    "select": "epoll",
    "signal": "sigtimedwait SIGPWR SIGSTKFLT",
    "socket": "AF_CAN AF_PACKET AF_NETLINK SO_BINDTODEVICE TCP_USER_TIMEOUT",
    "fcntl": "F_SETPIPE_SZ F_OFD_SETLK",
}
_ONLY_DARWIN = {"fcntl": "F_FULLFSYNC", "select": "kqueue kevent", "os": "lchflags O_EXLOCK"}


def _missing(*tables: dict[str, str]) -> dict[str, frozenset[str]]:
    modules = {name for table in tables for name in table}
    return {
        module: frozenset(name for table in tables for name in table.get(module, "").split())
        for module in modules
    }


NAMES = {
    "linux": _missing(_WINDOWS_NAMES, _ONLY_DARWIN),
    "darwin": _missing(_WINDOWS_NAMES, _ONLY_LINUX),
    "win32": _missing(_POSIX_NAMES, _ONLY_LINUX, _ONLY_DARWIN),
}
"""System -> module -> names it does not have there."""
NOT_IMPLEMENTED = frozenset({"group", "owner"})
"""Methods of a path that raise on Windows."""


@dataclass(frozen=True, slots=True)
class Miss:
    """A line that fails on a system that lacks what it names."""

    line: int
    what: str
    at_import: bool
    """True where importing the module is enough to fail."""


def modules(*packages: str) -> list[Path]:
    """Every module of the program, in order."""
    folders = packages or PACKAGES
    return sorted(path for folder in folders for path in (ROOT / folder).rglob("*.py"))


def name_of(path: Path) -> str:
    """The name a module is imported by."""
    parts = list(path.relative_to(ROOT).with_suffix("").parts)
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def misses(source: str, system: str) -> list[Miss]:
    """What `source` names and reaches that `system` does not have."""
    tree = _parsed(source)
    found = list(_block(tree.body, system, frozenset(), at_import=True))
    return [miss for miss in found if miss.what.partition(".")[0] in _imported(source)]


@cache
def _imported(source: str) -> frozenset[str]:
    """First names of all that is imported anywhere: a variable may be called `resource` too."""
    found = {"Path"}
    for part in ast.walk(_parsed(source)):
        if isinstance(part, ast.Import):
            found |= {alias.name.partition(".")[0] for alias in part.names}
        elif isinstance(part, ast.ImportFrom) and part.level == 0:
            found.add((part.module or "").partition(".")[0])
    return frozenset(found)


@cache
def _parsed(source: str) -> ast.Module:
    return ast.parse(source)


def _block(
    body: list[ast.stmt], system: str, vouched: frozenset[str], *, at_import: bool
) -> Iterator[Miss]:
    for statement in body:
        if isinstance(statement, ast.If):
            truth = _truth(statement.test, system)
            asked = vouched | _asked(statement.test)
            yield from _expressions(statement.test, system, vouched | asked, at_import)
            if truth is not False:
                yield from _block(statement.body, system, asked, at_import=at_import)
            if truth is not True:
                yield from _block(statement.orelse, system, vouched, at_import=at_import)
            taken = statement.body if truth is True else statement.orelse if truth is False else []
            if taken and _leaves(taken[-1]):
                return
            if not statement.orelse and _refuses(statement):
                vouched |= _asked(statement.test)
        elif isinstance(statement, ast.Try):
            caught = vouched | _caught(statement)
            yield from _block(statement.body, system, caught, at_import=at_import)
            for rest in (*(one.body for one in statement.handlers), statement.orelse,
                         statement.finalbody):  # fmt: skip
                yield from _block(rest, system, vouched, at_import=at_import)
        elif isinstance(statement, ast.FunctionDef | ast.AsyncFunctionDef):
            for outside in (*statement.decorator_list, *_defaults(statement.args)):
                yield from _expressions(outside, system, vouched, at_import)
            yield from _block(statement.body, system, vouched, at_import=False)
        else:
            yield from _statement(statement, system, vouched, at_import=at_import)


def _statement(
    statement: ast.stmt, system: str, vouched: frozenset[str], *, at_import: bool
) -> Iterator[Miss]:
    yield from _imports(statement, system, vouched, at_import)
    if isinstance(statement, ast.With):
        vouched |= _suppressed(statement)
    for field, value in ast.iter_fields(statement):
        if field in ("body", "orelse", "finalbody") and isinstance(value, list):
            yield from _block(value, system, vouched, at_import=at_import)
        else:
            for part in value if isinstance(value, list) else [value]:
                if isinstance(part, ast.AST):
                    yield from _expressions(part, system, vouched, at_import)


def _imports(
    statement: ast.stmt, system: str, vouched: frozenset[str], at_import: bool
) -> Iterator[Miss]:
    if isinstance(statement, ast.Import):
        named = [alias.name for alias in statement.names]
    elif isinstance(statement, ast.ImportFrom) and statement.level == 0:
        module = statement.module or ""
        named = [module, *(f"{module}.{alias.name}" for alias in statement.names)]
    else:
        return
    for name in named:
        if not _there(name, system) and "ImportError" not in vouched:
            yield Miss(statement.lineno, name, at_import)


def _expressions(
    part: ast.AST, system: str, vouched: frozenset[str], at_import: bool
) -> Iterator[Miss]:
    if isinstance(part, ast.IfExp):
        truth = _truth(part.test, system)
        for branch, wanted in ((part.body, False), (part.orelse, True)):
            if truth is not wanted:
                asked = vouched | _asked(part.test) if wanted is False else vouched
                yield from _expressions(branch, system, asked, at_import)
        return
    if isinstance(part, ast.Lambda):
        at_import = False
    if isinstance(part, ast.Attribute):
        name = _dotted(part)
        if name and not _there(name, system) and not {name, "AttributeError"} & vouched:
            yield Miss(part.lineno, name, at_import)
        waits = part.attr in NOT_IMPLEMENTED and system == "win32"
        if waits and name is None and "NotImplementedError" not in vouched and _on_path(part):
            yield Miss(part.lineno, f"Path.{part.attr}", at_import)
    for child in ast.iter_child_nodes(part):
        yield from _expressions(child, system, vouched, at_import)


def _on_path(part: ast.Attribute) -> bool:
    """`Path(...).group`: only this form is known to be a path."""
    called = part.value
    return isinstance(called, ast.Call) and _dotted(called.func) == "Path"


def _there(name: str, system: str) -> bool:
    module, _, rest = name.partition(".")
    if module in MODULES[system]:
        return False
    return rest.partition(".")[0] not in NAMES[system].get(module, frozenset())


def _truth(test: ast.expr, system: str) -> bool | None:
    """Whether a condition holds on `system`; None when it says nothing of systems."""
    if isinstance(test, ast.UnaryOp) and isinstance(test.op, ast.Not):
        inner = _truth(test.operand, system)
        return None if inner is None else not inner
    if isinstance(test, ast.BoolOp):
        parts = [_truth(value, system) for value in test.values]
        decisive = isinstance(test.op, ast.Or)
        if decisive in parts:
            return decisive
        return None if None in parts else not decisive
    if _dotted(test) == "TYPE_CHECKING":
        return False
    if isinstance(test, ast.Compare) and _dotted(test.left) == "sys.platform":
        wanted = test.comparators[0]
        if isinstance(wanted, ast.Constant) and isinstance(test.ops[0], ast.Eq | ast.NotEq):
            return (wanted.value == system) is isinstance(test.ops[0], ast.Eq)
    return None


def _asked(test: ast.expr) -> frozenset[str]:
    """Names that `hasattr` in a condition vouches for."""
    return frozenset(
        f"{_dotted(call.args[0])}.{call.args[1].value!s}"
        for call in ast.walk(test)
        if isinstance(call, ast.Call)
        and _dotted(call.func) == "hasattr"
        and isinstance(call.args[1], ast.Constant)
    )


def _refuses(statement: ast.If) -> bool:
    """`if not hasattr(...): return`"""
    negated = isinstance(statement.test, ast.UnaryOp) and isinstance(statement.test.op, ast.Not)
    return negated and _leaves(statement.body[-1])


def _leaves(statement: ast.stmt) -> bool:
    return isinstance(statement, ast.Return | ast.Raise | ast.Continue | ast.Break)


def _caught(statement: ast.Try) -> frozenset[str]:
    kinds = [handler.type for handler in statement.handlers if handler.type is not None]
    return _names(kinds)


def _suppressed(statement: ast.With) -> frozenset[str]:
    calls = [item.context_expr for item in statement.items]
    return _names(
        [
            kind
            for call in calls
            if isinstance(call, ast.Call) and (_dotted(call.func) or "").endswith("suppress")
            for kind in call.args
        ]
    )


def _names(kinds: list[ast.expr]) -> frozenset[str]:
    found = {name for kind in kinds for part in ast.walk(kind) if (name := _dotted(part))}
    return frozenset(found | ({"ImportError"} if "ModuleNotFoundError" in found else set()))


def _defaults(arguments: ast.arguments) -> list[ast.expr]:
    return [*arguments.defaults, *(one for one in arguments.kw_defaults if one is not None)]


def _dotted(part: ast.AST) -> str | None:
    if isinstance(part, ast.Name):
        return part.id
    if isinstance(part, ast.Attribute):
        before = _dotted(part.value)
        return None if before is None else f"{before}.{part.attr}"
    return None
