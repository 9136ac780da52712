"""Where the lessons stand that come with Loopbook."""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any


def lessons_dir() -> Path:
    """Where the lessons stand: in the source tree beside `widgets`, in a wheel inside `widgets/serve`.

    The package's own place decides, so that an installed copy never serves another tree's lessons.

    >>> sorted(path.name for path in lessons_dir().glob("*.ipynb"))[0]
    '01-start-here.ipynb'
    """
    widgets = Path(__file__).resolve().parents[1]
    inside = widgets / "serve" / "lessons"
    return inside if inside.is_dir() else widgets.parent / "lessons"


def shipped_lessons() -> tuple[Path, ...]:
    """The lessons that come with Loopbook, in the order in which they are taught."""
    return tuple(sorted(lessons_dir().glob("*.ipynb")))


def shipped_samples() -> tuple[Path, ...]:
    """The files that lessons speak of, and that a learner gets beside them: an example of a label sheet.

    >>> [path.name for path in shipped_samples()]
    ['labels-example.toml']
    """
    return tuple(sorted(lessons_dir().glob("*.toml")))


@cache
def titles() -> Mapping[int, str]:
    """What each lesson is called, by its number.

    >>> titles()[1]
    'Start here'
    """
    return MappingProxyType({int(path.name[:2]): str(_told(path)["title"]) for path in shipped_lessons()
                             if path.name[:2].isdigit()})


def _told(path: Path) -> dict[str, Any]:
    """What a lesson says of itself: title, minutes, objectives."""
    told: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))["metadata"]["loopbook"]
    return told


@cache
def taught_in() -> dict[str, tuple[str, ...]]:
    """For each objective the lessons that teach it, by their titles, in the order in which they are taught.

    >>> taught_in()["R1"][0]
    'Start here'
    """
    found: dict[str, tuple[str, ...]] = {}
    for path in shipped_lessons():
        told = _told(path)
        for code in told.get("objectives", ()):
            found[code] = (*found.get(code, ()), told["title"])
    return found
