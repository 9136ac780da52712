"""TOML as people write it: read with `tomllib`, and what is wrong with it told plainly, with its place and how to mend it."""

from __future__ import annotations

import re
import tomllib

from .refusal import plain_text


class NotToml(ValueError):
    """A text that is not TOML. `place`: where in the text, '' where that is not known.  `mend`: what to do."""

    def __init__(self, place: str, says: str, mend: str) -> None:
        self.place, self.says, self.mend = place, says, mend
        super().__init__(": ".join(filter(None, (place, f"{says}; {mend}"))))


def read_toml(text: str) -> dict[str, object]:
    """What a TOML text says. Raises NotToml, and nothing else whatever the text.

    >>> read_toml("minutes = 90")
    {'minutes': 90}
    >>> read_toml('title = "Weir\\nformat = 1')
    Traceback (most recent call last):
    figures.plant.toml.NotToml: line 1, column 14: is not TOML: a text does not end on its line; close its quotes
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise NotToml(*_told_plainly(str(error), text)) from None
    except RecursionError:
        raise NotToml("", "is nested too deeply", "tables and lists stand one deep") from None
    except ValueError:      # the one other thing that tomllib may raise: a figure of thousands of digits
        raise NotToml(_long_figure(text), "a figure thousands of digits long", "shorten it") from None


def _told_plainly(error: str, text: str) -> tuple[str, str, str]:
    """Place, what, mend from the words of tomllib: 'Invalid value (at line 3, column 7)'."""
    found = re.fullmatch(r"(.*?) ?\(at (line \d+, column \d+|end of document)\)", error, re.DOTALL)
    says, place = (found[1], found[2]) if found else (error, "")
    if place == "end of document":
        place = f"line {text.rstrip().count(chr(10)) + 1}, at its end"
    twice = re.fullmatch(r"Cannot declare \((.*?),?\) twice|Cannot overwrite a value", says)
    if twice:
        names = re.findall(r"'([^']*)'", twice[1] or "")
        name = plain_text(".".join(names)) or "this key"
        return place, f"{name} stands in the file twice", "keep one of the two"
    if says.startswith("Illegal character '\\n'"):
        return place, "is not TOML: a text does not end on its line", "close its quotes"
    return place, plain_text(f"is not TOML: {says[:1].lower()}{says[1:]}"[:200]), "mend what stands there"


def _long_figure(text: str) -> str:
    found = re.search(r"\d[\d_]{4000}", text)
    return f"line {text.count(chr(10), 0, found.start()) + 1}" if found else ""
