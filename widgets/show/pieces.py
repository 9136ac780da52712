"""The small pieces that exercises are made of: a question with real form controls, a note, lines to press.

Their front ends set every word as text, so nothing that a plant or a learner says can become markup.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import anywidget
import ipywidgets
import traitlets

HERE = Path(__file__).parent
STYLE = HERE / "loopbook.css"


class Piece(anywidget.AnyWidget):
    """A widget of ours: its repr is short and stable, so that an output can be compared."""

    _css = STYLE

    def __repr__(self) -> str:
        return f"<{type(self).__name__}>"


class Choices(Piece):
    """One question as a fieldset with a legend, and radio buttons, or check boxes where several are wanted.

    value: the values that are chosen.  state: '', 'right', 'part', 'again' or 'shown'.  says: the feedback.
    shown_key: the right values, and only once the answer is shown: it does not go to the page before.
    hint_pressed, look_pressed: count the presses of the two buttons.

    >>> ask = Choices(legend="Which way?", options=[{"value": "a", "label": "Out"}, {"value": "b", "label": "Home"}])
    >>> ask.value
    []
    """

    _esm = HERE / "choices.js"
    legend = traitlets.Unicode("").tag(sync=True)
    options = traitlets.List(traitlets.Dict(per_key_traits={"value": traitlets.Unicode(),
                                                           "label": traitlets.Unicode()})).tag(sync=True)
    value = traitlets.List(traitlets.Unicode()).tag(sync=True)
    many = traitlets.Bool(False).tag(sync=True)
    locked = traitlets.Bool(False).tag(sync=True)
    state = traitlets.Enum(["", "right", "part", "again", "shown"], "").tag(sync=True)
    says = traitlets.Unicode("").tag(sync=True)
    hints = traitlets.List(traitlets.Unicode()).tag(sync=True)
    hints_left = traitlets.Int(0).tag(sync=True)
    can_look = traitlets.Bool(False).tag(sync=True)
    shown_key = traitlets.List(traitlets.Unicode()).tag(sync=True)
    hint_pressed = traitlets.Int(0).tag(sync=True)
    look_pressed = traitlets.Int(0).tag(sync=True)


class Arrange(Choices):
    """Steps to be put in order: buttons up and down, arrow keys, and dragging.

    value: all values in their order once one of them was moved, [] before.  The rest is as in `Choices`.

    >>> Arrange(legend="In what order?", options=options([("a", "Fill"), ("b", "Make safe")])).value
    []
    """

    _esm = HERE / "arrange.js"


class Note(Piece):
    """A few lines of words.

    tone: 'plain', 'right', 'wrong', 'caution' or 'trouble'.  live: read aloud when it changes.
    heading: 3 or 4 makes the first line a heading of that level.
    """

    _esm = HERE / "note.js"
    text = traitlets.Unicode("").tag(sync=True)
    tone = traitlets.Enum(["plain", "right", "wrong", "caution", "trouble"], "plain").tag(sync=True)
    live = traitlets.Bool(False).tag(sync=True)
    heading = traitlets.Int(0).tag(sync=True)

    def say(self, text: str, tone: str = "plain") -> None:
        """Other words, and in what tone, in one step."""
        with self.hold_sync():
            self.tone, self.text = tone, text


class Lines(Piece):
    """Sentences under headings, each a button.

    lines: {'group', 'text'} in order.  picked: the place of the one pressed last, -1 before.  n: counts presses.
    """

    _esm = HERE / "lines.js"
    lines = traitlets.List(traitlets.Dict(per_key_traits={"group": traitlets.Unicode(),
                                                         "text": traitlets.Unicode()})).tag(sync=True)
    picked = traitlets.Int(-1).tag(sync=True)
    n = traitlets.Int(0).tag(sync=True)


class Clock(Piece):
    """The time that is left, ticking on the page without a press.

    left_s: what is left [s] when n was counted up; below 0 it is hidden.  asked: counts how often the page wants to be told anew.
    """

    _esm = HERE / "clock.js"
    left_s = traitlets.Float(-1.0).tag(sync=True)
    n = traitlets.Int(0).tag(sync=True)
    asked = traitlets.Int(0).tag(sync=True)

    def set(self, left_s: float) -> None:
        """Say what is left [s]; below 0 hides the clock."""
        with self.hold_sync():
            self.left_s, self.n = left_s, self.n + 1


def box(css: str, *children: ipywidgets.Widget) -> ipywidgets.Box:
    """Widgets in a box with a class of the style sheet."""
    made = ipywidgets.Box(list(children))
    made.add_class(css)
    return made


def options(pairs: Sequence[tuple[str, str]]) -> list[dict[str, str]]:
    """Values and labels as `Choices` takes them."""
    return [{"value": value, "label": label} for value, label in pairs]
