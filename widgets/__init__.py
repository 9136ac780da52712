"""What a learner or an instructor touches. A lesson calls each of these in one line.

>>> from widgets import Exercise
>>> exercise = Exercise(seed=3, record=False)
>>> list(exercise.items)[:3]
['arrangement', 'separation', 'dhw']
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .learn import Item, Mark, Record, items_for, mark
    from .own_plant import PlantForm
    from .paper.labels import read_labels
    from .paper.numbered import numbered_plant
    from .paper.sheet import sheet
    from .show.aloud import read_aloud
    from .show.canvas import Canvas
    from .show.card import card
    from .show.exam import Sitting
    from .show.exercise import Exercise
    from .show.explore import Explore, explore
    from .show.find import FindTheFault
    from .show.findings import show_findings
    from .show.glossary import glossary
    from .show.lesson import example, lesson_seed, says
    from .show.look import look_at
    from .show.practise import practise
    from .show.predict import predict
    from .show.progress import progress
    from .show.quiz import Quiz
    from .show.tells import tells
    from .show.views import views
    from .show.workbook import your_workbook

_WHERE = {
    "Canvas": "show.canvas", "Exercise": "show.exercise", "predict": "show.predict", "read_aloud": "show.aloud",
    "example": "show.lesson", "lesson_seed": "show.lesson", "says": "show.lesson", "look_at": "show.look",
    "Explore": "show.explore", "explore": "show.explore",
    "Quiz": "show.quiz", "practise": "show.practise", "Sitting": "show.exam",
    "FindTheFault": "show.find", "show_findings": "show.findings",
    "PlantForm": "own_plant", "read_labels": "paper.labels", "sheet": "paper.sheet",
    "numbered_plant": "paper.numbered", "progress": "show.progress", "tells": "show.tells", "views": "show.views",
    "card": "show.card", "glossary": "show.glossary", "your_workbook": "show.workbook",
    "Item": "learn", "Mark": "learn", "Record": "learn", "items_for": "learn", "mark": "learn",
}

__all__ = ["Canvas", "Exercise", "Explore", "FindTheFault", "Item", "Mark", "PlantForm", "Quiz", "Record", "Sitting",
           "card", "example", "explore", "glossary",
           "items_for", "lesson_seed", "look_at", "mark", "numbered_plant", "practise",
           "predict", "progress", "read_aloud", "read_labels", "says", "sheet",
           "show_findings", "tells", "views",
           "your_workbook"]


def __getattr__(name: str) -> object:
    """Rooms are opened when first asked for, so that the command line starts at once."""
    if name in _WHERE:
        return getattr(import_module(f".{_WHERE[name]}", __name__), name)
    raise AttributeError(f"module 'widgets' has no attribute '{name}'")
