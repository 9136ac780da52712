"""Forms to type answers into: one small TOML file a paper, and one table for a whole class. They hold no key."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

from widgets.learn.cells import safe

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


def table(rows: Iterable[Iterable[object]]) -> str:
    """Rows as CSV."""
    out = io.StringIO()
    csv.writer(out, lineterminator="\r\n").writerows([safe(cell) for cell in row] for row in rows)
    return out.getvalue()
