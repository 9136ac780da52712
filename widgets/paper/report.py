"""The class report: one record, laid out once, written as HTML, PDF and tables."""

from __future__ import annotations

from collections.abc import Iterable

from widgets.learn.exam import HONEST
from widgets.learn.lessons import titles
from widgets.learn.misconceptions import MISCONCEPTIONS
from widgets.learn.objectives import OBJECTIVES
from widgets.learn.statistics import FEW, remark, trust

from .answer_forms import table
from .layout import Para, Section, Table
from .marked import ClassReport, Learner
from .units import JOIN

UNDER = "Class report of a practice test. It tells what to teach next; it certifies nobody."
FOOT = ("For the instructor. Practice for a certificate, and not one. Local codes, the makers' instructions and licensed people "
        "decide who may work on a boiler.")
NO = "–"


def share(value: float) -> str:
    """A share in per cent, on one line.

    >>> share(0.756).replace(JOIN, " ")
    '76 %'
    """
    return f"{100 * value:.0f}{JOIN}%"


def between(ends: tuple[float, float]) -> str:
    """An interval in per cent."""
    return f"{100 * ends[0]:.0f}–{100 * ends[1]:.0f}{JOIN}%"


def figure(value: float | None, digits: int = 2) -> str:
    """A figure, or a dash where it cannot be had."""
    return NO if value is None else f"{value:.{digits}f}".replace("-", "−")


def sections(of: ClassReport) -> tuple[Section, ...]:
    """What the report says, in order."""
    found = [_summary(of), *_aside(of), _learners(of), _objectives(of), _held(of), _questions(of), *_matrix(of), _how(of)]
    return tuple(found)


def _summary(of: ClassReport) -> Section:
    count = len(of.learners)
    lines = [f"{count} learner{'s' * (count != 1)}, {len(of.places)} questions each. {of.passed} of {count} passed: "
             f"{share(of.blueprint.pass_share)} of the points, and {share(of.blueprint.must_pass_share)} of each objective that "
             "must be passed.",
             f"On average {share(of.mean)} of the points, standard deviation {share(of.spread)}.",
             f"KR-20 {figure(of.kr20)}: {trust(of.kr20)}." + ("" if of.error is None else (
                 f" A learner's number of right answers may be off by {figure(of.error, 1)} either way."))]
    if count < FEW:
        lines.append(f"Fewer than {FEW} learners: every figure here is rough, and questions are not judged.")
    must = [one for one in of.objectives if one.must_pass]
    blocks: list[Para | Table] = [Para(line) for line in lines]
    if must:
        blocks.append(Table(("must be passed", "", "reached", "not yet reached by"), tuple(
            (one.objective, OBJECTIVES[one.objective].text, f"{one.reached} of {count}",
             _names(learner for learner in of.learners if any(
                 s.objective == one.objective and s.passed is False for s in learner.result.scores))) for one in must),
            (1.6, 4.5, 1.7, 6)))
        few = [one.objective for one in must if one.questions < FEW_QUESTIONS]
        if few:
            blocks.append(Para(f"{', '.join(few)}: asked fewer than {FEW_QUESTIONS} times, so that one slip fails the objective. "
                               "Take it as what to ask again, not as a verdict."))
    return Section("In short", tuple(blocks))


MOST_NAMES = 12
FEW_QUESTIONS = 5
"""Questions under which a single slip is more than what may be missed of an objective that must be passed."""


def _names(learners: Iterable[Learner]) -> str:
    names = [one.name for one in learners]
    more = f" and {len(names) - MOST_NAMES} more" if len(names) > MOST_NAMES else ""
    return ", ".join(names[:MOST_NAMES]) + more if names else "nobody"


def _aside(of: ClassReport) -> list[Section]:
    marked = {one.code for one in of.learners}
    blank = sum(one.what == "not filled in" and one.code not in marked for one in of.aside)
    rows = [(one.where, one.what, one.why) for one in of.aside if one.what != "not filled in"]
    blocks: list[Para | Table] = []
    if rows:
        blocks.append(Table(("where", "what", "why"), tuple(rows), (3, 1.4, 6)))
    if blank:
        blocks.append(Para(f"{blank} paper{'s were' if blank > 1 else ' was'} not handed in, or the form not filled in."))
    return [Section("Set aside, not marked", tuple(blocks))] if blocks else []


def _learners(of: ClassReport) -> Section:
    must = [one.objective for one in of.objectives if one.must_pass]
    rows = []
    for one in of.learners:
        by = {score.objective: score for score in one.result.scores}
        right = sum(scored.right for scored in one.scored.values())
        study = ", ".join(one.result.study[:4]) or NO
        rows.append((one.name, one.paper.removeprefix("paper "), f"{right} of {len(of.places)}", share(one.result.total),
                     "passed" if one.result.passed else "not passed", *(share(by[code].share) for code in must), study))
    blocks: list[Para | Table] = [Table(("learner", "paper", "right", "points", "result", *must, "study next"), tuple(rows),
                                        (5, 1.7, 1.9, 1.7, 2.4, *(1.5 for _ in must), 3.3))]
    notes = [(one.name, "; ".join(one.notes)) for one in of.learners if one.notes]
    if notes:
        blocks.append(Para("What to look at:"))
        blocks.append(Table(("learner", "what"), tuple(notes), (2, 5)))
    return Section("By learner", tuple(blocks))


def _objectives(of: ClassReport) -> Section:
    rows = tuple((one.objective + (" *" if one.must_pass else ""), OBJECTIVES[one.objective].text, str(one.questions),
                  share(one.share), f"{one.right} of {one.answers}", between(one.interval)) for one in of.objectives)
    missing = [code for code in OBJECTIVES if code not in {one.objective for one in of.objectives}]
    head = ("objective", "the learner can", "questions", "points", "right", "95 % interval")
    blocks: list[Para | Table] = [Table(head, rows, (1.7, 6.5, 1.7, 1.4, 1.8, 2.2)), Para("* must be passed.")]
    if missing:
        blocks.append(Para(f"Not asked about by this test: {', '.join(missing)}."))
    return Section("By objective", tuple(blocks))


def _held(of: ClassReport) -> Section:
    if not of.held:
        return Section("What the class holds wrongly", (Para("No wrong answer points at a known mistake."),))
    rows = tuple((str(held.number), f"“{MISCONCEPTIONS[held.number].says}”", f"{held.learners} of {held.of}",
                  between(held.interval), str(held.times),
                  f"{held.lesson} {titles()[held.lesson]}: {MISCONCEPTIONS[held.number].correct_with}") for held in of.held)
    return Section("What the class holds wrongly", (
        Para("Of those whose paper could show it, so many gave an answer that comes of this mistake. One such answer may be "
             "chance; a third of the class is not."),
        Table(("no.", "what people say", "learners", "95 % interval", "times", "lesson that mends it: show this"), rows,
              (0.7, 4.2, 1.5, 1.8, 1.1, 5))))


def _questions(of: ClassReport) -> Section:
    rows = []
    for place, one in zip(of.places, of.questions):
        _, kind, hard = of.kinds[place]
        rows.append((place, kind, str(hard), share(one.difficulty), between(one.interval), figure(one.discrimination),
                     figure(one.corrected), remark(one)))
    return Section("By question", (
        Para("Difficulty is the share right. Discrimination is the point-biserial correlation with the number right: 0.40 is "
             "very good, 0.30 good, 0.20 marginal (Ebel, from memory); corrected, the question itself is left out."),
        Table(("question", "kind", "hard", "right", "95 % interval", "discr.", "corrected", "to look at"), tuple(rows),
              (1.5, 2.2, 0.9, 1.3, 2.0, 1.2, 1.6, 4))))


ACROSS, MOST_LISTED = 16, 200


def _matrix(of: ClassReport) -> list[Section]:
    """Every learner and question, some columns at a time."""
    if len(of.learners) > MOST_LISTED:
        return [Section("Every answer", (Para("Stands in learners.csv: so many learners would fill a book."),))]
    made = []
    for first in range(0, len(of.places), ACROSS):
        places = of.places[first:first + ACROSS]
        rows = tuple((one.name, *(_sign(one, place) for place in places)) for one in of.learners)
        made.append(Section("Every answer" if first == 0 else "Every answer, continued", (
            *((Para("1 right, ½ some of the points, 0 wrong, a dot for no answer."),) if first == 0 else ()),
            Table(("learner", *places), rows, (3.2, *(1 for _ in places))))))
    return made


def _sign(one: Learner, place: str) -> str:
    scored = one.scored.get(place)
    return "·" if scored is None else "1" if scored.right else "½" if scored.share > 0.0 else "0"


def _how(of: ClassReport) -> Section:
    return Section("How this was reckoned", (
        Para(f"{of.test}, {of.papers} different paper{'s' * (of.papers != 1)}. Papers ask the same objectives in the same kinds "
             "of question about different plants, and are compared question by question. Objectives share the points by their "
             "weights; an answer left empty earns nothing."),
        Para("KR-20 after Kuder and Richardson, Psychometrika 2, 1937 (from memory), variance with divisor n, a question "
             "counting as right with all its points. Intervals of 95 % after Wilson, J. Am. Stat. Assoc. 22, 1927. KR-20 of 0.7 "
             "is wanted of a class test and 0.9 of a decision about a person (Nunnally, from memory)."),
        Para(HONEST.replace("This result is your own, made on your machine. It is", "This is")),))


def html(of: ClassReport, paper: str = "a4") -> str:
    """The report as one HTML page."""
    from .as_html import html as page
    return page(of.title, UNDER, sections(of), FOOT, "", paper)


def pdf(of: ClassReport, paper: str = "a4") -> bytes:
    """The report as PDF."""
    from .as_pdf import pdf as pages
    return pages(of.title, UNDER, sections(of), FOOT, "", paper)


def learners_csv(of: ClassReport) -> str:
    """One row a learner: result, every objective, every question. A byte order mark tells spreadsheet programs its letters."""
    objectives = [one.objective for one in of.objectives]
    rows: list[list[object]] = [["learner", "paper", "file", "right", "questions", "points_share", "passed",
                                 *(f"objective {code}" for code in objectives), *(f"question {place}" for place in of.places),
                                 "notes"]]
    for one in of.learners:
        by = {score.objective: score.share for score in one.result.scores}
        rows.append([one.name, one.paper, one.where, sum(s.right for s in one.scored.values()), len(of.places),
                     round(one.result.total, 6), "yes" if one.result.passed else "no",
                     *(round(by[code], 6) for code in objectives),
                     *(round(one.scored[p].share, 6) if p in one.scored else "" for p in of.places), "; ".join(one.notes)])
    return "\ufeff" + table(rows)


def questions_csv(of: ClassReport) -> str:
    """One row a question: how hard, how well it tells."""
    rows: list[list[object]] = [["question", "objective", "kind", "difficulty_level", "right", "answers", "difficulty",
                                 "wilson_low", "wilson_high", "point_biserial", "corrected", "remark"]]
    for place, one in zip(of.places, of.questions):
        rows.append([place, *of.kinds[place], one.right, one.answers, round(one.difficulty, 6), round(one.interval[0], 6),
                     round(one.interval[1], 6), *("" if v is None else round(v, 6) for v in (one.discrimination, one.corrected)),
                     remark(one)])
    return "\ufeff" + table(rows)


def mistakes_csv(of: ClassReport) -> str:
    """One row a misconception that the class holds."""
    rows: list[list[object]] = [["misconception", "says", "learners", "of", "wilson_low", "wilson_high", "times", "lesson",
                                 "title"]]
    rows += [[held.number, MISCONCEPTIONS[held.number].says, held.learners, held.of, round(held.interval[0], 6),
              round(held.interval[1], 6), held.times, held.lesson, titles()[held.lesson]] for held in of.held]
    return "\ufeff" + table(rows)
