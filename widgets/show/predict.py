"""A question to commit to before anything is shown."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence

import ipywidgets

from widgets.learn import BadAnswer

from .pieces import Choices, Note, box, options
from .safely import safely

SHOWN_VARIABLE = "LOOPBOOK_SHOWN"
"""Set where a lesson is shown to a class (`loopbook present`)."""
told = safely(lambda ask, text: ask.report.say(text), then="Choose an answer, and press again.")
"""For what a press of a button calls: see `safely`."""


class Predict(ipywidgets.VBox):
    """One question; the answer is shown once the learner has committed to one of their own.

    question: its text.  options: the answers, or a mapping of each answer to what is told to who chose it
    wrongly.  answer: the right one.  because: the reason, shown to everybody afterwards.
    Raises ValueError where the right answer is not among the options.

    >>> ask = predict("Which way does the water go?", ["out", "home"], "out", "The pump pushes it out.")
    >>> ask.commit("home")
    >>> print(ask.verdict())
    said home; the answer is out
    """

    def __init__(self, question: str, answers: Mapping[str, str] | Sequence[str], answer: str,
                 because: str) -> None:
        words = dict(answers) if isinstance(answers, Mapping) else dict.fromkeys(answers, "")
        if answer not in words:
            raise ValueError(f"'{answer}' is not among the answers {', '.join(words)}")
        if len(words) < 2:
            raise ValueError("a prediction needs two answers or more to choose from")
        self.words, self.right, self.because = words, answer, because
        self.committed: str | None = None
        self.choices = Choices(legend=question, options=options([(word, word) for word in words]))
        self.button = ipywidgets.Button(description="That is my answer", button_style="primary")
        self.button.on_click(self._on_commit)
        # Before a class there is nobody at the keys to commit: whoever presents shows the answer once the class has said theirs.
        self.show_button = ipywidgets.Button(description="Show the answer")
        self.show_button.on_click(self._on_show)
        self.report = Note(live=True)
        bar = box("lb-bar", self.button, *([self.show_button] if os.environ.get(SHOWN_VARIABLE) else []))
        super().__init__([self.choices, bar, self.report])
        self.add_class("lb-predict")

    def __repr__(self) -> str:
        return f"<Predict: {self.choices.legend}>"

    def commit(self, answer: str | None = None) -> None:
        """Take the answer that is chosen, or the one given. Only the first one counts. Raises BadAnswer."""
        if self.committed is not None or self.choices.locked:
            return
        if answer is not None:
            if answer not in self.words:
                raise BadAnswer(f"'{answer}' is no answer here; answer one of {', '.join(self.words)}")
            self.choices.value = [answer]
        if not self.choices.value:
            raise BadAnswer("Choose an answer first: a guess is worth more than none.")
        self.committed = self.choices.value[0]
        self.button.disabled = self.show_button.disabled = True
        hit = self.committed == self.right
        with self.choices.hold_sync():
            self.choices.shown_key = [self.right]
            self.choices.locked = True
            self.choices.state = "right" if hit else "shown"
        told = "" if hit else f"You said “{self.committed}”; the answer is “{self.right}”. "
        about = "" if hit else self.words[self.committed]
        self.report.say(f"{told}{about}{' ' if about else ''}{self.because}", "right" if hit else "plain")

    def show(self) -> None:
        """Show the answer to a class that has said its own aloud; nothing is taken as committed.

        >>> ask = predict("Which way does the water go?", ["out", "home"], "out", "The pump pushes it out.")
        >>> ask.show()
        >>> ask.report.text, ask.verdict()
        ('The answer is “out”. The pump pushes it out.', 'no answer yet')
        """
        if self.committed is not None or self.choices.locked:
            return
        self.button.disabled = self.show_button.disabled = True
        with self.choices.hold_sync():
            self.choices.shown_key, self.choices.locked, self.choices.state = [self.right], True, "shown"
        self.report.text = f"The answer is “{self.right}”. {self.because}"

    def verdict(self) -> str:
        """What was said and what is so; before that, nothing is given away."""
        if self.committed is None:
            return "no answer yet"
        return f"said {self.committed}; the answer is {self.right}"

    @told
    def _on_commit(self, button: object) -> None:
        self.commit()

    @told
    def _on_show(self, button: object) -> None:
        self.show()


def predict(question: str, options: Mapping[str, str] | Sequence[str], answer: str, because: str) -> Predict:
    """A question to commit to before anything is shown: see `Predict`."""
    return Predict(question, options, answer, because)
