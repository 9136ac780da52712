"""What a presentation remembers: the class's number, and for each lesson the step and what was drawn on it.

It lies in the data folder of who presents, so that a lost tab, another browser or another day goes on at the same step.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

FILE_NAME = "present.json"
MOST_INK = 400_000
"""Letters of JSON for all that is drawn on one lesson: some hundreds of lines."""
LESSON_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,79}")
LARGEST_SEED = 999_999


class NotKept(Exception):
    """It cannot be written down. The message is one line for who presents."""


class Wrong(ValueError):
    """What a page sent is nothing that can be kept."""


class Kept:
    """The state of one presenter, read from the file once and written whenever it changes.

    path: of the file; None keeps it in memory only.

    >>> kept = Kept(None)
    >>> kept.change({"seed": 7, "lesson": "01-start-here", "at": {"step": "guess", "shown": 1}})
    >>> kept.seed, kept.at("01-start-here")["step"]
    (7, 'guess')
    """

    def __init__(self, path: Path | None, seed: int = 1) -> None:
        self.path = path
        self.data: dict[str, Any] = {"seed": seed, "lesson": "", "at": {}, "ink": {}, "look": {}}
        if path is not None:
            self._read(path)

    @property
    def seed(self) -> int:
        """The class's number."""
        return int(self.data["seed"])

    @property
    def lesson(self) -> str:
        """The lesson that was shown last; '' before any."""
        return str(self.data["lesson"])

    def at(self, lesson: str) -> dict[str, Any]:
        """Where a lesson was left: {'step', 'shown'}, or nothing."""
        found = self.data["at"].get(lesson)
        return dict(found) if isinstance(found, dict) else {}

    def page(self, lesson: str) -> dict[str, Any]:
        """What a page of this lesson starts from."""
        return {"seed": self.seed, "at": self.at(lesson), "ink": self.data["ink"].get(lesson, {}), "look": self.data["look"]}

    def change(self, news: Mapping[str, Any]) -> None:
        """Take over what a page says. Raises Wrong for what is none of it, NotKept where it cannot be written."""
        fresh = json.loads(json.dumps(self.data))
        if "seed" in news:
            fresh["seed"] = sound(news["seed"])
        lesson = news.get("lesson", "")
        if lesson:
            if not isinstance(lesson, str) or not LESSON_NAME.fullmatch(lesson):
                raise Wrong("no such lesson")
            fresh["lesson"] = lesson
            if "at" in news:
                fresh["at"][lesson] = _place(news["at"])
            if "ink" in news:
                if not isinstance(news["ink"], dict) or len(json.dumps(news["ink"])) > MOST_INK:
                    raise Wrong("too much is drawn to be kept; clear some of it")
                fresh["ink"][lesson] = news["ink"]
        if "look" in news:
            fresh["look"] = {str(key)[:20]: value for key, value in dict(news["look"]).items()
                             if isinstance(value, bool | int | str) and len(str(value)) < 40}
        if fresh != self.data:
            self.data = fresh
            self._write()

    def _read(self, path: Path) -> None:
        """A file that is not there, damaged or another's counts as nothing remembered."""
        try:
            found = json.loads(path.read_text("utf-8"))
            seed = sound(found["seed"])
        except (OSError, ValueError, KeyError, TypeError, RecursionError):
            return
        same = {name: found[name] for name, value in self.data.items() if isinstance(found.get(name), type(value))}
        self.data |= same | {"seed": seed}

    def _write(self) -> None:
        """Beside the file and then there, so that a full disk leaves the old one whole."""
        if self.path is None:
            return
        half = self.path.with_name(f"{FILE_NAME}.{os.getpid()}.part")
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            half.write_text(json.dumps(self.data), encoding="utf-8")
            half.replace(self.path)
        except OSError as error:
            with suppress(OSError):
                half.unlink(missing_ok=True)
            raise NotKept(f"{self.path}: {(error.strerror or str(error)).lower()}; the step and the class number hold until "
                          "`loopbook present` ends") from None


def sound(seed: object) -> int:
    """A class number. Raises Wrong with a sentence for who typed it.

    >>> sound("41")
    41
    """
    text = str(seed).strip()
    if isinstance(seed, bool) or not (text.isascii() and text.isdigit()) or len(text) > len(str(LARGEST_SEED)):
        raise Wrong(f"a class number is a whole number from 0 to {LARGEST_SEED}")
    return int(text)


def _place(at: object) -> dict[str, Any]:
    if not isinstance(at, dict) or not isinstance(at.get("step"), str) or len(at["step"]) > 60:
        raise Wrong("no such step")
    shown = at.get("shown", 0)
    return {"step": at["step"], "shown": shown if isinstance(shown, int) and 0 <= shown < 1000 else 0}
