"""Our Modbus client against pymodbus's own server: TCP, and RTU over a serial cable."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from pymodbus.client import ModbusTcpClient
from pymodbus.framer import FramerType

from drivers.clock import RealClock
from drivers.errors import CommandRefused
from drivers.exchange import Exchange
from drivers.links import Link, SerialSettings
from drivers.modbus import ModbusDriver, Place
from drivers.modbus_frame import silence_s, words_of
from drivers.port_address import open_link
from drivers.statistics import PortStatistics
from drivers.wall import RealWall
from tests.drivers.peers import ModbusPeer
from tests.drivers.pseudo_terminal import cable


class Client:
    """A driver and an exchange without a port's thread."""

    def __init__(self, link: Link, *, tcp: bool, devices: tuple[int, ...] = (1, 7)) -> None:
        self.statistics = PortStatistics()
        self.line = Exchange(
            link,
            clock=RealClock(),
            wall=RealWall(),
            statistics=self.statistics,
            slice_s=0.01,
            cut=lambda: False,
        )
        self.modbus = ModbusDriver(tcp=tcp, gap_s=0.0 if tcp else silence_s(115_200))
        for device in devices:
            self.modbus.add_device(device)
        self.modbus.opened(self.line)


@pytest.fixture(params=["tcp", "rtu"])
def peer_and_client(request: pytest.FixtureRequest) -> Iterator[tuple[ModbusPeer, Client]]:
    tcp = request.param == "tcp"
    with (
        cable() as joined,
        ModbusPeer(terminal="" if tcp else joined.theirs, devices=(1, 7)) as peer,
    ):
        port = f"tcp://127.0.0.1:{peer.port}" if tcp else joined.ours
        link = open_link(port, SerialSettings(baud=115_200), instrument="drive")
        link.open()
        try:
            yield peer, Client(link, tcp=tcp)
        finally:
            link.close()


@pytest.mark.parametrize("order", ["ABCD", "CDAB", "BADC", "DCBA"])
@pytest.mark.parametrize(
    ("value_type", "value"),
    [("u16", 51234.0), ("s16", -1234.0), ("u32", 3e9), ("s32", -2e9), ("f32", 0.5)],
)
def test_values_written_are_read_back(
    peer_and_client: tuple[ModbusPeer, Client], value_type: str, order: str, value: float
) -> None:
    _, client = peer_and_client
    place = Place(7, 30, value_type=value_type, order=order)
    client.modbus.write(client.line, place, words_of(value, value_type, order), 1.0)
    assert client.modbus.read(client.line, place, 1.0) == value


def test_devices_on_one_line_keep_their_own_registers(
    peer_and_client: tuple[ModbusPeer, Client],
) -> None:
    _, client = peer_and_client
    for device, word in ((1, 11), (7, 77)):
        client.modbus.write(client.line, Place(device, 5), (word,), 1.0)
    for device, word in ((1, 11), (7, 77)):
        assert client.modbus.read(client.line, Place(device, 5), 1.0) == word
        assert client.modbus.read(client.line, Place(device, 5, table="input"), 1.0) == word


def test_an_exception_of_the_device_is_said_in_words(
    peer_and_client: tuple[ModbusPeer, Client],
) -> None:
    peer, client = peer_and_client
    with pytest.raises(CommandRefused, match="register 500: it has no such register"):
        client.modbus.read(client.line, Place(1, 500), 1.0)
    peer.refuses.add(6)
    with pytest.raises(CommandRefused, match=r"refuses function 6.*it failed while doing it"):
        client.modbus.write(client.line, Place(1, 5), (1,), 1.0)
    peer.refuses.clear()
    client.modbus.write_and_read_back(client.line, Place(1, 5), (2,), 1.0)
    assert client.statistics.late == 0


def test_rtu_frames_also_go_over_a_socket() -> None:
    """A serial line behind a network adapter: RTU frames, no TCP header."""
    with ModbusPeer(framer=FramerType.RTU) as peer:
        link = open_link(f"socket://127.0.0.1:{peer.port}", SerialSettings(), instrument="drive")
        link.open()
        client = Client(link, tcp=False, devices=(1,))
        client.modbus.write_and_read_back(client.line, Place(1, 5), (4321,), 1.0)
        assert client.modbus.read(client.line, Place(1, 5), 1.0) == 4321.0
        link.close()


def test_their_client_reads_what_ours_wrote() -> None:
    """The server is shared, so this checks addresses: ours are the ones on the wire."""
    with ModbusPeer() as peer:
        link = open_link(f"tcp://127.0.0.1:{peer.port}", SerialSettings(), instrument="drive")
        link.open()
        ours = Client(link, tcp=True, devices=(1,))
        ours.modbus.write(ours.line, Place(1, 30, value_type="f32"), words_of(123.45, "f32"), 1.0)
        with ModbusTcpClient("127.0.0.1", port=peer.port) as theirs:
            registers = theirs.read_holding_registers(30, count=2, device_id=1).registers
            read = theirs.convert_from_registers(registers, theirs.DATATYPE.FLOAT32)
        assert read == pytest.approx(123.45, abs=1e-5)
        link.close()
