"""A lesson cut into steps for a screen that a class looks at: drawing, question, pause, answer.

The cut follows the order of the cells and their headings alone, so that any lesson of the conventions can be shown.
Nothing is run here, and no notebook is changed.
"""

from __future__ import annotations

import ast
import json
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

Role = Literal["text", "drawing", "show", "question", "task", "said", "card", "hidden", "carried"]
ROLES: dict[str, Role] = {
    "look_at": "drawing", "predict": "question", "says": "said", "tells": "said", "card": "card",
    "Exercise": "task", "practise": "task", "Quiz": "task", "FindTheFault": "task", "Sitting": "task",
    "your_workbook": "hidden",
}
"""What a cell shows, by the call in its last line; what stands nowhere here is something to look at or to try."""
DRAWS = ("look_at", "read_aloud", "explore", "views", "show_findings")
"""Calls whose first argument is a plant that stands on the screen from then on."""
PROOF, ASIDE = "nbval-check-output", "loopbook-aside"
MOST_TEXT = 700
"""Letters of text on one screen: about twelve lines in the letters of a projector."""
TEXT_ABOVE = 430
"""Letters of text that may stand above a drawing and leave it room."""


class NoLesson(Exception):
    """A notebook that cannot be shown. The message is one line: which, what, how to mend."""


@dataclass(frozen=True, slots=True)
class Shown:
    """One thing on a step. cell: its place in the notebook; text: markdown, where it is text; held: kept back till asked for."""

    cell: int
    role: Role
    text: str = ""
    held: bool = False


@dataclass(slots=True)
class Step:
    """What stands on the screen at once.

    name: found again in a lesson that was changed elsewhere.  goes_on: the title stood on the step before already.
    carry: the cell whose drawing is shown again here, for a question or a sentence about its plant.
    """

    name: str
    title: str
    goes_on: bool = False
    shown: list[Shown] = field(default_factory=list)
    carry: int | None = None

    @property
    def letters(self) -> int:
        """Of text that is not kept back."""
        return sum(len(one.text) for one in self.shown if not one.held)

    @property
    def beside(self) -> bool:
        """A drawing stands on the left, and what is said or asked of it on the right."""
        return self.has("drawing") or self.carry is not None

    @property
    def sides(self) -> tuple[tuple[Shown, ...], ...]:
        """What stands on the left and on the right, or all of it as one."""
        if not self.beside:
            return (tuple(self.shown),)
        carried = (Shown(self.carry, "carried"),) if self.carry is not None else ()
        left = tuple(one for one in self.shown if one.role == "drawing")
        return (*carried, *left), tuple(one for one in self.shown if one.role != "drawing")

    def has(self, *roles: Role) -> bool:
        """Something of one of these roles stands on it."""
        return any(one.role in roles for one in self.shown)


@dataclass(frozen=True, slots=True)
class Lesson:
    """A lesson ready to be shown.

    code: the sources of its code cells by their places, proofs left out, in order.  bar: the cell of the learner's own bar,
    which explains words and puts figures into the chosen units: it stands beside the steps.
    """

    name: str
    title: str
    minutes: int
    steps: tuple[Step, ...]
    code: dict[int, str]
    notes: str
    able_to: tuple[str, ...]
    bar: int | None = None

    def first_shown(self, step: str = "") -> int | None:
        """The last cell of what a step shows, or of the next step that shows more than text; None where none does.

        step: its name; '' or an unknown one means the first.
        """
        names = [one.name for one in self.steps]
        for one in self.steps[names.index(step) if step in names else 0:]:
            if cells := [shown.cell for shown in one.shown if shown.role != "text"]:
                return max(cells)
        return None


def lesson(path: Path) -> Lesson:
    """Read a lesson and cut it into steps. Raises NoLesson.

    >>> from widgets.learn.lessons import shipped_lessons
    >>> start = lesson(shipped_lessons()[0])
    >>> start.title, start.steps[0].name, all(step.shown for step in start.steps)
    ('Start here', 'title', True)
    """
    try:
        book = json.loads(path.read_text("utf-8"))
        cells = [_cell(place, cell) for place, cell in enumerate(book["cells"])]
        told = book["metadata"].get("loopbook", {})
    except OSError as error:
        raise NoLesson(f"{path}: {(error.strerror or str(error)).lower()}; install Loopbook again") from None
    except (ValueError, KeyError, TypeError, AttributeError):
        raise NoLesson(f"{path}: this is no notebook; install Loopbook again, or take it from another copy") from None
    cells = [cell for cell in cells if not {PROOF, ASIDE} & set(cell.tags)]
    code = {cell.place: cell.source for cell in cells if cell.kind == "code"}
    texts = [cell.source for cell in cells if cell.kind == "markdown"]
    notes = [text for text in texts if _for_the_instructor(text)]
    able = next((text.partition("**You will be able to**")[2] for text in texts if "**You will be able to**" in text), "")
    return Lesson(path.stem, str(told.get("title") or path.stem), int(told.get("minutes") or 0), tuple(_steps(cells)), code,
                  "\n\n".join(_opened(note) for note in notes), tuple(_points(able)),
                  next((place for place, source in code.items() if _shows(source) == "your_workbook"), None))


@dataclass(frozen=True, slots=True)
class _Cell:
    place: int
    kind: str
    name: str
    source: str
    tags: tuple[str, ...]


def _cell(place: int, cell: dict[str, Any]) -> _Cell:
    source = cell["source"]
    return _Cell(place, cell["cell_type"], str(cell.get("id") or f"cell-{place}"),
                 source if isinstance(source, str) else "".join(source), tuple(cell.get("metadata", {}).get("tags", ())))


def _steps(cells: list[_Cell]) -> list[Step]:
    steps: list[Step] = []
    plants = _Plants()

    def begin(name: str, title: str) -> Step:
        goes_on = bool(steps) and title == ""
        steps.append(Step(name, title or (steps[-1].title if steps else ""), goes_on))
        return steps[-1]

    for cell in cells:
        if cell.kind == "markdown":
            if not _for_the_instructor(cell.source):
                _add_text(cell, steps, begin)
            continue
        if cell.kind != "code":
            continue
        called = _shows(cell.source)
        about = plants.take(cell.source, cell.place, called)
        role = ROLES.get(called, "show") if called else "hidden"
        if role == "hidden":
            continue
        step = steps[-1] if steps else begin(cell.name, "")
        if not _fits(step, role):
            step = begin(cell.name, "")
        step.shown.append(Shown(cell.place, role, held=role == "said"))
        if role in ("said", "question") and not step.has("drawing", "show", "task"):
            step.carry = about if about is not None else step.carry
    return [step for step in steps if step.shown]


def _add_text(cell: _Cell, steps: list[Step], begin: Any) -> None:
    """A heading begins a step; text beyond what a screen holds goes on on the next."""
    title, blocks = _heading(cell.source)
    step = begin(cell.name, title) if title or not steps or not _fits(steps[-1], "text") else steps[-1]
    first, at = step is (steps[0] if steps else None), 1
    for block in blocks:
        if step.letters and step.letters + len(block) > MOST_TEXT and not first:
            at += 1
            step = begin(f"{cell.name}-{at}", "")
        if step.shown and step.shown[-1].role == "text" and step.shown[-1].cell == cell.place:
            block = f"{step.shown.pop().text}\n\n{block}"
        step.shown.append(Shown(cell.place, "text", block))
    if title and not blocks:
        step.shown.append(Shown(cell.place, "text", ""))


def _fits(step: Step, role: Role) -> bool:
    """A step holds one thing to look at, above it a little text, beside it a question, below it what is kept back."""
    if role == "text":
        return not step.has("drawing", "show", "question", "task", "said", "card")
    if role == "said":
        return step.has("drawing", "show", "question", "task", "said") or step.letters <= TEXT_ABOVE
    if role == "question":
        return not step.has("question", "show", "task", "said", "card") and (step.has("drawing") or step.letters <= TEXT_ABOVE)
    return not step.has("drawing", "show", "question", "task", "said", "card") and step.letters <= TEXT_ABOVE


def _heading(source: str) -> tuple[str, list[str]]:
    """The heading that a text begins with, '' for none, and the blocks of the rest."""
    lines = source.strip().splitlines()
    title = ""
    if lines and re.match(r"#{1,4} ", lines[0]):
        title = lines.pop(0).lstrip("# ").strip()
    rest = "\n".join(lines).strip()
    return title, [block for block in re.split(r"\n\s*\n", rest) if block.strip()]


def _for_the_instructor(source: str) -> bool:
    return "For the instructor" in source and "<details" in source


def _opened(note: str) -> str:
    """The instructor's text without the fold about it."""
    return re.sub(r"</?details>|<summary>.*?</summary>", "", note, flags=re.DOTALL).strip()


def _points(text: str) -> Iterator[str]:
    for line in text.strip().splitlines():
        if not line.startswith(("-", " ")):
            return
        yield line.lstrip("- ").strip()


def _shows(source: str) -> str:
    """The name that the last line calls; 'a name' for a thing shown by its name; '' for nothing."""
    last = _lines(source)[-1:]
    if not last or not isinstance(last[0], ast.Expr):
        return ""
    call = last[0].value
    called = call.func if isinstance(call, ast.Call) else None
    return called.attr if isinstance(called, ast.Attribute) else called.id if isinstance(called, ast.Name) else "a name"


def _lines(source: str) -> list[ast.stmt]:
    """The statements of a cell; none where it is no Python."""
    try:
        return ast.parse(source).body
    except SyntaxError:
        return []


class _Plants:
    """Which plant stands drawn in which cell, followed through the names that a lesson gives its plants."""

    def __init__(self) -> None:
        self.named: dict[str, str] = {}
        self.drawn: dict[str, int] = {}
        self.plain: set[int] = set()

    def take(self, source: str, place: int, called: str) -> int | None:
        """Note what a cell names and draws; the cell in which a plant that it speaks of was drawn last, if any was."""
        body = _lines(source)
        for line in body:
            if isinstance(line, ast.Assign):
                meant = self._meant(line.value)
                for target in line.targets:
                    if isinstance(target, ast.Name):
                        self.named[target.id] = f"{meant} as {target.id}" if target.id in meant.split() else meant
        last = body[-1] if body else None
        if not (isinstance(last, ast.Expr) and isinstance(last.value, ast.Call)):
            return None
        found = None
        for node in ast.walk(last.value):
            if isinstance(node, ast.Name | ast.Call) and (meant := self._meant(node)) in self.drawn:
                found = self.drawn[meant]
                break
        if called in DRAWS and last.value.args:
            meant = self._meant(last.value.args[0])
            # A plain drawing is the best to take along: others carry the figures or the lights of their own moment.
            if called == "look_at" or meant not in self.drawn or self.drawn[meant] not in self.plain:
                self.drawn[meant] = place
            if called == "look_at":
                self.plain.add(place)
        return found

    def _meant(self, value: ast.expr) -> str:
        return self.named.get(value.id, value.id) if isinstance(value, ast.Name) else ast.unparse(value)
