"""A drawing that can be pointed at and lit up, without being drawn anew."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Literal, get_args

import traitlets

from .pieces import HERE, Piece

Style = Literal["look", "right", "wrong"]


class Canvas(Piece):
    """Shows an SVG whose groups carry `data-tag` or `data-run`.

    pickable: a click, Enter or space on a part or pipe sets `picked` to its name and counts `n` up; arrow keys
    go from one to the next.  marks: name → 'look', 'right' or 'wrong'; patched onto the drawing that stands.
    label: the drawing's description for screen readers.  caption: a line below it.

    >>> canvas = Canvas(svg="<svg xmlns='http://www.w3.org/2000/svg'/>")
    >>> canvas.light(["B1", "A>Z"])
    >>> canvas.marks
    {'B1': 'look', 'A>Z': 'look'}
    >>> canvas.light([])
    >>> canvas.marks, canvas.caption
    ({}, '')
    """

    _esm = HERE / "canvas.js"
    svg = traitlets.Unicode("").tag(sync=True)
    marks = traitlets.Dict(key_trait=traitlets.Unicode(),
                           value_trait=traitlets.Enum(get_args(Style))).tag(sync=True)
    pickable = traitlets.Bool(False).tag(sync=True)
    picked = traitlets.Unicode("").tag(sync=True)
    n = traitlets.Int(0).tag(sync=True)
    label = traitlets.Unicode("").tag(sync=True)
    caption = traitlets.Unicode("").tag(sync=True)

    def light(self, names: Iterable[str] | Mapping[str, Style], style: Style = "look") -> None:
        """Light up these parts and pipes and nothing else; a mapping gives each its own style."""
        marks = dict(names) if isinstance(names, Mapping) else dict.fromkeys(names, style)
        with self.hold_sync():
            self.marks = marks
            self.caption = f"Lit up: {', '.join(marks)}" if marks else ""
