"""Branches for Windows and macOS, driven by stand-ins; NOT run on the real systems.

Sources: Microsoft Learn, "HandlerRoutine callback function", "Naming Files, Paths, and
Namespaces", "Maximum Path Length Limitation"; Python library reference, `msvcrt`, `time`; macOS
manual page fcntl(2), F_FULLFSYNC.
"""

from __future__ import annotations

import errno
import os
import threading
import time
from collections.abc import Callable
from io import FileIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
import serial

from acquire.cli import answers
from acquire.cli.answers import Answers
from acquire.console_closing import ConsoleClosing, windows_console
from acquire.record import files
from acquire.record.files import DISK, file_error
from acquire.screens import look
from drivers import clock, locks, port_address, serial_link, serial_places
from drivers.errors import CannotOpen, LinkLost
from drivers.links import SerialSettings
from drivers.locks import take_lock
from drivers.serial_link import SerialLink, why_not_open
from drivers.serial_places import device_for, how_to_be_allowed, places
from tests.drivers.pseudo_terminal import cable
from tests.drivers.test_serial_places import Found

WINDOWS = SimpleNamespace(platform="win32", argv=["steadyamps"], stderr=None)
LINUX = SimpleNamespace(platform="linux", argv=["steadyamps"], stderr=None)
MAC = SimpleNamespace(platform="darwin", argv=["steadyamps"], stderr=None)


# ---- a closing console ---------------------------------------------------------------------


class Console:
    """Calls what was added, as the system does."""

    def __init__(self, *, there: bool = True) -> None:
        self.there = there
        self.added: list[Callable[[int], int]] = []

    def set_handler(self, handler: Callable[[int], int], *, added: bool) -> bool:
        if added and self.there:
            self.added.append(handler)
        elif not added:
            self.added.remove(handler)
        return self.there


@pytest.mark.parametrize(("event", "name"), [(2, "CLOSE"), (5, "LOGOFF"), (6, "SHUTDOWN")])
def test_a_closing_console_stops_the_run_and_is_held_until_it_has_ended(
    event: int, name: str
) -> None:
    console, heard = Console(), threading.Event()
    names: list[str] = []
    answered: list[int] = []

    def stop(said: str) -> None:
        names.append(said)
        heard.set()

    closing = ConsoleClosing(stop, console=console)
    closing.begin()
    system = threading.Thread(target=lambda: answered.append(console.added[0](event)))
    system.start()
    assert heard.wait(20.0)
    assert answered == [], "returning would end the program"
    closing.end()
    system.join(20.0)
    assert answered == [1]
    assert names == [f"CTRL_{name}"]
    assert console.added == []


def test_a_stop_that_takes_too_long_does_not_hold_the_console_for_ever() -> None:
    console = Console()
    closing = ConsoleClosing(lambda _name: None, console=console, hold_s=0.01)
    closing.begin()
    assert console.added[0](2) == 1


@pytest.mark.parametrize("event", [0, 1])
def test_ctrl_c_and_ctrl_break_are_left_to_the_signals(event: int) -> None:
    console, names = Console(), list[str]()
    closing = ConsoleClosing(names.append, console=console)
    closing.begin()
    assert console.added[0](event) == 0
    assert names == []


def test_without_a_console_nothing_is_added_and_nothing_removed() -> None:
    console = Console(there=False)
    closing = ConsoleClosing(lambda _name: None, console=console)
    closing.begin()
    closing.end()
    assert console.added == []


@pytest.mark.skipif(os.name == "nt", reason="asks for the refusal of other systems")
def test_the_console_of_windows_is_not_looked_for_elsewhere() -> None:
    with pytest.raises(RuntimeError, match="only Windows"):
        windows_console()


# ---- locks ---------------------------------------------------------------------------------


class Locking:
    """`msvcrt.locking` for one byte, between open files of this program."""

    LK_UNLCK, LK_NBLCK = 0, 2

    def __init__(self) -> None:
        self.held: dict[tuple[int, int], int] = {}

    def locking(self, descriptor: int, mode: int, length: int) -> None:
        assert length == 1
        place = (os.fstat(descriptor).st_ino, os.lseek(descriptor, 0, os.SEEK_CUR))
        if mode == self.LK_UNLCK:
            assert self.held.pop(place) == descriptor
        elif self.held.setdefault(place, descriptor) != descriptor:
            raise PermissionError(errno.EACCES, "Permission denied")

    def refuses(self, file: FileIO, size: int) -> bool:
        """Reading what another one has locked is an error on Windows."""
        number, here = os.fstat(file.fileno()).st_ino, file.tell()
        return any(
            inode == number and here <= byte < here + size and holder != file.fileno()
            for (inode, byte), holder in self.held.items()
        )


@pytest.fixture
def windows_locks(monkeypatch: pytest.MonkeyPatch) -> Locking:
    system = Locking()

    class Watched(FileIO):
        def read(self, size: int | None = -1, /) -> bytes:
            if size is None or size < 0 or system.refuses(self, size):
                raise PermissionError(errno.EACCES, "a part of the file is locked")
            return super().read(size) or b""

    monkeypatch.setattr(locks, "sys", WINDOWS)
    monkeypatch.setattr(locks, "FileIO", Watched)
    monkeypatch.setitem(__import__("sys").modules, "msvcrt", system)
    return system


def test_on_windows_a_lock_is_taken_once_its_holder_is_read_and_it_is_given_back(
    windows_locks: Locking, tmp_path: Path
) -> None:
    first = take_lock("port", "COM12", instrument="amps", folder=tmp_path)
    with pytest.raises(CannotOpen, match=rf"held by steadyamps \(process {os.getpid()}, since 20"):
        take_lock("port", "COM12", instrument="amps", folder=tmp_path)
    first.release()
    assert windows_locks.held == {}
    take_lock("port", "COM12", instrument="amps", folder=tmp_path).release()


# ---- ports ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "spelled"),
    [("com3", "COM3"), ("COM12", "COM12"), (r"\\.\COM12", "COM12"), (r"\\.\com3", "COM3"),
     ("/dev/tty.usbserial-1", "/dev/tty.usbserial-1"), ("/dev/cu.x", "/dev/cu.x")],
)  # fmt: skip
def test_a_com_port_has_one_spelling_beyond_nine_too(written: str, spelled: str) -> None:
    assert port_address.port_of(_wire(port=written)) == spelled


def test_on_windows_a_numbered_visa_port_is_a_com_port(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(port_address, "sys", WINDOWS)
    assert port_address.port_of(_wire(resource="ASRL12::INSTR")) == "COM12"


def test_on_a_mac_both_names_of_an_adapter_mean_the_one_that_does_not_wait_for_a_modem(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(port_address, "sys", MAC)
    for written in ("/dev/tty.usbserial-A1", "/dev/cu.usbserial-A1"):
        assert port_address.port_of(_wire(port=written)) == "/dev/cu.usbserial-A1"
    assert port_address.port_of(_wire(port="/dev/ttys001")) == "/dev/ttys001"


def _wire(**keys: str) -> Any:
    from profiles.instrument import ScpiChannel

    return ScpiChannel.model_validate({"driver": "scpi", "query": "A?", **keys})


WINDOWS_FOUND = [
    Found("COM3", 0x0403, 0x6001, "A50285BIA", None, "USB Serial Port (COM3)"),
    Found("COM12", 0x1A86, 0x7523, None, "1-2.4", "USB-SERIAL CH340 (COM12)"),
    Found("COM1", None, None, None, None, "Communications Port (COM1)"),
]
MAC_FOUND = [
    Found("/dev/cu.Bluetooth-Incoming-Port"),
    Found("/dev/cu.debug-console"),
    Found("/dev/cu.usbserial-A50285BI", 0x0403, 0x6001, "A50285BI", "20-1.2", "FT232R USB UART"),
]


def test_ports_of_windows_are_listed_with_identity_and_place() -> None:
    listed = {place.device: place for place in places(WINDOWS_FOUND)}
    assert listed["COM3"].by_identity == "usb:0403:6001:A50285BIA"
    assert listed["COM12"].by_place == "usb-place:1-2.4"
    assert listed["COM1"].by_identity == ""


def test_ports_of_a_mac_without_hardware_behind_them_are_left_out() -> None:
    assert [place.device for place in places(MAC_FOUND)] == ["/dev/cu.usbserial-A50285BI"]


def test_a_rig_file_made_on_one_system_finds_the_same_adapter_on_the_other() -> None:
    on_linux, on_windows = "usb:0403:6001:A50285BI", "usb:0403:6001:A50285BIA"
    assert device_for(on_linux, instrument="amps", found=WINDOWS_FOUND) == "COM3"
    assert device_for(on_windows, instrument="amps", found=MAC_FOUND) == MAC_FOUND[2].device
    for other in ("usb:0403:6001:A50285BIX", "usb:0403:6001:A50285B", "usb:1A86:7523:A"):
        with pytest.raises(CannotOpen, match="no adapter answers"):
            device_for(other, instrument="amps", found=WINDOWS_FOUND)


def test_an_exact_name_goes_before_one_that_differs_by_a_letter() -> None:
    twins = [
        Found("COM4", 0x0403, 0x6010, "FT1A"),
        Found("COM5", 0x0403, 0x6010, "FT1B"),
        Found("COM6", 0x0403, 0x6010, "FT1"),
    ]
    assert device_for("usb:0403:6010:FT1", instrument="amps", found=twins) == "COM6"
    with pytest.raises(CannotOpen, match="2 adapters"):
        device_for("usb:0403:6010:FT1", instrument="amps", found=twins[:2])


def test_a_port_that_is_in_use_is_told_in_any_language_of_windows(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    refused = OSError(
        "could not open port 'COM7': PermissionError(13, 'Zugriff verweigert', None, 5)"
    )
    monkeypatch.setattr(serial_link, "sys", WINDOWS)
    assert "in use by another program" in str(why_not_open("amps", "COM7", refused))
    missing = OSError("could not open port 'COM7': FileNotFoundError(2, 'Das System ...', None, 2)")
    assert "there is no port COM7" in str(why_not_open("amps", "COM7", missing))


def test_what_has_gathered_is_taken_without_setting_the_port_anew(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """pyserial sets the whole port anew at each change of a time-out; on Windows that is slow."""
    with cable() as joined:
        monkeypatch.setattr(serial_link, "sys", WINDOWS)
        ours = SerialLink(joined.ours, SerialSettings(), instrument="amps")
        theirs = SerialLink(joined.theirs, SerialSettings(), instrument="peer")
        ours.open()
        theirs.open()
        set_anew: list[float] = []
        monkeypatch.setattr(
            serial.Serial, "_reconfigure_port", lambda self: set_anew.append(self.timeout)
        )
        assert ours.receive(0.05) == b""
        assert ours.drain() == b""
        theirs.send(b"12.5\n13.5\n")
        got, give_up_s = b"", time.monotonic() + 10.0
        while len(got) < 10 and time.monotonic() < give_up_s:
            got += ours.drain()
        assert got == b"12.5\n13.5\n"
        assert set_anew == [0.05]
        joined.cut()
        with pytest.raises(LinkLost):
            ours.drain()
        ours.close()
        theirs.close()


def test_what_to_do_about_permissions_fits_the_system(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(serial_places, "sys", MAC)
    assert "ls -l /dev/cu.x" in how_to_be_allowed("/dev/cu.x")
    monkeypatch.setattr(serial_places, "sys", WINDOWS)
    assert "other program" in how_to_be_allowed("COM7")
    assert "usermod" not in how_to_be_allowed("COM7")


def test_pyserial_reaches_com_ports_beyond_nine_and_opens_for_itself_alone() -> None:
    """Its module for Windows cannot be imported elsewhere, so its source is read."""
    source = Path(str(serial.__file__)).with_name("serialwin32.py").read_text("utf-8")
    assert "int(port[3:]) > 8" in source
    assert "port = '\\\\\\\\.\\\\' + port" in source
    assert "0,  # exclusive access" in source


def test_the_screens_see_each_key_on_windows_as_well() -> None:
    """Its driver cannot be imported elsewhere either: keys go through the method we watch."""
    from textual import drivers

    source = (Path(drivers.__path__[0]) / "windows_driver.py").read_text("utf-8")
    assert "self.process_message" in source


# ---- files ---------------------------------------------------------------------------------


def test_a_folder_is_not_opened_on_windows(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    opened: list[object] = []
    monkeypatch.setattr(files, "sys", WINDOWS)
    monkeypatch.setattr(os, "open", lambda *given: opened.append(given))
    DISK.sync_folder(tmp_path)
    assert opened == []


@pytest.mark.parametrize(("refusals", "done"), [(3, True), (1000, False)])
def test_a_file_that_a_scanner_holds_for_a_moment_is_still_replaced_on_windows(
    refusals: int, done: bool, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    old, new = tmp_path / "a.part", tmp_path / "a"
    old.write_text("new", "utf-8")
    new.write_text("old", "utf-8")
    asked = 0
    waits: list[float] = []
    replace = Path.replace

    def held(self: Path, target: Path) -> Path:
        nonlocal asked
        asked += 1
        if asked <= refusals:
            raise PermissionError(errno.EACCES, "held by a scanner")
        return replace(self, target)

    monkeypatch.setattr(files, "sys", WINDOWS)
    monkeypatch.setattr(files, "time", SimpleNamespace(sleep=waits.append))
    monkeypatch.setattr(Path, "replace", held)
    if done:
        DISK.rename(old, new)
        assert new.read_text("utf-8") == "new"
    else:
        with pytest.raises(PermissionError):
            DISK.rename(old, new)
        assert new.read_text("utf-8") == "old"
    assert sum(waits) <= 1.0


def test_a_path_beyond_the_limit_of_windows_is_called_too_long(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    gone = FileNotFoundError(errno.ENOENT, "not there")
    long, short = Path("/" + "d" * 260) / "run.json", Path("/shelf/run.json")
    monkeypatch.setattr(files, "sys", LINUX)
    assert "moved, or a disk pulled out" in str(file_error(long, gone))
    monkeypatch.setattr(files, "sys", WINDOWS)
    assert "path is too long: choose a shorter one with --shelf" in str(file_error(long, gone))
    assert "moved, or a disk pulled out" in str(file_error(short, gone))


@pytest.mark.skipif(os.name == "nt", reason="macOS has fcntl; Windows cannot stand in for it")
@pytest.mark.parametrize("understood", [True, False])
def test_a_mac_is_told_to_flush_its_drive_and_plain_fsync_follows_where_it_cannot(
    understood: bool, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    import fcntl

    asked: list[str] = []

    def ask(_descriptor: int, what: int) -> None:
        asked.append(f"full {what}")
        if not understood:
            raise OSError(errno.ENOTSUP, "not on this disk")

    monkeypatch.setattr(files, "sys", MAC)
    monkeypatch.setattr(fcntl, "F_FULLFSYNC", 51, raising=False)
    monkeypatch.setattr(fcntl, "fcntl", ask)
    monkeypatch.setattr(os, "fsync", lambda _descriptor: asked.append("plain"))
    handle = DISK.open_append(tmp_path / "a")
    handle.sync()
    handle.close()
    assert asked == (["full 51"] if understood else ["full 51", "plain"])


# ---- time, signs, typing -------------------------------------------------------------------


def test_the_steady_clock_of_windows_is_the_fine_one(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        clock, "time", SimpleNamespace(perf_counter=lambda: 1.0, monotonic=lambda: 2.0)
    )
    monkeypatch.setattr(clock, "sys", LINUX)
    assert clock.steady_s() == 2.0
    monkeypatch.setattr(clock, "sys", WINDOWS)
    assert clock.steady_s() == 1.0


@pytest.mark.parametrize(
    ("environment", "plain"),
    [({}, True), ({"WT_SESSION": "x"}, False), ({"TERM_PROGRAM": "x"}, False)],
)  # fmt: skip
def test_the_old_console_of_windows_gets_plain_signs(
    environment: dict[str, str], plain: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in (
        "WT_SESSION",
        "TERM_PROGRAM",
        "ConEmuPID",
        "WEZTERM_PANE",
        "ALACRITTY_LOG",
        "TERM",
    ):
        monkeypatch.delenv(name, raising=False)
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    stderr = SimpleNamespace(encoding="utf-8")
    monkeypatch.setattr(look, "sys", SimpleNamespace(platform="win32", stderr=stderr))
    assert look.look_of_terminal().ascii is plain
    assert not look.look_of_terminal(glyphs="full").ascii


def test_what_is_typed_into_a_console_of_windows_is_read_in_its_code_page(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(answers, "sys", WINDOWS)
    monkeypatch.setattr(os, "device_encoding", lambda _descriptor: "cp850")
    near, far = os.pipe()
    typing = Answers(near)
    os.write(far, "Bürste neu\r\n".encode("cp850"))
    os.close(far)
    assert typing.next(20.0) == "Bürste neu"
    assert typing.next(20.0) is None
    os.close(near)


def test_no_module_needs_time_zone_data_or_makes_links() -> None:
    """Windows has no time zone data of its own, and lets few users make symbolic links."""
    from tests.portability.reach import ROOT, modules

    for path in modules():
        text = path.read_text(encoding="utf-8")
        assert "zoneinfo" not in text, path
        if "symlink_to" in text or "os.symlink" in text:
            assert path.relative_to(ROOT).as_posix() == "drivers/simulated/servers/terminal.py"
