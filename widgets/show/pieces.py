"""The small pieces that exercises are made of: a question with real form controls, a note, lines to press.

Their front ends set every word as text, so nothing that a plant or a learner says can become markup.
"""

from __future__ import annotations

import re
from base64 import b64encode
from collections.abc import Sequence
from html import escape
from pathlib import Path

import anywidget
import ipywidgets
import traitlets

HERE = Path(__file__).parent
EXPORT = re.compile(r"^export default .*$", re.MULTILINE)


def script(*names: str) -> str:
    """The front end of a widget as one module: `shared.js`, then these files; what the last one exports is its view.

    What is bundled for a page, or saved with it, cannot fetch a second file, so they are joined here.

    >>> module = script("canvas.js", "explore_flow.js")
    >>> EXPORT.findall(module), module.count("function make(")
    (['export default { render: renderFlowing };'], 1)
    """
    *before, last = [(HERE / name).read_text(encoding="utf-8") for name in ("shared.js", *names)]
    return "\n".join([*(EXPORT.sub("", text) for text in before), last])


def style(*names: str) -> str:
    """The style of a widget: `loopbook.css`, then these files.

    >>> style("table.css").startswith(style()) and ".lb-table" in style("table.css")
    True
    """
    return "\n".join((HERE / name).read_text(encoding="utf-8") for name in ("loopbook.css", *names))


class Piece(anywidget.AnyWidget):
    """A widget of ours: its repr is short and stable, so that an output can be compared."""

    _css = style()

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

    _esm = script("choices.js")
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

    _esm = script("arrange.js")


class Note(Piece):
    """A few lines of words.

    tone: 'plain', 'right', 'wrong', 'caution' or 'trouble'.  live: read aloud when it changes.
    heading: 3 or 4 makes the first line a heading of that level.
    """

    _esm = script("note.js")
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

    _esm = script("lines.js")
    lines = traitlets.List(traitlets.Dict(per_key_traits={"group": traitlets.Unicode(),
                                                         "text": traitlets.Unicode()})).tag(sync=True)
    picked = traitlets.Int(-1).tag(sync=True)
    n = traitlets.Int(0).tag(sync=True)


class Clock(Piece):
    """The time that is left, ticking on the page without a press.

    left_s: what is left [s] when n was counted up; below 0 it is hidden.  asked: counts how often the page wants to be told anew.
    """

    _esm = script("clock.js")
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


def swap(place: ipywidgets.Box, *shown: ipywidgets.Widget) -> None:
    """Show these in a box in place of what it holds. What stood there before that is let go: neither kernel nor page keeps what
    nobody will see again. One stays behind, for a slow page may still be building it.

    >>> notes = [Note(text=text) for text in ("first", "second", "third")]
    >>> place = box("lb-body", notes[0])
    >>> swap(place, notes[1])
    >>> swap(place, notes[2])
    >>> [note.comm is None for note in notes], [note.text for note in place.children]
    ([True, False, False], ['third'])
    """
    before, place.before = getattr(place, "before", ()), tuple(widget for widget in place.children if widget not in shown)
    place.children = shown
    for widget in before:
        if widget not in shown:
            _let_go(widget)


def _let_go(widget: ipywidgets.Widget) -> None:
    for inner in (*getattr(widget, "children", ()), getattr(widget, "style", None), widget.layout):
        if isinstance(inner, ipywidgets.DOMWidget):
            _let_go(inner)
        elif isinstance(inner, ipywidgets.Widget):
            inner.close()
    widget.close()


def beside(picture: ipywidgets.Widget | None, panel: ipywidgets.VBox) -> ipywidgets.Box:
    """A drawing and what is said or asked of it, side by side where there is room; the panel alone where there is no drawing."""
    panel.add_class("lb-panel")
    return box("lb-body", *([picture] if picture is not None else []), panel)


def picture_html(svg: str, alt: str) -> str:
    """A chart as an image with its words, the SVG inside it: nothing in it can run, and no request is made.

    >>> picture_html("<svg/>", 'a "chart"')
    '<img alt="a &quot;chart&quot;" src="data:image/svg+xml;base64,PHN2Zy8+">'
    """
    return f'<img alt="{escape(alt)}" src="data:image/svg+xml;base64,{b64encode(svg.encode("utf-8")).decode("ascii")}">'


def options(pairs: Sequence[tuple[str, str]]) -> list[dict[str, str]]:
    """Values and labels as `Choices` takes them."""
    return [{"value": value, "label": label} for value, label in pairs]
