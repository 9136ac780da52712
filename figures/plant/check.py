"""Everything that can be wrong with a plant file, found in one pass and told all at once.

`plant_from_data` takes what `tomllib` gives and returns a sound `Plant`, or raises `BadPlant` whose
`refusals` say where, what, and what to write instead. Each fault is told once: what cannot be judged because
something else is wrong is left alone until that is mended.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from .joints import Joints, Lost
from .kinds import KINDS, Key, Kind, Value
from .model import DESIGN_LIMITS, Design, Part, Plant, Run, port_of, tag_of
from .pipe import SIZES
from .refusal import CONTROL, BadPlant, Refusal, a, closest, key_path, near, shown

__all__ = ["BadPlant", "Refusal", "plant_from_data", "shown"]

TAG = re.compile(r"[A-Za-z][A-Za-z0-9_-]{0,23}\Z")
MARKUP = re.compile(r"<[A-Za-z/!?]")
LONGEST_TITLE = 120
MOST_PARTS = 20_000
MOST_RUNS = 60_000
MOST_GUESSES = 40
"""Near words are looked for this many times a file; one that is wrong throughout need not wait for more."""
RUN_NUMBERS = {"length_m": (0.001, 10_000.0), "k": (0.0, 10_000.0),
               "inside_mm": (1.0, 3_000.0), "roughness_mm": (0.0, 10.0)}
ROUGHEST = 0.05
"""Roughness over inside diameter up to which Colebrook's law holds (Moody, Trans. ASME 66, 1944, from memory)."""
RUN_KEYS = ("through", "size", "length_m", "k", "inside_mm", "roughness_mm")
FILE_KEYS = ("format", "title", "design", "parts", "runs")


@dataclass
class Untold:
    """A refusal that waits for what the joints say: where it stands, and what it says so far."""

    here: tuple[float, float]
    places: list[str]
    says: str
    mend: str
    guess: str = ""


class _Checker:
    def __init__(self, data: Mapping[str, object]) -> None:
        self.data = data
        self.told: list[tuple[tuple[float, float], Refusal]] = []
        self.sections: dict[str, float] = {name: n for n, name in enumerate(data)}
        self.here = (0.0, 0.0)              # where in the file: section, part or run
        self.parts: dict[str, Part] = {}    # sound ones
        self.kinds: dict[str, Kind] = {}    # of every part whose kind can be read, sound or not
        self.order: dict[str, int] = {}     # every key of the parts table
        self.runs: list[Run] = []
        self.joined: list[tuple[str, list[str | Lost]]] = []
        self.unreadable: list[Untold] = []  # runs whose `through` cannot be used at all
        self.partless = False               # there is no table of parts to judge the runs by
        self.refused_ends: set[str] = set()
        self.unknown: dict[str, Untold] = {}    # places in runs that name no part, by their word
        self.guesses = 0

    def at(self, section: str, index: float = 0.0) -> None:
        missing = -1.0 if section in ("format", "title") else float(len(self.sections))
        self.here = (self.sections.get(section, missing), index)

    def refuse(self, place: str, says: str, mend: str = "", part: str = "") -> None:
        self.told.append((self.here, Refusal(place, part, says, mend)))

    # -- the file as a whole ---------------------------------------------------------------------------

    def plant(self) -> Plant:
        for key in self.data:
            if key not in FILE_KEYS:
                self.at(key)
                self.refuse(key_path(key), "no such key in a plant file", near(key, FILE_KEYS))
        self._format()
        title = self._title()
        design = self._design()
        if self._parts() and self._runs():
            self._joints()
        if self.told:
            raise BadPlant(refusal for _, refusal in sorted(self.told, key=lambda told: told[0]))
        return Plant(title, self.parts, tuple(self.runs), design)

    def _format(self) -> None:
        self.at("format")
        if "format" not in self.data:
            self.refuse("format", "is missing", "write 'format = 1' as the first line")
        elif type(self.data["format"]) is not int or self.data["format"] != 1:
            self.refuse("format", f"{shown(self.data['format'])} is not known here", "write 'format = 1'")

    def _title(self) -> str:
        self.at("title")
        title = self.data.get("title", "")
        if not isinstance(title, str):
            self.refuse("title", f"must be text, not {shown(title)}", 'write title = "the name of the plant"')
            return ""
        if CONTROL.search(title):
            self.refuse("title", f"{shown(title)} holds a control character", "write one line of plain text")
        if MARKUP.search(title):
            self.refuse("title", f"{shown(title)} holds markup", "write plain text without tags such as <b>")
        if len(title) > LONGEST_TITLE:
            self.refuse("title", f"is {len(title)} characters long", f"use at most {LONGEST_TITLE}")
        return title

    def _design(self) -> Design:
        self.at("design")
        table = self.data.get("design", {})
        if not isinstance(table, Mapping):
            self.refuse("design", "must be a table", "write [design] and its figures below it")
            return Design()
        given: dict[str, float] = {}
        for key, value in table.items():
            place = key_path("design", key)
            if key not in DESIGN_LIMITS:
                self.refuse(place, "no such key", near(key, DESIGN_LIMITS))
                continue
            number = self._number(place, "", value, *DESIGN_LIMITS[key])
            if number is not None:
                given[key] = number
        design = Design(**given)
        if not self._bad({"supply_c", "return_c"}, table, given) and design.return_c >= design.supply_c:
            self.refuse(f"design.{'return_c' if 'return_c' in given else 'supply_c'}",
                        f"the return {design.return_c:g} °C is not below the supply {design.supply_c:g} °C",
                        "write a return colder than the supply")
        if not self._bad({"outdoor_c", "room_c"}, table, given) and design.outdoor_c >= design.room_c:
            self.refuse("design.outdoor_c" if "outdoor_c" in given else "design.room_c",
                        f"the outdoor {design.outdoor_c:g} °C is not below the room, {design.room_c:g} °C",
                        "write the coldest day that the plant is laid out for")
        return design

    @staticmethod
    def _bad(keys: set[str], written: Mapping[str, object], sound: Mapping[str, object]) -> bool:
        """True where one of these keys was written and refused, so that nothing more can be said of it."""
        return any(key in written and key not in sound for key in keys)

    def _number(self, place: str, part: str, value: object, low: float, high: float) -> float | None:
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.refuse(place, f"must be a number, not {shown(value)}", "write a bare figure", part)
            return None
        try:
            number = float(value)
        except OverflowError:
            number = math.inf
        span = f"from {low:g} to {high:g}" if math.isfinite(high) else f"of {low:g} or more"
        if not math.isfinite(number):
            self.refuse(place, f"must be a finite number, not {shown(value)}", f"write a figure {span}", part)
            return None
        if not low <= number <= high:
            self.refuse(place, f"{number:g} is out of range", f"write a figure {span}", part)
            return None
        return number

    # -- parts -----------------------------------------------------------------------------------------

    def _parts(self) -> bool:
        """Takes the parts; False where there are so many that nothing more is looked at."""
        self.at("parts")
        table = self.data.get("parts")
        if not isinstance(table, Mapping) or not table:
            self.refuse("parts", "no parts" if table is None or table == {} else "must be a table",
                        'write [parts.B1] and below it kind = "boiler"')
            self.partless = True
            return True
        if len(table) > MOST_PARTS:
            self.refuse("parts", f"{len(table)} parts are more than {MOST_PARTS}",
                        "split the plant into several files")
            return False
        self.order = {tag: n for n, tag in enumerate(table)}
        for tag, body in table.items():
            self.at("parts", self.order[tag])
            place = key_path("parts", tag)
            if TAG.match(tag):
                self._part(tag, place, body)
            else:
                self.refuse(place, "is no tag", "use a letter, then up to 23 letters, digits, '-' or '_'")
        for tag, body in table.items():
            if tag in self.kinds and self.kinds[tag].shape == "instrument":
                self.at("parts", self.order[tag])
                self._place_of_instrument(tag, body.get("at"))
        if len(self.kinds) == len(table) and not any(kind.name == "boiler" for kind in self.kinds.values()):
            self.at("parts", math.inf)
            self.refuse("parts", "no boiler", 'a plant has at least one part with kind = "boiler"')
        return True

    def _part(self, tag: str, place: str, body: object) -> None:
        if not isinstance(body, Mapping):
            self.refuse(place, "must be a table", f'write [parts.{tag}] and below it kind = "…"', tag)
            return
        name = body.get("kind")
        if not isinstance(name, str) or name not in KINDS:
            says = "is missing" if name is None else f"{shown(name)} is no kind of part"
            mend = near(name, KINDS) if isinstance(name, str) else ""
            self.refuse(f"{place}.kind", says, mend or "`loopbook parts` lists the kinds", tag)
            return
        kind = self.kinds[tag] = KINDS[name]
        before = len(self.told)
        given: dict[str, Value] = {}
        for key, value in body.items():
            if key == "kind":
                continue
            known = kind.key(key)
            if known is None:
                names = [k.name for k in kind.keys]
                mend = near(key, names) if names else "it takes no keys but 'kind'"
                self.refuse(key_path("parts", tag, key), f"no key of {a(kind.name)}", mend, tag)
                continue
            checked = self._value(key_path("parts", tag, key), tag, known, value)
            if checked is not None:
                given[key] = checked
        self._whole(place, tag, kind, body, given)
        if len(self.told) == before:
            self.parts[tag] = Part(tag, name, given)

    def _value(self, place: str, tag: str, key: Key, value: object) -> Value | None:
        if key.type == "number":
            return self._number(place, tag, value, key.low, key.high)
        if key.type == "flag":
            if isinstance(value, bool):
                return value
            self.refuse(place, f"must be true or false, not {shown(value)}", "write it without quotes", tag)
            return None
        if not isinstance(value, str):
            self.refuse(place, f"must be text, not {shown(value)}", "write it in quotes", tag)
            return None
        if key.type == "choice" and value not in key.choices:
            self.refuse(place, f"{shown(value)} is no choice here", near(value, key.choices), tag)
            return None
        return value

    def _whole(self, place: str, tag: str, kind: Kind, body: Mapping[str, object],
               given: Mapping[str, Value]) -> None:
        """Checks that need more than one key of a part; none on a key that is refused already."""
        part = Part(tag, kind.name, given)
        for key in kind.keys:
            if key.required and key.name not in body:
                example = key.choices[0] if key.choices else "B1"
                self.refuse(f"{place}.{key.name}", "is missing", f'write {key.name} = "{example}"', tag)
        if kind.name == "pump" and not self._bad({"shutoff_m", "rated_m"}, body, given):
            rated_m, shutoff_m = part.number("rated_m"), part.number("shutoff_m")
            if not rated_m < shutoff_m:
                self.refuse(f"{place}.{'rated_m' if 'rated_m' in given else 'shutoff_m'}",
                            f"the rated head {rated_m:g} m is not below the shutoff head {shutoff_m:g} m",
                            "a pump's head falls as its flow rises", tag)
        if kind.key("return_c") and not self._bad({"supply_c", "return_c"}, body, given):
            supply_c, return_c = part.number("supply_c"), part.number("return_c")
            if not return_c < supply_c:
                self.refuse(f"{place}.{'return_c' if 'return_c' in given else 'supply_c'}",
                            f"the return {return_c:g} °C is not below the supply {supply_c:g} °C",
                            "write a return colder than the supply", tag)
        if kind.name == "temperature sensor" and "role" in given:
            if given["role"] == "outdoor" and "at" in body:
                self.refuse(f"{place}.at", "an outdoor sensor is at no part", "leave 'at' out", tag)
            elif given["role"] != "outdoor" and "at" not in body:
                self.refuse(f"{place}.at", "is missing", "write the tag of what it is fixed to", tag)

    def _place_of_instrument(self, tag: str, at: object) -> None:
        outdoor = self.data["parts"][tag].get("role") == "outdoor"  # type: ignore[index]
        if not isinstance(at, str) or outdoor or (at in self.order and at not in self.kinds):
            return
        place, other = f"parts.{tag}.at", tag_of(at)
        kind, port = self.kinds.get(other), port_of(at)
        if kind is None:
            if other not in self.order:
                close = self._guess(other)
                self.refuse(place, f"{shown(at)} is no part of this plant",
                            f"did you mean '{close}'?" if close else "name a part of this plant", tag)
        elif kind.shape == "instrument":
            self.refuse(place, f"{other} is an instrument itself", "name what it is fixed to", tag)
        elif self.kinds[tag].name != "temperature sensor" and kind.name != "boiler":
            self.refuse(place, f"{other} is {a(kind.name)}", "name a boiler", tag)
        elif "." in at and port not in kind.ports:
            self.refuse(place, f"{other} has no port {shown(port)}",
                        near(port, kind.ports) or f"write '{other}'", tag)

    def _guess(self, tag: str, on_a_run: bool = False) -> str:
        """The tag of this plant that may have been meant, or ''."""
        self.guesses += 1
        if self.guesses > MOST_GUESSES:
            return ""
        return closest(tag, (tag for tag, kind in self.kinds.items()
                             if not (on_a_run and kind.shape == "instrument")))

    # -- runs ------------------------------------------------------------------------------------------

    def _runs(self) -> bool:
        """Takes the runs; False where there are none to judge the joints by."""
        self.at("runs")
        rows = self.data.get("runs")
        if not isinstance(rows, list) or not rows:
            self.refuse("runs", "no runs" if rows is None or rows == [] else "must be a list of tables",
                        'write [[runs]] and below it through = ["B1", "…"]')
            return False
        if len(rows) > MOST_RUNS:
            self.refuse("runs", f"{len(rows)} runs are more than {MOST_RUNS}",
                        "split the plant into several files")
            return False
        for index, row in enumerate(rows):
            self.at("runs", index)
            self._run(f"runs[{index}]", row)
        return True

    def _run(self, place: str, row: object) -> None:
        if not isinstance(row, Mapping):
            self.unreadable.append(Untold(self.here, [place], "must be a table", "write [[runs]] and its keys below it"))
            return
        before = len(self.told)
        through = row.get("through")
        name = _run_name(through)
        for key in row:
            if key not in RUN_KEYS:
                self.refuse(f"{place}.{key_path(key)}", "no key of a run", near(key, RUN_KEYS), name)
        numbers = {key: self._number(f"{place}.{key}", name, row[key], *RUN_NUMBERS[key])
                   for key in RUN_NUMBERS if key in row}
        if "length_m" not in row:
            self.refuse(f"{place}.length_m", "is missing", "write the run's length in metres", name)
        inside, rough = numbers.get("inside_mm"), numbers.get("roughness_mm")
        if inside is not None and rough is not None and rough / 1000 / (inside / 1000) > ROUGHEST:
            says = f"{rough:g} mm in a pipe {inside:g} mm wide is rougher than friction is known for"
            self.refuse(f"{place}.roughness_mm", says, f"write at most a twentieth of inside_mm, {ROUGHEST * inside:g}",
                        name)
        self._size(place, name, row)
        ends = self._through(f"{place}.through", through)
        if len(self.told) == before and ends and not any(isinstance(end, Lost) for end in ends):
            self.runs.append(Run(
                tuple(through), numbers["length_m"] or 0.0, row.get("size"),  # type: ignore[arg-type]
                numbers.get("k") or 0.0, numbers.get("inside_mm"), numbers.get("roughness_mm")))

    def _size(self, place: str, name: str, row: Mapping[str, object]) -> None:
        size = row.get("size")
        own = [key for key in ("inside_mm", "roughness_mm") if key in row]
        if size is None and len(own) < 2:
            missing = "size" if not own else ({"inside_mm", "roughness_mm"} - set(own)).pop()
            self.refuse(f"{place}.{missing}", "is missing",
                        'write size = "NPS 2", or both inside_mm and roughness_mm', name)
        elif size is not None and own:
            self.refuse(f"{place}.size", f"stands beside {' and '.join(own)}", "say it one way only", name)
        elif size is not None and (not isinstance(size, str) or size not in SIZES):
            mend = near(size, SIZES) if isinstance(size, str) else ""
            self.refuse(f"{place}.size", f"{shown(size)} is no size",
                        mend or 'write for example "NPS 2" or "CU 1"', name)

    def _through(self, place: str, row: object) -> Sequence[str | Lost]:
        if not isinstance(row, list) or len(row) < 2:
            says = "is missing" if row is None else "must be a list of two or more tags"
            self.unreadable.append(Untold(self.here, [place], says, 'write through = ["B1", "PB1", "A"]'))
            return []
        last, seen, ends = len(row) - 1, dict[str, int](), list[str | Lost]()
        for n, end in enumerate(row):
            at = f"{place}[{n}]"
            if not isinstance(end, str):
                ends.append(self._lost(at, at, f"must be a tag, not {shown(end)}", 'write it in quotes, such as "B1"'))
                continue
            joins = self._end(at, end, inside=0 < n < last)
            if isinstance(joins, str):
                first = seen.setdefault(joins, n)
                ring = first == 0 and n == last > 1     # a run may come home to where it began
                if first != n and not ring:
                    self.refused_ends.add(joins)
                    self.refuse(at, f"{shown(end)} stands in this run already, at [{first}]",
                                "name each part once in a run", tag_of(end))
                    continue
            if joins is not None:
                ends.append(joins)
        self.joined.append((place.partition(".")[0], ends))
        return ends

    def _end(self, place: str, end: str, inside: bool) -> str | Lost | None:
        """What an entry of `through` joins: an end; or nobody knows what; or, an instrument's, nothing."""
        tag, port = tag_of(end), port_of(end)
        kind = self.kinds.get(tag)
        if self.partless:
            return Lost(tag)
        if kind is None:
            if tag in self.order or end in self.order:      # its own text is refused already
                return tag
            write = f"write [parts.{tag}] or mend the tag" if TAG.match(tag) else "mend the tag"
            return self._lost(tag, place, f"{shown(tag)} is no part of this plant", write, guess=True)
        if kind.shape == "instrument":
            self.refuse(place, f"{tag} is {a(kind.name)}, which lies on no run",
                        "leave it out; its 'at' says where it is", tag)
            return None
        if kind.ports and port not in kind.ports:
            says = f"{a(kind.name)} has no port {shown(port)}" if port else "names no port"
            self.refuse(place, says, f"write one of {', '.join(f'{tag}.{p}' for p in kind.ports)}", tag)
            return Lost(place, tag, sure=True)
        if not kind.ports and "." in end:
            self.refuse(place, f"{a(kind.name)} has no ports", f"write '{tag}'", tag)
            return tag
        if inside and kind.shape != "two ports":
            self.refused_ends.add(end)
            self.refuse(place, f"{end} is {a(kind.name)} and stands inside a run",
                        f"end the run at {end} and start the next there" if kind.shape == "tee" else
                        "it can only begin or end a run", tag)
        return end

    def _lost(self, word: str, place: str, says: str, mend: str, guess: bool = False) -> Lost:
        """A place that names no part; places with the same word are told once."""
        if word not in self.unknown:
            close = self._guess(word, on_a_run=True) if guess else ""
            self.unknown[word] = Untold(self.here, [], says, mend, close)
        self.unknown[word].places.append(place)
        return Lost(word, self.unknown[word].guess)

    def _joints(self) -> None:
        joints = Joints(self.kinds, self.order, self.joined, bool(self.unreadable), self.refused_ends)
        faults = [] if self.partless else joints.faults()
        for word, lost in self.unknown.items():
            self.here = lost.here
            place, *others = lost.places
            also = f" (also at {', '.join(others[:3])}{', …' if len(others) > 3 else ''})" if others else ""
            tag, how = joints.claims.get(word, (lost.guess, ""))
            which = f"did you mean '{tag}'{', which ' * bool(how)}{how}? If not, " if tag else ""
            self.refuse(place, lost.says + also, which + lost.mend)
        for n, run in enumerate(self.unreadable):
            self.here = run.here
            bare = joints.lacking[:8] if n == 0 else []
            more = ", …" if len(joints.lacking) > 8 else ""
            self.refuse(run.places[0], run.says, run.mend + (
                f"; joined too seldom: {', '.join(bare)}{more}" if bare else ""))
        for fault in faults:
            self.at("parts" if fault.tag else "runs", self.order.get(fault.tag, math.inf))
            self.refuse(f"parts.{fault.tag}" if fault.tag else "runs", fault.says, fault.mend, fault.tag)


def _run_name(through: object) -> str:
    """What a run is called in a message: its end tags, or '' where they cannot be read."""
    if not isinstance(through, list) or len(through) < 2:
        return ""
    ends = [tag_of(end) for end in (through[0], through[-1]) if isinstance(end, str)]
    return ">".join(ends) if len(ends) == 2 and all(TAG.match(tag) for tag in ends) else ""


def plant_from_data(data: Mapping[str, object]) -> Plant:
    """A checked plant from what `tomllib` gives. Raises BadPlant with every refusal at once."""
    return _Checker(data).plant()
