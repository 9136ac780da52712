"""Forms to type answers into: one small TOML file a paper, and one table for a whole class. They hold no key."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

from .papers import Paper, PrintedTest

CODE, LEARNER = "code", "learner"


def toml_form(one: Paper) -> str:
    """The form of one paper, to be filled in with any text editor."""
    rows = "".join(f'{asked.number} = ""\n' for asked in one.questions)
    return (f"# Answers to paper {one.number}. Write between the quotes what stands in the boxes: a letter, letters, or a tag.\n"
            f'format = 1\n{CODE} = "{one.code}"\n{LEARNER} = ""\n\n[answers]\n{rows}')


def class_form(test: PrintedTest) -> str:
    """The table of a class: one row a paper, one column a question; opens in any spreadsheet program.

    A byte order mark stands first, by which spreadsheet programs know that letters of all languages may follow.
    """
    count = max(len(one.questions) for one in test.papers)
    return "\ufeff" + table([[LEARNER, CODE, *map(str, range(1, count + 1))],
                             *(["", one.code, *[""] * count] for one in test.papers)])


RISKY = ("=", "+", "-", "@", "\t", "\r", "\n")


def safe(value: object) -> object:
    """A cell that no spreadsheet program takes for a formula; figures stay figures.

    >>> safe("=1+1"), safe(0.5), safe("Ann (invented)")
    ("'=1+1", 0.5, 'Ann (invented)')
    """
    if value is None or isinstance(value, int | float):
        return value
    text = str(value)
    return f"'{text}" if text.lstrip(" \u00a0").startswith(RISKY) else text


def unsafe(text: str) -> str:
    """What stood in a cell before `safe` put an apostrophe before it."""
    return text[1:] if text.startswith("'") and text[1:].lstrip().startswith(RISKY) else text


def table(rows: Iterable[Iterable[object]]) -> str:
    """Rows as CSV."""
    out = io.StringIO()
    csv.writer(out, lineterminator="\r\n").writerows([safe(cell) for cell in row] for row in rows)
    return out.getvalue()
