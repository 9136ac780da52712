"""A printed test: papers of one blueprint, all about different plants, and what each must be marked by.

What is asked comes from the bank, and how the papers are made equally hard from `widgets.learn.exam_form`.
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from hashlib import blake2b

from figures.plant import Plant
from figures.plant.model import tag_of
from widgets.learn.bank import kinds_of, make_item
from widgets.learn.bank.given import questions_about
from widgets.learn.exam_form import MOST_QUESTIONS, Blueprint, Slot, costs, form, parse_blueprint, read_blueprint
from widgets.learn.items import Item, items_for
from widgets.learn.objectives import OBJECTIVES

from .codes import paper_codes, test_code
from .drawn import plants_of

MINUTES_A_QUESTION = 2.0
"""On paper (common practice, no source); the time of a whole examination is its blueprint's."""
RETRIES = 40
MOST_COPIES = 500
LARGE = {("J1", "point"), ("J3", "point"), ("R8", "point"), ("R9", "first back")}
"""Objectives and kinds that need several boilers, whose drawings hardly go on a page: asked last."""
OWN_TITLE = "Questions about a given plant"
Tell = Callable[[int, int], None]


@dataclass(frozen=True)
class Asked:
    """A question as it stands on a paper.

    number: on this paper, from 1.  place: what it is in every paper of the test, 'R7' or 'R7 b'; marks of different papers
    are compared by it.
    """

    number: int
    place: str
    item: Item


@dataclass(frozen=True)
class Paper:
    """One learner's paper. number: printed on it.  code: printed on it, too, and kept with its key."""

    number: int
    code: str
    questions: tuple[Asked, ...]


@dataclass(frozen=True)
class PrintedTest:
    """A test: its papers, and the blueprint that all of them follow. seed: whoever has it can make the key again.

    shared: neighbours may have the same plant, an instructor's own.
    """

    title: str
    code: str
    seed: int
    blueprint: Blueprint
    papers: tuple[Paper, ...]
    shared: bool = False


def blueprint_of(questions: int, given: Blueprint | None = None) -> Blueprint:
    """The blueprint of a paper of so many questions, out of that of a whole examination.

    What must be passed is asked about first, then what weighs most.  Of each objective the kinds are taken in turn, with
    few that take two pages, and plants are of few parts, so that they can be read on paper.  Raises ValueError for fewer
    than one question or too many.

    >>> twelve = blueprint_of(12)
    >>> len(twelve.slots()), [part.objective for part in twelve.parts if part.must_pass]
    (12, ['R7', 'C1', 'J1', 'J4'])
    """
    if not 1 <= questions <= MOST_QUESTIONS:
        raise ValueError(f"questions: {questions} is not from 1 to {MOST_QUESTIONS}")
    given = given or read_blueprint()
    counts = dict.fromkeys((part.objective for part in given.parts), 0)
    for part in sorted((p for p in given.parts if p.must_pass), key=lambda p: -p.share)[:questions]:
        counts[part.objective] = 1
    while sum(counts.values()) < questions:      # Sainte-Laguë: whoever is furthest behind its share gets the next one
        counts[max(counts, key=lambda code: given.part(code).share / (2 * counts[code] + 1))] += 1
    lines = [f"format = 1\ntitle = {json.dumps(given.title, ensure_ascii=False)}",
             f"minutes = {max(5.0, MINUTES_A_QUESTION * questions):g}", f"pass_share = {given.pass_share}",
             f"must_pass_share = {given.must_pass_share}", "[objectives]"]
    for turn, part in enumerate(part for part in given.parts if counts[part.objective]):
        kinds = part.kinds or kinds_of(part.objective)
        kinds = kinds[turn % len(kinds):] + kinds[:turn % len(kinds)]
        four = turn % 6 == 4
        kinds = tuple(sorted(kinds, key=lambda kind: ((part.objective, kind) in LARGE, (kind == "drawings") != four)))
        hard = [2] if kinds[0] != "drawings" and turn % 3 == 2 else [1]
        quoted = ", ".join(f'"{kind}"' for kind in kinds)
        lines.append(f"{part.objective} = {{share = {part.share:.6f}, questions = {counts[part.objective]}, difficulty = "
                     f"{[*hard, 1, 2]}, must_pass = {str(part.must_pass).lower()}, kinds = [{quoted}]}}")
    return parse_blueprint("\n".join(lines) + "\n", "the paper's blueprint")


def make_test(seed: int, copies: int, questions: int, blueprint: Blueprint | None = None,
              tell: Tell | None = None) -> PrintedTest:
    """Papers about different plants, the same questions for the same seed; the codes are new each time.

    blueprint: followed as it stands where given; else one of so many questions.  tell: told after each paper how many there
    are of how many.  Raises ValueError for a number of papers or questions that cannot be.
    """
    if not 1 <= copies <= MOST_COPIES:
        raise ValueError(f"copies: {copies} is not from 1 to {MOST_COPIES}")
    chosen = blueprint or blueprint_of(questions)
    test, taken, made = test_code(), set[str](), []
    codes = paper_codes(test, copies)
    for number, code in enumerate(codes, 1):
        slots = form(chosen, _seed_of(seed, number))
        asked = [_fresh(slot, chosen, taken) for slot in slots]
        made.append(Paper(number, code, _numbered([(slot, item) for slot, item in zip(slots, asked)])))
        if tell is not None:
            tell(number, copies)
    return PrintedTest(chosen.title, test, seed, chosen, tuple(made))


def _seed_of(seed: int, number: int) -> int:
    return random.Random(f"loopbook printed {int(seed)} {number}").getrandbits(31)


def _fresh(slot: Slot, blueprint: Blueprint, taken: set[str]) -> Item:
    """The slot's question, or one of the same objective, kind, difficulty and cost about plants that no other paper has."""
    item = make_item(*slot)
    wanted = costs(item, blueprint.worth(slot[0]))
    chance = random.Random(f"loopbook fresh {slot}")
    for _ in range(RETRIES):
        shapes = {shape_of(plant) for plant in plants_of(item)}
        if not shapes & taken and costs(item, blueprint.worth(slot[0])) == wanted:
            break
        item = make_item(*slot[:3], chance.getrandbits(31), slot[4])
    else:
        item = make_item(*slot)      # few plants answer some questions; then the tags differ, and what is asked about
    taken |= {shape_of(plant) for plant in plants_of(item)}
    return item


def shape_of(plant: Plant) -> str:
    """The same text for plants of the same piping, whatever their tags, sizes and order of writing.

    >>> from figures.plant.scheme import Scheme
    >>> shape_of(Scheme(boilers=2).plant()) == shape_of(Scheme(boilers=3).plant())
    False
    """
    colour = {tag: part.kind + ("!" if part.given.get("lead") or part.given.get("reversed") else "")
              for tag, part in plant.parts.items()}
    for _ in range(3):          # Weisfeiler and Leman's refinement: each part by what lies before and after it
        beside: dict[str, list[str]] = {tag: [] for tag in plant.parts}
        for run in plant.runs:
            for a, b in zip(run.through, run.through[1:]):
                beside[tag_of(a)].append(f">{b.partition('.')[2]}{colour[tag_of(b)]}")
                beside[tag_of(b)].append(f"<{a.partition('.')[2]}{colour[tag_of(a)]}")
        colour = {tag: _short(f"{colour[tag]}|{'|'.join(sorted(near))}") for tag, near in beside.items()}
    return _short("|".join(sorted(colour.values())))


def _short(text: str) -> str:
    return blake2b(text.encode(), digest_size=9).hexdigest()


def _numbered(asked: Sequence[tuple[Slot, Item]]) -> tuple[Asked, ...]:
    """Questions in the order of printing: with one drawing, with none, with four, with one that needs the page turned."""
    from .drawn import height_mm, layout_of, room_mm

    of: dict[str, list[int]] = {}
    for slot, _ in sorted(asked, key=lambda pair: pair[0][4]):
        of.setdefault(slot[0], []).append(slot[4])
    placed = sorted(asked, key=lambda pair: layout_of(pair[1]))
    # On upright pages the highest comes first, with whatever still fits under it, so that fewer pages are printed.
    left = sorted(((height_mm(pair[1]), n) for n, pair in enumerate(placed) if layout_of(pair[1]) == 1), reverse=True)
    packed: list[int] = []
    while left:
        room = room_mm("a4")
        for one in list(left):
            if one[0] <= room or room == room_mm("a4"):
                room -= one[0]
                packed.append(one[1])
                left.remove(one)
    first = [n for n, pair in enumerate(placed) if layout_of(pair[1]) == 0]
    rest = [n for n, pair in enumerate(placed) if layout_of(pair[1]) > 1]
    placed = [placed[n] for n in (*packed, *first, *rest)]
    return tuple(Asked(number, place_name(slot[0], of[slot[0]].index(slot[4]), len(of[slot[0]])), item)
                 for number, (slot, item) in enumerate(placed, 1))


def place_name(objective: str, n: int, count: int) -> str:
    """What a question is called in every paper of a test: its objective, with a letter where there are several."""
    return objective if count == 1 else f"{objective} {'abcdefghijklmnopqrstuvwxyz'[n % 26]}{n // 26 or ''}"


# -- an instructor's own plants ---------------------------------------------------------------------------

def test_of_plants(plants: Sequence[Plant], seed: int, copies: int, questions: int | None = None) -> PrintedTest:
    """Papers about given plants: the first paper is about the first, and so on in turn.

    questions: how many of those that can be asked, of as many objectives as there are; all unless said.  Papers about the
    same plant ask the same, in another order.  Raises ValueError where two plants cannot be asked the same.
    """
    if not plants or not 1 <= copies <= MOST_COPIES:
        raise ValueError(f"copies: {copies} is not from 1 to {MOST_COPIES}" if plants else "name a plant file")
    pools = [_about(plant, seed) for plant in plants]
    common = [key for key in pools[0] if all(key in pool for pool in pools)]
    wanted = _spread(common, questions or len(common))
    codes_of = [key[0] for key in wanted]
    places = [place_name(key[0], codes_of[:n].count(key[0]), codes_of.count(key[0])) for n, key in enumerate(wanted)]
    blueprint = _own_blueprint(codes_of)
    test = test_code()
    made = []
    for number, code in enumerate(paper_codes(test, copies), 1):
        chance = random.Random(f"loopbook own {seed} {number}")
        pool = pools[(number - 1) % len(pools)]
        asked = [(place, _mixed(pool[key], chance)) for place, key in zip(places, wanted)]
        chance.shuffle(asked)
        made.append(Paper(number, code, tuple(Asked(n, place, item) for n, (place, item) in enumerate(asked, 1))))
    return PrintedTest(OWN_TITLE, test, seed, blueprint, tuple(made), shared=len(plants) < copies)


test_of_plants.__test__ = False  # type: ignore[attr-defined]   # pytest takes it for one of its own by its name


def _about(plant: Plant, seed: int) -> dict[tuple[str, str], Item]:
    """Everything that can be asked of a plant, by objective and what is asked."""
    found: dict[tuple[str, str], Item] = {}
    for item in (*items_for(plant, seed=seed), *questions_about(plant, seed)):
        what = "/".join(item.id.split("/")[1:4]) if item.id.startswith("given") else item.name
        found.setdefault((item.objective, what), item)
    return dict(sorted(found.items(), key=lambda pair: list(OBJECTIVES).index(pair[0][0])))


def _spread(keys: list[tuple[str, str]], count: int) -> list[tuple[str, str]]:
    """So many of the keys, one of every objective before a second of any; what must be passed and weighs most comes first."""
    rank: dict[str, int] = {}
    order = []
    for key in keys:
        rank[key[0]] = rank.get(key[0], 0) + 1
        about = OBJECTIVES[key[0]]
        order.append((rank[key[0]], not about.must_pass, -about.weight, key))
    chosen = {key for *_, key in sorted(order)[:count]}
    return [key for key in keys if key in chosen]


def _own_blueprint(codes: Sequence[str]) -> Blueprint:
    lines = [f'format = 1\ntitle = "{OWN_TITLE}"\nminutes = {max(5.0, MINUTES_A_QUESTION * len(codes)):g}\npass_share = 0.7\n'
             "must_pass_share = 0.8\n[objectives]"]
    lines += [f"{code} = {{share = {OBJECTIVES[code].weight}, questions = {codes.count(code)}, difficulty = [1], must_pass = "
              f"{str(OBJECTIVES[code].must_pass).lower()}}}" for code in dict.fromkeys(codes)]
    return parse_blueprint("\n".join(lines), "the paper's blueprint")


def _mixed(item: Item, chance: random.Random) -> Item:
    options = list(item.options)
    chance.shuffle(options)
    return replace(item, options=tuple(options))
