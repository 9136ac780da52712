"""The recap of a lesson as a card that can be printed."""

from __future__ import annotations

from html import escape
from typing import Any

import traitlets

from widgets.learn.consent import Chosen, on_choice, units

from .lesson import Said
from .pieces import Piece, script
from .tells import Told

FOOT = "Loopbook. Practice on drawings: on a real plant the local code and the boiler's instructions come first."


class Card(Piece):
    """A title and a few lines, with a button that prints this card alone.

    Lines are text, in which **two stars** make words bold and *one* slants them, or sentences from `says` and `tells`:
    their figures follow the learner's units.  Raises ValueError for a card without a title or lines.

    >>> print(card("Follow the water", "Out by the **supply**, home by the **return**.").text())
    Follow the water
    - Out by the **supply**, home by the **return**.
    """

    _esm = script("card.js")
    title = traitlets.Unicode("").tag(sync=True)
    lines: traitlets.List = traitlets.List(traitlets.Unicode()).tag(sync=True)
    foot = traitlets.Unicode(FOOT).tag(sync=True)

    def __init__(self, title: str, *lines: str | Said) -> None:
        if not title.strip() or not lines:
            raise ValueError("a card has a title and at least one line")
        self.given = lines
        super().__init__(title=title, lines=self._words(units()))
        on_choice(self._follow)

    def __repr__(self) -> str:
        return f"<Card: {self.title}>"

    def _words(self, which: str) -> list[str]:
        return [(line.us if which == "us" else line.si) if isinstance(line, Told) else str(line) for line in self.given]

    def _follow(self, now: Chosen) -> None:
        self.lines = self._words(now.units)

    def text(self) -> str:
        """The card as lines of text."""
        return "\n".join([self.title, *(f"- {line}" for line in self.lines)])

    def _repr_mimebundle_(self, **given: Any) -> tuple[dict[Any, Any], dict[Any, Any]] | None:
        found = super()._repr_mimebundle_(**given)
        if found is None:
            return None
        bundle, more = found if isinstance(found, tuple) else (found, {})
        lines = "\n".join(f"- {escape(line, quote=False)}" for line in self.lines)
        return {**bundle, "text/markdown": f"**{escape(self.title, quote=False)}**\n\n{lines}\n\n*{self.foot}*"}, more


def card(title: str, *lines: str | Said) -> Card:
    """The recap of a lesson as a card that can be printed: see `Card`."""
    return Card(title, *lines)
