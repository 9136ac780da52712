"""The learner's folder: lessons are put there once, what the learner changed is never written over.

Beside the lessons lie the files that they speak of, an example of a label sheet say, and a hidden list,
`.loopbook.json`: for each lesson a fingerprint of the cells that were given. A lesson whose cells no longer match
it was changed by the learner. Outputs and folding do not count, for Jupyter saves those by itself.
"""

from __future__ import annotations

import hashlib
import importlib.machinery
import json
import os
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain, count
from pathlib import Path

from widgets.learn.lessons import lessons_dir, shipped_lessons, shipped_samples
from widgets.learn.whole import write_whole

LIST_NAME = ".loopbook.json"
FORMAT = 1
OURS = ("figures", "widgets")


class BadFolder(Exception):
    """The folder cannot be used. The message is one line for the learner: where, what, how to mend."""


@dataclass(frozen=True)
class Filled:
    """What was done in a folder. said: short lines for the learner, in the order in which to print them."""

    folder: Path
    lessons: tuple[Path, ...]
    said: tuple[str, ...]


def fingerprint(notebook: Path) -> str | None:
    """A hash of the kinds and sources of a notebook's cells; None where it cannot be read as a notebook.

    Of any other file it is a hash of all that stands in it.
    """
    try:
        if notebook.suffix != ".ipynb":
            return hashlib.sha256(notebook.read_bytes()).hexdigest()
        cells = json.loads(notebook.read_text("utf-8"))["cells"]
        told = [[cell["cell_type"], "".join(cell["source"])] for cell in cells]
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return None
    return hashlib.sha256(json.dumps(told).encode()).hexdigest()


def fill(folder: Path, shipped: tuple[Path, ...] | None = None) -> Filled:
    """Put the lessons into `folder` and say what was done.

    folder: is made where it is missing.  shipped: the lessons to put there; those of Loopbook unless given.
    Raises BadFolder where the folder cannot be made, read or written.

    A lesson that is not there is put there. One that the learner left as it was is brought up to date. One
    that the learner changed stays; if there is a newer one, that is put beside it as 'NAME (new).ipynb'.

    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as place:
    ...     fill(Path(place), shipped_lessons()[:2]).said, fill(Path(place), shipped_lessons()[:2]).said
    (('2 lessons put here.',), ())
    """
    folder = Path(os.path.abspath(folder.expanduser()))
    lessons = shipped_lessons() if shipped is None else shipped
    if not lessons:
        raise BadFolder(f"{lessons_dir()}: no lessons stand here; install Loopbook again")
    if folder.resolve() == lessons_dir().resolve():
        raise BadFolder(f"{folder}: Loopbook keeps its own lessons here; name a folder of your own")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        given = _read_list(folder)
        said = list(_fill(folder, (*lessons, *(shipped_samples() if shipped is None else ())), given))
        write_whole(folder / LIST_NAME, json.dumps({"format": FORMAT, "lessons": given}, indent=1).encode())
    except FileExistsError:
        raise BadFolder(f"{folder}: this is a file, not a folder; name another folder") from None
    except NotADirectoryError:
        raise BadFolder(
            f"{folder}: a part of this path is a file, not a folder; name another folder"
        ) from None
    except PermissionError as error:
        raise BadFolder(
            f"{error.filename or folder}: may not be written by you; name a folder of your own"
        ) from None
    except OSError as error:
        raise BadFolder(
            f"{folder}: {_lower(error.strerror or str(error))}; nothing of yours was changed. "
            "Make room there, or name another folder"
        ) from None
    return Filled(folder, tuple(folder / lesson.name for lesson in lessons), tuple(said))


def _fill(folder: Path, lessons: tuple[Path, ...], given: dict[str, dict[str, str]]) -> Iterator[str]:
    new = 0
    for lesson in lessons:
        ours = fingerprint(lesson)
        assert ours is not None, f"{lesson} is no notebook"
        theirs = folder / lesson.name
        entry = given.setdefault(lesson.name, {})
        if not os.path.lexists(theirs):
            write_whole(theirs, lesson.read_bytes())
            entry["given"] = ours
            new += lesson.suffix == ".ipynb"
            continue
        has = fingerprint(theirs)
        if has == ours:
            entry["given"] = ours
        elif has is not None and has == entry.get("given"):
            write_whole(theirs, lesson.read_bytes())
            entry["given"] = ours
            yield f"{lesson.name}: brought up to date; you had changed nothing in it."
        elif ours not in (entry.get("given"), entry.get("offered")):
            beside = _beside(folder, lesson, ours)
            if fingerprint(beside) != ours:
                write_whole(beside, lesson.read_bytes())
            entry["offered"] = ours
            what = "lesson" if lesson.suffix == ".ipynb" else "file"
            yield f"{lesson.name}: kept as you changed it; the newer {what} is beside it, '{beside.name}'."
    if new:
        yield f"{new} lesson{'s' if new > 1 else ''} put here."


def _beside(folder: Path, lesson: Path, ours: str) -> Path:
    """The first of 'NAME (new).ipynb', 'NAME (new 2).ipynb' … that is free, or is this very lesson."""
    names = chain([f"{lesson.stem} (new){lesson.suffix}"], (f"{lesson.stem} (new {n}){lesson.suffix}" for n in count(2)))
    places = (folder / name for name in names)
    return next(place for place in places if not os.path.lexists(place) or fingerprint(place) == ours)


def _read_list(folder: Path) -> dict[str, dict[str, str]]:
    """The hidden list. A missing or damaged one is empty: lessons that differ then count as changed."""
    try:
        kept = json.loads((folder / LIST_NAME).read_text("utf-8"))
        return {
            name: {key: str(mark) for key, mark in entry.items() if key in ("given", "offered")}
            for name, entry in kept["lessons"].items()
        }
    except (FileNotFoundError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return {}


def _lower(words: str) -> str:
    return words[:1].lower() + words[1:]


def shadows(folder: Path) -> tuple[Path, ...]:
    """Files of the learner that Python would take for ours when a lesson here says `import figures`.

    A plain folder `figures/` of pictures does no harm; one with an `__init__.py` in it does.
    """
    found = []
    importlib.machinery.PathFinder.invalidate_caches()
    for name in OURS:
        spec = importlib.machinery.PathFinder.find_spec(name, [str(folder)])
        if spec is not None and spec.origin is not None:
            place = Path(spec.origin)
            # The source tree itself is no stranger: there `figures` is ours.
            if place.resolve().parent != Path(__file__).resolve().parents[2] / name:
                found.append(place)
    return tuple(found)
