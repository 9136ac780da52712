"""What a press calls is guarded, what nobody sees any more is let go, and what all front ends do stands in one file."""

from __future__ import annotations

import ast
from pathlib import Path

import ipywidgets
import pytest
from ipywidgets.widgets.widget import _instances

from figures.plant.scheme import Scheme
from widgets.learn import Record
from widgets.learn.consent import choose
from widgets.learn.record import FOLDER_VARIABLE
from widgets.show import pieces
from widgets.show.course_walk import Walk
from widgets.show.course_warm import WarmUp
from widgets.show.exercise import Exercise
from widgets.show.lesson import example
from widgets.show.quiz import Quiz
from widgets.show.views import views

SHOW = Path(pieces.__file__).parent
PROPERTIES = {"property", "cached_property"}


def unguarded(tree: ast.Module) -> list[str]:
    """Methods called _on_… without a guard, and what `on_click` and `observe` are given that is no guarded method. A lambda may
    only call one; a variable holds one of those called _on_…."""
    methods = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]
    guarded = {node.name for node in methods if node.decorator_list
               and not PROPERTIES & {ast.unparse(one) for one in node.decorator_list}}
    found = [node.name for node in methods if node.name.startswith("_on_") and node.name not in guarded]
    for call in ast.walk(tree):
        if isinstance(call, ast.Call) and isinstance(call.func, ast.Attribute) and call.func.attr in ("on_click", "observe"):
            act = call.args[0]
            if isinstance(act, ast.Lambda) and isinstance(act.body, ast.Call):
                act = act.body.func
            if not isinstance(act, ast.Name) and not (isinstance(act, ast.Attribute) and act.attr in guarded):
                found.append(f"line {call.lineno}: {ast.unparse(call)}")
    return found


@pytest.mark.parametrize("file", sorted(path.name for path in SHOW.glob("*.py")))
def test_whatever_a_press_calls_is_guarded(file: str) -> None:
    """An error that leaves a callback goes to the kernel's log, where no learner looks: DEVELOPERS asks for a guard on each."""
    assert unguarded(ast.parse((SHOW / file).read_text("utf-8"))) == []


def test_an_error_of_ours_is_told_where_the_press_was(monkeypatch: pytest.MonkeyPatch) -> None:
    """In a walk, in views and in a picture to turn, as everywhere; and the picture hears the next press."""
    def fail(*given: object, **more: object) -> None:
        raise RuntimeError("a pipe burst")
    walk, shown, warm = Walk(seed=3, record=False), views(Scheme()), WarmUp(example(1, "single loop", "heating only"))
    monkeypatch.setattr(walk, "show_next", fail)
    walk.show_button.click()
    assert "a pipe burst" in walk.report.text and walk.report.tone == "trouble"
    monkeypatch.setattr(shown, "go", fail)
    shown.next.click()
    assert "a pipe burst" in shown.canvas.caption
    monkeypatch.setattr(warm, "_show", fail)
    warm.controls.asked += 1
    assert "a pipe burst" in warm.trouble.text and warm.controls.done == warm.controls.asked
    monkeypatch.undo()
    warm.controls.asked += 1
    assert warm.trouble.text == ""


def test_another_plant_and_the_next_question_leave_nothing_behind(tmp_path: Path) -> None:
    """As many widgets as before: neither kernel nor page grows with what a learner does."""
    exercise = Exercise(seed=3, record=False)
    for seed in (4, 3):
        exercise.another(seed)
    before = len(_instances)
    for seed in (4, 3, 4, 3):
        exercise.another(seed)
    assert len(_instances) == before
    quiz = Quiz(record=Record(tmp_path), seed=3)
    kept = []
    for _ in range(4):
        quiz.question.ask.value = [quiz.question.item.options[0].value]
        quiz.check()
        kept.append((quiz.question, len(_instances)))
        quiz.next()
    assert [question.comm is None for question, _ in kept] == [True, True, True, False]
    assert max(count for _, count in kept) - min(count for _, count in kept) < 60        # one has four drawings, another none


def test_units_reach_a_picture_that_stands_and_hold_none_that_is_gone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its controls and its words follow."""
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path))
    warm = WarmUp(example(1, "single loop", "heating only"))
    choose(units="us")
    assert "psi" in warm.verdict() and "kPa" not in warm.verdict()
    choose(units="si")
    assert "kPa" in warm.verdict()


def test_what_all_front_ends_do_stands_in_one_file() -> None:
    """Elements are made, keys are held and traits are followed in shared.js alone; no name of it is used for anything else."""
    shared = (SHOW / "shared.js").read_text("utf-8")
    names = [line.split("(")[0].removeprefix("function ") for line in shared.splitlines() if line.startswith("function ")]
    assert {"make", "button", "ownKeys", "follow"} <= set(names)
    for path in SHOW.glob("*.js"):
        source = path.read_text("utf-8")
        if path.name != "shared.js":
            again = [*(f"function {name}(" for name in names), " document.createElement(", "model.on(", "save_changes"]
            assert [way for way in again if way in source] == [], path.name


def test_a_box_that_is_swapped_keeps_what_is_shown_again() -> None:
    """What stands in both is not let go."""
    stays, goes = pieces.Note(text="stays"), pieces.Note(text="goes")
    place = pieces.box("lb-bar", goes, stays)
    pieces.swap(place, stays, ipywidgets.Button())
    pieces.swap(place, stays)
    assert stays.comm is not None and goes.comm is None
