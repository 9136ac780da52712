"""The blueprint of a short examination, for whatever test needs one."""

from __future__ import annotations

TWO_OF_EACH = ("P1 = {share = 60, questions = 2, difficulty = [1]}", "R8 = {share = 40, questions = 2, difficulty = [1]}")


def short_blueprint(*objectives: str, title: str = "A short one", minutes: int = 10, pass_share: float = 0.7) -> str:
    """Its text. objectives: lines of the table, two questions each of P1 and R8 unless given.

    >>> from widgets.learn.exam_form import parse_blueprint
    >>> [(part.objective, part.questions) for part in parse_blueprint(short_blueprint()).parts]
    [('P1', 2), ('R8', 2)]
    """
    head = (f"format = 1\ntitle = '{title}'\nminutes = {minutes}\npass_share = {pass_share}\nmust_pass_share = 0.8\n"
            "[objectives]\n")
    return head + "".join(f"{line}\n" for line in objectives or TWO_OF_EACH)
