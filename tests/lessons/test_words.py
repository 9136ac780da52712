"""The words of the trade: each is explained, on the page itself, where it first stands in the course."""

from __future__ import annotations

import ast
import re
import tomllib
from functools import cache

import nbformat

from figures.plant.kinds import KINDS
from tests.lessons.runs import sentences_of
from tests.lessons.test_lessons import NEVER
from widgets.learn.glossary import FILE, pattern, words
from widgets.learn.lessons import shipped_lessons

TRADE = {"fill": "fill valve"}
"""Kinds of part that are another word, or a verb, in plain text; the name under which they are explained."""
NEAR = 2
"""Cells further on in which a word may be explained that first stands in a heading or a link."""


@cache
def told() -> tuple[tuple[str, str], ...]:
    """What a learner reads, cell by cell in the order of the course: where, and the text."""
    found = []
    for path in shipped_lessons():
        for cell in nbformat.read(path, as_version=4).cells:
            if cell.cell_type == "markdown" and cell.id != "instructor":
                found.append((f"{path.stem[:2]}/{cell.id}", cell.source))
            elif cell.cell_type == "code" and "nbval-check-output" not in cell.metadata.get("tags", []):
                texts = [ast.literal_eval(call.args[1]) for call in ast.walk(ast.parse(cell.source)) if isinstance(call, ast.Call)
                         and isinstance(call.func, ast.Name) and call.func.id in ("says", "tells")]
                found += [(f"{path.stem[:2]}/{cell.id}", text) for text in texts]
    return tuple(found)


def explained(text: str, word: str) -> bool:
    """The word stands where the page explains it on hover and focus, or is set off because the sentence explains it."""
    plain = re.sub(r"`[^`]*`|\[[^\]]*\]\([^)]*\)|^#.*$", " ", text, flags=re.MULTILINE)
    return re.search(pattern(word), plain) is not None


def test_each_word_is_explained_where_it_first_stands_in_the_course() -> None:
    """Or, where it first stands in a heading or a link, right below."""
    cells = told()
    late = []
    for word in words():
        first = next((n for n, (_, text) in enumerate(cells) if re.search(pattern(word), text)), None)
        if first is not None and not any(explained(text, word) for _, text in cells[first:first + NEAR + 1]):
            late.append(f"{word}: {cells[first][0]}")
    assert late == []


def test_every_kind_of_part_and_every_word_set_off_in_a_lesson_is_in_the_glossary() -> None:
    """What a drawing can hold; and a word in italics followed by its meaning, of two words or more, is a word of the trade."""
    assert [kind for kind in KINDS if TRADE.get(kind, kind) not in words()] == []


def test_the_glossary_is_in_order_and_plain() -> None:
    """One sentence or two, short, none of the words that mislead; and it says in other words than its own."""
    rows = tomllib.loads(FILE.read_text(encoding="utf-8"))["words"]
    assert list(rows) == sorted(rows, key=str.lower)
    for word, means in rows.items():
        assert means.endswith(".") and not NEVER.search(means), word
        assert not means.lower().startswith(word.lower()), word
        for sentence in sentences_of(means):
            assert len(sentence.split()) <= 24, word
