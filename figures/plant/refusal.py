"""How a refusal is worded: where in the file, which part, what is wrong, what to write instead."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches

# C0 and C1 controls, and the invisible characters that turn or hide text on a screen.
CONTROL = re.compile("[\x00-\x1f\x7f-\x9f\u061c\u200b\u200e\u200f\u2028-\u202e\u2060-\u206f\ufeff"
                     "\ufff9-\ufffb\ud800-\udfff\U000e0000-\U000e007f]")


@dataclass(frozen=True, slots=True)
class Refusal:
    """One thing that is wrong. `place`: key path in the file. `part`: a tag, or ''. `mend`: what to do."""

    place: str
    part: str
    says: str
    mend: str

    def __str__(self) -> str:
        words = [self.place] if self.place else []
        if self.part and not f"{self.place}.".startswith(f"parts.{self.part}."):
            words.append(self.part)
        return ": ".join([*words, f"{self.says}; {self.mend}" if self.mend else self.says])


class BadPlant(ValueError):
    """A plant that cannot be taken as it stands. `refusals` lists all that is wrong, in file order."""

    def __init__(self, refusals: Iterable[Refusal], file: str = "") -> None:
        self.refusals = tuple(refusals)
        self.file = plain_text(file)
        super().__init__("\n".join(self.lines()))

    def lines(self) -> list[str]:
        """One line a refusal, each with the file's name before it where there is one."""
        return [f"{self.file}: {refusal}" if self.file else str(refusal) for refusal in self.refusals]


def plain_text(text: str) -> str:
    """Text as it may be sent to a terminal: control and other invisible characters become '?'.

    >>> plain_text("Quarry\\x1b[31m Road")
    'Quarry?[31m Road'
    """
    return CONTROL.sub("?", text)


def plain_json(value: object) -> str:
    """A value as JSON on one line that any terminal can show and any file can hold: what `plain_text` would take away is escaped.

    Raises ValueError for a figure that JSON has no word for.

    >>> plain_json({"title": "Röhre\x9b\u202e"})
    '{"title": "Röhre\\\\u009b\\\\u202e"}'
    """
    return CONTROL.sub(lambda found: json.dumps(found[0])[1:-1], json.dumps(value, ensure_ascii=False, allow_nan=False))


def shown(value: object) -> str:
    """A value as it may be quoted in a message: short, on one line, without control characters.

    >>> shown("NPS 2"), shown(True), shown(10 ** 400), shown([1, 2]), shown(float("nan"))
    ("'NPS 2'", 'true', 'a huge whole number', 'a list', 'nan')
    """
    if isinstance(value, str):
        text = plain_text(value[:80])
        return f"'{text}'" if len(text) <= 40 else f"'{text[:37]}…'"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value) if abs(value) < 10**15 else "a huge whole number"
    if isinstance(value, float):
        return repr(value)
    if isinstance(value, list | tuple):
        return "a list"
    return "a table" if isinstance(value, Mapping) else "a date or time"


def a(name: str) -> str:
    """A name with its article: 'an emitter', 'a boiler'."""
    return f"an {name}" if name[0] in "aeiou" else f"a {name}"


def near(word: str, known: Iterable[str]) -> str:
    """'did you mean …?' where a known word is close, else the known words in a row where they are few."""
    known = list(known)
    close = closest(word, known)
    if close:
        return f"did you mean '{close}'?"
    return f"known are {', '.join(known)}" if 0 < len(known) <= 14 else ""


def closest(word: str, known: Iterable[str]) -> str:
    known = list(known)
    same = next((name for name in known if name.casefold() == word.casefold()), None)
    return same or next(iter(get_close_matches(word[:60], known, 1)), "")


def key_path(*names: str) -> str:
    """A key path as TOML writes it; what a bare key cannot hold stands in quotes."""
    return ".".join(name if re.fullmatch(r"[A-Za-z0-9_-]{1,40}", name) else f'"{shown(name)[1:-1]}"'
                    for name in names)
