"""Targets: what comes over a wire, as the pure formats read it."""

from __future__ import annotations

import math
import random
import re
from collections.abc import Callable
from decimal import Decimal

from drivers.errors import Unreadable
from drivers.line_pattern import LineFramer, LinePattern, strict_number
from drivers.modbus_frame import (
    cut_tcp,
    expected,
    find_rtu,
    has_rtu_damage,
    read_request,
    value_of,
    words_in,
    words_of,
)
from drivers.nmea_sentence import field_value, read_sentence
from drivers.scpi_text import is_token, queued_error, scpi_number
from tests.drivers.devices import crc_bitwise
from tests.fuzzing.target import NotTaken, Shape, Target, claim

NUMBER = re.compile(rb"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
XOR_PATTERN = r"\$?RPM=(?P<value>[+-]?\d+\.?\d*)\*(?P<xor>[0-9A-Fa-f]{2})"
SUM_PATTERN = r"T (?P<value>.*) (?P<count>\d+)\*(?P<sum>[0-9A-F]{2,4})"
CRC_PATTERN = r"(?P<value>[^,]*),(?P<crc>.{4})"


def xor(covered: bytes) -> int:
    total = 0
    for byte in covered:
        total ^= byte
    return total


def _crc(covered: bytes) -> int:
    return int.from_bytes(crc_bitwise(covered), "little")


def _line(covered: str, kind: str) -> bytes:
    raw = covered.encode("latin-1")
    if kind == "xor":
        return raw + b"*%02X" % xor(raw)
    if kind == "sum":
        return raw + b"*%04X" % (sum(raw) % 65536)
    return raw + b"%04X" % _crc(raw)


LINES = [
    _line("RPM=1500.5", "xor"), _line("RPM=-3", "xor"), _line("T 21.4 17", "sum"),
    _line("13.52,", "crc"), _line("T -0.5 999", "sum"), b"RPM=1500.5*00", b"T 1 2*12",
]  # fmt: skip


def feed_line(data: bytes) -> None:
    """A line is one of three kinds, by its checksum; a value taken has a right one."""
    taken = 0
    for source in (XOR_PATTERN, SUM_PATTERN, CRC_PATTERN):
        try:
            found = LinePattern(source).read(data)
        except Unreadable as refusal:
            last = refusal
            continue
        taken += 1
        claim(checksum_right(data, source), f"a wrong checksum was taken by {source}")
        claim(math.isfinite(found.value), "not finite")
        claim(
            any(float(n) == found.value for n in NUMBER.findall(data)),
            "a value that is not in the line",
        )
    if not taken:
        raise last


def checksum_right(data: bytes, source: str) -> bool:
    if source is CRC_PATTERN:
        return int(data[-4:], 16) == _crc(data[:-4])
    covered, _, sent = data.rpartition(b"*")
    if source is XOR_PATTERN:
        return int(sent, 16) == xor(covered)
    return int(sent, 16) == sum(covered) % (1 << 4 * len(sent))


def feed_number(data: bytes) -> None:
    """A number is one in decimal digits of ASCII and nothing else."""
    text = data.decode("latin-1")
    value = strict_number(text)
    claim(NUMBER.fullmatch(data) is not None, "not a plain number")
    claim(math.isfinite(value) and value == float(Decimal(text)), f"{text!r} became {value}")


def feed_framer(data: bytes) -> None:
    """However a stream is cut into pieces, the same lines come out, and memory stays bounded."""
    for end in (b"", b"\r\n##"):
        whole = LineFramer(end).feed(data) if len(data) < 5000 else None
        framer, lines, at = LineFramer(end), [], 0
        sizes = (1, 7, 64, 3, 300)
        number = 0
        while at < len(data):
            size = sizes[number % len(sizes)]
            lines += framer.feed(data[at : at + size])
            at, number = at + size, number + 1
            claim(len(framer._kept) <= 256 + 300, "the framer keeps too much")
        for line in lines:
            claim(0 < len(line) <= 256, "a line of no length, or too long")
            claim(
                end not in line if end else not re.search(rb"[\r\n]", line), "a line end in a line"
            )
        claim(whole is None or end != b"" or whole == lines, "other lines in other pieces")


def feed_scpi(data: bytes) -> None:
    """The number of an answer, by an independent reading of it."""
    accepted = False
    refusal: Unreadable | None = None
    for field in (None, 0, 1, 3):
        try:
            value = scpi_number(data, field)
        except Unreadable as error:
            refusal = error
            continue
        accepted = True
        parts = data.decode("latin-1").split(",")
        claim(field is not None or len(parts) == 1, "one of several parts was guessed")
        part = parts[field or 0].strip()
        found = re.match(r"[+-]?[0-9.]+(?:[eE][+-]?[0-9]{1,3}(?![0-9]))?", part)
        claim(found is not None and float(found[0]) == value, f"{part!r} became {value}")
        unit = part[found.end() :].strip() if found else "?"
        claim(abs(value) < 9.9e37, "an overload was taken for a value")
        claim(unit == "" or unit.upper() in _UNITS, f"unit {unit!r} was passed over")
    if not accepted and refusal is not None:
        raise refusal


_UNITS = {
    *(a + b for a in "VA" for b in ("", "DC", "AC", "RMS")), "W", "OHM", "HZ", "S", "RPM", "C",
    "DEGC", "K", "NM", "PCT", "%",
}  # fmt: skip


def feed_scpi_queue(data: bytes) -> None:
    """Error queue and token: a token is the very number."""
    for token in (1, 17, 255):
        if is_token(data, token):
            claim(
                re.fullmatch(
                    rb"\s*\+?0*%d\s*" % token, data.replace(b"\x85", b" ").replace(b"\xa0", b" ")
                )
                is not None,
                "another text was taken for the token",
            )
    entry = queued_error(data)
    first = re.match(rb"[\s\x1c-\x1f\x85\xa0]*([+-]?[0-9]+)", data)
    claim(first is not None and int(first[1]) == entry.number, "another number than sent")


# ---- Modbus ----------------------------------------------------------------------------------

REQUEST = read_request(3, 1, 2)
ANSWER = bytes([3, 4]) + b"\x41\xc8\x00\x00"
WANTED = expected(7, REQUEST)


def rtu(device: int, pdu: bytes) -> bytes:
    body = bytes([device]) + pdu
    return body + crc_bitwise(body)


def tcp(number: int, device: int, pdu: bytes) -> bytes:
    return (
        number.to_bytes(2, "big")
        + b"\0\0"
        + (len(pdu) + 1).to_bytes(2, "big")
        + bytes([device])
        + pdu
    )


def rtu_from_nothing(rng: random.Random) -> bytes:
    """Frames with a right or wrong CRC, one behind the other, with noise between."""
    parts = []
    for _ in range(rng.randint(1, 3)):
        function = rng.choice((3, 3, 3, 4, 0x83, 6, 16, 8, rng.randrange(256)))
        size = rng.choice((4, 4, 4, 2, 0, 250, rng.randrange(256)))
        pdu = bytes([function]) + rng.choice(
            (bytes([size & 255]) + rng.randbytes(size), rng.randbytes(rng.randrange(6)))
        )
        frame = rtu(rng.choice((7, 7, 7, 1, 0, 255)), pdu)
        if rng.random() < 0.2:
            frame = frame[:-1] + bytes([frame[-1] ^ 1])
        parts.append(rng.randbytes(rng.choice((0, 0, 1, 5))) + frame)
    return b"".join(parts)[:500]


def feed_rtu(data: bytes) -> None:
    """A frame that is taken is in the bytes, is for us, and has a right CRC by another table."""
    found = find_rtu(data, WANTED)
    has_rtu_damage(data, WANTED)
    if found is None:
        raise NotTaken("no frame")
    frame = data[found.before : found.end]
    claim(frame[-2:] == crc_bitwise(frame[:-2]), "a frame with a wrong CRC was taken")
    claim(frame[0] == 7 and frame[1:-2] == found.pdu, "a foreign frame was taken")
    claim(found.pdu[0] in (3, 0x83), "another function was taken")
    _words(found.pdu)


def feed_tcp(data: bytes) -> None:
    """Frames are cut where their headers say."""
    left, number = data, 0
    while (cut := cut_tcp(left)) is not None:
        frame, size = cut
        head = left[:size]
        claim(
            head[2:4] == b"\0\0" and int.from_bytes(head[4:6], "big") == size - 6,
            "a wrong header was taken",
        )
        claim(head[7:] == frame.pdu and head[6] == frame.device, "the frame is not what was sent")
        claim(len(frame.pdu) >= 1, "an empty frame")
        if WANTED.fits(frame.device, frame.pdu):
            _words(frame.pdu)
        left, number = left[size:], number + 1
    if not number:
        raise NotTaken("no frame")


def _words(pdu: bytes) -> None:
    if pdu[0] & 0x80:
        claim(len(pdu) == 2, "an exception of another length")
        return
    words = words_in(pdu)
    for kind in ("u32", "s32", "f32"):
        for order in ("ABCD", "CDAB", "BADC", "DCBA"):
            try:
                value = value_of(words, kind, order)
            except Unreadable:
                continue
            claim(math.isfinite(value), "not finite")
            claim(
                words_of(value, kind, order) == words or value == 0,
                f"{kind} {order} does not come back",
            )


def sentence(body: str) -> bytes:
    raw = body.encode("latin-1")
    return b"$" + raw + b"*%02X" % xor(raw)


SENTENCES = [
    sentence("IIRPM,E,1,2418.2,10.5,A"), sentence("IIRPM,S,0,1200.0,,V"),
    sentence("YXXDR,C,21.5,C,CASE,U,13.6,V,BATT"), sentence("GPRMC,1,A,3"),
    sentence("IIXDR,T,1500,R,ENGINE#0"), b"$IIRPM,E,1,2418.2,10.5,A*00", b"$IIRPM,E,1,1,,A",
    sentence("IIRPM,E,1,nan,,A"), sentence("IIRPM,E,1,1e400,,A"),
]  # fmt: skip


def sentence_from_nothing(rng: random.Random) -> bytes:
    """Sentences with odd fields and a right checksum."""
    pieces = (
        "E",
        "1",
        "2418.2",
        "",
        "A",
        "V",
        "nan",
        "1e400",
        "-5",
        "+7",
        " 7",
        "1_0",
        "C",
        "CASE",
        "x" * 60,
        "$",
        "*4",
    )
    kind = rng.choice(("RPM", "RPM", "XDR", "XDR", "RMC"))
    return sentence(
        f"II{kind}," + ",".join(rng.choice(pieces) for _ in range(rng.choice((4, 5, 5, 8, 12, 30))))
    )


def feed_sentence(data: bytes) -> None:
    """A sentence that is taken has a right checksum; a value that is taken is in its field."""
    sentence = read_sentence(data)
    line = data.strip(b"\r\n")
    body, _, sent = line[1:].rpartition(b"*")
    claim(
        line[:1] == b"$" and len(sent) == 2 and int(sent, 16) == xor(body),
        "a wrong checksum was taken",
    )
    claim(b"*" not in body and b"$" not in body, "two sentences in one")
    for wanted in (
        {"kind": "RPM", "field": 3, "where": {1: "E"}},
        {"kind": "XDR", "field": 2, "where": {4: "CASE"}},
    ):
        value = field_value(sentence, **wanted)  # type: ignore[arg-type]
        if value is not None:
            claim(math.isfinite(value), "not finite")
            claim(
                any(NUMBER.fullmatch(f.encode()) and float(f) == value for f in sentence.fields),
                "not in its fields",
            )
            claim(sentence.kind != "RPM" or sentence.fields[4] == "A", "an invalid speed was taken")


def xor_right(line: bytes) -> bool:
    covered, _, sent = line.rpartition(b"*")
    return re.fullmatch(rb"[0-9A-Fa-f]{2}", sent) is not None and int(sent, 16) == xor(covered)


def f32(raw: bytes) -> float:
    sign, exponent = raw[0] >> 7, (raw[0] & 0x7F) << 1 | raw[1] >> 7
    part = (raw[1] & 0x7F) << 16 | raw[2] << 8 | raw[3]
    size = part * 2.0**-149 if exponent == 0 else (part | 1 << 23) * 2.0 ** (exponent - 150)
    return -size if sign else size


ANSWERS = [
    b"+1.350000E+01", b"13.5", b"1.5, 2.5E0,3", b"9.9E37", b"9.91E+37", b"12.5 V", b"13.4VDC",
    b"-1e-3 A", b"150 mV", b"27 degC",
]  # fmt: skip
QUEUE = [
    b'0,"No error"', b'-113,"Undefined header"', b"17", b"+1", b"255", b"0",
    b'-350,"Queue overflow";x',
]  # fmt: skip
RTU_FRAMES = [
    rtu(7, ANSWER), rtu(7, b"\x83\x02"), rtu(1, ANSWER) + rtu(7, ANSWER), rtu(7, b"\x03\x02\0\1"),
]  # fmt: skip
TCP_FRAMES = [
    tcp(0x1234, 7, ANSWER), tcp(0x1234, 7, b"\x83\x02"), tcp(1, 7, ANSWER) + tcp(0x1234, 7, ANSWER),
]  # fmt: skip
STREAM = [b"\r\n" + b"\r\n".join(LINES) + b"\r\n", b"a\r\n##bb\r\n##"]


def targets() -> list[Target]:
    """All targets of the formats."""
    numbers = [b"1.5", b"-2e3", b".5", b"+7."]
    return [
        _target("number on a wire", numbers, feed_number),
        _target("lines: pattern and checksum", LINES, feed_line),
        _target("lines: framing", STREAM, feed_framer, share=1),
        _target("SCPI: number", ANSWERS, feed_scpi),
        _target("SCPI: error queue and token", QUEUE, feed_scpi_queue),
        _target(
            "Modbus RTU: answer", RTU_FRAMES, feed_rtu, shape="bytes", grammar=rtu_from_nothing
        ),
        _target("Modbus TCP: answer", TCP_FRAMES, feed_tcp, shape="bytes"),
        _target("NMEA 0183: sentence", SENTENCES, feed_sentence, grammar=sentence_from_nothing),
    ]


def _target(
    name: str,
    samples: list[bytes],
    feed: Callable[[bytes], None],
    *,
    shape: Shape = "text",
    grammar: Callable[[random.Random], bytes] | None = None,
    share: float = 2,
) -> Target:
    """Formats know bytes and no instruments: what they refuse with names none."""
    return Target(
        name, samples, feed, shape, (Unreadable,), grammar=grammar, share=share, longest=20_000
    )
