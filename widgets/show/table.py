"""A table of figures in the units that the learner has chosen. The page sets every word as text."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import Any

import traitlets

from figures.plant.units import UNITS, Units, figure
from widgets.learn.consent import Chosen, on_choice, units

from .pieces import Piece, script, style

Cell = str | tuple[float | None, str]
"""Words, or a figure in SI with the ending of its unit: (1.42, 'lps')."""


class Table(Piece):
    """Rows of words and figures under one head; the figures follow when other units are chosen.

    caption: what the table shows, and of which plant.  head: the name of each column.  body: rows of cells; the first cell
    of a row is its name.  A figure that is None is shown as a dash.  Raises ValueError for a row of another length than
    the head, and for a figure of no known unit.

    >>> shown = Table("One pump", ["what is set", "flow"], [["full speed", (1.423, "lps")], ["off", (0.0, "lps")]])
    >>> print(shown.text())
    One pump
    what is set | flow
    full speed | 1.42 L/s
    off | 0 L/s
    """

    _esm = script("table.js")
    _css = style("table.css")
    caption = traitlets.Unicode("").tag(sync=True)
    head: traitlets.List = traitlets.List(traitlets.Unicode()).tag(sync=True)
    rows: traitlets.List = traitlets.List(traitlets.List(traitlets.Unicode())).tag(sync=True)

    def __init__(self, caption: str, head: Sequence[str], body: Sequence[Sequence[Cell]]) -> None:
        for row in body:
            if len(row) != len(head):
                raise ValueError(f"the row '{row[0] if row else ''}' has {len(row)} cells; the table has {len(head)} columns")
            for cell in row:
                if not isinstance(cell, str) and cell[1] not in UNITS:
                    raise ValueError(f"'{cell[1]}' is no unit; use one of {', '.join(UNITS)}")
        self.body = tuple(tuple(row) for row in body)
        super().__init__(caption=caption, head=list(head), rows=self._words(units()))
        on_choice(self._follow)

    def __repr__(self) -> str:
        return f"<Table: {self.caption}>"

    def _words(self, chosen: Units) -> list[list[str]]:
        return [[cell if isinstance(cell, str) else _figure(*cell, chosen) for cell in row] for row in self.body]

    def _follow(self, chosen: Chosen) -> None:
        self.rows = self._words(chosen.units)

    def value(self, row: int, column: int) -> float:
        """The figure in a cell, in SI; both counted from 0. Raises ValueError where words stand there."""
        cell = self.body[row][column]
        if isinstance(cell, str) or cell[0] is None:
            raise ValueError(f"no figure stands in row {row}, column {column} of '{self.caption}'")
        return cell[0]

    def column(self, column: int) -> list[float]:
        """All figures of a column, in SI."""
        return [self.value(row, column) for row in range(len(self.body))]

    def text(self) -> str:
        """The table as lines of text: the caption, the head, the rows."""
        return "\n".join([self.caption, *(" | ".join(row) for row in (self.head, *self.rows))])

    def html(self) -> str:
        """The table as plain HTML, for paper and saved pages."""
        head = "".join(f'<th scope="col">{escape(name)}</th>' for name in self.head)
        body = "".join(f'<tr><th scope="row">{escape(first)}</th>{"".join(f"<td>{escape(cell)}</td>" for cell in rest)}</tr>'
                       for first, *rest in self.rows)
        return f"<table><caption>{escape(self.caption)}</caption><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"

    def _repr_mimebundle_(self, **given: Any) -> tuple[dict[Any, Any], dict[Any, Any]] | None:
        made = super()._repr_mimebundle_(**given)
        return None if made is None else ({**made[0], "text/html": self.html()}, made[1])


def _figure(value: float | None, ending: str, chosen: Units) -> str:
    """A figure with its unit; what only rounding left of nothing is shown as 0."""
    return figure(0.0 if value is not None and abs(value) < 1e-6 else value, ending, chosen)
