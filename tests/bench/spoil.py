"""Ways to spoil a file: bytes flipped, lost and doubled; figures and words made absurd or hostile."""

from __future__ import annotations

import random
import re

HOSTILE_ELEMENT = "x-bad"
HOSTILE = (
    f"<{HOSTILE_ELEMENT} onload=alert(1)>", f"</text></svg><{HOSTILE_ELEMENT}>", f"]]><{HOSTILE_ELEMENT}/>",
    f"&lt;{HOSTILE_ELEMENT}&gt;", "<script>alert(1)</script>", "\" onmouseover=\"alert(1)", "' onfocus='alert(1)",
    "javascript:alert(1)", "{{7*7}}", "${7*7}", "#let x = 1", "$x^2$", "`rm`", "../../../etc/passwd", "..\\..\\x",
    "=HYPERLINK(1)", "@SUM(1)", "\\u0000", "\\u202Eevil", "\\uFEFF", "e\\u0301" * 40, "A" * 5000, "", " ", "Ünïcödé 管道 🔥",
)
FIGURES = ("0", "-0.0", "-1", "1e308", "-1e308", "1e-308", "nan", "inf", "-inf", "9223372036854775808", "9" * 400, "0.1e", "true",
           "[]", "{}", "\"\"", "1979-05-27", "0x10", "1_0", "00", "65536", "3", "4000000000")
WORDS = ("boiler", "pump", "tee", "emitter", "indirect tank", "check valve", "hydraulic separator", "relief valve",
         "NPS 1", "CU 2", "system supply", "a_supply", "kind", "through", "format", "parts", "runs", "title", "B1")


def spoilt(data: bytes, chance: random.Random) -> bytes:
    """The data with one to four things wrong."""
    for _ in range(chance.choice((1, 1, 1, 2, 4))):
        data = chance.choices((_bytes, _line, _word, _figure, _hostile), (2, 3, 3, 4, 4))[0](data, chance)
    return data


def _bytes(data: bytes, chance: random.Random) -> bytes:
    """Some bytes changed, lost, doubled or cut off."""
    if not data:
        return b"\x00"
    at, many = chance.randrange(len(data)), chance.choice((1, 1, 8, 100))
    way = chance.randrange(4)
    if way == 0:
        return data[:at] + bytes(chance.randrange(256) for _ in range(min(many, 8))) + data[at + many:]
    if way == 1:
        return data[:at] + data[at + many:]
    if way == 2:
        return data[:at] + data[at:at + many] * 2 + data[at + many:]
    return data[:at]


def _line(data: bytes, chance: random.Random) -> bytes:
    """A line lost, doubled, moved, or put together with the next."""
    lines = data.split(b"\n")
    at, to = chance.randrange(len(lines)), chance.randrange(len(lines))
    way = chance.randrange(4)
    if way == 0:
        del lines[at]
    elif way == 1:
        lines.insert(to, lines[at])
    elif way == 2:
        lines.insert(to, lines.pop(at))
    else:
        lines[at:at + 2] = [b" ".join(lines[at:at + 2])]
    return b"\n".join(lines)


def _put(data: bytes, chance: random.Random, what: bytes, instead: str) -> bytes:
    """One of the places that a pattern finds, written otherwise."""
    places = list(re.finditer(what, data))
    if not places:
        return data
    place = chance.choice(places)
    return data[:place.start()] + instead.encode() + data[place.end():]


def _word(data: bytes, chance: random.Random) -> bytes:
    """A word put for another: a kind, a key, a tag."""
    return _put(data, chance, rb"[A-Za-z_][A-Za-z0-9_]*", chance.choice(WORDS))


def _figure(data: bytes, chance: random.Random) -> bytes:
    """A figure made absurd."""
    return _put(data, chance, rb"(?<![A-Za-z0-9_])-?\d+(\.\d+)?", chance.choice(FIGURES))


def _hostile(data: bytes, chance: random.Random) -> bytes:
    """A text made hostile."""
    return _put(data, chance, rb'"[^"\n]*"', '"' + chance.choice(HOSTILE).replace('"', '\\"') + '"')
