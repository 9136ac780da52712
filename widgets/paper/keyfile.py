"""The instructor's key as a file: what each paper was about and which answers are right.

It is read when answers are marked, and never made again from a seed: papers are marked as they were printed, whatever
became of the bank since.  Neither a paper nor an answer form holds any of it.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from figures.plant.refusal import plain_text
from widgets.learn.exam_form import BadBlueprint, Blueprint, parse_blueprint
from widgets.learn.items import Hint, Item, Option
from widgets.learn.misconceptions import MISCONCEPTIONS

from .papers import Asked, PrintedTest, place_name

NAME = "key.json"
LARGEST = 64 * 1024 * 1024
NO_HINTS = (Hint(""), Hint(""), Hint(""))


class BadKey(ValueError):
    """A file that is no key; the message says which, and what to do."""


@dataclass(frozen=True)
class KeyPaper:
    """One paper of a key: its number, its code, and the question in each place, with its number on the paper."""

    number: int
    code: str
    numbers: dict[int, str]
    items: dict[str, Item]


@dataclass(frozen=True)
class Key:
    """A key. places: every question's place, in the order of the blueprint.  papers: by code."""

    title: str
    test: str
    blueprint: Blueprint
    places: tuple[str, ...]
    papers: dict[str, KeyPaper]


def written(test: PrintedTest) -> str:
    """The text of a test's key file."""
    from .printed import signs

    def question(asked: Asked) -> dict[str, object]:
        item, sign = asked.item, signs(asked.item)
        return {"number": asked.number, "place": asked.place, "id": item.id, "objective": item.objective, "kind": item.kind,
                "difficulty": item.difficulty, "pick": item.pick, "key": [sign[value] for value in item.key],
                "turned": [[sign[a], sign[b], mistake] for (a, b), mistake in item.turned.items()],
                "options": [{"sign": sign[o.value], "misconception": o.misconception, "points": o.points} for o in item.options]}

    data = {"format": 1, "for": "the instructor alone", "made_with": _version(), "title": test.title, "test": test.code,
            "seed": test.seed, "blueprint": test.blueprint.text,
            "papers": [{"number": one.number, "code": one.code, "questions": [question(asked) for asked in one.questions]}
                       for one in test.papers]}
    return json.dumps(data, indent=1) + "\n"        # in ASCII: a comment of the blueprint may hold what moves a cursor


def _version() -> str:
    try:
        return version("loopbook")
    except PackageNotFoundError:
        return "unknown"


def read_key(path: str | Path) -> Key:
    """The key in a file, or in `key.json` of a folder. Raises BadKey."""
    file = Path(path)
    if file.is_dir():
        file = file / NAME
    try:
        with open(file, "rb") as opened:
            raw = opened.read(LARGEST + 1)
        if len(raw) > LARGEST:
            raise BadKey(f"{file}: is larger than {LARGEST >> 20} MB; is it the key of a test?")
        data = json.loads(raw.decode("utf-8-sig"))
    except OSError as error:
        raise BadKey(f"{file}: cannot be read: {error.strerror or error}; name the key file with --key") from None
    except (UnicodeDecodeError, ValueError, RecursionError) as error:
        if isinstance(error, BadKey):
            raise
        raise BadKey(f"{file}: is damaged, or no key of a test; use the file that `loopbook paper` wrote") from None
    try:
        return _key(data)
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError, BadBlueprint) as error:
        raise BadKey(f"{file}: is damaged, or no key of a test ({type(error).__name__}: {str(error)[:200]}); use the file that "
                     "`loopbook paper` wrote") from None


def _key(data: dict[str, object]) -> Key:
    if data.get("format") != 1:
        raise ValueError("format is not 1")
    papers: dict[str, KeyPaper] = {}
    listed = data["papers"]
    if not isinstance(listed, list) or not listed:
        raise ValueError("no papers")
    for row in listed:
        items = {plain_text(str(q["place"])): _item(q) for q in row["questions"]}
        numbers = {int(q["number"]): plain_text(str(q["place"])) for q in row["questions"]}
        if not items or not len(items) == len(numbers) == len(row["questions"]):
            raise ValueError("a paper without questions, or with two of one number or place")
        papers[str(row["code"])] = KeyPaper(int(row["number"]), str(row["code"]), numbers, items)
    first = next(iter(papers.values()))
    if any(set(paper.items) != set(first.items) for paper in papers.values()):
        raise ValueError("papers that do not ask the same")
    blueprint = parse_blueprint(str(data["blueprint"]), "the key's blueprint")
    order = [part.objective for part in blueprint.parts]
    codes = [slot[0] for slot in blueprint.slots()]
    if {place: item.objective for place, item in first.items.items()} != {
            place_name(code, codes[:n].count(code), codes.count(code)): code for n, code in enumerate(codes)}:
        raise ValueError("questions that its blueprint does not ask")
    places = sorted(first.items, key=lambda place: (order.index(first.items[place].objective), place))
    return Key(str(data["title"]), str(data["test"]), blueprint, tuple(places), papers)


def _item(row: dict[str, object]) -> Item:
    """What marking needs of a question."""
    options = row["options"]
    key = row["key"]
    if not isinstance(options, list) or not isinstance(key, list):
        raise ValueError("a question without options or key")
    made = tuple(Option(str(o["sign"]), str(o["sign"]), o["misconception"], "", float(o["points"])) for o in options)
    if not all(0.0 <= option.points <= 1.0 for option in made):
        raise ValueError("an option that earns less than nothing or more than all")
    pick, turned = row["pick"], row.get("turned", [])
    if pick not in ("one", "several", "order"):
        raise ValueError(f"pick is '{pick}'")
    mistakes = {(str(a), str(b)): int(mistake) for a, b, mistake in turned}  # type: ignore[attr-defined]
    if not set(mistakes.values()) <= set(MISCONCEPTIONS):
        raise ValueError("a mistake that is not known")
    return Item(str(row["id"]), plain_text(str(row["kind"])), str(row["place"]), str(row["objective"]), "", made,
                tuple(map(str, key)), "", NO_HINTS, None, pick=pick, difficulty=int(str(row["difficulty"])), turned=mistakes)
