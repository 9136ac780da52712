"""What the lessons cover: for each objective the lessons that teach it, their graded exercises, and the kinds of question."""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import nbformat

from widgets.learn import OBJECTIVES
from widgets.learn.ask import MAKERS
from widgets.learn.bank import kinds_of
from widgets.learn.items import READING_QUESTIONS
from widgets.learn.lessons import shipped_lessons

GRADED = ("practise", "Exercise", "FindTheFault", "Sitting")
HEAD = ("| objective | lessons | exercises there | kinds of question |", "| --- | --- | --- | --- |")
FROM, TO = "<!-- coverage: begin -->", "<!-- coverage: end -->"


@dataclass(frozen=True)
class Graded:
    """One graded exercise of a lesson: what it is, and which objectives its questions are of."""

    lesson: str
    what: str
    objectives: tuple[str, ...]
    questions: int


def graded(path: Path) -> Iterator[Graded]:
    """The graded exercises that a lesson shows, proofs left out."""
    for cell in nbformat.read(path, as_version=4).cells:
        if cell.cell_type != "code" or "nbval-check-output" in cell.metadata.get("tags", []):
            continue
        for call in ast.walk(ast.parse(cell.source)):
            if isinstance(call, ast.Call) and isinstance(call.func, ast.Name) and call.func.id in GRADED and not _for_proof(call):
                yield Graded(path.stem, call.func.id, *_asked(call))


def _for_proof(call: ast.Call) -> bool:
    return any(word.arg == "record" for word in call.keywords)


def _asked(call: ast.Call) -> tuple[tuple[str, ...], int]:
    given = {word.arg: word.value for word in call.keywords}
    name = call.func.id if isinstance(call.func, ast.Name) else ""
    if name == "practise":
        codes = tuple(str(ast.literal_eval(one)) for one in call.args)
        return codes, int(ast.literal_eval(given["count"])) if "count" in given else 4
    if name == "Exercise":
        asked = tuple(ast.literal_eval(given["questions"])) if "questions" in given else READING_QUESTIONS
        return tuple(dict.fromkeys(_objective(one) for one in asked)), len(asked)
    return (tuple(OBJECTIVES), 70) if name == "Sitting" else (("J1", "J2", "J3", "J5"), 1)


def _objective(question: str) -> str:
    from figures.plant.scheme import Scheme
    from figures.reading import read

    return MAKERS[question](read(Scheme(boilers=2, tank="system loop").plant()), None).objective


def rows() -> list[tuple[str, str, str, str]]:
    """For each objective: its code and text, the numbers of its lessons, the exercises in them, the kinds of question."""
    everything = [(path, nbformat.read(path, as_version=4).metadata.loopbook.get("objectives", []), list(graded(path)))
                  for path in shipped_lessons()]
    found = []
    for code, objective in OBJECTIVES.items():
        lessons = [path.stem[:2] for path, codes, _ in everything if code in codes]
        exercises = [f"{one.what} {one.lesson[:2]}" for _, codes, all_ in everything if code in codes for one in all_
                     if code in one.objectives and one.what != "Sitting"]
        found.append((f"{code} {objective.text}", ", ".join(lessons), ", ".join(dict.fromkeys(exercises)),
                      ", ".join(kinds_of(code))))
    return found


def table() -> str:
    """The table as it stands in DEVELOPERS.md, between its two marks."""
    return "\n".join([FROM, *HEAD, *(f"| {' | '.join(row)} |" for row in rows()), TO])


def write(paper: Path) -> None:
    """Put the table between its two marks in a paper."""
    text = paper.read_text(encoding="utf-8")
    before, rest = text.split(FROM)
    paper.write_text(before + table() + rest.split(TO)[1], encoding="utf-8")


if __name__ == "__main__":
    if "--write" in sys.argv:
        write(Path(__file__).parents[2] / "DEVELOPERS.md")
    else:
        print(table())
