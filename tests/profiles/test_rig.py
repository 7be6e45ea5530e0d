"""Rigs: every key of the contract, and every way a rig file can be wrong."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from profiles.catalogue import load_rig
from profiles.drive import FieldRegister, FieldText, LoadBank, LoadHand, LoadHolds
from profiles.instrument import LinesChannel, ModbusChannel, NmeaChannel, ScpiChannel
from profiles.rig import Rig
from tests.profiles.conftest import Problems

CONTRACT = r"""
title = "Bench 1 (loopback example)"
[rig]
pulley = { drive_mm = 180.0, alternator_mm = 60.0 }
max_shaft_rpm = 12000
[channels.shaft_rpm]
driver = "lines"
port = "socket://127.0.0.1:4001"
baud = 115200
pattern = 'RPM=(?P<value>\d+\.\d)\*(?P<xor>[0-9A-F]{2})'
in = "rpm"
accuracy = { percent_of_reading = 0.05, digits = 1, resolution = 0.1 }
calibration = { on = 2026-03-02, due = 2027-03-02, certificate = "C-1044" }
[channels.amps]
driver = "scpi"
resource = "TCPIP::127.0.0.1::4002::SOCKET"
query = "MEAS:VOLT:DC?"
scale = 5000.0
every_s = 0.1
accuracy = { percent_of_reading = 0.1, percent_of_range = 0.02, range = 300.0, resolution = 0.01 }
[channels.volts]
driver = "scpi"
resource = "TCPIP::127.0.0.1::4003::SOCKET"
query = "MEAS:VOLT:DC?"
[drive]
driver = "modbus"
port = "tcp://127.0.0.1:4004"
device = 1
run = { register = 0, on = 1, off = 0 }
speed = { register = 1, scale = 0.01, in = "Hz", rpm_per_unit = 30.0 }
output = { register = 10, scale = 0.01, in = "Hz" }
comm_timeout = { register = 20, scale = 0.1, in = "s", set_s = 2.0 }
max_rpm_per_s = 400
coast_s = 20.0
kw = 3.0
[load]
driver = "scpi"
port = "tcp://127.0.0.1:4005"
mode = "MODE:VOLT"
set = "VOLT {value:.2f}"
on = "INP ON"
off = "INP OFF"
[field]
driver = "scpi"
port = "tcp://127.0.0.1:4006"
on = "OUTP ON"
off = "OUTP OFF"
[limits]
volts_max = 16.0
amps_max = 300.0
case_c_max = 110.0
slip_percent_max = 6.0
silent_s = 3.0
"""
HANDS = 'title = "x"\n[channels.shaft_rpm]\ndriver = "hand"\n[channels.amps]\ndriver = "hand"\n'


def rig(tmp_path: Path, text: str) -> Rig:
    path = tmp_path / "rig.toml"
    path.write_text(text, encoding="utf-8")
    return load_rig(path).profile


def with_amps(keys: str) -> str:
    """A rig whose speed is typed, and whose ammeter has these keys."""
    return f'title = "x"\n[channels.shaft_rpm]\ndriver = "hand"\n[channels.amps]\n{keys}\n'


def test_every_key_of_the_contract_is_read(tmp_path: Path) -> None:
    bench = rig(tmp_path, CONTRACT)
    assert bench.ratio == 3.0
    tachometer, ammeter = bench.channels["shaft_rpm"], bench.channels["amps"]
    assert isinstance(tachometer, LinesChannel)
    assert tachometer.calibration is not None
    assert tachometer.calibration.due == date(2027, 3, 2)
    assert isinstance(ammeter, ScpiChannel)
    assert ammeter.address == "TCPIP::127.0.0.1::4002::SOCKET"
    assert ammeter.value_of("amps", 0.018) == pytest.approx(90.0)
    assert bench.drive is not None
    assert bench.drive.speed.motor_rpm(10000) == pytest.approx(3000.0)
    assert bench.drive.speed.raw_of_rpm(3000.0) == pytest.approx(10000)
    assert bench.drive.output_rpm_per_unit() == 30.0
    assert bench.drive.comm_timeout is not None
    assert bench.drive.comm_timeout.raw_set == 20
    assert isinstance(bench.load, LoadHolds)
    assert isinstance(bench.field, FieldText)
    assert bench.limits.amps_max == 300.0


def test_the_defaults_are_the_documented_ones(tmp_path: Path) -> None:
    bench = rig(tmp_path, with_amps('driver = "scpi"\nport = "COM7"\nquery = "READ?"'))
    ammeter = bench.channels["amps"]
    assert isinstance(ammeter, ScpiChannel)
    assert (ammeter.every_s, ammeter.timeout_s, ammeter.scale, ammeter.offset) == (0.1, 0.5, 1, 0)
    assert (ammeter.baud, ammeter.parity, ammeter.stop_bits) == (9600, "none", 1)
    limits = bench.limits
    assert (limits.silent_s, limits.slip_percent_max) == (3.0, 6.0)
    assert (limits.volts_max, limits.amps_max, limits.case_c_max) == (None, None, None)
    assert (bench.ratio, bench.rig.max_shaft_rpm, bench.rig.field_fed) == (1.0, None, "by unit")
    assert (bench.drive, bench.load, bench.field, bench.simulated) == (None, None, None, None)


@pytest.mark.parametrize("name", ["shaft_rpm", "w_hz"])
def test_a_shaft_speed_or_a_w_frequency_is_speed_enough(tmp_path: Path, name: str) -> None:
    assert rig(tmp_path, HANDS.replace("shaft_rpm", name)).channels[name]  # type: ignore[index]


@pytest.mark.parametrize("name", ["engine_rpm", "drive_rpm"])
def test_an_engine_or_motor_speed_needs_the_pulleys(problems_of: Problems, name: str) -> None:
    text = HANDS.replace("shaft_rpm", name)
    found = problems_of("rigs", text)
    assert set(found) == {"rig.pulley"}
    assert f"{name} is the only speed" in found["rig.pulley"]
    pulley = "[rig]\npulley = { drive_mm = 180, alternator_mm = 60 }\n"
    assert not problems_of("rigs", text + pulley)


def test_the_output_of_the_drive_counts_as_motor_speed(problems_of: Problems) -> None:
    text = 'title = "x"\n[channels.amps]\ndriver = "hand"\n' + CONTRACT[CONTRACT.index("[drive]") :]
    assert set(problems_of("rigs", text)) == {"rig.pulley"}
    assert not problems_of("rigs", text + "[rig.pulley]\ndrive_mm = 1\nalternator_mm = 1\n")
    both = CONTRACT + '[channels.drive_rpm]\ndriver = "hand"\n'
    assert "gives the same channel" in problems_of("rigs", both)["channels.drive_rpm"]


def test_a_rig_needs_speed_and_amps_and_says_so_at_once(problems_of: Problems) -> None:
    found = problems_of("rigs", 'title = "x"\n[channels.volts]\ndriver = "hand"\n')
    assert set(found) == {"channels", "channels.amps"}
    assert "have no speed. Add [channels.shaft_rpm]" in found["channels"]
    assert found["channels.amps"] == "is missing. Add the table [channels.amps]."


@pytest.mark.parametrize(
    ("keys", "key", "said"),
    [
        ('driver = "scip"\nport = "a"\nquery = "R?"', "driver", 'Did you mean "scpi"?'),
        ("scale = 2", "driver", 'is missing. Add it, such as driver = "scpi".'),
        ("driver = 3", "driver", "it is 3"),
        ('driver = "scpi"\nquery = "R?"', "port", "Say where it is connected"),
        ('driver = "scpi"\nquery = "R?"\nport = "a"\nresource = "b"', "resource", "one of the two"),
        ('driver = "scpi"\nport = "a"', "query", 'such as query = "MEAS:VOLT:DC?"'),
        ('driver = "scpi"\nport = "a"\nquery = ""', "query", "is empty"),
        ('driver = "scpi"\nport = "a"\nquery = "a\\nb"', "query", "holds a line end"),
        ('driver = "scpi"\nport = "socket://h"\nquery = "R?"', "port", "lacks a host or a port"),
        ('driver = "scpi"\nport = "socket://h:99999"\nquery = "R?"', "port", "lacks a host or"),
        ('driver = "scpi"\nport = "scoket://h:1"\nquery = "R?"', "port", 'mean "socket://"?'),
        ('driver = "scpi"\nport = "h:5025"\nquery = "R?"', "port", "Write socket://h:5025, or"),
        ('driver = "scpi"\nport = "10.0.0.7:5025"\nquery = "R?"', "port", "tcp://10.0.0.7:5025"),
        ('driver = "scpi"\nport = "[::1]:5025"\nquery = "R?"', "port", "Write socket://[::1]"),
        ('driver = "scpi"\nport = "usb:12"\nquery = "R?"', "port", "is not a USB identity"),
        ('driver = "scpi"\nport = ""\nquery = "R?"', "port", "is empty"),
        ('driver = "scpi"\nport = "a"\nquery = "R?"\nevery_s = 0', "every_s", "at least 0.005"),
        ('driver = "scpi"\nport = "a"\nquery = "R?"\nscale = 0', "scale", "is zero"),
        ('driver = "scpi"\nport = "a"\nquery = "R?"\nin = "ma"', "in", 'Did you mean "mA"?'),
        ('driver = "scpi"\nport = "a"\nquery = "R?"\nin = "V"', "in", "Known for it: A, mA or kA"),
        ('driver = "scpi"\nport = "a"\nquery = "R?"\ntimeout_s = 3', "timeout_s", "not less than"),
        ('driver = "scpi"\nport = "a"\nquery = "R?"\nparity = "N"', "parity", '"none", "even"'),
        ('driver = "scpi"\nport = "a"\nquery = "R?"\nsetup = "X"', "setup", "square brackets"),
        ('driver = "scpi"\nport = "a"\nquery = "R?"\npattern = "x"', "pattern", "not a key known"),
        ('driver = "hand"\nport = "a"', "port", "is not a key known here"),
        ('driver = "hand"\nplausible = [5, 1]', "plausible", "low below high"),
        ('driver = "hand"\nplausible = ["a", 1]', "plausible", "low below high"),
        (
            'driver = "hand"\ncalibration = { on = "2026-03-02" }',
            "calibration.on",
            "a date without",
        ),
        (
            'driver = "hand"\ncalibration = { on = 2026-03-02, due = 2026-03-01 }',
            "calibration.due",
            "not after on = 2026-03-02",
        ),
        ('driver = "lines"\nport = "a"\npattern = "x("', "pattern", "is not a regular expression"),
        ('driver = "lines"\nport = "a"\npattern = "x"', "pattern", "which part is the value"),
        ('driver = "lines"\nport = "a"', "pattern", "is missing"),
        ('driver = "modbus"\nport = "a"', "register", "its wire address, from 0"),
        ('driver = "modbus"\nport = "a"\nregister = 65536', "register", "at most 65535"),
        ('driver = "modbus"\nport = "a"\nregister = 1\ntype = "f64"', "type", '"f32"'),
        ('driver = "modbus"\nport = "a"\nregister = 1\norder = "ABDC"', "order", '"ABCD", "CDAB"'),
        ('driver = "modbus"\nport = "a"\nregister = 1\ntable = "coil"', "table", '"holding"'),
        ('driver = "modbus"\nport = "a"\nregister = 1\ndevice = 248', "device", "at most 247"),
        ('driver = "nmea0183"\nport = "a"\nfield = 3', "sentence", "is missing"),
        ('driver = "scpi"\nport = "simulated:x"\nquery = "R?"', "port", "rig is not simulated"),
        (
            'driver = "scpi"\nport = "a"\nquery = "R?"\nidentify = { send = "*IDN?", match = "(" }',
            "identify.match",
            "is not a regular expression",
        ),
    ],
)
def test_what_is_wrong_with_a_channel_is_said_at_its_key(
    problems_of: Problems, keys: str, key: str, said: str
) -> None:
    found = problems_of("rigs", with_amps(keys))
    assert set(found) == {f"channels.amps.{key}"}
    assert said in found[f"channels.amps.{key}"]


@pytest.mark.parametrize(
    ("old", "new", "key", "said"),
    [
        ("max_rpm_per_s = 400", "max_rpm_per_s = 0", "drive.max_rpm_per_s", "must be more than 0"),
        ("on = 1, off = 0", "on = 1, off = 1", "drive.run.off", "could never be stopped"),
        ("rpm_per_unit = 30.0", "offset = 0", "drive.speed.rpm_per_unit", "cannot guess"),
        ("set_s = 2.0", "set_s = 0", "drive.comm_timeout.set_s", "must be more than 0"),
        ("set_s = 2.0", 'table = "input"', "drive.comm_timeout.table", "can be written"),
        ("coast_s = 20.0", "cost_s = 20.0", "drive.cost_s", 'Did you mean "coast_s"?'),
        ("alternator_mm = 60.0", "alternator_mm = 2", "rig.pulley.drive_mm", "gives a ratio of 90"),
        ("alternator_mm = 60.0", "alternator_mm = 0", "rig.pulley.alternator_mm", "more than 0"),
        ("max_shaft_rpm = 12000", "max_shaft_rpm = 40000", "rig.max_shaft_rpm", "at most 30000"),
        ("VOLT {value:.2f}", "VOLT", "load.set", "must hold {value} once"),
        ("VOLT {value:.2f}", "{value} {value}", "load.set", "must hold {value} once"),
        ("VOLT {value:.2f}", "{value.__class__}", "load.set", "more than {value} with a number"),
        ("VOLT {value:.2f}", "{value!r}", "load.set", "more than {value} with a number format"),
        ("VOLT {value:.2f}", "{value:{value}}", "load.set", "more than {value} with a number"),
        ("VOLT {value:.2f}", "{0}", "load.set", "more than {value} with a number format"),
        ("VOLT {value:.2f}", "{value:x}", "load.set", "more than {value} with a number format"),
        ("VOLT {value:.2f}", "{value:.2d}", "load.set", "does not suit a number"),
        ('on = "INP ON"', 'on = ""', "load.on", "is empty"),
        ("volts_max = 16.0", "volt_max = 16.0", "limits.volt_max", 'Did you mean "volts_max"?'),
        ("silent_s = 3.0", "silent_s = 0", "limits.silent_s", "must be more than 0"),
    ],
)
def test_what_is_wrong_with_drive_load_and_limits_is_said_at_its_key(
    problems_of: Problems, old: str, new: str, key: str, said: str
) -> None:
    assert CONTRACT.count(old) == 1
    found = problems_of("rigs", CONTRACT.replace(old, new))
    assert set(found) == {key}
    assert said in found[key]


def test_a_timeout_as_long_as_the_silence_is_refused_for_every_wire(problems_of: Problems) -> None:
    found = problems_of("rigs", CONTRACT.replace("silent_s = 3.0", "silent_s = 0.5"))
    assert set(found) == {
        f"{place}.timeout_s"
        for place in ("channels.shaft_rpm", "channels.amps", "channels.volts", "drive", "load")
    } | {"field.timeout_s"}


def test_all_that_is_wrong_with_a_rig_comes_at_once(problems_of: Problems) -> None:
    found = problems_of(
        "rigs",
        """
        titel = "x"
        [rig]
        pulley = { drive_mm = 180.0, alternator_mm = -1 }
        [channels.shaft_rmp]
        driver = "hand"
        [channels.volts]
        driver = "scip"
        port = "a"
        query = "M?"
        [channels.amps]
        driver = "scpi"
        prot = "a"
        every_s = "1"
        query = "M?"
        [drive]
        driver = "modbus"
        port = "tcp://1.1.1.1:1"
        run = { register = 0, on = 1, off = 1 }
        speed = { register = 1, in = "Hz" }
        [load]
        driver = "scpi"
        on = "INP ON"
        [simulated]
        machine = "x"
        fault = "@@"
        """,
    )
    assert found == {
        "titel": 'is not a key known here. Did you mean "title"?',
        "rig.pulley.alternator_mm": "must be more than 0; it is -1.",
        "channels.shaft_rmp": 'is not a key known here. Did you mean "shaft_rpm"?',
        "channels.volts.driver": 'must be "lines", "scpi", "modbus", "nmea0183", "hand" or "code";'
        ' it is "scip". Did you mean "scpi"?',
        "channels.amps.prot": 'is not a key known here. Did you mean "port"?',
        "channels.amps.every_s": 'must be a number; it is "1".',
        "drive.run.off": "is the same as on. The motor could never be stopped.",
        "drive.speed.rpm_per_unit": "is missing; the program cannot guess the motor rpm for one"
        " Hz. Add it: 60 / pole pairs of the motor for Hz, such as rpm_per_unit = 30.0.",
        "load.set": 'is missing. Add it: set = "VOLT {value:.2f}".',
        "load.off": 'is missing. Add it: off = "INP OFF".',
        "simulated.fault": '"@@" is not written as NAME or NAME@SECONDS. Write it as in'
        ' fault = "worn brush@30".',
    }


def test_a_switched_bank_is_a_load(tmp_path: Path, problems_of: Problems) -> None:
    text = HANDS + '[load]\ndriver = "modbus"\nport = "COM3"\nsteps = [STEPS]\n'
    steps = "{ register = 0, bit = 0, amps = 20 }, { register = 0, bit = 1, amps = 40 }"
    bank = rig(tmp_path, text.replace("STEPS", steps)).load
    assert isinstance(bank, LoadBank)
    assert [(step.register_, step.bit, step.amps) for step in bank.steps] == [
        (0, 0, 20),
        (0, 1, 40),
    ]
    twice = problems_of("rigs", text.replace("STEPS", steps.replace("bit = 1", "bit = 0")))
    assert "taken by an earlier step" in twice["load.steps[2].bit"]
    high = problems_of("rigs", text.replace("STEPS", steps.replace("bit = 1", "bit = 16")))
    assert high == {"load.steps[2].bit": "must be at most 15; it is 16."}
    assert "at least 1 entries" in problems_of("rigs", text.replace("STEPS", ""))["load.steps"]


def test_a_carbon_pile_is_a_load_with_documented_times(tmp_path: Path) -> None:
    pile = rig(tmp_path, HANDS + '[load]\ndriver = "hand"\n').load
    assert isinstance(pile, LoadHand)
    assert (pile.max_on_s, pile.rest_s) == (15.0, 60.0)


def test_a_field_may_be_switched_by_a_register(tmp_path: Path) -> None:
    text = '[field]\ndriver = "modbus"\nport = "COM3"\nregister = 7\n'
    field = rig(tmp_path, HANDS + text).field
    assert isinstance(field, FieldRegister)
    assert (field.register_, field.on, field.off) == (7, 1, 0)


def test_modbus_and_nmea_channels_have_the_keys_of_the_contract(tmp_path: Path) -> None:
    bench = rig(
        tmp_path,
        with_amps('driver = "modbus"\nport = "COM1"\nregister = 4\ntype = "f32"\norder = "CDAB"')
        + """
        [channels.engine_rpm]
        driver = "nmea0183"
        port = "COM2"
        sentence = "RPM"
        where = { "1" = "E" }
        field = 3
        status = 5
        """,
    )
    amps, engine = bench.channels["amps"], bench.channels["engine_rpm"]
    assert isinstance(amps, ModbusChannel)
    assert (amps.register_, amps.table, amps.type, amps.order) == (4, "holding", "f32", "CDAB")
    assert isinstance(engine, NmeaChannel)
    assert (engine.baud, engine.where, engine.field, engine.status) == (4800, {"1": "E"}, 3, 5)


def test_a_port_has_one_setting_however_many_instruments_it_carries(problems_of: Problems) -> None:
    meter = 'driver = "modbus"\nport = "COM1"\nregister = 4\n'
    text = with_amps(meter) + f"[channels.volts]\n{meter}"
    assert not problems_of("rigs", text + "device = 2\n")
    found = problems_of("rigs", text + "baud = 19200\n")
    assert found["channels.volts.baud"].startswith("is 19200; channels.amps, on the same port, has")


@pytest.mark.parametrize("port", ["/dev/ttyUSB0", "COM7", "usb:0403:6001:A1", "usb-place:1-2.3"])
def test_ports_of_the_contract_are_accepted(problems_of: Problems, port: str) -> None:
    assert not problems_of("rigs", with_amps(f'driver = "scpi"\nport = "{port}"\nquery = "R?"'))


@pytest.mark.parametrize(
    "port", ["socket://[::1]:4001", "tcp://bench-pc:502", "rfc2217://10.0.0.2:2217?logging=debug"]
)
def test_network_ports_are_accepted(problems_of: Problems, port: str) -> None:
    assert not problems_of("rigs", with_amps(f'driver = "scpi"\nport = "{port}"\nquery = "R?"'))


def test_a_rig_names_its_reference_unit(tmp_path: Path) -> None:
    keys = "[reference]\nserial = 'REF-1'\nevery_days = 7\nsince = 2026-09-01\n"
    found = rig(tmp_path, with_amps('driver = "hand"') + keys)
    assert found.reference is not None
    assert (found.reference.serial, found.reference.every_days) == ("REF-1", 7)
    assert found.reference.since == date(2026, 9, 1)


@pytest.mark.parametrize(
    ("keys", "key", "said"),
    [
        ("every_days = 7", "reference.serial", "is missing"),
        ('serial = "R"\nevery_days = 0', "reference.every_days", "must be more than 0"),
        ('serial = "R"\nsince = "March"', "reference.since", "date"),
        ('serail = "R"', "reference.serail", 'Did you mean "serial"?'),
    ],
)
def test_what_is_wrong_with_the_reference_unit_is_said_at_its_key(
    problems_of: Problems, keys: str, key: str, said: str
) -> None:
    found = problems_of("rigs", with_amps('driver = "hand"') + f"[reference]\n{keys}\n")
    assert said in found[key]
