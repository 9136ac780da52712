"""The lessons: how they are built, the words they use, and that they hold for plants of any seed."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import nbformat
import pytest

from tests.lessons.runs import in_kernel_with_seeds, sentences_of
from widgets.learn.lessons import shipped_lessons
from widgets.show.lesson import Untrue, says

LESSONS = shipped_lessons()
OTHER_SEEDS = range(2, 22)
NEVER = re.compile(
    r"primary loop|secondary loop|\bmode \d|DIP switch|\bgraph\b|\bvertex|biconnected|topolog|\bnode\b|simply|obviously",
    re.IGNORECASE,
)
TAG = re.compile(r"\b(B[1-9]|P[BST]\d?|E[1-9]|IT|HS|XT|RV\d|TR\d|ET\d|SE\d|ZV\d|MV\d|[MNDSR][1-9])\b")
ALLOWED = (ast.Import, ast.ImportFrom, ast.Assign, ast.Expr, ast.Assert)

every_lesson = pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)


def opened(path: Path) -> nbformat.NotebookNode:
    return nbformat.read(path, as_version=4)


def cells(path: Path, kind: str) -> list[nbformat.NotebookNode]:
    return [cell for cell in opened(path).cells if cell.cell_type == kind]


def is_proof(cell: nbformat.NotebookNode) -> bool:
    return "nbval-check-output" in cell.metadata.get("tags", [])


def test_there_are_lessons() -> None:
    """The two that everything starts with, in the order in which they are taught."""
    assert [path.stem for path in LESSONS] == ["01-start-here", "12-which-configuration"]


@every_lesson
def test_a_lesson_is_marked_as_ours_and_made_for_any_kernel_of_that_name(path: Path) -> None:
    """The mark is what makes our start of JupyterLab run it; the kernel is the one everybody has."""
    book = opened(path)
    nbformat.validate(book)
    assert book.metadata.loopbook.format == 1
    assert book.metadata.kernelspec.name == "python3"
    ids = [cell.id for cell in book.cells]
    assert len(ids) == len(set(ids))
    assert all(re.fullmatch(r"[a-z][a-z0-9-]{2,30}", name) for name in ids)


@every_lesson
def test_a_lesson_keeps_no_outputs_but_the_ones_compared(path: Path) -> None:
    """What a cell that proves the lesson printed is kept; everything else is made anew."""
    for cell in cells(path, "code"):
        assert bool(cell.outputs) == is_proof(cell), cell.id
    assert any(is_proof(cell) for cell in cells(path, "code"))


@every_lesson
def test_code_is_folded_short_and_without_logic(path: Path) -> None:
    """Names are brought in, things are shown; whatever decides something lives in the packages."""
    for cell in cells(path, "code"):
        lines = [line for line in cell.source.splitlines() if line.strip()]
        body = ast.parse(cell.source).body
        assert cell.metadata.jupyter.source_hidden or len(lines) <= 3, cell.id
        assert len(body) <= (9 if is_proof(cell) else 3), cell.id
        strange = [type(node).__name__ for node in body if not isinstance(node, ALLOWED)]
        assert strange == [], cell.id


@every_lesson
def test_the_first_cell_says_what_to_press(path: Path) -> None:
    """For a JupyterLab of the learner's own, which does not run a lesson by itself."""
    first = opened(path).cells[0]
    assert first.cell_type == "markdown"
    assert "loopbook-aside" in first.metadata.tags
    assert "**Run All Cells**" in first.source


@every_lesson
def test_a_lesson_has_all_its_parts_in_order(path: Path) -> None:
    """What one will be able to do, how long, care, a guess before the explanation, an exercise, a recap."""
    source = "\n".join(cell.source for cell in opened(path).cells)
    parts = ("**You will be able to**", "**Time:**", "**You need:**", "**Take care.**", "licensed", "local code",
             "predict(", "read_aloud(", "## Your turn", "Exercise(", "## In short", "For the instructor")
    places = [source.find(part) for part in parts]
    assert -1 not in places, parts[places.index(-1)]
    assert places == sorted(places)


@every_lesson
def test_no_lesson_uses_a_word_that_misleads(path: Path) -> None:
    """Loops are named by what they serve; no maker's numbers; nothing from the inside of the program."""
    for cell in opened(path).cells:
        found = NEVER.search(cell.source)
        assert found is None, f"{cell.id}: {found}"


@every_lesson
def test_sentences_are_short(path: Path) -> None:
    """For a reader of nineteen, or one for whom English is a second language."""
    for cell in cells(path, "markdown"):
        for sentence in sentences_of(cell.source):
            assert len(sentence.split()) <= 32, f"{cell.id}: {sentence}"


@every_lesson
def test_text_that_is_not_checked_names_no_part_of_a_plant(path: Path) -> None:
    """A tag in plain text would be true for one seed only."""
    for cell in cells(path, "markdown"):
        found = [tag for tag in TAG.findall(cell.source) if tag != "B1" or cell.id != "parts"]
        assert found == [], cell.id


@every_lesson
def test_links_lead_to_lessons_that_are_there(path: Path) -> None:
    """And nowhere outside: a lesson works without a network."""
    for cell in cells(path, "markdown"):
        for target in re.findall(r"\]\(([^)]+)\)", cell.source):
            assert (path.parent / target).is_file(), f"{cell.id}: {target}"


@every_lesson
def test_every_sentence_about_a_plant_fails_on_a_plant_of_another_configuration(path: Path) -> None:
    """Each `says` of the lesson is said of the four other arrangements, and must refuse them."""
    from tests.widgets.show.test_lesson import FIVE
    from widgets.show.lesson import example

    checked = 0
    for cell in cells(path, "code"):
        for call in ast.walk(ast.parse(cell.source)):
            if not (isinstance(call, ast.Call) and isinstance(call.func, ast.Name) and call.func.id == "says"):
                continue
            text = ast.literal_eval(call.args[1])
            facts = {word.arg or "": ast.literal_eval(word.value) for word in call.keywords}
            own = (facts["arrangement"], facts["control"])
            checked += 1
            for arrangement, control in FIVE:
                if (arrangement, control) != own:
                    plant = example(3, arrangement, control, "several" if facts.get("boilers") == "several" else "one")
                    with pytest.raises(Untrue):
                        says(plant, text, **facts)
    assert checked >= 2


@every_lesson
def test_a_lesson_holds_for_twenty_other_seeds(path: Path, tmp_path: Path) -> None:
    """All its cells, proofs included, run in a kernel for each seed in turn."""
    assert in_kernel_with_seeds(path, OTHER_SEEDS, tmp_path) == len(OTHER_SEEDS) * len(cells(path, "code"))
