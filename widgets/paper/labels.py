"""A label sheet: an instructor's own words for the configurations, the settings and the kinds of part.

A small TOML file. Screens and sheets show its words beside ours, never in their place.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

from figures.plant.kinds import KINDS
from figures.plant.possible import ARRANGEMENTS
from figures.plant.refusal import CONTROL, BadPlant, Refusal, key_path, near, shown
from figures.plant.toml import NotToml, read_toml
from figures.reading.record import CONFIGURATIONS

from .told import NAMES

LONGEST_LABEL, LARGEST_FILE = 60, 256 * 1024
TABLES: dict[str, tuple[tuple[str, ...], bool]] = {
    "configurations": (tuple(CONFIGURATIONS), True), "settings": (NAMES, True),
    "arrangements": (ARRANGEMENTS, False), "parts": (tuple(KINDS), False)}
"""Of each table: what it may hold, and whether each of these must be there."""
_TOP = ("format", "title", *TABLES)


class BadLabels(BadPlant):
    """A label sheet that cannot be taken as it stands. `refusals` lists all that is wrong."""


class Labels(Mapping[str, str]):
    """Our word → the instructor's. `title` says whose words they are.

    >>> words = Labels("Invented", {"heating only": "Winter work"})
    >>> words["heating only"], words.get("return"), beside(words, "heating only"), beside(None, "heating only")
    ('Winter work', None, 'heating only (“Winter work”)', 'heating only')
    """

    def __init__(self, title: str, words: Mapping[str, str]) -> None:
        self.title, self._words = title, dict(words)

    def __getitem__(self, ours: str) -> str:
        return self._words[ours]

    def __iter__(self) -> Iterator[str]:
        return iter(self._words)

    def __len__(self) -> int:
        return len(self._words)

    def __repr__(self) -> str:
        return f"<Labels: {self.title}>"


def beside(labels: Labels | None, ours: str) -> str:
    """Our word with the instructor's beside it, where there is one."""
    theirs = labels.get(ours) if labels else None
    return f"{ours} (“{theirs}”)" if theirs else ours


def words_of(labels: Labels | None) -> Mapping[str, str]:
    """All words of a label sheet, ours first; none without one."""
    return dict(labels) if labels else {}


def read_labels(path: str | Path) -> Labels:
    """The label sheet in a file. Raises BadLabels with all that is wrong: also where the file is not there."""
    name = str(path)
    try:
        with open(path, "rb") as file:
            raw = file.read(LARGEST_FILE + 1)
    except (OSError, ValueError) as error:
        says = "no such file" if isinstance(error, FileNotFoundError) else \
            f"cannot be read: {getattr(error, 'strerror', None) or error}"
        raise BadLabels([Refusal("", "", says, "mend the path")], name) from None
    if len(raw) > LARGEST_FILE:
        raise BadLabels([Refusal("", "", f"is larger than {LARGEST_FILE // 1024} KiB", "is it a label sheet?")], name)
    try:
        return parse_labels(raw.decode("utf-8-sig"), name)
    except UnicodeDecodeError:
        raise BadLabels([Refusal("", "", "is not UTF-8 text", "save it as UTF-8")], name) from None


def parse_labels(text: str, file: str = "") -> Labels:
    """A label sheet from its text. Raises BadLabels with all that is wrong.

    >>> parse_labels('format = 1')
    Traceback (most recent call last):
    widgets.paper.labels.BadLabels: title: is missing; say whose words these are
    configurations: is missing; write [configurations] and below it a label for each of heating only, DHW on the system \
loop, DHW on the boiler loop
    settings: is missing; write [settings] and below it a label for each of arrangement, DHW place, control configuration, \
DHW priority, DHW time limit, boilers, lead boiler, boilers allowed on DHW, DHW setpoint, tank setpoint, outdoor reset, reset \
line, freeze setpoint
    """
    try:
        data = read_toml(text)
    except NotToml as error:
        raise BadLabels([Refusal(error.place, "", error.says, error.mend)], file) from None
    wrong: list[Refusal] = []
    for key in data:
        if key not in _TOP:
            wrong.append(Refusal(key_path(key), "", "is not known", near(key, _TOP)))
    if data.get("format") != 1:
        wrong.append(Refusal("format", "", f"is {shown(data['format'])}" if "format" in data else "is missing",
                             "write format = 1"))
    title = data.get("title")
    if "title" not in data:
        wrong.append(Refusal("title", "", "is missing", "say whose words these are"))
    elif (says := _unfit(title)) is not None:
        wrong.append(Refusal("title", "", says, "say in a few words whose words these are"))
    words: dict[str, str] = {}
    for name, (known, needed) in TABLES.items():
        wrong += _table(data, name, known, needed, words)
    if wrong:
        raise BadLabels(wrong, file)
    assert isinstance(title, str)
    return Labels(title.strip(), words)


def _table(data: Mapping[str, object], name: str, known: tuple[str, ...], needed: bool, words: dict[str, str]) -> list[Refusal]:
    table = data.get(name)
    if table is None:
        mend = f"write [{name}] and below it a label for each of {', '.join(known)}"
        return [Refusal(name, "", "is missing", mend)] if needed else []
    if not isinstance(table, dict):
        return [Refusal(name, "", f"is {shown(table)}, no table", f"write [{name}]")]
    wrong = []
    for key, label in table.items():
        place = f"{name}.{key_path(key)}" if key not in known else f'{name}."{key}"'
        if key not in known:
            wrong.append(Refusal(place, "", "is not known", near(key, known)))
        elif (says := _unfit(label)) is not None:
            wrong.append(Refusal(place, "", says, f"write a label of at most {LONGEST_LABEL} letters in quotes"))
        else:
            words[key] = str(label).strip()
    if needed:
        wrong += [Refusal(f'{name}."{key}"', "", "has no label", "give it one") for key in known if key not in table]
    return wrong


def _unfit(label: object) -> str | None:
    """What is wrong with a label; None where nothing is."""
    if not isinstance(label, str):
        return f"is {shown(label)}, no text"
    if not label.strip():
        return "is empty"
    if len(label) > LONGEST_LABEL:
        return f"is {len(label)} letters long"
    return "holds a letter that cannot be seen" if CONTROL.search(label) else None
