"""The words of the trade, each explained in a plain sentence. They live in `glossary.toml` beside this file."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType

FILE = Path(__file__).with_name("glossary.toml")


@cache
def words() -> Mapping[str, str]:
    """All words with what they mean, in the order of the alphabet.

    >>> words()["tee"]
    'A fitting that joins three pipes.'
    """
    told = tomllib.loads(FILE.read_text(encoding="utf-8"))["words"]
    return MappingProxyType(dict(sorted(told.items(), key=lambda pair: pair[0].lower())))


def pattern(term: str) -> str:
    """A regular expression for a word as it may stand in a sentence: with a plural, and capital at the start of one.

    >>> import re
    >>> [found[0] for found in re.finditer(pattern("check valve"), "Check valves, and a check  valve.")]
    ['Check valves', 'check  valve']
    """
    first, rest = term[0], r"\s+".join(re.escape(piece) for piece in term[1:].split(" "))
    start = f"[{first.upper()}{first.lower()}]" if first.isalpha() and not term[:2].isupper() else re.escape(first)
    return rf"(?<![\w-]){start}{rest}(?:e?s)?(?![\w-])"
