"""Everything that can be wrong with a plant file, found in one pass and told all at once.

`plant_from_data` takes what `tomllib` gives and returns a sound `Plant`, or raises `BadPlant` whose
`refusals` say where, what, and what to write instead.
"""

from __future__ import annotations

import math
import re
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches

from .kinds import KINDS, Key, Kind, Value
from .model import DESIGN_LIMITS, Design, Part, Plant, Run, port_of, tag_of
from .pipe import SIZES

TAG = re.compile(r"[A-Za-z][A-Za-z0-9_-]{0,23}\Z")
MARKUP = re.compile(r"<[A-Za-z/!?]")
CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2028\u2029\u2066-\u2069]")
LONGEST_TITLE = 120
MOST_PARTS = 20_000
RUN_NUMBERS = {"length_m": (0.001, 10_000.0), "k": (0.0, 10_000.0),
               "inside_mm": (1.0, 3_000.0), "roughness_mm": (0.0, 10.0)}


@dataclass(frozen=True, slots=True)
class Refusal:
    """One thing that is wrong: `place` is the key path in the file, `part` a tag or '', `mend` what to write."""

    place: str
    part: str
    says: str
    mend: str

    def __str__(self) -> str:
        words = [self.place] if self.place else []
        if self.part and not self.place.startswith(f"parts.{self.part}"):
            words.append(self.part)
        return ": ".join([*words, f"{self.says}; {self.mend}" if self.mend else self.says])


class BadPlant(ValueError):
    """A plant that cannot be taken as it stands. `refusals` lists all that is wrong, in file order."""

    def __init__(self, refusals: Iterable[Refusal], file: str = "") -> None:
        self.refusals = tuple(refusals)
        self.file = file
        super().__init__("\n".join(self.lines()))

    def lines(self) -> list[str]:
        """One line a refusal, each with the file's name before it where there is one."""
        return [f"{self.file}: {refusal}" if self.file else str(refusal) for refusal in self.refusals]


def shown(value: object) -> str:
    """A value as it may be quoted in a message: short, on one line, without control characters."""
    text = CONTROL.sub("?", str(value) if isinstance(value, str) else repr(value))
    text = f"'{text}'" if isinstance(value, str) else text
    return text if len(text) <= 40 else text[:37] + "…" + ("'" if isinstance(value, str) else "")


def near(word: str, known: Iterable[str]) -> str:
    """'did you mean …?' where a known word is close, else the known words in a row."""
    known = list(known)
    close = get_close_matches(word[:60], known, 1)
    if close:
        return f"did you mean '{close[0]}'?"
    return f"known are {', '.join(known)}" if len(known) <= 14 else ""


class _Checker:
    def __init__(self, data: Mapping[str, object]) -> None:
        self.data = data
        self.refusals: list[Refusal] = []
        self.parts: dict[str, Part] = {}
        self.bad_tags: set[str] = set()
        self.runs: list[Run] = []
        self.runs_whole = True

    def refuse(self, place: str, says: str, mend: str = "", part: str = "") -> None:
        self.refusals.append(Refusal(place, part, says, mend))

    # -- the file as a whole ---------------------------------------------------------------------------

    def plant(self) -> Plant:
        for key in self.data:
            if key not in ("format", "title", "parts", "runs", "design"):
                self.refuse(shown(key).strip("'"), "no such key in a plant file",
                            near(key, ("format", "title", "parts", "runs", "design")))
        self._format()
        title = self._title()
        design = self._design()
        self._parts()
        self._runs()
        if not self.refusals:
            self._joints()
        if not self.refusals:
            self._one_plant()
        if self.refusals:
            raise BadPlant(self.refusals)
        return Plant(title, self.parts, tuple(self.runs), design)

    def _format(self) -> None:
        if "format" not in self.data:
            self.refuse("format", "is missing", "write 'format = 1' as the first line")
        elif self.data["format"] != 1 or isinstance(self.data["format"], bool):
            self.refuse("format", f"{shown(self.data['format'])} is not known here", "write 'format = 1'")

    def _title(self) -> str:
        title = self.data.get("title", "")
        if not isinstance(title, str):
            self.refuse("title", f"must be text, not {shown(title)}", 'write title = "the name of the plant"')
            return ""
        if CONTROL.search(title):
            self.refuse("title", "holds a control character", "write it as one line of plain text")
        if MARKUP.search(title):
            self.refuse("title", f"{shown(title)} holds markup", "write plain text without tags such as <b>")
        if len(title) > LONGEST_TITLE:
            self.refuse("title", f"is {len(title)} characters long", f"use at most {LONGEST_TITLE}")
        return title

    def _design(self) -> Design:
        table = self.data.get("design", {})
        if not isinstance(table, Mapping):
            self.refuse("design", "must be a table", "write [design] and its figures below it")
            return Design()
        given: dict[str, float] = {}
        for key, value in table.items():
            place = f"design.{shown(key)}".replace("'", "")
            if key not in DESIGN_LIMITS:
                self.refuse(place, "no such key", near(key, DESIGN_LIMITS))
                continue
            number = self._number(place, "", value, *DESIGN_LIMITS[key])
            if number is not None:
                given[key] = number
        design = Design(**given)
        if design.return_c >= design.supply_c:
            self.refuse("design.return_c", f"{design.return_c:g} °C is not below the supply's {design.supply_c:g} °C",
                        "write a return colder than the supply")
        if design.outdoor_c >= design.room_c:
            self.refuse("design.outdoor_c", f"{design.outdoor_c:g} °C is not below the room's {design.room_c:g} °C",
                        "write the coldest day that the plant is laid out for")
        return design

    def _number(self, place: str, part: str, value: object, low: float, high: float) -> float | None:
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.refuse(place, f"must be a number, not {shown(value)}", "write a figure without quotes or units", part)
            return None
        try:
            number = float(value)
        except OverflowError:
            number = math.inf
        if not math.isfinite(number):
            self.refuse(place, f"must be a finite number, not {shown(value)}", "write the figure itself", part)
            return None
        if not low <= number <= high:
            span = f"from {low:g} to {high:g}" if math.isfinite(high) else f"{low:g} or more"
            self.refuse(place, f"{number:g} is out of range", f"write a figure {span}", part)
            return None
        return number

    # -- parts -----------------------------------------------------------------------------------------

    def _parts(self) -> None:
        table = self.data.get("parts")
        if not isinstance(table, Mapping) or not table:
            self.refuse("parts", "no parts" if table in (None, {}) else "must be a table",
                        'write [parts.B1] and below it kind = "boiler"')
            return
        if len(table) > MOST_PARTS:
            self.refuse("parts", f"{len(table)} parts are more than {MOST_PARTS}", "split the plant into several files")
            return
        for tag, body in table.items():
            place = f"parts.{shown(tag)}".replace("'", "")
            if not TAG.match(tag):
                self.bad_tags.add(tag)
                self.refuse(place, "is no tag", "use a letter, then up to 23 letters, digits, '-' or '_'")
                continue
            part = self._part(tag, place, body)
            if part is None:
                self.bad_tags.add(tag)
            else:
                self.parts[tag] = part
        for tag, part in self.parts.items():
            self._place_of_instrument(tag, part)
        if not self.bad_tags and not any(p.kind == "boiler" for p in self.parts.values()):
            self.refuse("parts", "no boiler", 'a plant has at least one part with kind = "boiler"')

    def _part(self, tag: str, place: str, body: object) -> Part | None:
        if not isinstance(body, Mapping):
            self.refuse(place, "must be a table", f'write [parts.{tag}] and below it kind = "…"', tag)
            return None
        name = body.get("kind")
        if not isinstance(name, str) or name not in KINDS:
            says = "has no kind" if name is None else f"{shown(name)} is no kind of part"
            mend = near(name, KINDS) if isinstance(name, str) else ""
            self.refuse(f"{place}.kind", says, mend or "`loopbook parts` lists the kinds", tag)
            return None
        kind = KINDS[name]
        given: dict[str, Value] = {}
        sound = True
        for key, value in body.items():
            if key == "kind":
                continue
            known = kind.key(key)
            at = f"{place}.{shown(key)}".replace("'", "")
            if known is None:
                names = [k.name for k in kind.keys]
                self.refuse(at, f"no key of a {kind.name}", near(key, names) if names else "it takes no keys", tag)
                sound = False
                continue
            checked = self._value(at, tag, known, value)
            if checked is None:
                sound = False
            else:
                given[key] = checked
        sound = self._whole(place, tag, kind, given) and sound
        return Part(tag, name, given) if sound else None

    def _value(self, place: str, tag: str, key: Key, value: object) -> Value | None:
        if key.type == "number":
            return self._number(place, tag, value, key.low, key.high)
        if key.type == "flag":
            if isinstance(value, bool):
                return value
            self.refuse(place, f"must be true or false, not {shown(value)}", "write true or false without quotes", tag)
            return None
        if not isinstance(value, str):
            self.refuse(place, f"must be text, not {shown(value)}", "write it in quotes", tag)
            return None
        if key.type == "choice" and value not in key.choices:
            self.refuse(place, f"{shown(value)} is not one of {', '.join(key.choices)}", near(value, key.choices), tag)
            return None
        return value

    def _whole(self, place: str, tag: str, kind: Kind, given: Mapping[str, Value]) -> bool:
        """Checks that need more than one key of a part."""
        part = Part(tag, kind.name, given)
        for key in kind.keys:
            if key.required and key.name not in given:
                example = key.choices[0] if key.choices else "B1"
                self.refuse(f"{place}.{key.name}", "is missing", f'write {key.name} = "{example}"', tag)
                return False
        if kind.name == "pump" and not part.number("shutoff_m") > part.number("rated_m"):
            self.refuse(f"{place}.rated_m", f"{part.number('rated_m'):g} m is not below the shutoff head's "
                        f"{part.number('shutoff_m'):g} m", "a pump's head falls as its flow rises", tag)
            return False
        if kind.name in ("emitter", "heat exchanger") and not part.number("supply_c") > part.number("return_c"):
            self.refuse(f"{place}.return_c", f"{part.number('return_c'):g} °C is not below the supply's "
                        f"{part.number('supply_c'):g} °C", "write a return colder than the supply", tag)
            return False
        if kind.name == "temperature sensor":
            if given["role"] == "outdoor" and "at" in given:
                self.refuse(f"{place}.at", "an outdoor sensor is at no part", "leave 'at' out", tag)
                return False
            if given["role"] != "outdoor" and "at" not in given:
                self.refuse(f"{place}.at", "is missing", "write the tag of the tee or part that it is fixed to", tag)
                return False
        return True

    def _place_of_instrument(self, tag: str, part: Part) -> None:
        at = part.given.get("at")
        if part.what.shape != "instrument" or not isinstance(at, str) or at in self.bad_tags:
            return
        place = f"parts.{tag}.at"
        other = self.parts.get(tag_of(at))
        if other is None:
            self.refuse(place, f"{shown(at)} is no part", near(tag_of(at), self.parts) or "name a part of this plant", tag)
        elif other.what.shape == "instrument":
            self.refuse(place, f"{at} is an instrument itself", "name the tee or part that the pipe runs through", tag)
        elif part.kind != "temperature sensor" and other.kind != "boiler":
            self.refuse(place, f"{at} is a {other.kind}", "name a boiler", tag)
        elif port_of(at) and port_of(at) not in other.what.ports:
            self.refuse(place, f"{other.tag} has no port {shown(port_of(at))}", near(port_of(at), other.what.ports), tag)

    # -- runs ------------------------------------------------------------------------------------------

    def _runs(self) -> None:
        rows = self.data.get("runs")
        if not isinstance(rows, list) or not rows:
            self.runs_whole = False
            self.refuse("runs", "no runs" if rows in (None, []) else "must be a list of tables",
                        'write [[runs]] and below it through = ["B1", "…"]')
            return
        for index, row in enumerate(rows):
            run = self._run(f"runs[{index}]", row)
            if run is None:
                self.runs_whole = False
            else:
                self.runs.append(run)

    def _run(self, place: str, row: object) -> Run | None:
        if not isinstance(row, Mapping):
            self.refuse(place, "must be a table", "write [[runs]] and its keys below it")
            return None
        before = len(self.refusals)
        known = ("through", "size", "length_m", "k", "inside_mm", "roughness_mm")
        for key in row:
            if key not in known:
                self.refuse(f"{place}.{shown(key)}".replace("'", ""), "no key of a run", near(key, known))
        numbers = {key: self._number(f"{place}.{key}", "", row[key], *RUN_NUMBERS[key])
                   for key in RUN_NUMBERS if key in row}
        if "length_m" not in row:
            self.refuse(f"{place}.length_m", "is missing", "write the run's length in metres")
        self._size(place, row)
        through = self._through(place, row.get("through"))
        if len(self.refusals) > before:
            return None
        size = row.get("size")
        return Run(tuple(through), numbers["length_m"] or 0.0, size if isinstance(size, str) else None,
                   numbers.get("k") or 0.0, numbers.get("inside_mm"), numbers.get("roughness_mm"))

    def _size(self, place: str, row: Mapping[str, object]) -> None:
        size = row.get("size")
        own = [key for key in ("inside_mm", "roughness_mm") if key in row]
        if size is None and len(own) < 2:
            self.refuse(f"{place}.size", "is missing", 'write size = "NPS 2", or both inside_mm and roughness_mm')
        elif size is not None and own:
            self.refuse(f"{place}.size", f"stands beside {' and '.join(own)}", "say the size one way only")
        elif size is not None and (not isinstance(size, str) or size not in SIZES):
            mend = near(size, SIZES) if isinstance(size, str) else ""
            self.refuse(f"{place}.size", f"{shown(size)} is no size", mend or 'write for example "NPS 2" or "CU 1"')

    def _through(self, place: str, row: object) -> list[str]:
        at = f"{place}.through"
        if not isinstance(row, list) or len(row) < 2 or not all(isinstance(end, str) for end in row):
            self.refuse(at, "must be a list of two or more tags", 'write through = ["B1", "PB1", "A"]')
            return []
        for n, end in enumerate(row):
            self._end(f"{at}[{n}]", end, inside=0 < n < len(row) - 1)
        return row

    def _end(self, place: str, end: str, inside: bool) -> None:
        tag, port = tag_of(end), port_of(end)
        part = self.parts.get(tag)
        if part is None:
            if tag not in self.bad_tags:
                self.refuse(place, f"{shown(tag)} is no part of this plant", near(tag, self.parts)
                            or f"write [parts.{tag}] or mend the tag")
            return
        ports, shape = part.what.ports, part.what.shape
        if shape == "instrument":
            self.refuse(place, f"{tag} is a {part.kind}, which lies on no run", "leave it out; its 'at' says where it is", tag)
        elif ports and port not in ports:
            says = f"{tag} is a {part.kind}: say which port" if not port else f"{tag} has no port {shown(port)}"
            self.refuse(place, says, f"write one of {', '.join(f'{tag}.{p}' for p in ports)}", tag)
        elif not ports and "." in end:
            self.refuse(place, f"a {part.kind} has no ports", f"write '{tag}'", tag)
        elif inside and shape != "two ports":
            self.refuse(place, f"{tag} is a {part.kind} and stands inside a run", f"end the run at {tag} and start the next there", tag)

    # -- how the parts are joined ----------------------------------------------------------------------

    def _joints(self) -> None:
        enters: dict[str, list[str]] = defaultdict(list)
        leaves: dict[str, list[str]] = defaultdict(list)
        for index, run in enumerate(self.runs):
            place = f"runs[{index}]"
            for n, end in enumerate(run.through):
                if n > 0:
                    enters[end].append(place)
                if n < len(run.through) - 1:
                    leaves[end].append(place)
        for tag, part in self.parts.items():
            shape = part.what.shape
            if shape == "two ports":
                self._two_ports(tag, enters[tag], leaves[tag])
            elif shape == "tee" and len(enters[tag]) + len(leaves[tag]) < 2:
                self._joined(tag, tag, enters[tag] + leaves[tag], "two run ends or more")
            elif shape == "end" and len(enters[tag]) + len(leaves[tag]) != 1:
                self._joined(tag, tag, enters[tag] + leaves[tag], "one run end")
            elif part.what.ports:
                for port in part.what.ports:
                    end = f"{tag}.{port}"
                    if len(enters[end]) + len(leaves[end]) != 1:
                        self._joined(tag, end, enters[end] + leaves[end], "one run end")

    def _two_ports(self, tag: str, enters: list[str], leaves: list[str]) -> None:
        if len(enters) == 1 and len(leaves) == 1:
            return
        if len(enters) + len(leaves) == 2:
            which = "ends" if enters else "starts"
            self.refuse(f"parts.{tag}", f"{which} two runs ({', '.join(enters + leaves)}), so it has no direction",
                        "turn one of the runs round, so that water enters by one and leaves by the other", tag)
        else:
            self._joined(tag, tag, enters + leaves, "once on each side")

    def _joined(self, tag: str, end: str, places: list[str], wanted: str) -> None:
        how = "joins no run" if not places else f"is joined {len(places)} time{'s' * (len(places) > 1)} " \
                                                f"({', '.join(places[:6])})"
        self.refuse(f"parts.{tag}", f"{end} {how}", f"a {self.parts[tag].kind} is joined by {wanted}", tag)

    def _one_plant(self) -> None:
        parent = {tag: tag for tag, part in self.parts.items() if part.what.shape != "instrument"}

        def root(tag: str) -> str:
            while parent[tag] != tag:
                parent[tag] = parent[parent[tag]]
                tag = parent[tag]
            return tag

        for run in self.runs:
            first = root(tag_of(run.through[0]))
            for end in run.through[1:]:
                parent[root(tag_of(end))] = first
        islands: dict[str, list[str]] = defaultdict(list)
        for tag in parent:
            islands[root(tag)].append(tag)
        if len(islands) > 1:
            names = ["; ".join(", ".join(tags[:4]) + (", …" if len(tags) > 4 else "") for tags in islands.values())][0]
            self.refuse("runs", f"{len(islands)} plants that no pipe joins: {names[:400]}",
                        "write one plant a file, or the run that joins them")


def plant_from_data(data: Mapping[str, object]) -> Plant:
    """A checked plant from what `tomllib` gives. Raises BadPlant with every refusal at once."""
    return _Checker(data).plant()
