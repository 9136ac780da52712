"""What the lesson on the practice test shows: how a test is made, and which lesson teaches what."""

from __future__ import annotations

from widgets.learn import OBJECTIVES
from widgets.learn.exam_form import Blueprint, read_blueprint
from widgets.learn.lessons import taught_in

from .table import Table


def shares(blueprint: Blueprint | None = None) -> Table:
    """What a test asks: each part of the job, its share of the points, how many questions, what must be passed.

    >>> shares().body[0][:2]
    ('Read', '35 %')
    """
    plan = blueprint or read_blueprint()
    rows = []
    for name in dict.fromkeys(objective.part for objective in OBJECTIVES.values()):
        parts = [part for part in plan.parts if OBJECTIVES[part.objective].part == name]
        must = "; ".join(OBJECTIVES[part.objective].text for part in parts if part.must_pass)
        rows.append([name, f"{100 * sum(part.share for part in parts):.0f} %", str(sum(part.questions for part in parts)),
                     must or "–"])
    return Table(f"{plan.title}: what is asked", ["part of the job", "share", "questions", "must be passed by itself"], rows)


def figures(blueprint: Blueprint | None = None) -> dict[str, tuple[float, str]]:
    """A test's length and marks, for sentences: questions, minutes, what passes, and what each must-pass objective needs.

    >>> figures()["minutes"]
    (90, 'min')
    """
    plan = blueprint or read_blueprint()
    return {"questions": (sum(part.questions for part in plan.parts), ""), "minutes": (plan.minutes, "min"),
            "passes": (100 * plan.pass_share, "%"), "must": (100 * plan.must_pass_share, "%")}


def taught() -> Table:
    """For each objective the lessons that teach it.

    >>> taught().body[0][1]
    'name the parts and say what each does'
    """
    rows = [[code, objective.text, "; ".join(taught_in().get(code, ("–",)))] for code, objective in OBJECTIVES.items()]
    return Table("Which lesson teaches what", ["", "you can …", "lessons"], rows)
