"""A port that talks quickly is heard a few lines at a time; nothing is lost, late or misdated."""

from __future__ import annotations

import socket
from itertools import pairwise

import pytest

from drivers.exchange import MOUTHFUL
from drivers.gathering import HEARD_APART_S, HEARD_BYTES, NAP_AT_LEAST_S, Gathering
from drivers.lines import stream_driver
from drivers.readings import Reading
from drivers.socket_links import SocketLink, UdpLink
from profiles.instrument import LinesChannel
from tests.drivers.virtual import Device, Ran, make_port, run_port

PATTERN = r"(?P<value>\d+)"


class Talker(Device):
    """Says 1, 2, 3 and so on, so many times a second for two seconds, then falls silent."""

    def __init__(self, per_s: float) -> None:
        self.said_s = [number / per_s for number in range(1, int(2 * per_s))]

    def plugged(self) -> None:
        for number, at_s in enumerate(self.said_s, 1):
            self.say(b"%d\n" % number, at_s)


def heard(per_s: float) -> tuple[Ran, list[tuple[float, Reading]]]:
    """What a port makes of such a talker, each reading with the time at which it was there."""
    channel = LinesChannel.model_validate(
        {"driver": "lines", "port": "COM1", "pattern": PATTERN, "timeout_s": 0.3}
    )
    driver = stream_driver({"amps": channel}, 0.0, "\n")
    ran = make_port(driver, Talker(per_s), slice_s=0.05)
    there: list[tuple[float, Reading]] = []
    ran.port._put = lambda reading: there.append((ran.time.now_s(), reading))
    run_port(ran, 2.2)
    return ran, [(at_s, reading) for at_s, reading in there if reading.usable]


@pytest.mark.parametrize("per_s", [2.0, 20.0, 40.0, 50.0, 200.0, 1000.0])
def test_every_line_is_heard_in_order_and_soon_whatever_the_rate(per_s: float) -> None:
    ran, there = heard(per_s)
    said_s = dict(enumerate(ran.link.device.said_s, 1))  # type: ignore[attr-defined]
    values = [int(reading.value or 0) for _, reading in there]
    assert values == list(range(2, len(said_s) + 1))  # the first line may have been cut
    assert all(at_s - said_s[int(r.value or 0)] <= HEARD_APART_S + 1e-5 for at_s, r in there)


@pytest.mark.parametrize("per_s", [50.0, 200.0, 1000.0])
def test_the_times_of_lines_that_gathered_are_spread_as_they_came(per_s: float) -> None:
    ran, there = heard(per_s)
    said_s = dict(enumerate(ran.link.device.said_s, 1))  # type: ignore[attr-defined]
    off_s = sorted(reading.t_s - said_s[int(reading.value or 0)] for _, reading in there)
    assert off_s[0] > -1.01 / per_s
    assert off_s[len(off_s) * 9 // 10] < 1.01 / per_s
    assert off_s[-1] <= HEARD_APART_S  # where it falls silent in the middle of a nap
    assert all(later.t_s > earlier.t_s for (_, earlier), (_, later) in pairwise(there))


def test_a_quick_talker_is_heard_a_few_lines_at_a_time_and_a_slow_one_at_once() -> None:
    _, quick = heard(200.0)
    assert len({at_s for at_s, _ in quick}) <= 2.0 / HEARD_APART_S + 2
    ran, slow = heard(20.0)
    said_s = ran.link.device.said_s  # type: ignore[attr-defined]
    assert all(at_s - said_s[int(r.value or 0) - 1] < 1e-5 for at_s, r in slow)


def test_a_torrent_is_taken_before_a_serial_port_runs_over() -> None:
    gathering = Gathering(0.05, 1.0)
    gathering.heard(200, 10.0)
    gathering.heard(1000, 10.01)
    assert gathering.nap_s == pytest.approx(0.01 * HEARD_BYTES / 1000)
    assert gathering.left_s(10.012) == pytest.approx(gathering.nap_s - 0.002)


def test_even_a_torrent_leaves_the_rest_of_the_program_time() -> None:
    gathering = Gathering(0.05, 1.0)
    gathering.heard(4096, 10.0)
    for turn in range(1, 50):
        gathering.heard(4096, 10.0 + turn * 1e-4)
    assert gathering.nap_s == NAP_AT_LEAST_S


def test_no_more_than_a_mouthful_is_taken_of_a_torrent() -> None:
    link = SocketLink("127.0.0.1", 9, instrument="amps")
    link.receive = lambda wait_s: b"1\n" * 2048  # type: ignore[method-assign]
    assert len(link.drain(MOUTHFUL)) == MOUTHFUL


def test_a_port_with_a_drive_naps_no_longer_than_its_slices() -> None:
    gathering = Gathering(0.01, 1.0)
    gathering.heard(12, 10.0)
    gathering.heard(12, 10.005)
    assert gathering.nap_s == 0.01


def test_an_opening_ends_the_nap() -> None:
    gathering = Gathering(0.05, 1.0)
    gathering.heard(12, 10.0)
    gathering.heard(12, 10.005)
    gathering.restart()
    assert gathering.nap_s == 0.0
    gathering.heard(12, 10.006)
    assert gathering.nap_s == 0.0


def test_a_stop_ends_the_nap_at_once() -> None:
    channel = LinesChannel.model_validate({"driver": "lines", "port": "COM1", "pattern": PATTERN})
    ran = make_port(stream_driver({"amps": channel}, 0.0, "\n"), Talker(200.0), slice_s=0.05)
    sent_s: list[float] = []

    def stop() -> None:
        ran.port.call_urgent("drive", "off", lambda _: sent_s.append(ran.time.now_s()), 1.0)

    ran.time.at(1.001, stop)
    run_port(ran, 1.5)
    assert sent_s == [pytest.approx(1.001, abs=1e-4)]


def test_every_datagram_that_gathered_is_taken() -> None:
    link = UdpLink("127.0.0.1", 0, instrument="amps")
    link.open()
    try:
        assert link._socket is not None
        place = link._socket.getsockname()
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
            for number in range(8):
                sender.sendto(b"%d\n" % number, place)
        data = link.receive(1.0)
        while data.count(b"\n") < 8 and (more := link.receive(1.0)):
            data += more
        assert data == b"".join(b"%d\n" % number for number in range(8))
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
            for number in range(8):
                sender.sendto(b"%d\n" % number, place)
        assert link.drain() == b"".join(b"%d\n" % number for number in range(8))
    finally:
        link.close()
