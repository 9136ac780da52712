"""Questions of the bank on screen, one at a time: what practice and examination share, and practice itself."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import nullcontext
from html import escape
from typing import Any, Literal

import ipywidgets

from figures.plant import Plant
from widgets.learn import Item, Mark, Record, RecordTrouble
from widgets.learn.bank.schedule import schedule
from widgets.learn.consent import own_record
from widgets.learn.exam import Answer
from widgets.learn.items import Pick
from widgets.learn.practice import Practice

from .canvas import DESCRIPTION, Canvas, unread
from .moment import moment
from .pieces import Arrange, Choices, Note, beside, box, options, swap
from .safely import safely
from .task import CAUTION

told = safely(lambda widget, text: widget.tell(text, "trouble"), RecordTrouble, then="What you answered still stands.")
"""For what a press of a button calls: see `safely`."""
asked = safely(lambda question, text: setattr(question.ask, "says", text), then="Choose again.")
"""The same inside a question, which has no report of its own."""

PIECES: Mapping[Pick, type[Choices]] = {"one": Choices, "several": Choices, "order": Arrange}
"""How a question is answered on the page, by what it asks to pick."""


def _way(name: str, lps: float) -> str:
    """A pipe named the way its water goes.

    >>> _way("A>Z#2", -0.4)
    'Z>A#2'
    """
    ends, twin, number = name.partition("#")
    first, _, last = ends.partition(">")
    return f"{last}>{first}{twin}{number}" if lps < 0.0 else name


class Question(ipywidgets.VBox):
    """One question of the bank: its drawing, or its four, what stands beside it, and the answers.

    A click on a part chooses it where the answers are parts. answered: called with the answer each time one is chosen or
    steps are moved: a value, or all in their order.
    hints_left: how many hints may be asked for.
    """

    def __init__(self, item: Item, answered: Callable[[Answer], None] | None = None, chosen: Answer | None = None,
                 hints_left: int = 0) -> None:
        self.item, self._answered = item, answered
        self.canvases = {"": self._drawn(item.plant)} if item.plant is not None else {
            option.value: self._drawn(option.plant, option.label) for option in item.options if option.plant is not None}
        self.ask = PIECES[item.pick](
            legend=item.text, options=options([(o.value, o.label) for o in item.options]), many=item.pick == "several",
            value=[] if chosen is None else [chosen] if isinstance(chosen, str) else list(chosen), hints_left=hints_left)
        self.beside = Note(text="\n".join(self._beside()))
        panel = ipywidgets.VBox([self.ask, self.beside] if self.beside.text else [self.ask])
        body = beside(box("lb-pictures", *self.canvases.values()) if self.canvases else None, panel)
        if len(self.canvases) > 1:
            body.add_class("lb-several")
        super().__init__([body])
        self.ask.observe(self._on_value, "value")
        if item.plant is not None and all(o.value in item.plant.parts for o in item.options):
            self.canvases[""].pickable = True
            self.canvases[""].observe(self._on_pick, "n")

    def __repr__(self) -> str:
        return f"<Question on {self.item.objective}>"

    def _drawn(self, plant: Plant | None, caption: str = "") -> Canvas:
        from figures.drawing import Diagram

        assert plant is not None
        diagram = Diagram(plant, title=caption or plant.title)
        svg, words = unread(diagram)
        if self.item.flows:
            said = ", ".join(f"{_way(name, lps)} {abs(lps):.2f} L/s" for name, lps in self.item.flows.items())
            words = f"{words}\nFlows: {said}."
            drawn = diagram.svg(layers=("tags", "evidence", "figures"), flows=self.item.flows)
            svg = DESCRIPTION.sub(lambda found: f"<desc>{escape(words)}</desc>", drawn, count=1)
        return Canvas(svg=svg, description=words, hide=["tints"], caption=caption)

    def _beside(self) -> list[str]:
        if self.item.plant is not None:
            return list(schedule(self.item.plant))
        return [f"{option.label}: {line}" for option in self.item.options if option.plant is not None
                for line in schedule(option.plant)]

    @property
    def answer(self) -> Answer | None:
        """What is chosen now: a value; where several or an order are asked for, all of them; None before."""
        if not self.ask.value:
            return None
        return self.ask.value[0] if self.item.pick == "one" else tuple(self.ask.value)

    @asked
    def _on_value(self, change: Any) -> None:
        if self.answer is not None and self._answered is not None and not self.ask.locked:
            self._answered(self.answer)

    @asked
    def _on_pick(self, change: Any) -> None:
        picked = self.canvases[""].picked
        if picked in {o.value for o in self.item.options} and not self.ask.locked:
            self.ask.value = [picked]

    def explain(self, got: Mark) -> None:
        """Show a mark with its reason, and light up what it speaks of."""
        with self.ask.hold_sync():
            self.ask.locked, self.ask.says = True, got.because
            self.ask.state = "right" if got.right else "part" if got.points and self.item.pick == "order" else "shown"
            if not got.right:
                labels = "; ".join(self.item.option(value).label for value in self.item.key)
                self.ask.shown_key = list(self.item.key)
                # The reason of an order goes through its steps one by one, so they are not listed before it as well.
                answer = "The right order, step by step:" if self.item.pick == "order" else f"The answer is: {labels}."
                self.ask.says = f"{got.because} {answer} {self.item.because}"
        self.light((*self.item.parts, *self.item.pipes))

    def light(self, names: tuple[str, ...]) -> None:
        """Light up these on the one drawing there is."""
        if "" in self.canvases and names:
            self.canvases[""].light(names)
            self.canvases[""].hide = []


class Quiz(ipywidgets.VBox):
    """Ten minutes of practice: what you are about to forget and what is weak come first, with new things mixed in.

    record: where answers are kept, the user's own unless said.  seed: of the questions; by the time unless said.

    >>> import tempfile
    >>> quiz = Quiz(record=Record(tempfile.mkdtemp()), seed=3)
    >>> quiz
    <Quiz: 0 answered>
    """

    def __init__(self, minutes: float = 10.0, record: Record | None = None, seed: int | None = None) -> None:
        self._open(Practice(record or own_record(), minutes, seed), "One moment, the question is being made")

    def _open(self, session: Any, wait: str) -> None:
        """Build it on a session: something with `next`, `answer`, `hint`, `asked` and `over`. wait: what to say meanwhile."""
        self.session = session
        self.head, self.report = Note(heading=3), Note(live=True)
        self.check_button = ipywidgets.Button(description="Check", button_style="primary")
        self.next_button = ipywidgets.Button(description="Next question")
        self.check_button.on_click(self._on_check)
        self.next_button.on_click(self._on_next)
        bar = box("lb-bar", *self._buttons())
        self.right = 0
        self._place = ipywidgets.VBox()
        ipywidgets.VBox.__init__(self, [self.head, self._place, self.report, bar, Note(tone="caution", text=CAUTION)])
        self.add_class("lb-exercise")
        with moment(wait) if wait else nullcontext():
            self._ask()

    def _buttons(self) -> tuple[ipywidgets.Button, ...]:
        return self.check_button, self.next_button

    def _title(self) -> str:
        return f"Question {len(self.session.asked) + 1}"

    def _finished(self) -> str:
        return f"The session is over: {self.right} of {len(self.session.asked)} right. What is due comes back next time."

    def __repr__(self) -> str:
        return f"<Quiz: {len(self.session.asked)} answered>"

    def tell(self, text: str, tone: Literal["plain", "right", "wrong", "trouble"] = "plain") -> None:
        """Say something below the question."""
        self.report.say(text, tone)

    def _ask(self) -> None:
        self.tell("One moment, the question is being made …")
        item = self.session.next()
        self.question = Question(item, hints_left=len(item.hints))
        self.question.ask.observe(self._on_hint, "hint_pressed")
        swap(self._place, self.question)
        self.head.text = self._title()
        self.tell("")
        self._notice()

    def _notice(self) -> None:
        """What the record has to tell: that it was damaged and was made again."""
        record = self.session.record
        if record is not None and record.notice:
            self.tell(f"{record.take_notice()} {self.report.text}".strip(), "trouble")

    def check(self) -> Mark | None:
        """Mark the answer that is chosen and explain it; None where none is."""
        ask = self.question.ask
        if ask.locked:
            return None
        given = self.question.answer
        if given is None:
            self.tell("Nothing is answered yet.")
            return None
        got = self.session.answer(given)
        self.right += got.right
        self.question.explain(got)
        self.tell(f"{self.right} of {len(self.session.asked)} right.", "right" if got.right else "wrong")
        self._notice()
        return got

    def next(self) -> None:
        """The next question, once this one is answered and the time is not over."""
        if not self.question.ask.locked:
            self.tell("Answer this one first, and press Check.")
        elif self.session.over:
            self.tell(self._finished(), "right")
        else:
            self._ask()

    @told
    def _on_check(self, button: object) -> None:
        self.check()

    @told
    def _on_next(self, button: object) -> None:
        self.next()

    @told
    def _on_hint(self, change: object) -> None:
        ask = self.question.ask
        if ask.locked or not ask.hints_left:
            return
        said = self.session.hint()
        ask.hints = [*ask.hints, said]
        ask.hints_left -= 1
        step = self.question.item.hints[len(ask.hints) - 1]
        if step.parts or step.pipes:
            self.question.canvases[""].light((*step.parts, *step.pipes))
