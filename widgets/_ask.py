"""`loopbook make --ask`: the questions of the form, asked in a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Callable
from typing import TYPE_CHECKING

from widgets._text import plain

if TYPE_CHECKING:
    from figures.plant import Plant
    from figures.plant.units import Units
    from widgets.show.questions import Question

HOW = ("Answer with a number, or several with commas; Enter takes what is marked with *; '-' takes none of several; "
       "'b' goes back one question, 'd' takes the first answers for all that is left, 'q' stops.")
WIDTH = 78


class Stopped(Exception):
    """The questions were not answered to the end."""


def ask(hear: Callable[[str], str], say: Callable[[str], None], units: Units = "si") -> Plant:
    """Ask until there is a plant. `hear` shows a prompt and gives a line; EOFError ends it.

    Raises Stopped where it ends before that.
    """
    from widgets.show.questions import QUESTIONS, draft, settled

    given: dict[str, tuple[str, ...]] = {}
    say(textwrap.fill(HOW, WIDTH))
    asked: list[int] = []
    place, section = 0, ""
    while True:
        answers = settled(given)
        if place >= len(QUESTIONS):
            try:
                return draft(answers, units).plant
            except ValueError as wrong:
                if not asked:
                    raise Stopped(str(wrong)) from None
                say(_wrapped(f"{wrong} Back to the last question: go back further with 'b' and answer otherwise."))
                place = asked.pop()
                continue
        question = QUESTIONS[place]
        pairs = question.options(answers) if question.key in answers else ()
        if question.key not in answers or (question.kind != "written" and len(pairs) < (2 if question.kind == "one" else 1)):
            place += 1
            continue
        if question.section != section:
            section = question.section
            say(f"\n{section}\n{'-' * len(section)}")
        word = _hear(question, pairs, answers[question.key], hear, say, units)
        if word == "b":
            place, section = (asked.pop() if asked else place), ""
        elif word == "d":
            place = len(QUESTIONS)
        elif isinstance(word, tuple):
            given[question.key] = word
            asked.append(place)
            place += 1
            try:
                draft(settled(given), units)
            except ValueError as wrong:
                say(_wrapped(f"{wrong} A later answer may mend it; 'b' goes back.", "   "))


def _hear(question: Question, pairs: tuple[tuple[str, str], ...], now: tuple[str, ...], hear: Callable[[str], str],
          say: Callable[[str], None], units: Units) -> tuple[str, ...] | str:
    """One answer, or 'b' or 'd'; asks again until it is one."""
    from widgets.show.questions import shown, unfit

    say(f"\n{plain(shown(question, units))}" + (f"\n{_wrapped(question.help, '   ')}" if question.help else ""))
    counted = bool(pairs) and all(value == label == str(n) for n, (value, label) in enumerate(pairs, 1))
    if counted:
        say(f"   1 to {len(pairs)}; * {now[0]}")
    for n, (value, label) in enumerate(() if counted else pairs, 1):
        say(_wrapped(f"{'*' if value in now else ' '}{n:>3}  {label}", "", " " * 6))
    while True:
        try:
            word = hear(f"[{now[0]}] > " if question.kind == "written" and now and now[0] else "> ").strip()
        except EOFError:
            raise Stopped("the questions were not answered to the end; nothing was made") from None
        if word.casefold() == "q":
            raise Stopped("stopped; nothing was made")
        if word.casefold() in ("b", "d"):
            return word.casefold()
        if not word:
            return now
        if question.kind == "written":
            if (wrong := unfit(question, word)) is None:
                return (word,)
            say(_wrapped(wrong))
            continue
        if word == "-" and question.kind == "several":
            return ()
        picked = [part.strip() for part in word.split(",")]
        if all(part.isascii() and part.isdigit() and 1 <= int(part) <= len(pairs) for part in picked) and (
                question.kind == "several" or len(picked) == 1):
            return tuple(pairs[int(part) - 1][0] for part in picked)
        say(f"Write a number from 1 to {len(pairs)}" + (", or several with commas." if question.kind == "several" else "."))


def _wrapped(words: str, first: str = "", rest: str | None = None) -> str:
    return textwrap.fill(plain(words), WIDTH, initial_indent=first, subsequent_indent=first if rest is None else rest,
                         drop_whitespace=True, break_on_hyphens=False)
