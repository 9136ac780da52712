"""A sheet as plain text, 78 letters wide."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from figures.plant.refusal import plain_text

from .layout import Para, Section, Table
from .units import JOIN

WIDTH = 78


def text(title: str, under: str, parts: tuple[Section, ...], foot: str) -> str:
    """The sheet; nothing in it can move a terminal's cursor.

    >>> print(text("A", "b", (Section("Say", (Para("So."),)),), "End."))
    A
    b
    <BLANKLINE>
    SAY
    ---
    So.
    <BLANKLINE>
    End.
    """
    lines = [*_wrap(title), *_wrap(under)]
    for part in parts:
        head = part.title.upper() if part.level == 1 else part.title
        lines += ["", head, ("-" if part.level == 1 else "·") * min(WIDTH, len(head))]
        for n, block in enumerate(part.blocks):
            if isinstance(block, Para):
                lines += _wrap(f"! {block.text}" if block.tone == "caution" else block.text)
            elif isinstance(block, Table):
                lines += ([""] if n and isinstance(part.blocks[n - 1], Table) else []) + list(_table(block))
            else:
                for line in block.description.split("\n"):
                    lines += _wrap(line, "", "  ")
    return "\n".join(plain_text(line.replace(JOIN, " ")) for line in [*lines, "", *_wrap(foot)])


def _wrap(words: str, first: str = "", rest: str = "", width: int = WIDTH) -> list[str]:
    return textwrap.wrap(words, width, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False) or [first.rstrip()]


def _table(table: Table) -> Iterator[str]:
    """Rows as columns; words that do not fit go on below, in their own column."""
    tick = "[ ] " if table.tick else ""
    room = WIDTH - len(tick) - 2 * (len(table.shares) - 1)
    widths = [max(4, int(room * share / sum(table.shares))) for share in table.shares]
    yield from _row(table.head, widths, " " * len(tick))
    yield " " * len(tick) + "  ".join("-" * width for width in widths)
    for row in table.rows:
        yield from _row(row, widths, tick)


def _row(cells: tuple[str, ...], widths: list[int], tick: str) -> Iterator[str]:
    columns = [_wrap(cell, width=width) for cell, width in zip(cells, widths)]
    for n in range(max(map(len, columns))):
        words = (column[n] if n < len(column) else "" for column in columns)
        line = "  ".join(f"{word:<{width}}" for word, width in zip(words, widths))
        yield f"{tick if n == 0 else ' ' * len(tick)}{line}".rstrip()
