"""An examination on screen: one question at a time, by mouse or by keyboard alone, left and resumed at will."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Literal

import ipywidgets

from widgets.learn import BadAnswer, Record, RecordTrouble
from widgets.learn.consent import choose, fixed, keeps, own_record
from widgets.learn.exam import HONEST, Answer, Exam, ExamTrouble
from widgets.learn.exam_form import read_blueprint

from .moment import moment
from .pieces import Clock, Lines, Note, box, swap
from .quiz import Question, told
from .task import CAUTION

NEEDS_YES = ("An examination is kept on this machine while it runs, answer by answer, so that a crash or a closed lid loses "
             "nothing. It begins once you agree. Nothing is sent anywhere.")


class Sitting(ipywidgets.VBox):
    """An examination: every answer is kept the moment it is chosen, and there are no hints.

    seed: which form; a sitting that was begun and not handed in is resumed in its place.  blueprint: a file of your own
    (TOML); the given one unless said.  record: where it is kept, the user's own unless said; nothing begins before
    the learner has agreed that it is kept.  wait: begin only when “Begin” is pressed, unless one is to be resumed.
    """

    exam: Exam
    begun = False

    def __init__(self, seed: int = 1, blueprint: str | Path | None = None, record: Record | None = None,
                 wait: bool = False) -> None:
        self._given = record or own_record(), seed, blueprint
        self.head, self.time, self.report = Note(heading=3), Note(), Note(live=True)
        self.clock = Clock()
        self.clock.observe(self._on_clock, "asked")
        self._place = ipywidgets.VBox()
        self.lines = Lines()
        self.lines.observe(self._on_line, "n")
        self.buttons = {name: ipywidgets.Button(description=name) for name in ("Back", "Next", "Flag", "Hand in")}
        for button, act in zip(self.buttons.values(), (self._on_back, self._on_next, self._on_flag, self._on_hand_in)):
            button.on_click(act)
        self.bar = box("lb-bar", *self.buttons.values())
        self._sure = False
        super().__init__([self.head, self.clock, self.time, self._place, self.report, self.bar, self.lines,
                          Note(tone="caution", text=f"{HONEST}\n{CAUTION}")])
        self.add_class("lb-exercise")
        if record is None and not keeps():
            self._ask()
        elif wait and Exam.resume(self._given[0]) is None:
            self._wait()
        else:
            self._begin()

    def _ask(self) -> None:
        """Nothing is written without a yes, and an examination that is not written down can be lost."""
        self._announce("Keep my answers, and begin", self._on_agree, fixed())
        self.tell(NEEDS_YES + (" Whoever looks after this machine has chosen that nothing is kept here." if fixed() else ""))

    def _wait(self) -> None:
        self._announce("Begin", self._on_begin)
        self.tell("The clock starts when you press “Begin”, and goes on until you hand in, whatever happens.")

    def _announce(self, label: str, act: Callable[[object], None], disabled: bool = False) -> None:
        blueprint = read_blueprint(self._given[2])
        count = sum(part.questions for part in blueprint.parts)
        self.head.text = f"{blueprint.title}: {count} questions, {blueprint.minutes:g} minutes"
        begin = ipywidgets.Button(description=label, button_style="primary", disabled=disabled)
        begin.on_click(act)
        self.bar.children = (begin,)

    def _begin(self) -> None:
        kept, seed, blueprint = self._given
        self.bar.children = tuple(self.buttons.values())
        found = Exam.resume(kept)
        with moment("One moment, the questions are being made") as tell:
            self.exam = found or Exam.begin(kept, seed, read_blueprint(blueprint), tell=tell)
            self.begun = True
            self.number = 0
            self.go(self.exam.open[0] if self.exam.open else 0)
        if found is not None:
            self.tell("This is the examination that you began; its clock went on.")
        self._notice(kept)

    def _notice(self, kept: Record) -> None:
        """What the record has to tell: that it was damaged and was made again."""
        if kept.notice:
            self.tell(f"{kept.take_notice()} {self.report.text}".strip(), "trouble")

    def __repr__(self) -> str:
        return f"<{self.exam!r}>" if self.begun else "<Examination not begun>"

    def tell(self, text: str, tone: Literal["plain", "right", "wrong", "trouble"] = "plain") -> None:
        """Say something below the question."""
        self.report.say(text, tone)

    def go(self, number: int) -> None:
        """Show a question, from 0 on, as it was left."""
        self.number = number % len(self.exam.slots)
        self._sure = False
        self.question = Question(self.exam.item(self.number), self._answered, self.exam.answers.get(self.number))
        self.question.ask.locked = self.exam.over
        swap(self._place, self.question)
        self.tell("")
        self._stand()

    def _stand(self) -> None:
        exam = self.exam
        flag = ", flagged" if self.number in exam.flagged else ""
        self.head.text = f"{exam.blueprint.title}: question {self.number + 1} of {len(exam.slots)}{flag}"
        self.clock.set(-1.0 if exam.over else exam.seconds_left)
        self.time.text = (f"Until {exam.ends.astimezone():%H:%M}; {len(exam.answers)} answered, {len(exam.flagged)} flagged."
                          if not exam.over else "It is over.")
        self.buttons["Flag"].description, self.buttons["Flag"].disabled = "Take flag away" if flag else "Flag", exam.over
        self.buttons["Hand in"].description = "Hand in" if exam.finished is None else "Show the result"
        self.lines.lines = [{"group": self._group(n), "text": f"Question {n + 1}"} for n in self._listed()]

    def _group(self, number: int) -> str:
        if number in self.exam.flagged:
            return "To come back to"
        return "Not answered" if number in self.exam.open else "Answered"

    def _listed(self) -> list[int]:
        exam = self.exam
        return sorted(range(len(exam.slots)), key=lambda n: (n not in exam.flagged, n not in exam.open, n))

    def _answered(self, value: Answer) -> None:
        try:
            self.exam.answer(self.number, value)
            self.tell("Kept.")
            self._notice(self.exam.record)
        except (ExamTrouble, BadAnswer, RecordTrouble) as trouble:
            self.tell(str(trouble), "trouble")
        self._stand()

    def hand_in(self) -> None:
        """Hand it in; the first press asks once more."""
        if not self._sure and not self.exam.over:
            self._sure = True
            self.tell(f"{len(self.exam.open)} are not answered, {len(self.exam.flagged)} are flagged. "
                      "Press “Hand in” once more to hand it in for good.")
            return
        result = self.exam.finish()
        self.question.ask.locked = True
        self._stand()
        self.tell("\n".join(result.lines()), "right" if result.passed else "wrong")

    @told
    def _on_begin(self, button: object) -> None:
        self._begin()

    @told
    def _on_agree(self, button: object) -> None:
        choose(keep=True)
        self._begin()

    @told
    def _on_clock(self, change: object) -> None:
        """The page asks what is left: it was opened, or its own clock has run out."""
        if not self.begun:
            return
        self.clock.set(-1.0 if self.exam.over else self.exam.seconds_left)
        if self.exam.over and not self.question.ask.locked:
            self.question.ask.locked = True
            self._stand()
            self.tell("The time is up. What you answered is kept; press “Hand in” for the result.")

    @told
    def _on_back(self, button: object) -> None:
        self.go(self.number - 1)

    @told
    def _on_next(self, button: object) -> None:
        self.go(self.number + 1)

    @told
    def _on_flag(self, button: object) -> None:
        self.exam.flag(self.number, self.number not in self.exam.flagged)
        self._stand()

    @told
    def _on_hand_in(self, button: object) -> None:
        self.hand_in()

    @told
    def _on_line(self, change: object) -> None:
        if 0 <= self.lines.picked < len(self.exam.slots):
            self.go(self._listed()[self.lines.picked])
