"""Your own plant: a form from 'how many boilers' to a drawing, a reading, findings, a sheet and a plant file."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from html import escape
from pathlib import Path
from typing import Protocol

import ipywidgets
from traitlets import Bunch

from figures.plant import Plant, write_plant
from figures.plant.units import Units
from figures.reading import Reading, read
from figures.reading.settings import settings

from .canvas import Canvas
from .pieces import Choices, Note, beside, box, options
from .questions import QUESTIONS, Question, draft, settled, shown
from .safely import Act, safely

CAUTION = ("A reading is made from what you answered, not from the boiler room. Local codes, the makers' instructions and "
           "licensed people prevail. Look, do not touch: hot water, pressure, gas and electricity kill.")
MORE = ("What the form cannot say, the file can. Save it, open it in any text editor and change or add parts: each has a table "
        "[parts.TAG], each pipe a [[runs]] with the tags it goes through, in the direction of the water. In a terminal, "
        "`loopbook parts` lists every kind with its keys, and `loopbook read FILE` says what it makes of the file or what is "
        "wrong with it. For example, a larger expansion tank is one line:")
EXAMPLE = "[parts.XT]\nkind = \"expansion tank\"\nvolume_l = 140.0"


class Paper(Protocol):
    """A sheet, as this form needs it."""

    def save(self, path: str | Path, force: bool = False) -> Path:
        """Write it; FileExistsError where something is there."""


Maker = Callable[..., Paper]


def guarded(where: str) -> Callable[[Act], Act]:
    """For presses and changes: what goes wrong is told in the note of that name; see `safely`."""
    return safely(lambda form, text: getattr(form, where).say(text, "trouble"), OSError, words=_plainly,
                  then="Your answers still stand.")


def _plainly(error: Exception) -> str:
    if isinstance(error, FileExistsError):
        return f"{error.filename}: is there already and is left as it is; write another name."
    if isinstance(error, OSError):
        return f"{error.filename}: cannot be written: {error.strerror}"
    return str(error)


class PlantForm(ipywidgets.VBox):
    """A plant put together from answers.

    answers: to begin with, by the keys of `QUESTIONS`; every other question has a first answer.  folder: where
    files are saved, the current one unless said.  units: 'si' or 'us', of what is written and read.
    sheet: what makes a settings sheet of a plant; without it the form offers none.  labels: an instructor's own
    words, shown beside ours.

    The plant is drawn and read anew with every answer. What does not go together is said below the drawing, which
    then stays as it was. Raises ValueError for answers to begin with that no question has.

    >>> form = PlantForm({"boilers": ("2",), "meet": ("hydraulic separator",), "tank": ("boiler loop",)})
    >>> form.reading.control, len(form.reading.boilers)
    ('DHW on the boiler loop', 2)
    """

    def __init__(self, answers: Mapping[str, Sequence[str] | str] | None = None, folder: str | Path = ".",
                 units: Units = "si", sheet: Maker | None = None, labels: Mapping[str, str] | None = None) -> None:
        if units not in ("si", "us"):
            raise ValueError(f"units: '{units}' is not known; use si or us")
        self.folder, self.units, self._sheet, self.labels = Path(folder), units, sheet, labels or {}
        self.plant: Plant | None = None
        self.reading: Reading | None = None
        self.given = {key: _tuple(value) for key, value in (answers or {}).items()}
        self.answers = settled(self.given)
        self._pieces: dict[str, Choices | ipywidgets.VBox] = {}
        self._fields: dict[str, ipywidgets.Text] = {}
        self._heads: dict[str, Note] = {}
        self._busy = False
        self._build()
        super().__init__([self.head, self.body, self.report, self.said, self.bar, self.saved, self.file, self.caution])
        self.add_class("lb-exercise")
        self.refresh()

    def __repr__(self) -> str:
        return f"<PlantForm: {self.plant.title if self.plant else 'nothing yet'}>"

    # -- building --------------------------------------------------------------------------------------

    def _build(self) -> None:
        self.head = Note(heading=3, text="Your own plant\nAnswer what you see; every question has a first answer. "
                                         "The drawing follows.")
        self.canvas, self.said = Canvas(), Note(live=True)
        self.report, self.saved = Note(live=True), Note(live=True)
        self.caution, self.file = Note(tone="caution", text=CAUTION), ipywidgets.HTML()
        self.panel = ipywidgets.VBox()
        self.body = beside(self.canvas, self.panel)
        self.name_box = _text("File name", "", "26em")
        self.save_button = ipywidgets.Button(description="Save the plant file", button_style="primary",
                                             layout={"width": "auto"})
        self.save_button.on_click(self._on_save)
        row: list[ipywidgets.Widget] = [self.name_box, self.save_button]
        if self._sheet is not None:
            self.sheet_button = ipywidgets.Button(description="Save the settings sheet (PDF)", layout={"width": "auto"})
            self.sheet_button.on_click(self._on_sheet)
            row.append(self.sheet_button)
        self.bar = box("lb-bar", *row)

    def _piece(self, question: Question) -> Choices | ipywidgets.VBox:
        """The widget of a question, made once."""
        if question.key not in self._pieces:
            if question.kind == "written":
                field = _text(shown(question, self.units), "")
                field.add_class("lb-field")
                field.observe(lambda change: self._on_written(question.key, change), "value")
                self._fields[question.key] = field
                self._pieces[question.key] = ipywidgets.VBox([field, *([Note(text=question.help)] if question.help else [])])
            else:
                choices = Choices(legend=shown(question, self.units), many=question.kind == "several", says=question.help)
                choices.observe(lambda change: self._on_chosen(question.key, change), "value")
                self._pieces[question.key] = choices
        return self._pieces[question.key]

    # -- what presses call, and tests too ----------------------------------------------------------------

    def answer(self, key: str, value: Sequence[str] | str) -> None:
        """Answer one question; what depends on it follows. Raises ValueError for a question or answer that is none."""
        question = next((q for q in QUESTIONS if q.key == key), None)
        if question is None or key not in self.answers:
            raise ValueError(f"no question '{key}' here; there are {', '.join(self.answers)}")
        given = _tuple(value)
        known = [name for name, _ in question.options(self.answers)]
        if question.kind != "written" and (set(given) - set(known) or (question.kind == "one" and len(given) != 1)):
            raise ValueError(f"{key}: {', '.join(given) or 'nothing'} is no answer; use {', '.join(known)}")
        self.given[key] = given         # what was not answered follows what was
        self.answers = settled(self.given)
        self.refresh()

    def refresh(self) -> None:
        """Ask what now applies, draw and read. What does not go together is told; the drawing then stays."""
        self._ask()
        try:
            made = draft(self.answers, self.units)
        except ValueError as wrong:
            self.report.say(f"{wrong}\nThe drawing still shows the plant before this answer.", "trouble")
            return
        self.plant, self.reading = made.plant, read(made.plant)
        self._show()
        self.report.say("")

    def text(self) -> str:
        """The plant file. Raises ValueError where the answers make no plant."""
        return write_plant(draft(self.answers, self.units).plant)

    def save(self, name: str | Path | None = None) -> Path:
        """Save the plant file in the form's folder; never over another file. Returns its path.

        name: that of the title, numbered where it is taken, unless given. Raises FileExistsError for a given one
        that is taken, ValueError where the answers make no plant or the name does not end in .toml.
        """
        text = self.text()
        path = self._free(".toml") if name is None else self._named(name, ".toml")
        with open(path, "x", encoding="utf-8", newline="\n") as file:
            file.write(text)
        return path.resolve()

    def sheet(self) -> Paper:
        """The settings sheet of the plant. Raises ValueError where the form was made without a maker of sheets."""
        if self._sheet is None:
            raise ValueError("this form makes no sheets; take PlantForm from widgets")
        return self._sheet(draft(self.answers, self.units).plant, units=self.units)

    def save_sheet(self, name: str | Path | None = None) -> Path:
        """Save the sheet beside the plant file, as .pdf, .html or .txt; never over another file. Returns its path."""
        path = self._free(".pdf") if name is None else self._named(name, ".pdf", ".html", ".txt")
        return self.sheet().save(path).resolve()

    # -- within ----------------------------------------------------------------------------------------

    def _free(self, ending: str) -> Path:
        words = re.sub(r"[^a-z0-9]+", "-", (self.answers["title"][0] if self.answers["title"] else "").casefold()).strip("-")
        stem = words[:60] or "my-boiler-room"
        return next(path for n in range(1, 100_000)
                    if not (path := self.folder / f"{stem}{'' if n == 1 else f'-{n}'}{ending}").exists())

    def _named(self, name: str | Path, *endings: str) -> Path:
        path = self.folder / name
        if path.suffix.lower() not in endings:
            raise ValueError(f"{name}: write a name that ends in {' or '.join(endings)}")
        return path

    def _ask(self) -> None:
        self._busy = True
        try:
            children: list[ipywidgets.Widget] = []
            section = ""
            for question in QUESTIONS:
                if question.key not in self.answers:
                    continue
                given, piece = self.answers[question.key], self._piece(question)
                if isinstance(piece, Choices):
                    pairs = question.options(self.answers)
                    if not pairs or (question.kind == "one" and len(pairs) == 1):
                        continue
                    with piece.hold_sync():
                        piece.options, piece.value = options(pairs), list(given)
                else:
                    self._fields[question.key].value = given[0] if given else ""
                if question.section != section:
                    section = question.section
                    children.append(self._heads.setdefault(section, Note(heading=4, text=section)))
                children.append(piece)
            if tuple(children) != tuple(self.panel.children):
                self.panel.children = tuple(children)
        finally:
            self._busy = False

    def _show(self) -> None:
        from figures.drawing import Diagram

        assert self.plant is not None and self.reading is not None
        diagram = Diagram(self.plant, self.reading, words=self.labels)
        with self.canvas.hold_sync():
            self.canvas.svg = diagram.svg(findings=self.reading.findings)
            self.canvas.description = diagram.description
        told = [f"{self._beside(line.name)}: {self._beside(line.value)}" for line in settings(self.reading).lines()]
        told = [f"{line[0].upper()}{line[1:]}" for line in told]
        found = [f"{n}. {f.severity}: {f.says} {f.fix}" for n, f in enumerate(self.reading.findings, 1)]
        must = any(f.severity == "must fix" for f in self.reading.findings)
        with self.said.hold_sync():
            self.said.tone = "wrong" if must else "plain"
            self.said.text = "\n".join(["The control is told:", *told, "", *(["Findings, numbered on the drawing:", *found]
                                                                            if found else ["Findings: none"])])
        self.name_box.placeholder = self._free(".toml").name
        self.file.value = (f"<details><summary>The plant file, and what only it can say</summary><p>{escape(MORE)}</p>"
                           f"<pre>{escape(EXAMPLE)}</pre><p>Your plant as it stands:</p>"
                           f'<pre tabindex="0" style="max-height:20em;overflow:auto">{escape(self.text())}</pre></details>')

    def _beside(self, ours: str) -> str:
        return f"{ours} (“{self.labels[ours]}”)" if ours in self.labels else ours

    # -- presses ---------------------------------------------------------------------------------------

    @guarded("report")
    def _on_chosen(self, key: str, change: Bunch) -> None:
        if not self._busy and key in self.answers and tuple(change.new) != self.answers[key]:
            self.answer(key, change.new)

    @guarded("report")
    def _on_written(self, key: str, change: Bunch) -> None:
        if not self._busy and key in self.answers:
            self.answer(key, change.new.strip())

    @guarded("saved")
    def _on_save(self, button: object) -> None:
        path = self.save(self.name_box.value.strip() or None)
        self.saved.say(f"Saved as {path}\nRead it again at any time: loopbook read {path.name}", "right")
        self.name_box.placeholder = self._free(".toml").name

    @guarded("saved")
    def _on_sheet(self, button: object) -> None:
        name = self.name_box.value.strip()
        path = self.save_sheet(Path(name).with_suffix(".pdf") if name else None)
        self.saved.say(f"Settings sheet saved as {path}", "right")


def _text(label: str, value: str, width: str = "auto") -> ipywidgets.Text:
    """A field whose label belongs to it."""
    return ipywidgets.Text(description=label, value=value, continuous_update=False,
                           style={"description_width": "initial"}, layout={"width": width})


def _tuple(value: Sequence[str] | str) -> tuple[str, ...]:
    return (value,) if isinstance(value, str) else tuple(value)
