"""The SCPI client over PyVISA, against instruments simulated by pyvisa-sim."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from drivers.clock import RealClock
from drivers.errors import CannotOpen, InstrumentClosed, LinkLost, NoAnswer
from drivers.exchange import Exchange
from drivers.scpi import ScpiDriver, ScpiSetting
from drivers.scpi_text import scpi_number
from drivers.statistics import PortStatistics
from drivers.visa import VisaLink, resource_manager
from drivers.wall import RealWall
from profiles.instrument import Identify

METER = r"""
spec: "1.1"
devices:
  meter:
    eom:
      USB INSTR:
        q: "\n"
        r: "\n"
    error: ""
    dialogues:
      - q: "*IDN?"
        r: "INVENTED,METER 1,0042,1.0"
      - q: "*CLS"
      - q: "MEAS:VOLT:DC?"
        r: "+1.40000000E+01"
      - q: "SYST:ERR?"
        r: '0,"No error"'
    properties:
      event_status_enable:
        default: 0
        getter:
          q: "*ESE?"
          r: "{:d}"
        setter:
          q: "*ESE {:d}"
        specs:
          type: int
resources:
  USB::0x1111::0x2222::0x3333::0::INSTR:
    device: meter
"""
RESOURCE = "USB::0x1111::0x2222::0x3333::0::INSTR"


@pytest.fixture
def backend(tmp_path: Path) -> str:
    described = tmp_path / "meter.yaml"
    described.write_text(METER)
    return f"{described}@sim"


@pytest.fixture
def link(backend: str) -> Iterator[VisaLink]:
    link = VisaLink(RESOURCE, timeout_s=0.3, instrument="volts", backend=backend)
    yield link
    link.close()


def exchange_on(link: VisaLink) -> Exchange:
    return Exchange(
        link,
        clock=RealClock(),
        wall=RealWall(),
        statistics=PortStatistics(),
        slice_s=0.05,
        cut=lambda: False,
    )


def test_an_instrument_behind_visa_is_proved_identified_and_read(link: VisaLink) -> None:
    identify = Identify.model_validate({"send": "*IDN?", "match": "METER"})
    driver = ScpiDriver({}, ScpiSetting(identify={"volts": identify}))
    link.open()
    line = exchange_on(link)
    driver.opened(line)
    assert driver.identities() == {"volts": "INVENTED,METER 1,0042,1.0"}
    for _ in range(3):
        assert scpi_number(driver.ask(line, "MEAS:VOLT:DC?", 0.3)) == 14.0
    assert line.statistics.proofs == 1


def test_a_question_that_visa_does_not_answer_is_no_answer(link: VisaLink) -> None:
    link.open()
    line = exchange_on(link)
    line.send(b"*CLS\n")
    with pytest.raises(NoAnswer):
        line.collect(lambda buffer: None, 0.1, asked="nothing")


def test_a_resource_that_cannot_be_opened_is_named(backend: str) -> None:
    link = VisaLink("GPIB::nowhere", timeout_s=0.3, instrument="volts", backend=backend)
    with pytest.raises(CannotOpen, match="volts: GPIB::nowhere does not open"):
        link.open()


def test_a_closed_visa_link_says_so(link: VisaLink) -> None:
    link.open()
    link.close()
    link.close()
    for call in (lambda: link.send(b"x"), lambda: link.receive(0.0), link.drain):
        with pytest.raises(InstrumentClosed):
            call()


def test_errors_of_visa_are_link_lost(link: VisaLink) -> None:
    link.open()
    link._session.close()  # as an unplugged instrument's session is
    with pytest.raises(LinkLost, match="was lost during a write"):
        link.send(b"*IDN?\n")


def test_without_a_backend_the_reason_is_said() -> None:
    link = VisaLink(RESOURCE, timeout_s=0.3, instrument="volts", backend="@nothere")
    with pytest.raises(CannotOpen, match="no VISA backend can be used"):
        link.open()


def test_what_a_backend_says_on_several_lines_is_told_on_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """As pyvisa does for a library that it finds and that cannot be loaded."""

    def fail(_backend: str) -> object:
        raise OSError("Could not open VISA library:\n\tlibvisa.so: wrong class\n")

    monkeypatch.setattr("pyvisa.ResourceManager", fail)
    with pytest.raises(CannotOpen) as caught:
        resource_manager("@ivi")
    assert caught.value.message.endswith("(Could not open VISA library: libvisa.so: wrong class).")
    assert "\n" not in str(caught.value)
