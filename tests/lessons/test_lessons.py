"""The lessons: how they are built, the words they use, and that they hold for plants of any seed."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import nbformat
import pytest

from tests.lessons.coverage import FROM, TO, graded, rows, table
from tests.lessons.runs import in_kernel_with_seeds, sentences_of
from widgets.learn import MISCONCEPTIONS, OBJECTIVES
from widgets.learn.lessons import shipped_lessons, titles
from widgets.show.lesson import Untrue, says

LESSONS = shipped_lessons()
MANY_SEEDS, FEW_SEEDS = range(2, 22), (7, 90, 431, 6003, 77215)
LONG_TRIED = ("01-start-here", "12-which-configuration")
NEVER = re.compile(
    r"primary loop|secondary loop|\bmode \d|DIP switch|\bgraph\b|\bvertex|biconnected|topolog|\bnode\b|simply|obviously",
    re.IGNORECASE,
)
TAG = re.compile(r"\b(B[1-9]|P[BST]\d?|E[1-9]|IT|HS|XT|RV\d|TR\d|ET\d|SE\d|ZV\d|MV\d|[MNDSR][1-9])\b")
ALLOWED = (ast.Import, ast.ImportFrom, ast.Assign, ast.Expr, ast.Assert)
FIGURE = re.compile(r"\d\s*(?:°C|°F|kPa|bar\b|psi\b|%|mm\b|metres?\b|kW\b|L/s\b|l/s\b|gpm\b|litres?\b|inside diameters|diameters|"
                    r"degrees|minutes\b|hours?\b|seconds?\b|years?\b)")
SOURCE = re.compile(r"(?i:common practice|no (?:one )?source|from memory|computed|invented)|"
                    r"\b(?:ASHRAE|ASME|EN \d|ISO|IEC|ASTM|NIST|CDC|WHO|CPSC|HSE|VDI)\b")

TELLS_OF_THE_PAGE = {
    ("04", "precharge-try"): "where a slider stands",
    ("07", "mixing"): "computed below, and asserted in the lesson's proof",
    ("08", "guess-return"): "what a question takes for given",
    ("11", "no-flow-mark"): "water boils at 100 °C at sea level, as in any school book",
    ("13", "day-try"): "what a column of the table counts",
}
"""Cells whose figures are no claim about the trade, and why."""

every_lesson = pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)


def opened(path: Path) -> nbformat.NotebookNode:
    return nbformat.read(path, as_version=4)


def cells(path: Path, kind: str) -> list[nbformat.NotebookNode]:
    return [cell for cell in opened(path).cells if cell.cell_type == kind]


def is_proof(cell: nbformat.NotebookNode) -> bool:
    return "nbval-check-output" in cell.metadata.get("tags", [])


def calls(path: Path, *names: str) -> Iterator[ast.Call]:
    """Calls of these names in the cells that a learner sees."""
    for cell in cells(path, "code"):
        if not is_proof(cell):
            yield from (call for call in ast.walk(ast.parse(cell.source))
                        if isinstance(call, ast.Call) and isinstance(call.func, ast.Name) and call.func.id in names)


def test_there_are_at_least_sixteen_lessons_in_the_order_of_teaching() -> None:
    """Numbered without a gap, and headed by the name by which the progress page and papers send people to them."""
    assert [int(path.stem[:2]) for path in LESSONS] == list(range(1, len(LESSONS) + 1)) and len(LESSONS) >= 16
    heads = [re.findall(r"^# (.*)$", cell.source, re.M) for path in LESSONS for cell in cells(path, "markdown")]
    assert [head for found in heads for head in found] == list(titles().values())


@every_lesson
def test_a_lesson_is_marked_as_ours_and_made_for_any_kernel_of_that_name(path: Path) -> None:
    """The mark is what makes our start of JupyterLab run it; the kernel is the one everybody has."""
    book = opened(path)
    nbformat.validate(book)
    ours = book.metadata.loopbook
    assert ours.format == 1 and 20 <= ours.minutes <= 45
    assert ours.objectives and set(ours.objectives) <= set(OBJECTIVES)
    assert book.metadata.kernelspec.name == "python3"
    assert set(book.metadata) == {"kernelspec", "language_info", "loopbook"}    # no state of widgets, shown as it once was
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
        assert len(body) <= (9 if is_proof(cell) else 5), cell.id
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
    """What one will be able to do, how long, care, the learner's choices, a guess before the explanation, one plant said
    aloud, exercises, a card, a word to the instructor."""
    source = "\n".join(cell.source for cell in opened(path).cells)
    parts = ("**You will be able to**", "**Time:**", "**You need:**", "**Take care.**", "licensed", "local code",
             "your_workbook()", "predict(", "read_aloud(", "## Your turn", "practise(", "## In short", "card(",
             "For the instructor", "**Ask:**", "**Usual wrong answers", "**Show:**", "**In 90 minutes:**", "**In a day:**")
    at = 0
    for part in parts:
        at = source.find(part, at)
        assert at >= 0, f"{part} is missing, or stands too early"


@every_lesson
def test_a_lesson_has_something_to_try_a_finding_and_graded_exercises_on_its_objectives(path: Path) -> None:
    """One to turn or press; what a rule says against a plant; three to six exercises and more, and every objective asked."""
    exercises = list(graded(path))
    assert any(calls(path, "explore", "look_at", "PlantForm"))
    assert any(calls(path, "FindTheFault", "show_findings"))
    assert sum(one.questions for one in exercises) >= 5
    asked = {code for one in exercises for code in one.objectives}
    assert set(opened(path).metadata.loopbook.objectives) <= asked
    for call in calls(path, "practise", "FindTheFault", "Exercise"):
        named = {word.arg for word in call.keywords}
        assert "key" in named or "record" in named, "without a name it does not come back as it was left"


def test_no_two_exercises_of_the_course_have_one_name() -> None:
    """Under it answers are kept: what was copied from another lesson would come back with that lesson's answers in it."""
    named: dict[str, list[str]] = {}
    for path in LESSONS:
        for cell in (cell for cell in cells(path, "code") if not is_proof(cell)):
            for word in ast.walk(ast.parse(cell.source)):
                if isinstance(word, ast.keyword) and word.arg == "key":
                    named.setdefault(ast.unparse(word.value), []).append(f"{path.stem}: {cell.id}")
    assert {name: places for name, places in named.items() if len(places) > 1} == {}
    assert len(named) >= len(LESSONS)


def test_the_readme_lists_every_lesson() -> None:
    """By number and title, as the contents page does."""
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    assert [f"{number} {title}" for number, title in titles().items() if f"{number} {title} |" not in readme] == []


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
    for call in calls(path, "says", "tells", "card"):
        for text in (node.value for node in ast.walk(call) if isinstance(node, ast.Constant) and isinstance(node.value, str)):
            for sentence in sentences_of(text):
                assert len(sentence.split()) <= 32, sentence


@every_lesson
def test_text_that_is_not_checked_names_no_part_of_a_plant(path: Path) -> None:
    """A tag in plain text would be true for one seed only."""
    for cell in cells(path, "markdown"):
        found = [tag for tag in TAG.findall(cell.source) if tag != "B1" or cell.id != "parts"]
        assert found == [], cell.id


@every_lesson
def test_a_figure_in_plain_text_has_its_source_beside_it(path: Path) -> None:
    """Or its mark: common practice, from memory, invented. Everything else is computed and passes through a widget."""
    for cell in cells(path, "markdown"):
        if cell.id in ("title", "instructor") or (path.stem[:2], cell.id) in TELLS_OF_THE_PAGE:
            continue
        for block in re.split(r"\n\s*\n", cell.source):
            if FIGURE.search(block):
                assert SOURCE.search(cell.source), f"{cell.id}: {FIGURE.search(block)}"


@every_lesson
def test_links_lead_to_lessons_that_are_there(path: Path) -> None:
    """And nowhere outside: a lesson works without a network. Each but the last leads to the next one."""
    targets = []
    for cell in cells(path, "markdown"):
        for target in re.findall(r"\]\(([^)]+)\)", cell.source):
            assert (path.parent / target).is_file(), f"{cell.id}: {target}"
            targets.append(target)
    at = LESSONS.index(path)
    assert at + 1 == len(LESSONS) or LESSONS[at + 1].name in targets


@every_lesson
def test_every_sentence_about_a_plant_fails_on_a_plant_of_another_configuration(path: Path) -> None:
    """Each `says` of the lesson that names arrangement and control is said of the four others, and must refuse them."""
    from tests.widgets.show.test_lesson import FIVE
    from widgets.show.lesson import example

    checked = 0
    for call in calls(path, "says"):
        text = ast.literal_eval(call.args[1])
        facts = {word.arg or "": ast.literal_eval(word.value) for word in call.keywords}
        own = (facts.get("arrangement"), facts.get("control"))
        if None in own:
            continue
        checked += 1
        for arrangement, control in FIVE:
            if (arrangement, control) != own:
                plant = example(3, arrangement, control, "several" if facts.get("boilers") == "several" else "one")
                with pytest.raises(Untrue):
                    says(plant, text, **facts)
    assert checked >= (2 if path.stem in LONG_TRIED else 0)


@every_lesson
def test_a_lesson_holds_for_other_seeds(path: Path, tmp_path: Path) -> None:
    """All its cells, proofs included, run in a kernel for each seed in turn."""
    seeds = MANY_SEEDS if path.stem in LONG_TRIED else FEW_SEEDS
    assert in_kernel_with_seeds(path, seeds, tmp_path) == len(seeds) * len(cells(path, "code"))


def test_the_table_of_what_is_covered_is_true_and_no_objective_lacks_anything() -> None:
    """Each has a lesson, a graded exercise there and three kinds of question; DEVELOPERS.md says the same."""
    paper = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert FROM in paper and paper[paper.index(FROM):paper.index(TO) + len(TO)] == table()
    for objective, lessons, exercises, kinds in rows():
        assert lessons and exercises and len(kinds.split(", ")) >= 3, objective


def test_each_mistake_is_mended_by_a_lesson() -> None:
    """The progress page and papers send who makes a mistake to a lesson that is there."""
    assert {held.lesson for held in MISCONCEPTIONS.values()} <= set(titles())
