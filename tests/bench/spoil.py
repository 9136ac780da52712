"""Ways to spoil a file: as text (bytes, lines, words, figures, encodings) and as a tree of tables, whatever it is about."""

from __future__ import annotations

import json
import pickle
import random
import re
from collections.abc import Callable
from typing import Any

HOSTILE_ELEMENT = "x-bad"
HOSTILE = (
    f"<{HOSTILE_ELEMENT} onload=alert(1)>", f"</text></svg><{HOSTILE_ELEMENT}>", f"]]><{HOSTILE_ELEMENT}/>",
    f"&lt;{HOSTILE_ELEMENT}&gt;", "<script>alert(1)</script>", "\" onmouseover=\"alert(1)", "' onfocus='alert(1)",
    "javascript:alert(1)", "{{7*7}}", "${7*7}", "#let x = 1", "$x^2$", "`rm`", "../../../etc/passwd", "..\\..\\x",
    "=HYPERLINK(1)", "@SUM(1)", "a;=1+1", " +1", "\u00a0-1", "\t=1", "x\n=1", "\x00", "\u202eevil", "\ufeff", "\x1b[31mred",
    "\x9b2J", "e\u0301" * 40, "A" * 5000, "", " ", "Ünïcödé 管道 🔥", "a\u2028b", "a\r\nb: c", "%s%n{0}", "--out", "-",
    "/etc/passwd",
    f"--><{HOSTILE_ELEMENT}>", f"<![CDATA[<{HOSTILE_ELEMENT}>]]>", "<?php ?>", "&#60;script&#62;", "&bogus;", "\\\\unc\\x", "\\",
)
FIT = ("a < b & \"c\" 'd'", "{{7*7}} ${7*7} #let x = $x^2$", "=HYPERLINK(1)", "../../../etc/passwd", "]]> --> ?>",
       "&lt;x-bad&gt;", "\\\" onmouseover=\\\"alert(1)", "' onfocus='alert(1)", "javascript:alert(1)", "< x-bad >", "<1",
       "管道 🔥 e\u0301", "%s {0}", "`\\u{41}` \\n", "*b* _i_ @x <1> = h", "A" * 120, "a;=1+1", "-1", "%%EOF", ") Tj /JS (",
       "\\(", "&#x41;", "null")
"""Hostile, and yet a title that a plant may have: these come as far as the pages."""
FIGURES = ("0", "-0.0", "-1", "1e308", "-1e308", "1e-308", "nan", "inf", "-inf", "9223372036854775808", "9" * 400, "0.1e", "true",
           "[]", "{}", "\"\"", "1979-05-27", "0x10", "1_0", "00", "65536", "3", "4000000000", "9" * 5000, "0x" + "f" * 5000,
           "07:32:00", "1979-05-27T07:32:00Z", "0b1", "1e5", "0.01")
WORDS = ("boiler", "pump", "tee", "emitter", "indirect tank", "check valve", "hydraulic separator", "relief valve",
         "NPS 1", "CU 2", "system supply", "a_supply", "kind", "through", "format", "parts", "runs", "title", "B1", "__proto__",
         "constructor", "at", "answers", "code", "learner", "share", "questions", "difficulty", "kinds")
VALUES: tuple[Any, ...] = (0, -1, 1, 2, True, False, 1.0, 0.5, -0.0, 1e308, 1e-308, float("nan"), float("inf"), 10**18, 10**400,
                           2**63, "", [], {}, [[]], {"a": {}}, [True], ["B1", "B1"], None)
Spoil = Callable[[bytes, random.Random], bytes]


def spoilt(data: bytes, chance: random.Random) -> bytes:
    """The data, as text, with one to four things wrong."""
    for _ in range(chance.choice((1, 1, 1, 2, 4))):
        data = chance.choices((_bytes, _line, _word, _figure, _hostile, _encoded), (2, 3, 3, 4, 4, 1))[0](data, chance)
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
    """A text made hostile, as it is typed or as a program writes it."""
    word = chance.choice(HOSTILE)
    return _put(data, chance, rb'"[^"\n]*"', json.dumps(word) if chance.random() < 0.7 else f'"{word}"')


def _encoded(data: bytes, chance: random.Random) -> bytes:
    """The text as another program saves it, or wrapped in what does not belong to it."""
    text = data.decode("utf-8", "replace")
    way = chance.randrange(10)
    if way < 5:
        return (b"\xef\xbb\xbf" + data, text.encode("utf-16"), data.replace(b"\n", b"\r\n"), data.replace(b"\n", b"\r"),
                text.encode("latin-1", "replace"))[way]
    if way == 5:
        return data * chance.choice((2, 30))
    if way == 6:
        return data + b"\x00" * chance.choice((1, 5000))
    if way == 7:
        return chance.choice((b"", b" \n", b"\x00", b"\xff", b"{}", b"[]", b"null", b"PK\x03\x04", b"%PDF-1.7", b"#!/bin/sh"))
    deep = chance.choice((5, 90, 2000))
    return data + (f"\nx = {'[' * deep}{']' * deep}\n" if way == 8 else f"\n[{'.'.join('a' * deep)}]\n").encode()


# -- as a tree ----------------------------------------------------------------------------------------------

def bent(tree: Any, chance: random.Random) -> Any:
    """A tree of tables and lists, changed in one place: a value, a key, a table lost, doubled, moved or nested."""
    tree = copied(tree)
    places = list(_places(tree))
    if not places:
        return chance.choice(VALUES)
    holder, key = chance.choice(places)
    way = chance.randrange(8)
    if way <= 2:
        holder[key] = _other(holder[key], chance)
    elif way == 3:
        del holder[key]
    elif way == 4:
        other, at = chance.choice(places)
        holder[key] = copied(other[at])
    elif way == 5 and isinstance(holder, dict):
        holder[chance.choice((*WORDS, *HOSTILE))] = holder.pop(key)
    elif way == 6 and isinstance(holder, list):
        holder.insert(chance.randrange(len(holder) + 1), copied(holder[key]))
    else:
        for _ in range(chance.choice((1, 3, 60))):
            holder[key] = [holder[key]] if chance.random() < 0.5 else {"a": holder[key]}
    return tree


def copied(tree: Any) -> Any:
    """A copy that shares nothing with the tree; several times quicker than `copy.deepcopy`."""
    return pickle.loads(pickle.dumps(tree, -1))


def worded(tree: Any, chance: random.Random) -> Any:
    """A tree with one to four of its texts made hostile, not longer than most texts may be."""
    tree = copied(tree)
    texts = [(holder, key) for holder, key in _places(tree) if isinstance(holder[key], str)]
    for holder, key in chance.choices(texts, k=chance.choice((1, 1, 2, 4))):
        holder[key] = chance.choice((*HOSTILE, *FIT))[:60]
    return tree


def _places(tree: Any) -> Any:
    """Every table or list of a tree, with each key of it."""
    todo = [tree]
    while todo:
        one = todo.pop()
        for key in (list(one) if isinstance(one, dict) else range(len(one)) if isinstance(one, list) else ()):
            yield one, key
            todo.append(one[key])


def _other(value: Any, chance: random.Random) -> Any:
    """Another value, often of the same type."""
    if chance.random() < 0.3 or (isinstance(value, int) and abs(value) > 10**300):
        return chance.choice(VALUES)
    if isinstance(value, str):
        return chance.choice((*HOSTILE, *WORDS, *FIT))
    if isinstance(value, bool):
        return not value
    if isinstance(value, int | float):
        return chance.choice((value * 10, value / 10, -value, value + 1, value * 1e9, 0, 1e-9))
    return chance.choice(VALUES)


def as_toml(tree: dict[str, Any]) -> str:
    """A tree as TOML: tables of tables and lists of tables under heads of their own, all else in one line."""
    heads, body = [], []
    for key, value in tree.items():
        if isinstance(value, dict) and value and all(isinstance(one, dict) for one in value.values()):
            body += [f"\n[{_key(key)}.{_key(name)}]\n" + _lines(one) for name, one in value.items()]
        elif isinstance(value, dict):
            body.append(f"\n[{_key(key)}]\n" + _lines(value))
        elif isinstance(value, list) and value and all(isinstance(one, dict) for one in value):
            body += [f"\n[[{_key(key)}]]\n" + _lines(one) for one in value]
        else:
            heads.append(f"{_key(key)} = {_value(value)}\n")
    return "".join([*heads, *body])


def _lines(table: dict[str, Any]) -> str:
    return "".join(f"{_key(key)} = {_value(value)}\n" for key, value in table.items())


def _key(key: str) -> str:
    return key if re.fullmatch("[A-Za-z0-9_-]+", key) else json.dumps(key, ensure_ascii=False)


def _value(value: Any) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_key(key)} = {_value(one)}" for key, one in value.items()) + "}"
    if isinstance(value, list):
        return f"[{', '.join(map(_value, value))}]"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, bool) or value is None:
        return "true" if value else "false"
    if isinstance(value, int) and abs(value) > 10**300:
        return "9" * 400 if value < 10**1000 else "0x" + "f" * 5000     # of which Python makes no decimal figure
    return repr(value)
