"""Figures of a test that a class has sat: how hard each question was, how well it tells, how far the total can be trusted.

Rows are learners, columns are questions; 1 is right, 0 is not.  A figure that cannot be had, because all answers are
alike, is None and never nought.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from .progress import Z_95, wilson

__all__ = ["Z_95", "Question", "error_of_measurement", "kr20", "mean", "point_biserial", "questions", "remark", "spread", "trust",
           "wilson"]

Answers = Sequence[Sequence[int]]
MARGINAL = 0.20
"""Discrimination under which a question tells little (Ebel, from memory)."""
FOR_A_CLASS, FOR_A_PERSON = 0.7, 0.9
"""What KR-20 is asked for: in a class test, and in a decision about a person (Nunnally, from memory)."""
HARD, EASY = 0.2, 0.95
"""Shares right beyond which a question tells little (common practice, no source)."""
FEW = 10
"""Learners under which no question is judged (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Question:
    """How one question went.

    right: how many had it right.  answers: of how many.  interval: where the true share lies, 95 times in 100 [-].
    discrimination: point-biserial with the total.  corrected: with the total of all other questions.
    """

    right: int
    answers: int
    interval: tuple[float, float]
    discrimination: float | None
    corrected: float | None

    @property
    def difficulty(self) -> float:
        """Share right [-]: the higher, the easier."""
        return self.right / self.answers


def mean(values: Sequence[float]) -> float:
    """The mean. Raises ValueError where there is nothing."""
    if not values:
        raise ValueError("there is no mean of nothing")
    return math.fsum(values) / len(values)


def spread(values: Sequence[float]) -> float:
    """Standard deviation with divisor n.

    >>> round(spread([6, 5, 4, 4, 3, 2, 2, 1, 1, 0]) ** 2, 6)
    3.36
    """
    middle = mean(values)
    return math.sqrt(math.fsum((value - middle) ** 2 for value in values) / len(values))


def kr20(rows: Answers) -> float | None:
    """How far the total would be the same on another such test, by Kuder and Richardson's formula 20 [-].

    r = k/(k − 1)·(1 − Σp(1 − p)/σ²), σ² with divisor n.  None with fewer than two questions or learners, or where all
    totals are alike.  Source: Kuder and Richardson, Psychometrika 2, 1937 (from memory).

    >>> round(kr20([[1, 1, 0], [1, 0, 0], [1, 1, 1], [0, 0, 0]]), 6)
    0.75
    """
    if len(rows) < 2 or len(rows[0]) < 2:
        return None
    count = len(rows[0])
    variance = spread([sum(row) for row in rows]) ** 2
    if variance <= 0.0:
        return None
    shares = [mean(column) for column in zip(*rows)]
    return count / (count - 1) * (1.0 - math.fsum(p * (1.0 - p) for p in shares) / variance)


def error_of_measurement(rows: Answers) -> float | None:
    """How far a total may stray from what the learner can do [questions]: σ·√(1 − KR-20)."""
    trust_ = kr20(rows)
    return None if trust_ is None else spread([sum(row) for row in rows]) * math.sqrt(max(0.0, 1.0 - trust_))


def point_biserial(column: Sequence[int], totals: Sequence[float]) -> float | None:
    """How a question goes with a total: (M₁ − M₀)/σ·√(p(1 − p)), which is Pearson's r [-].

    None where all had it right or wrong, or all totals are alike.

    >>> round(point_biserial([1, 1, 0, 0], [3, 2, 2, 0]), 4)
    0.6882
    """
    right = [total for hit, total in zip(column, totals) if hit]
    wrong = [total for hit, total in zip(column, totals) if not hit]
    if not right or not wrong:
        return None
    sigma = spread(totals)
    if sigma <= 0.0:
        return None
    p = len(right) / len(column)
    return (mean(right) - mean(wrong)) / sigma * math.sqrt(p * (1.0 - p))


def questions(rows: Answers) -> tuple[Question, ...]:
    """How each question went, in the order of the columns. Raises ValueError where rows differ in length or are none.

    >>> [one.right for one in questions([[1, 0], [1, 1]])]
    [2, 1]
    """
    if not rows or len({len(row) for row in rows}) != 1:
        raise ValueError("rows of equal length are needed, one a learner")
    totals = [sum(row) for row in rows]
    found = []
    for column in zip(*rows):
        right = sum(column)
        found.append(Question(right, len(rows), wilson(right, len(rows)), point_biserial(column, totals),
                              point_biserial(column, [total - hit for total, hit in zip(totals, column)])))
    return tuple(found)


def remark(one: Question) -> str:
    """What an instructor should think of a question, in words; '' where there is nothing to say."""
    if one.answers < FEW:
        return "too few learners to judge it"
    if one.right == 0:
        return "nobody had it right: was it taught, is it clear?"
    if one.right == one.answers:
        return "everybody had it right: it does not tell learners apart"
    told = one.corrected
    if told is not None and told < -Z_95 / math.sqrt(one.answers):
        return "the better learners miss it: look at its wording and its key"
    if told is not None and told < 0.0:
        return "does not go with the rest"
    if told is not None and told < MARGINAL:
        return "tells little" if one.difficulty < EASY else "nearly everybody had it right"
    if one.difficulty < HARD:
        return "very hard"
    return ""


def trust(value: float | None) -> str:
    """What KR-20 allows to be said, in words."""
    if value is None:
        return "cannot be had: there are too few answers, or all totals are alike"
    if value >= FOR_A_PERSON:
        return "enough for a decision about a person"
    if value >= FOR_A_CLASS:
        return "enough for a class test, not for a decision about a person"
    return "too little to rank learners by this test alone"
