"""The exercise: a drawing, the questions a technician answers in front of it, and marks with their reasons."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import ipywidgets

from figures.plant import BadPlant, Plant, parse_plant, write_plant
from widgets.learn import BadAnswer, Item, Mark, Option, Record, Row, hints, items_for, mark
from widgets.learn.consent import record_of

from .canvas import Canvas, unread
from .given import any_seed, sound_seed
from .pieces import Choices, beside, options, swap
from .task import TRIES, PlantTask, guarded

if TYPE_CHECKING:
    from figures.plant.scheme import Scheme


class Exercise(PlantTask):
    """A plant to be read: the drawing, the questions, Check, hints, the answers, and another plant.

    seed: which made plant to begin with, 0 to 999999; one at random unless said.  plant: a plant of your own in
    place of a made one: a `Plant`, a `Scheme`, or the path of a plant file.  questions: names out of
    `READING_QUESTIONS`, all unless said.  key: a name for this exercise; with one, the plant and the answers
    are found again after the kernel was restarted.  record: where answers are kept, the user's own unless said;
    False keeps none.  size: 'small' for made plants of one boiler and as few parts as sound piping allows.
    arrangement: 'single loop' or 'separated loops' where made plants are to be of one.  labels: an instructor's own
    words, shown beside ours: what `read_labels` gives.

    A plant file with faults is told of in the widget, every fault at once. Raises ValueError for a seed that is
    none, and BadAnswer from its methods for a question or an answer that is none.

    >>> exercise = Exercise(seed=3, questions=["control"], record=False)
    >>> exercise.answer("control", exercise.items["control"].right)
    >>> exercise.check()
    >>> print(exercise.verdict())
    control: right
    1 of 1 right
    """

    def __init__(self, seed: int | None = None, plant: Plant | Scheme | str | Path | None = None,
                 record: Record | Literal[False] | None = None, questions: Sequence[str] | None = None,
                 key: str = "", size: Literal["any", "small"] = "any",
                 arrangement: str | None = None, labels: Mapping[str, str] | None = None) -> None:
        self.labels = labels or {}
        self.key, self.size, self.arrangement = key, size, arrangement
        self.questions = tuple(questions) if questions is not None else None
        self.record = record_of(record)
        self.seed: int | None = None
        self.plant: Plant | None = None
        self._origin = "any"
        self.items: dict[str, Item] = {}
        self.choices: dict[str, Choices] = {}
        self.marks: dict[str, Mark] = {}
        self.first: dict[str, Mark] = {}
        self._tried: dict[str, list[tuple[str, ...]]] = {}
        self._hinted: dict[str, int] = {}
        self._replaying = False
        self._build()
        super().__init__([self.head, self.body, self.report, self.bar, self.caution])
        self.add_class("lb-exercise")
        self.add_class("lb-reading")
        self._begin(seed, plant)

    def __repr__(self) -> str:
        return f"<Exercise on {self._name()}>"

    # -- building --------------------------------------------------------------------------------------

    def _build(self) -> None:
        self.canvas = Canvas()
        self.panel = ipywidgets.VBox()
        self.body = beside(self.canvas, self.panel)
        self._build_bar("Show answers", self._check_any, self.show_answers, self.another)

    def _begin(self, seed: int | None, plant: Plant | Scheme | str | Path | None) -> None:
        sort = [word for word in (self.size if self.size != "any" else "", self.arrangement) if word]
        try:
            own = self._given(seed, plant, sort)
        except BadPlant as bad:
            self._unreadable(bad)
            return
        rows = self._kept()
        if rows:
            # The plant itself is kept, not its seed alone: a newer Loopbook may make another from the same seed.
            self._take(parse_plant(rows[0].plant), rows[0].seed)
            self._replay(rows[1:])
            return
        if own is None:
            seed = any_seed() if seed is None else seed
            self._take(_made(seed, self.size, self.arrangement), seed)
        else:
            self._take(own, None)
        self._keep("plant")

    def _take(self, plant: Plant, seed: int | None) -> None:
        from figures.drawing import Diagram
        from figures.reading import read

        reading = read(plant)
        items = items_for(plant, reading, questions=self.questions, seed=seed)
        diagram = Diagram(plant, reading, words=self.labels)
        svg, words = unread(diagram)
        self.plant, self.reading, self.seed, self._diagram = plant, reading, seed, diagram
        self.items = {item.name: item for item in items}
        self.marks, self.first = {}, {}
        self._tried = {name: [] for name in self.items}
        self._hinted = dict.fromkeys(self.items, 0)
        self.choices = {item.name: self._question(item) for item in items}
        with self.canvas.hold_sync():
            self.canvas.light([])
            self.canvas.hide = ["tints"]
            self.canvas.svg, self.canvas.description = svg, words
        self.head.text = self._name()
        swap(self.panel, *self.choices.values())
        self.seed_box.value = "" if seed is None else str(seed)
        self._tell("")

    def _question(self, item: Item) -> Choices:
        ask = Choices(legend=item.text, options=options([(o.value, self._label(o)) for o in item.options]),
                      many=item.pick == "several", hints_left=len(hints(item)))
        ask.observe(lambda change: self._on_hint(item.name), "hint_pressed")
        ask.observe(lambda change: self._on_look(item.name), "look_pressed")
        return ask

    def _label(self, option: Option) -> str:
        theirs = self.labels.get(option.value)
        return f"{option.label} (“{theirs}”)" if theirs else option.label

    def _described(self) -> str:
        """The drawing in words with all that was read, an instructor's words beside ours."""
        said = [f"{word} (“{self.labels[word]}”)" for word in (self.reading.arrangement, self.reading.control)
                if word in self.labels]
        return "\n".join([self._diagram.description, *([f"In other words: {'; '.join(said)}."] if said else [])])

    def _name(self) -> str:
        kind = "Small plant" if self.size == "small" else "Plant"
        number = "This plant" if self.seed is None else f"{kind} {self.seed}"
        return f"{number}: {self.plant.title}" if self.plant and self.plant.title else number

    # -- what buttons call, and tests and hidden cells too -----------------------------------------------

    def answer(self, name: str, value: str | Sequence[str]) -> None:
        """Choose an answer, or several where the question asks for several. Raises BadAnswer for what is none."""
        item = self._item(name)
        mark(item, value)
        self.choices[name].value = [value] if isinstance(value, str) else list(value)

    def check(self) -> None:
        """Mark what is answered. A wrong answer gets its reason and one more try; then the answer is shown."""
        lit: Mark | None = None
        for name, ask in self.choices.items():
            chosen = tuple(ask.value)
            if ask.locked or not chosen or (self._tried[name] and self._tried[name][-1] == chosen):
                continue
            given = self._mark(name, chosen)
            if not given.right:
                lit = lit or given
        self._summary()
        self.canvas.light([*lit.parts, *lit.pipes] if lit else [])

    def hint(self, name: str | None = None) -> str:
        """The next hint for a question, the first that is not done unless one is named; '' when none is left."""
        name = name or next((n for n, ask in self.choices.items() if not ask.locked), next(iter(self.items)))
        steps = hints(self._item(name))
        at = self._hinted[name]
        ask = self.choices[name]
        if ask.locked or at >= len(steps):
            return ""
        self._hinted[name] += 1
        ask.hints = [*ask.hints, steps[at].says]
        ask.hints_left = len(steps) - at - 1
        if steps[at].parts or steps[at].pipes:
            self.canvas.light([*steps[at].parts, *steps[at].pipes])
        self._keep("hint", self.items[name], at + 1)
        return steps[at].says

    def look(self, name: str) -> None:
        """Light up what decides a question, as far as its last mark may show it."""
        self._item(name)
        if name in self.marks:
            self.canvas.light([*self.marks[name].parts, *self.marks[name].pipes])
            self.canvas.come_into_view += 1

    def show_answers(self) -> None:
        """Show the answer of every question that is not done."""
        for name, ask in self.choices.items():
            if not ask.locked:
                self._keep("shown", self.items[name])
                self._reveal(name, "")
        self._summary()

    def another(self, seed: int | None = None) -> None:
        """Take another made plant: that of the seed, or any. Raises ValueError for what is no seed."""
        seed = any_seed() if seed is None else sound_seed(seed)
        self._take(_made(seed, self.size, self.arrangement), seed)
        self._keep("plant")

    def verdict(self) -> str:
        """How it stands, one line a question and a total: the same text for the same answers."""
        lines = [f"{name}: {self._standing(name)}" for name in self.items]
        return "\n".join([*lines, self._total()])

    # -- marking ---------------------------------------------------------------------------------------

    def _item(self, name: str) -> Item:
        if name not in self.items:
            raise BadAnswer(f"there is no question '{name}' here; there are {', '.join(self.items)}")
        return self.items[name]

    def _mark(self, name: str, chosen: tuple[str, ...]) -> Mark:
        item, ask = self.items[name], self.choices[name]
        given = mark(item, chosen)
        self._tried[name].append(chosen)
        # On disk before the screen says so.
        self._keep("answer", item, list(chosen), given, len(self._tried[name]))
        self.marks[name] = given
        self.first.setdefault(name, given)
        with ask.hold_sync():
            ask.can_look = bool(given.parts or given.pipes)
            if given.right:
                ask.state, ask.says, ask.locked = "right", given.because, True
            elif len(self._tried[name]) < TRIES:
                ask.state, ask.says = ("part" if given.points else "again"), given.because
            else:
                self._reveal(name, given.because)
        return given

    def _reveal(self, name: str, before: str) -> None:
        item, ask = self.items[name], self.choices[name]
        labels = "; ".join(self._label(item.option(value)) for value in item.key)
        with ask.hold_sync():
            ask.shown_key = list(item.key)
            ask.state, ask.locked = "shown", True
            ask.says = f"{before} The answer is: {labels}. {item.because}".strip()
            ask.can_look = bool(item.parts or item.pipes)
        shown = self.marks.get(name)
        points = shown.points if shown else 0.0
        self.marks[name] = Mark(points, item.of, ask.says, shown.misconception if shown else None, item.parts,
                                item.pipes)
        self.first.setdefault(name, self.marks[name])

    def _standing(self, name: str) -> str:
        tries, ask = self._tried[name], self.choices[name]
        if ask.state == "right":
            return "right" if len(tries) == 1 else f"right at try {len(tries)}"
        said = f" (said {', '.join(tries[-1])})" if tries else ""
        return {"": "not answered", "part": f"partly right{said}", "again": f"not right{said}",
                "shown": f"answer shown{said}"}[ask.state]

    def _total(self) -> str:
        right = sum(ask.state == "right" for ask in self.choices.values())
        return f"{right} of {len(self.items)} right"

    def _summary(self) -> None:
        states = [ask.state for ask in self.choices.values()]
        again, blank = states.count("again") + states.count("part"), states.count("")
        words = [self._total()]
        words += [f"{again} to try once more: read the reason, look at what is lit up"] if again else []
        words += [f"{blank} not answered yet"] if blank else []
        if all(ask.locked for ask in self.choices.values()):     # now the drawing may say it all
            with self.canvas.hold_sync():
                self.canvas.hide, self.canvas.description = [], self._described()
        done = states.count("right") == len(states)
        self._tell("; ".join(words) + ".", "right" if done else "wrong" if again else "plain")

    # -- the record ------------------------------------------------------------------------------------

    def _keep(self, kind: str, item: Item | None = None, answer: object = None, given: Mark | None = None,
              tries: int = 0) -> None:
        if self.record is None or self._replaying or self.plant is None:
            return
        more: dict[str, object] = {"origin": self._origin} if kind == "plant" else {}
        if given is not None:
            more = {"try": tries, "misconception": given.misconception, "hints": self._hinted[item.name]
                    if item else 0}
        self._add(kind, item=item.name if item else "", objective=item.objective if item else "", plant=write_plant(self.plant),
                  answer=answer, points=given.points if given else None, of=given.of if given else None, more=more)

    def _replay(self, rows: Sequence[Row]) -> None:
        """What was answered before the kernel went away, marked again by today's classifier."""
        self._replaying = True
        try:
            for row in rows:
                ask = self.choices.get(row.item)
                if ask is None or ask.locked:
                    continue
                if row.kind == "hint":
                    self.hint(row.item)
                elif row.kind == "shown":
                    self._reveal(row.item, "")
                elif row.kind == "answer" and isinstance(row.answer, list):
                    ask.value = [value for value in row.answer if value in {o["value"] for o in ask.options}]
                    if ask.value:
                        self._mark(row.item, tuple(ask.value))
        finally:
            self._replaying = False
        self.canvas.light([])
        if any(row.kind == "answer" for row in rows):
            self._summary()

    # -- presses ---------------------------------------------------------------------------------------

    def _check_any(self) -> None:
        if any(ask.value for ask in self.choices.values()):
            self.check()
        else:
            self._tell("Nothing is answered yet.", "plain")

    @guarded
    def _on_hint(self, name: str) -> None:
        self.hint(name)

    @guarded
    def _on_look(self, name: str) -> None:
        self.look(name)


def _made(seed: int, size: str, arrangement: str | None) -> Plant:
    from figures.plant.scheme import Scheme

    return Scheme.random(seed, size=size, arrangement=arrangement).plant()
