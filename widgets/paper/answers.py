"""Answer files as they come back: small forms, tables out of spreadsheet programs, exports of what was sat on a screen.

Nothing in a file can stop the others: what cannot be used is named, with why, and set aside.
"""

from __future__ import annotations

import csv
import io
import json
import unicodedata
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from figures.plant.refusal import plain_text
from figures.plant.toml import NotToml, read_toml
from widgets.learn.cells import unsafe
from widgets.learn.keeping import FIELDS

from .answer_forms import CODE, LEARNER
from .codes import tidy

LARGEST = 64 * 1024 * 1024
MOST_ANSWERS, LONGEST_ANSWER, LONGEST_NAME = 400, 200, 120
ENDINGS = (".toml", ".csv", ".tsv", ".jsonl")
OURS = ("key.json", "key.pdf", "blank.pdf", "plants.pdf", "rubric.pdf")       # what `loopbook paper` writes beside the forms
Why = Literal["damaged", "double", "foreign", "not filled in"]


@dataclass(frozen=True)
class Handed:
    """What one learner answered. answers: by number on the paper, as written.  where: file, and row of a table."""

    learner: str
    code: str
    answers: Mapping[int, str]
    where: str


@dataclass(frozen=True)
class Sat:
    """An examination on a screen, as its export tells it. more: of the row that began it.  answers: by number from 0."""

    learner: str
    name: str
    more: Mapping[str, object]
    answers: Mapping[int, str | tuple[str, ...]]
    finished: bool
    where: str


@dataclass(frozen=True)
class Aside:
    """What was set aside: where it stands, what is the matter, and why, with how to mend it. code: of the paper, if known."""

    where: str
    what: Why
    why: str
    code: str = ""


@dataclass
class Found:
    """All that a folder holds."""

    handed: list[Handed] = field(default_factory=list)
    sat: list[Sat] = field(default_factory=list)
    aside: list[Aside] = field(default_factory=list)


class _Damaged(ValueError):
    """A file, or a row of it, that cannot be used; the message says why."""


def answer_files(folder: Path) -> list[Path]:
    """The files of a folder, and of those in it, that may hold answers, in the order of their names."""
    return sorted(path for path in folder.rglob("*") if path.is_file() and not any(
        part.startswith((".", "~")) or part in ("key", "report", "papers", "plants") for part in path.relative_to(folder).parts)
        and path.name not in OURS)


def read_folder(folder: Path, tell: Callable[[int, int], None] | None = None) -> Found:
    """Everything in a folder. tell: told how many files were read, of how many."""
    found = Found()
    files = [folder] if folder.is_file() else answer_files(folder)
    for n, path in enumerate(files, 1):
        name = plain_text(path.name if folder.is_file() else str(path.relative_to(folder)))
        try:
            _read(path, name, found, folder)
        except _Damaged as bad:
            found.aside.append(Aside(name, "damaged", str(bad)))
        if tell is not None:
            tell(n, len(files))
    return found


def _read(path: Path, name: str, found: Found, within: Path) -> None:
    """One file into what was found. within: the folder, which no link may lead out of, or the one file that was named."""
    ending = path.suffix.lower()
    if ending not in ENDINGS:
        if ending in (".xlsx", ".xls", ".ods"):
            raise _Damaged("is a spreadsheet program's own file; save it as CSV")
        raise _Damaged(f"is no answer file; those end in {', '.join(ENDINGS)}")
    if not path.resolve().is_relative_to(within.resolve()):
        raise _Damaged("is a link that leads out of the folder; put the file itself there")
    text = _text(path)
    if ending == ".toml":
        found.handed.append(_form(text, name))
    elif ending == ".jsonl":
        found.sat += _sittings(_json_rows(text), name)
    else:
        _table(text, name, found)


def _text(path: Path) -> str:
    """The text of a file in any encoding that a spreadsheet program writes."""
    try:
        with open(path, "rb") as file:
            raw = file.read(LARGEST + 1)
    except OSError as error:
        raise _Damaged(f"cannot be read: {error.strerror or error}") from None
    if len(raw) > LARGEST:
        raise _Damaged(f"is larger than {LARGEST >> 20} MB")
    if not raw.strip():
        raise _Damaged("is empty")
    try:
        text = raw.decode("utf-16") if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        if path.suffix.lower() == ".toml" or b"\0" in raw:
            raise _Damaged("is no text that can be read; save it as UTF-8") from None
        text = raw.decode("cp1252", "replace")
    if "\0" in text:
        raise _Damaged("is no text")
    return text


# -- forms --------------------------------------------------------------------------------------------------

def _form(text: str, name: str) -> Handed:
    try:
        data = read_toml(text)
    except NotToml as error:
        raise _Damaged(f"{error}, or start from the form again") from None
    if strange := sorted(set(data) - {"format", CODE, LEARNER, "answers"}):
        raise _Damaged(f"'{plain_text(strange[0])[:40]}' is not known here; a form has format, {CODE}, {LEARNER} and [answers]")
    if data.get("format") != 1:
        raise _Damaged("has no line 'format = 1'")
    code, learner, answers = data.get(CODE), data.get(LEARNER, ""), data.get("answers")
    if not isinstance(code, str) or not isinstance(learner, str) or not isinstance(answers, dict):
        raise _Damaged(f"has no {CODE} and {LEARNER} in quotes, or no [answers]")
    given = {}
    for number, value in answers.items():
        if isinstance(value, list) and all(isinstance(one, str) for one in value):
            value = " ".join(value)
        if isinstance(value, bool) or not isinstance(value, str | int) or (isinstance(value, int) and abs(value) >= 10**9):
            raise _Damaged(f"answers.{plain_text(number)[:20]}: write the answer in quotes")
        given[_number(number)] = _answer(str(value))
    return _handed(learner, code, given, name)


def _handed(learner: str, code: str, given: dict[int, str], where: str) -> Handed:
    if not code.strip():
        raise _Damaged("has no code of a paper; copy it from the paper's first page")
    return Handed(_name(learner), tidy(plain_text(code)[:40]), given, where)


def _name(text: str) -> str:
    """A name on one line, the same however its accents are written."""
    return plain_text(" ".join(unicodedata.normalize("NFC", unsafe(text)).split()))[:LONGEST_NAME]


def _number(text: str) -> int:
    bare = text.strip()
    if not bare.isascii() or not bare.isdigit() or len(bare) > 3 or not 1 <= int(bare) <= MOST_ANSWERS:
        raise _Damaged(f"'{plain_text(bare)[:20]}' is no number of a question")
    return int(bare)


def _answer(text: str) -> str:
    if len(text) > LONGEST_ANSWER:
        raise _Damaged(f"an answer is longer than {LONGEST_ANSWER} letters")
    return plain_text(" ".join(unsafe(text).split()))


# -- tables -------------------------------------------------------------------------------------------------

def _table(text: str, name: str, found: Found) -> None:
    """A class, one row a learner; one learner, one row a question; or an export of a record."""
    rows = _rows(text)
    head = [cell.strip().casefold() for cell in rows[0][1]]
    if set(FIELDS) <= set(head):
        found.sat += _sittings((dict(zip(head, row)) for _, row in rows[1:]), name)
        return
    if CODE in head and LEARNER in head:
        _class(rows, head, name, found)
        return
    pairs = {row[0].strip().casefold(): row[1] for _, row in rows if len(row) > 1}
    if CODE not in pairs:
        raise _Damaged(f"has neither the columns {LEARNER}, {CODE}, 1, 2, … of a class nor the lines of one learner")
    given = {_number(key): _answer(value) for key, value in pairs.items() if key.isdigit()}
    found.handed.append(_handed(pairs.get(LEARNER, ""), pairs[CODE], given, name))


def _rows(text: str) -> list[tuple[int, list[str]]]:
    """The rows that hold something, with their line numbers; whatever separates the cells."""
    first, _, rest = text.partition("\n")
    separator = ""
    if first.strip().lower().startswith("sep=") and len(first.strip()) == 5:
        separator, text, first = first.strip()[4], "\n" + rest, rest.partition("\n")[0]
    separator = separator or max(";,\t|", key=first.count)
    try:
        read = [(n, row) for n, row in enumerate(csv.reader(io.StringIO(text, newline=""), delimiter=separator), 1)
                if any(cell.strip() for cell in row)]
    except (csv.Error, ValueError, TypeError) as error:     # newer Pythons refuse some separators so
        raise _Damaged(f"is no table: {error}") from None
    if not read:
        raise _Damaged("is empty")
    return read


def _class(rows: list[tuple[int, list[str]]], head: list[str], name: str, found: Found) -> None:
    columns = {n: cell for n, cell in enumerate(head) if cell.isascii() and cell.isdigit()}
    if not columns:
        raise _Damaged("has no columns named 1, 2, … for the questions")
    if len(set(columns.values())) < len(columns) or head.count(CODE) > 1 or head.count(LEARNER) > 1:
        raise _Damaged("names a column twice")
    numbers = {n: _number(cell) for n, cell in columns.items()}
    for line, row in rows[1:]:
        where = f"{name}, row {line}"
        cells = [*row, *[""] * (len(head) - len(row))]
        try:
            if len(row) > len(head) and any(cell.strip() for cell in row[len(head):]):
                raise _Damaged("has more cells than the head has columns")
            given = {number: _answer(cells[n]) for n, number in numbers.items()}
            learner = cells[head.index(LEARNER)]
            if not learner.strip() and not any(given.values()):
                found.aside.append(Aside(where, "not filled in", "nobody's answers stand there", tidy(cells[head.index(CODE)])))
                continue
            found.handed.append(_handed(learner, cells[head.index(CODE)], given, where))
        except _Damaged as bad:
            found.aside.append(Aside(where, "damaged", str(bad)))


# -- exports of the record ------------------------------------------------------------------------------------

def _json_rows(text: str) -> Iterator[dict[str, object]]:
    for line, row in enumerate(text.splitlines(), 1):
        if row.strip():
            try:
                data = json.loads(row)
            except (ValueError, RecursionError):
                raise _Damaged(f"line {line} is not JSON; export it again") from None
            if not isinstance(data, dict):
                raise _Damaged(f"line {line} is no row of a record")
            yield data


def _sittings(rows: Iterator[dict[str, object]] | Iterator[dict[str, str]], name: str) -> list[Sat]:
    """The examinations in an export, in the order in which they were begun."""
    begun: dict[tuple[str, str], tuple[str, Mapping[str, object]]] = {}
    answers: dict[tuple[str, str], dict[int, str | tuple[str, ...]]] = {}
    over: set[tuple[str, str]] = set()
    for row in rows:
        learner, sitting = str(row.get("learner", "")), unsafe(str(row.get("exercise", "")))
        kind, at = row.get("kind"), (learner, sitting)
        if kind not in ("exam", "answer") or not sitting.startswith("exam/"):
            continue
        more = _more(row.get("more"))
        if kind == "exam" and more.get("event") == "start":
            begun[at] = (learner, more)
        elif kind == "exam" and more.get("event") == "finish":
            over.add(at)
        elif kind == "answer" and type(more.get("number")) is int:
            answer = _given(row.get("answer"))
            if answer is not None:
                answers.setdefault(at, {})[int(str(more["number"]))] = answer
    if not begun:
        raise _Damaged("holds no examination; export the record of somebody who has sat one")
    return [Sat(_name(learner), at[1], more, answers.get(at, {}), at in over, name) for at, (learner, more) in begun.items()]


def _given(value: object) -> str | tuple[str, ...] | None:
    """An answer as `mark` takes it; an order stands in a table as a JSON list."""
    if isinstance(value, str):
        value = unsafe(value)
        if not value.startswith("["):
            return value
        try:
            value = json.loads(value)
        except (ValueError, RecursionError):
            return None
    return tuple(value) if isinstance(value, list) and all(isinstance(one, str) for one in value) else None


def _more(value: object) -> dict[str, object]:
    if isinstance(value, str):
        try:
            value = json.loads(unsafe(value))
        except (ValueError, RecursionError):
            return {}
    return value if isinstance(value, dict) else {}
