"""What stands on a printed test and on its key, page by page."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from string import ascii_uppercase

from widgets.learn.bank.schedule import schedule
from widgets.learn.items import Item, Option
from widgets.learn.lessons import titles
from widgets.learn.misconceptions import MISCONCEPTIONS
from widgets.learn.objectives import OBJECTIVES

from .drawn import Cut, beside_of, figures_of, goes_beside, layout_of, legend_svg, lit, plants_of, room_mm, tall, words_mm
from .pages import MARGIN_MM, PX_PER_MM, SIZES_MM
from .papers import Asked, Paper, PrintedTest
from .typeset import Block, Group, boxes, head, image, para, pdf, question, table, together

PRACTICE = "This is practice for a certificate, and not one."
FOOT = "Drawings of invented plants, for teaching. Local codes, the makers' instructions and licensed people prevail."
CAUTIONS = (
    "On paper nothing is hot. On a real plant water scalds within seconds, pressure bursts, gas and flue gas kill, and motors "
    "start by themselves.",
    "What you answer here allows nobody to work on a boiler: that is for licensed people, by the local code and the maker's "
    "instructions.")
INSTRUCTIONS = (
    "Write your answers in the boxes of this page, in capitals; only the boxes are marked.",
    "Most questions want one letter. Where the question says so, write several letters, letters in an order, or the tag of a "
    "part, such as N27.",
    "To change an answer, strike it out and write beside it. There is no penalty for a wrong answer: leave no box empty.",
    "Supply is drawn solid, return dashed. What the symbols mean stands below; a boiler marked 'lead' runs the sequence.")
NEIGHBOURS = {False: "Your neighbour's questions are about other plants: their letters are of no use to you.",
              True: "Your neighbour's questions stand in another order: their letters are of no use to you."}
KEY_CAUTION = "For the instructor alone: keep it, and the file key.json, away from learners."
LIT_HIGH_MM = 78.0


def is_point(item: Item) -> bool:
    """True where the answers are tags of the drawing."""
    return item.plant is not None and item.pick == "one" and all(option.value in item.plant.parts for option in item.options)


def signs(item: Item) -> dict[str, str]:
    """What is written for each option: a tag where a part is asked for, else a letter. By the option's value."""
    if is_point(item):
        return {option.value: option.value for option in item.options}
    return dict(zip((option.value for option in item.options), ascii_uppercase))


def asked_on_paper(item: Item) -> str:
    """The question in words that suit paper.

    >>> from widgets.learn.bank import make_item
    >>> asked_on_paper(make_item("R8", "point", 1, 3))
    'Write the tag of the boiler that runs the sequence.'
    """
    text = re.sub(r"\bClick\b", "Write the tag of", item.text)
    text = re.sub(r"\bclick\b", "write the tag of", text)
    return text.replace("Tick everything", "Write the letter of everything").replace(" is lit up", " is named below")


def how_on_paper(item: Item) -> str:
    """What is to be written, where it is not one letter."""
    if is_point(item):
        return "One of these tags: " + ", ".join(option.value for option in item.options) + "."
    if item.pick == "several":
        return "Write the letters of all that are right; a dash where none is."
    return "Write all letters in the right order, such as BDAC." if item.pick == "order" else ""


def _label(option: Option) -> str:
    return "" if option.plant is not None else option.label


def _block(asked: Asked, paper: str, drawn: bool = False) -> Block:
    """A question. drawn: its drawing stands on a page before it."""
    item = asked.item
    beside = "" if drawn else beside_of(item)
    taken = words_mm(item)
    cuts = [] if drawn else figures_of(item, paper)
    if layout_of(item) == 2:
        cuts = [replace(cut, note=words) for cut, words in zip(cuts, beside.split("\n"))]
        beside = ""
    figures = [image(cut, "The drawing of a boiler plant") for cut in cuts]
    # Above the least scale only where the words leave it that room: else the drawing stands on a page of its own.
    highest = max((cut.width_mm * tall(cut) for cut in cuts), default=0.0)
    side = not drawn and goes_beside(item)
    apart = item.plant is not None and highest + (12.0 if side else taken) > room_mm(paper, layout_of(item) == 3) + 0.5
    shown = [] if is_point(item) else [(sign, _label(item.option(value))) for value, sign in signs(item).items()]
    if layout_of(item) == 2:
        shown = [(sign, f"Drawing {sign}") for sign, _ in shown]
    return question(asked.number, asked_on_paper(item), how_on_paper(item), figures, beside, shown, side, apart)


def paper_pages(test: PrintedTest, one: Paper, paper: str) -> list[Group]:
    """The pages of one learner's paper."""
    count = len(one.questions)
    plants = [plant for asked in one.questions for plant in plants_of(asked.item)]
    front: list[Block] = [
        head(test.title),
        table(("paper", "code of this paper", "questions", "time"),
              [(str(one.number), one.code, str(count), f"{test.blueprint.minutes:g} minutes")], (2, 3, 2, 3), whole=True),
        table((), [("Name", ""), ("Class and date", "")], (2, 9), whole=True, roomy=True),
        para(f"Practice test. {PRACTICE}", "strong"), *(para(text) for text in (*INSTRUCTIONS, NEIGHBOURS[test.shared])),
        head("Your answers", 2), boxes(count),
        *(para(text, "caution") for text in CAUTIONS)]
    if plants:
        across = SIZES_MM[paper][0] - 2 * MARGIN_MM
        symbols = image(Cut(legend_svg(plants), across), "The symbols of the drawings and their names")
        front.append(together(head("Symbols", 2), symbols))
    if _one_plant(one):
        asked_of_it = tuple(_block(asked, paper, True) for asked in one.questions)
        return [Group(tuple(front)), _drawn_first(one, paper), Group(asked_of_it)]
    upright = [_block(asked, paper) for asked in one.questions if layout_of(asked.item) < 3]
    turned = [_block(asked, paper) for asked in one.questions if layout_of(asked.item) == 3]
    groups = [Group(tuple(front))]
    if upright:
        groups.append(Group(tuple(upright)))
    if turned:
        groups.append(Group(tuple(turned), turned=True))
    return groups


def _one_plant(one: Paper) -> bool:
    """True where all questions are about the same plant, which is then drawn once."""
    plants = [plants_of(asked.item) for asked in one.questions]
    return len(plants) > 1 and all(len(found) == 1 and found[0] == plants[0][0] for found in plants) and not any(
        asked.item.flows for asked in one.questions)


def _drawn_first(one: Paper, paper: str) -> Group:
    """The page of the plant that all questions are about."""
    item = one.questions[0].item
    assert item.plant is not None
    images = [image(cut, "The drawing of a boiler plant") for cut in figures_of(item, paper)]
    blocks = [head("The plant of all questions", 2), *images, *(para(line) for line in schedule(item.plant))]
    return Group(tuple(blocks), turned=layout_of(item) == 3)


def paper_pdf(test: PrintedTest, one: Paper, paper: str = "a4") -> bytes:
    """One learner's paper, black and white. It holds no key and no seed."""
    return pdf(f"{test.title}, paper {one.number}", f"Paper {one.number}, code {one.code}. {PRACTICE} {FOOT}",
               paper_pages(test, one, paper), paper)


# -- the key ----------------------------------------------------------------------------------------------

def answer_of(item: Item) -> str:
    """The right answer as it is written.

    >>> from widgets.learn.bank import make_item
    >>> item = make_item("R8", "point", 1, 3)
    >>> answer_of(item) == item.key[0]
    True
    """
    sign = signs(item)
    if item.pick == "several" and not item.key:
        return "–"
    order = item.key if item.pick == "order" else [option.value for option in item.options if option.value in item.key]
    return "".join(sign[value] for value in order)


def key_pdf(test: PrintedTest, paper: str = "a4") -> bytes:
    """The one key of all papers: answers at a glance, then each worked, with the drawing lit up."""
    foot = f"Key of test {test.code}, for the instructor alone. {PRACTICE}"
    return pdf(f"Key: {test.title}", foot, key_pages(test, paper), paper)


def key_pages(test: PrintedTest, paper: str) -> list[Group]:
    """The pages of the key."""
    count = max(len(one.questions) for one in test.papers)
    blocks = [head(f"Key: {test.title}"), para(KEY_CAUTION, "strong"),
              para(f"Test {test.code}, {len(test.papers)} papers of {count} questions. {PRACTICE} "
                   f"Passed with {100 * test.blueprint.pass_share:.0f} % of the points, shared by the objectives' weights, and "
                   f"{100 * test.blueprint.must_pass_share:.0f} % of each of "
                   f"{', '.join(p.objective for p in test.blueprint.parts if p.must_pass) or 'no objective by itself'}."),
              head("What is asked", 2), _asked(test), head("Answers at a glance", 2), *_glance(test, count)]
    groups = [Group(tuple(blocks))]
    groups += [Group((head(f"Paper {one.number}, code {one.code}", 2), *(_worked(asked, paper) for asked in one.questions)))
               for one in test.papers]
    return groups


def _asked(test: PrintedTest) -> Block:
    rows = [(part.objective + (" (must pass)" if part.must_pass else ""), OBJECTIVES[part.objective].text, str(part.questions),
             f"{100 * part.share:.0f} %") for part in test.blueprint.parts]
    return table(("objective", "the learner can", "questions", "of the points"), rows, (3, 9, 2, 2), small=True)


ACROSS = 15


def _glance(test: PrintedTest, count: int) -> Iterable[Block]:
    for first in range(0, count, ACROSS):
        numbers = range(first, min(count, first + ACROSS))
        rows = [(f"{one.number}  {one.code}", *(answer_of(one.questions[n].item) for n in numbers)) for one in test.papers]
        yield table(("paper", *(str(n + 1) for n in numbers)), rows, (3.4, *(1 for _ in numbers)), small=True)


def _worked(asked: Asked, paper: str) -> Block:
    item = asked.item
    said = OBJECTIVES[asked.item.objective]
    right = " and ".join(item.option(value).label for value in item.key if value not in (item.plant.parts if item.plant else ()))
    key = answer_of(item) + (f"  {right}" if right and layout_of(item) != 2 and item.pick == "one" else "")
    blocks = [head(f"{asked.number}.  {key}", 3),
              para(f"{asked.place}: {said.text}. {asked_on_paper(item)}"), para(item.because)]
    wrong = [(sign, _why(item.option(value), sign)) for value, sign in signs(item).items()
             if value not in item.key and item.option(value).because]
    if wrong:
        blocks.append(table(("instead", "why it is wrong, and what leads there"), wrong, (1, 11), small=True))
    plant = item.plant
    marks = (*item.parts, *item.pipes)
    if plant is None and layout_of(item) == 2:
        option = item.option(item.key[0])
        plant, marks = option.plant, (*option.parts, *option.pipes)
    if plant is not None:
        svg, wide, high = lit(plant, marks, item.flows)
        across = SIZES_MM[paper][0] - 2 * MARGIN_MM
        scale = min(across * PX_PER_MM / wide, LIT_HIGH_MM * PX_PER_MM / high, 0.74)
        caption = f"Drawing {answer_of(item)}" if item.plant is None else ""
        blocks.append(image(Cut(svg, wide * scale / PX_PER_MM, caption), "The drawing with the answer lit up"))
    return together(*blocks)


def _why(option: Option, sign: str) -> str:
    label = "" if option.label == sign or option.plant is not None else f"{option.label}: "
    return f"{label}{option.because}{_mistake(option)}"


def _mistake(option: Option) -> str:
    if option.misconception is None:
        return ""
    held = MISCONCEPTIONS[option.misconception]
    return f" Mistake {held.number}, “{held.says}”: lesson {held.lesson}, {titles()[held.lesson]}."
