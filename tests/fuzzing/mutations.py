"""New inputs from old ones: blind changes of bytes, and changes that keep the form of the text."""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Sequence
from typing import Any

from tests.fuzzing.target import Target

NUMBERS = (
    b"0", b"-0", b"-1", b"1", b"0.1", b"1e400", b"-1e400", b"1e-400", b"NaN", b"nan", b"inf",
    b"-inf", b"Infinity", b"1_000", b"1,5", b"1.5.5", b"0x1F", b"00017", b"+7", b".5", b"5.",
    b"9" * 400, b"9" * 5000, b"1" + b"0" * 308, b"2147483648", b"18446744073709551616", b"1e308",
    b"9.91E37", b"9.9E37", b"-9.9e37", b"4294967295", b"65535", b"65536", b"1e15", b"1e-15",
    "٣".encode(), "１２".encode(), "²".encode(), "①".encode(), "−5".encode(), "1\u00a0000".encode(),
    b"true", b"1e", b"1d5", b"0b1", b"12 V", b"12m", b"1/0", b"100%", b"\xd9\xa3",
)  # fmt: skip
SIGNS = (
    b"\0", b"\x1b[2J", b"\x07", b"\x08", b"\x7f", b"\x85", b"\xff", b"\xfe\xff", b"\xc3",
    b"\xed\xa0\x80", b"\xf4\x90\x80\x80", "\ufeff".encode(), "\u202e".encode(), "\u2028".encode(),
    "\u200d".encode(), "\u061c".encode(), "é".encode(), "ß".encode(), "İ".encode(), "ſ".encode(),
    "\U0001f600".encode(), "\U0010ffff".encode(), "\ufb03".encode(), "\u0301".encode() * 3, b"\r\n",
    b"\r", b"\n", b"\t", b"\v", b"'", b'"', b"\\", b"`", b"{", b"}", b"{value}", b"{value:d}",
    b"{0}", b"%s", b"%n", b"[", b"]", b"(", b")", b"$", b"*", b"#", b";", b",", b":", b"@", b"=",
    b"/", b"../", b"://", b"&", b"<", b">", b"|", b" ",
)  # fmt: skip
JSON_VALUES = (
    "null", "true", "false", "0", "-1", "1", "0.5", "-0.0", "1e308", "1e400", "-1e400", "NaN",
    "Infinity", "9" * 400, "1" + "0" * 4000, "9" * 5000, '""', '"x"', '"12"', '"\\u0000"',
    '"\\ud800"', '"\\u202e"', '"\\u001b[2J"', '"none"', '"nan"', "[]", "{}", "[[]]", "[null]",
    "[1,2]", '["a","b"]', '{"a":1}', '[{"a":null}]', '{"a":{"b":[]}}', "[" * 60 + "]" * 60,
    "[" * 2000 + "]" * 2000, '{"schema":1}', '"2026-13-45T99:99:99Z"', '"９９９９-01-01T00:00:00Z"',
    '"9999-12-31T23:59:59.999Z"', '"1"', "2", "65536", "1e15", '"' + "x" * 3000 + '"', '"../../x"',
    '"run.json"', '"\\n"', '" "', '"é"',
)  # fmt: skip
TOML_VALUES = (
    "true", "false", "0", "-1", "1", "0.5", "1e308", "1e400", "nan", "inf", "-inf", "9" * 400,
    "9" * 5000, "0x" + "f" * 5000, "[0x" + "f" * 5000 + "]", "0o7", "0b1", "1_000", '""', '"x"',
    '"12"', "'''a\nb'''", '"\\u0000"', '"\\u202e"', '"\\u001b[2J"', "[]", "{}", "[[]]", "[1, 2]",
    "[2, 1]", '["a", "b"]', "{a = 1}", "[{a = 1}]", "[[1500, 45], [6000, 90]]", "[[1, 2, 3]]",
    "[[inf, 1]]", "[nan, 1]", "[-inf, inf]", "1979-05-27", "0001-01-01", "9999-12-31",
    "1979-05-27T07:32:00Z", "07:32:00", "1979-13-45", "[" * 30 + "]" * 30, "[" * 900 + "]" * 900,
    '"' + "x" * 3000 + '"', '"é"', '"\\\\(?P<value>"', "'[(?P<value>]'", "'(?P<value>(a+)+$)'",
    "'(?P<value>\\d+'", "'(?P<value>x{99999999})'", '"{value:.2f}"', '"{value:d}"',
    '"VOLT {value:99.99f}"', '"socket://host:80"', '"socket://[::1]:4001"', '"socket://h:1/x"',
    '"TCPIP::h::٣::SOCKET"', '"TCPIP0::h::99999::SOCKET"', '"ASRL²::INSTR"', '"ASRL5::INSTR"',
    '"udp://:1"', '"usb:1A2B:3C4D:X"', '"usb-place:1-2.3"', '"COM3"', '"rfc2217://h:7"', '"\\r"',
    '"\\u20ac"', '"45/90A 13.5V"',
)  # fmt: skip


def mutated(target: Target, rng: random.Random) -> bytes:
    """One new input for a target."""
    if target.grammar is not None and rng.random() < 0.3:
        data = target.grammar(rng)
    else:
        data = rng.choice(target.samples)
    aware = _AWARE.get(target.shape)
    chance = rng.random()
    if chance < 0.02:
        return data[: target.longest]
    for _ in range(rng.choice((1, 1, 1, 2, 2, 3, 5))):
        if aware is not None and rng.random() < 0.55:
            data = aware(data, rng)
        else:
            data = rng.choice(_BLIND)(data, rng, target)
    if rng.random() < 0.003:
        data = _grown(data, rng)
    return data[: target.longest]


# ---- blind changes ---------------------------------------------------------------------------


def _place(data: bytes, rng: random.Random) -> int:
    return rng.randint(0, len(data))


def _span(data: bytes, rng: random.Random) -> tuple[int, int]:
    begin = _place(data, rng)
    return begin, min(len(data), begin + rng.choice((1, 1, 2, 4, 8, 30, 200, 3000)))


def _flip(data: bytes, rng: random.Random, target: Target) -> bytes:
    del target
    if not data:
        return b"\0"
    at = rng.randrange(len(data))
    return data[:at] + bytes([data[at] ^ (1 << rng.randrange(8))]) + data[at + 1 :]


def _other_byte(data: bytes, rng: random.Random, target: Target) -> bytes:
    del target
    if not data:
        return bytes([rng.randrange(256)])
    at = rng.randrange(len(data))
    return data[:at] + bytes([rng.randrange(256)]) + data[at + 1 :]


def _cut(data: bytes, rng: random.Random, target: Target) -> bytes:
    del target
    return data[: _place(data, rng)] if rng.random() < 0.7 else data[_place(data, rng) :]


def _without(data: bytes, rng: random.Random, target: Target) -> bytes:
    del target
    begin, end = _span(data, rng)
    return data[:begin] + data[end:]


def _doubled(data: bytes, rng: random.Random, target: Target) -> bytes:
    del target
    begin, end = _span(data, rng)
    at = _place(data, rng)
    return data[:at] + data[begin:end] * rng.choice((1, 1, 2, 20)) + data[at:]


def _spliced(data: bytes, rng: random.Random, target: Target) -> bytes:
    other = rng.choice(target.samples)
    return data[: _place(data, rng)] + other[_place(other, rng) :]


def _sign_put_in(data: bytes, rng: random.Random, target: Target) -> bytes:
    at = _place(data, rng)
    piece = rng.choice(target.tokens if target.tokens and rng.random() < 0.5 else SIGNS)
    return data[:at] + piece + data[at:]


def _number_put_in(data: bytes, rng: random.Random, target: Target) -> bytes:
    del target
    found = _number_at(data, rng)
    begin, end = found or (_place(data, rng),) * 2
    return data[:begin] + rng.choice(NUMBERS) + data[end:]


def _number_at(data: bytes, rng: random.Random) -> tuple[int, int] | None:
    """A run of digits (with sign, dot, exponent) somewhere in the data."""
    if not data:
        return None
    start = rng.randrange(len(data))
    for at in (*range(start, len(data)), *range(start)):
        if 48 <= data[at] <= 57:
            begin = end = at
            while begin and data[begin - 1] in b"0123456789.":
                begin -= 1
            while end < len(data) and data[end] in b"0123456789.":
                end += 1
            return begin, end
    return None


def _framed(data: bytes, rng: random.Random, target: Target) -> bytes:
    del target
    bom = rng.choice((b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff", b" ", b"\n", b"\r\n", b"\0", b""))
    end = rng.choice((b"\n", b"\r\n", b"\r", b" ", b"\0", b"\x1a", b"", b"\n\n"))
    return bom + data + end


def _other_line_ends(data: bytes, rng: random.Random, target: Target) -> bytes:
    del target
    plain = data.replace(b"\r\n", b"\n")
    return plain.replace(b"\n", rng.choice((b"\r\n", b"\r", b"\n\n", b"\n\r", b" ", b"")))


def _other_encoding(data: bytes, rng: random.Random, target: Target) -> bytes:
    del target
    text = data.decode("utf-8", "replace")
    name = rng.choice(("utf-16", "utf-16-le", "utf-32", "latin-1", "cp1252", "utf-7"))
    return text.encode(name, "replace")


def _other_case(data: bytes, rng: random.Random, target: Target) -> bytes:
    del target
    return rng.choice((data.upper(), data.lower(), data.swapcase()))


def _noise(data: bytes, rng: random.Random, target: Target) -> bytes:
    del data, target
    return rng.randbytes(rng.choice((0, 1, 3, 8, 60, 300)))


_BLIND: Sequence[Callable[[bytes, random.Random, Target], bytes]] = (
    _flip, _flip, _other_byte, _cut, _without, _doubled, _spliced, _sign_put_in, _sign_put_in,
    _sign_put_in, _number_put_in, _number_put_in, _number_put_in, _framed, _other_line_ends,
    _other_encoding, _other_case, _noise,
)  # fmt: skip


def _grown(data: bytes, rng: random.Random) -> bytes:
    """Something very long: one line, one byte, or the whole many times."""
    size = rng.choice((5_000, 70_000, 300_000, 900_000))
    at = _place(data, rng)
    piece = rng.choice(
        (data or b"x", b"9", b"[", b"{", b"a", b"(", b'"', b"\n", b",", b" ", b"\xc3\xa9")
    )
    return data[:at] + piece * (size // len(piece)) + data[at:]


# ---- changes that keep the form --------------------------------------------------------------


def _json(data: bytes, rng: random.Random) -> bytes:
    """Another value at one place of a JSON document, a key less, or a key of another name."""
    try:
        document = json.loads(data)
        text = _json_changed(document, rng)
    except (ValueError, RecursionError):
        return data
    return text.encode("utf-8", "surrogatepass")


def _json_changed(document: object, rng: random.Random) -> str:
    mark = "@odd value@"
    places = list(_json_places(document))
    if not places:
        return rng.choice(JSON_VALUES)
    inside, key = rng.choice(places)
    chance = rng.random()
    if isinstance(inside, dict) and chance < 0.12:
        del inside[key]
    elif isinstance(inside, dict) and chance < 0.2:
        inside[rng.choice(("", "x", "schema", "\u202e", "row", f"{key} "))] = inside.pop(key)
    elif chance < 0.3:
        other, its = rng.choice(places)
        inside[key] = json.loads(json.dumps(other[its]))
    else:
        inside[key] = mark
    text = json.dumps(document, ensure_ascii=False, indent=rng.choice((None, 2)))
    return text.replace(f'"{mark}"', rng.choice(JSON_VALUES))


def _json_places(value: object) -> list[tuple[Any, Any]]:
    found: list[tuple[Any, Any]] = []
    waiting = [value]
    while waiting:
        one = waiting.pop()
        pairs = (
            one.items()
            if isinstance(one, dict)
            else enumerate(one)
            if isinstance(one, list)
            else ()
        )
        for key, inner in pairs:
            found.append((one, key))
            waiting.append(inner)
    return found


def _json_line(data: bytes, rng: random.Random) -> bytes:
    """One line of several changed as a document; or lines out of order, twice, or gone."""
    lines = data.split(b"\n")
    if rng.random() < 0.25:
        return _lines(data, rng)
    at = rng.randrange(len(lines))
    lines[at] = _json(lines[at], rng).replace(b"\n", b" ")
    return b"\n".join(lines)


def _lines(data: bytes, rng: random.Random) -> bytes:
    lines = data.split(b"\n")
    at, other = rng.randrange(len(lines)), rng.randrange(len(lines))
    chance = rng.random()
    if chance < 0.3:
        del lines[at]
    elif chance < 0.5:
        lines.insert(other, lines[at])
    elif chance < 0.7:
        lines[at], lines[other] = lines[other], lines[at]
    else:
        lines[at] = rng.choice((b"", b",", b",,,,", b"#", b"[x]", b"[[x]]", b'"', lines[at] * 2))
    return b"\n".join(lines)


def _toml(data: bytes, rng: random.Random) -> bytes:
    """Another value behind one `=`; a key of another name; lines gone, twice, elsewhere."""
    chance = rng.random()
    if chance < 0.25:
        return _lines(data, rng)
    lines = data.split(b"\n")
    keyed = [number for number, line in enumerate(lines) if b"=" in line]
    if not keyed:
        return data
    at = rng.choice(keyed)
    key, _, _ = lines[at].partition(b"=")
    if chance < 0.35:
        lines[at] = (
            rng.choice(
                (b"x", b"schema", b'"\\u202e"', b'""', b"like", b"driver", key.strip() + b"s")
            )
            + b" = 1"
        )
    else:
        lines[at] = key + b"= " + rng.choice(TOML_VALUES).encode("utf-8", "surrogatepass")
    return b"\n".join(lines)


def _csv(data: bytes, rng: random.Random) -> bytes:
    """Another cell, a column more or less in one row, lines changed."""
    if rng.random() < 0.3:
        return _lines(data, rng)
    lines = data.split(b"\n")
    at = rng.randrange(len(lines))
    cells = lines[at].split(b",")
    place = rng.randrange(len(cells))
    chance = rng.random()
    if chance < 0.15:
        del cells[place]
    elif chance < 0.3:
        cells.insert(place, rng.choice((b"", b"1", b'"', b'"a,b"', b'"a\nb"')))
    else:
        cells[place] = rng.choice(
            (*NUMBERS, b"", b'""', b'"1"', b"'1", b"=1+1", b" 1 ", b"yes", b"ok")
        )
    lines[at] = b",".join(cells)
    return b"\n".join(lines)


_AWARE: dict[str, Callable[[bytes, random.Random], bytes]] = {
    "json": _json,
    "json lines": _json_line,
    "toml": _toml,
    "csv": _csv,
    "lines": _lines,
}
