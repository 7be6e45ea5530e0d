"""The byte layer on real sockets and pseudo-terminals: open, unplug, busy, closed."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Callable

import pytest

from drivers.errors import CannotOpen, CommandRefused, InstrumentClosed, LinkLost
from drivers.links import Link, SerialSettings
from drivers.port_address import open_link
from drivers.serial_link import SerialLink, why_not_open
from drivers.socket_links import SocketLink, UdpLink, host_and_port
from tests.drivers.peers import SocketPeer
from tests.drivers.pseudo_terminal import cable

SETTINGS = SerialSettings(baud=115_200)


def echo(connection: socket.socket) -> None:
    while chunk := connection.recv(4096):
        connection.sendall(chunk)


def received(link: Link, count: int, wait_s: float = 2.0) -> bytes:
    got, end_s = b"", time.monotonic() + wait_s
    while len(got) < count and time.monotonic() < end_s:
        got += link.receive(0.05)
    return got


def send_many(link: Link) -> None:
    """The first bytes to a closed end may still be taken by the system."""
    for _ in range(50):
        link.send(b"x" * 100)
        time.sleep(0.001)


def test_bytes_go_and_come_over_a_socket() -> None:
    with SocketPeer(echo) as peer:
        link = open_link(f"socket://127.0.0.1:{peer.port}", SETTINGS, instrument="amps")
        link.open()
        link.send(b"MEAS?\n")
        assert received(link, 6) == b"MEAS?\n"
        assert link.receive(0.0) == b""
        assert link.drain() == b""
        link.close()


def test_a_socket_closed_by_the_other_end_is_lost_on_every_call() -> None:
    with SocketPeer(echo) as peer:
        link = SocketLink("127.0.0.1", peer.port, instrument="amps")
        link.open()
        link.send(b"x")
        assert received(link, 1) == b"x"
        peer.unplug()
        with pytest.raises(LinkLost, match=r"amps: the link to 127\.0\.0\.1"):
            received(link, 1)
        with pytest.raises(LinkLost):
            link.drain()
        with pytest.raises(LinkLost):
            send_many(link)
        link.close()
        link.close()


@pytest.mark.parametrize("make", ["socket", "serial", "udp"])
def test_a_link_that_is_not_open_says_so_on_every_call(make: str) -> None:
    links: dict[str, Link] = {
        "socket": SocketLink("127.0.0.1", 9, instrument="amps"),
        "serial": SerialLink("/dev/none", SETTINGS, instrument="amps"),
        "udp": UdpLink("127.0.0.1", 9, instrument="amps"),
    }
    link = links[make]
    link.close()
    for call in (lambda: link.send(b"x"), lambda: link.receive(0.0), link.drain):
        with pytest.raises(InstrumentClosed):
            call()


def test_nobody_at_an_address_cannot_be_opened_and_says_what_to_do() -> None:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        port = listener.getsockname()[1]
    link = SocketLink("127.0.0.1", port, instrument="volts")
    with pytest.raises(CannotOpen, match=f"volts: nothing answers at 127.0.0.1 port {port}"):
        link.open()


def test_a_receiver_that_takes_nothing_is_given_up_after_half_a_second() -> None:
    stop = threading.Event()

    def hold(connection: socket.socket) -> None:
        del connection
        stop.wait(10.0)

    with SocketPeer(hold) as peer:
        link = SocketLink("127.0.0.1", peer.port, instrument="amps")
        link.open()
        began_s = time.monotonic()
        with pytest.raises(LinkLost):
            link.send(b"x" * 50_000_000)
        assert time.monotonic() - began_s < 5.0
        link.close()
        stop.set()


def test_datagrams_arrive_as_lines() -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as finder:
        finder.bind(("127.0.0.1", 0))
        port = finder.getsockname()[1]
    link = open_link(f"udp://127.0.0.1:{port}", SETTINGS, instrument="engine_rpm")
    link.open()
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
        sender.sendto(b"$IIRPM,E,1,2418.2,10.5,A*5F", ("127.0.0.1", port))
        assert received(link, 28) == b"$IIRPM,E,1,2418.2,10.5,A*5F\n"
    second = UdpLink("127.0.0.1", port, instrument="engine_rpm")
    with pytest.raises(CannotOpen, match="cannot listen"):
        second.open()
    with pytest.raises(CommandRefused, match="only listens"):
        link.send(b"who is there?\n")
    link.close()


@pytest.mark.parametrize("port", ["socket://", "socket://host", "socket://host:x", "tcp://h:99999"])
def test_what_is_no_address_is_refused(port: str) -> None:
    with pytest.raises(CannotOpen, match="is not an address"):
        host_and_port(port, "amps")
    assert host_and_port("socket://[::1]:4001", "amps") == ("::1", 4001)


def test_bytes_go_and_come_over_a_serial_line_and_a_second_program_is_kept_out() -> None:
    with cable() as joined:
        ours = SerialLink(joined.ours, SETTINGS, instrument="shaft_rpm")
        theirs = SerialLink(joined.theirs, SETTINGS, instrument="peer")
        ours.open()
        theirs.open()
        ours.send(b"hello")
        assert received(theirs, 5) == b"hello"
        intruder = SerialLink(joined.ours, SETTINGS, instrument="amps")
        with pytest.raises(CannotOpen, match="in use by another program"):
            intruder.open()
        ours.close()
        theirs.close()
        ours.close()


@pytest.mark.parametrize("call", ["send", "receive", "drain"])
def test_an_unplugged_serial_port_is_lost_on_every_call(call: str) -> None:
    with cable() as joined:
        link = SerialLink(joined.ours, SETTINGS, instrument="shaft_rpm")
        link.open()
        joined.cut()
        acts: dict[str, Callable[[], object]] = {
            "send": lambda: link.send(b"x"),
            "receive": lambda: link.receive(0.2),
            "drain": link.drain,
        }
        with pytest.raises(LinkLost, match="Unplugged, switched off"):
            acts[call]()
        link.close()
        with pytest.raises(CannotOpen):
            link.open()


def test_a_missing_serial_port_is_named() -> None:
    link = SerialLink("/dev/ttyNONE7", SETTINGS, instrument="shaft_rpm")
    with pytest.raises(CannotOpen, match="there is no port /dev/ttyNONE7"):
        link.open()


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (
            OSError(
                "could not open port 'COM7': PermissionError(13, 'Access is denied.', None, 5)"
            ),
            "COM7 is in use by another program",
        ),
        (PermissionError(13, "Permission denied"), "usermod -aG"),
        (OSError(16, "Device or resource busy"), "in use by another program"),
        (OSError("FileNotFoundError(2, 'The system cannot find the file')"), "there is no port"),
        (ValueError("Invalid baud rate: 12"), "does not open (Invalid baud rate: 12)"),
    ],
)
def test_why_a_port_does_not_open_is_said_in_plain_words(error: Exception, words: str) -> None:
    assert words in str(why_not_open("amps", "COM7", error))


def test_far_serial_ports_are_reached_by_rfc_2217() -> None:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        port = listener.getsockname()[1]
    link = open_link(f"rfc2217://127.0.0.1:{port}", SETTINGS, instrument="amps")
    with pytest.raises(CannotOpen, match="does not open"):
        link.open()
