"""How the parts of a plant file are joined: each as often as its kind wants, and all of them one plant.

Works beside other faults. A place in a run that names no part may have meant one: such a `Lost` place
accounts for one part that lacks a joint, so that one slip of the pen is told once.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from .kinds import Kind
from .model import tag_of
from .refusal import a

Side = Literal["starts", "passes", "ends"]
Need = Literal["starts", "ends", "either"]
MOST_NAMED = 4


@dataclass(frozen=True, slots=True)
class Lost:
    """Stands for a place in a run whose text names no part. `guess`: the tag it may have meant, or ''."""

    guess: str = ""


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with how one part is joined (`tag`), or with the plant as a whole (`tag` is '')."""

    tag: str
    says: str
    mend: str


@dataclass(slots=True)
class Short:
    """A part, or a port of one, that is joined too seldom, and what it lacks."""

    tag: str
    end: str
    lacks: list[Need]

    def take(self, lost: Counter[tuple[str, Side]], guess: str) -> None:
        """Fill what is lacking from the lost places that guess at `guess`, and use those up."""
        if {"ends", "starts"} <= set(self.lacks) and lost[guess, "passes"] > 0:
            lost[guess, "passes"] -= 1
            self.lacks = []
        still: list[Need] = []
        for need in self.lacks:
            sides: tuple[Side, ...] = ("ends", "starts") if need == "either" else (need,)
            side = next((side for side in sides if lost[guess, side] > 0), None)
            if side is None:
                still.append(need)
            else:
                lost[guess, side] -= 1
        self.lacks = still


@dataclass
class Joints:
    """What the runs of a file join, as far as their text can be used.

    kinds: of every part whose kind is known.  tags: of every part, known kind or not.
    runs: the place of each run, and its ends in order: 'TAG', 'TAG.port' or `Lost`.
    unreadable: True where a run's `through` cannot be used at all, so that a missing joint proves nothing.
    told: ends of which a refusal has been given already.
    """

    kinds: Mapping[str, Kind]
    tags: Iterable[str]
    runs: Sequence[tuple[str, Sequence[str | Lost]]]
    unreadable: bool = False
    told: set[str] = field(default_factory=set)

    def faults(self) -> Iterator[Fault]:
        """Every fault in the joints: part by part, then of the plant as a whole."""
        self._enters: dict[str, list[str]] = defaultdict(list)
        self._leaves: dict[str, list[str]] = defaultdict(list)
        self._lost: Counter[tuple[str, Side]] = Counter()
        self._open: set[str] = set()
        for place, ends in self.runs:
            last = len(ends) - 1
            for n, end in enumerate(ends):
                if isinstance(end, Lost):
                    self._lost[end.guess, "starts" if n == 0 else "ends" if n == last else "passes"] += 1
                    continue
                if n > 0:
                    self._enters[end].append(place)
                if n < last:
                    self._leaves[end].append(place)
        short: list[Short] = []
        found: dict[str, list[Fault]] = defaultdict(list)
        for tag, kind in self.kinds.items():
            for end in [f"{tag}.{port}" for port in kind.ports] or [tag]:
                if end in self.told:
                    continue
                fault = self._too_often(tag, end, kind)
                if fault is not None:
                    found[tag].append(fault)
                elif lacks := self._lacks(end, kind):
                    short.append(Short(tag, end, lacks))
                    self._open.add(tag)
        bare: dict[str, list[str]] = defaultdict(list)
        for one in self._unaccounted(short):
            bare[one.tag].append(one.end)
        for tag, ends_of in bare.items():
            found[tag].append(self._joined(tag, ends_of[0], self.kinds[tag]) if len(ends_of) == 1 else
                              Fault(tag, f"{', '.join(ends_of)} join no run", "each is joined by one run end"))
        for tag in self.kinds:
            yield from found.get(tag, ())
        yield from self._islands()

    # -- one part --------------------------------------------------------------------------------------

    def _too_often(self, tag: str, end: str, kind: Kind) -> Fault | None:
        enters, leaves = self._enters[end], self._leaves[end]
        if kind.shape == "two ports":
            if len(enters) + len(leaves) > 2:
                return self._joined(tag, end, kind)
            if len(enters) == 2 or len(leaves) == 2:
                which = "ends" if enters else "starts"
                return Fault(tag, f"{which} two runs ({', '.join(enters + leaves)}), so it has no direction",
                             "turn one of them round, so that water enters by one and leaves by the other")
        elif kind.shape in ("end", "three ports", "four ports") and len(enters) + len(leaves) > 1:
            return self._joined(tag, end, kind)
        return None

    def _joined(self, tag: str, end: str, kind: Kind) -> Fault:
        places = self._enters[end] + self._leaves[end]
        wanted = {"two ports": "once on each side", "tee": "by two run ends or more"}.get(
            kind.shape, "by one run end")
        mend = f"{a(kind.name)} is joined {wanted}"
        if not places:
            return Fault(tag, f"{end} joins no run", mend)
        shown = ", ".join(places[:6]) + (", …" if len(places) > 6 else "")
        times = "once" if len(places) == 1 else f"{len(places)} times"
        return Fault(tag, f"{end} is joined {times} ({shown})", mend)

    def _lacks(self, end: str, kind: Kind) -> list[Need]:
        enters, leaves = len(self._enters[end]), len(self._leaves[end])
        if kind.shape == "two ports":
            return _needs("ends", 1 - enters) + _needs("starts", 1 - leaves)
        wanted = {"tee": 2, "instrument": 0}.get(kind.shape, 1)
        return _needs("either", wanted - enters - leaves)

    def _unaccounted(self, short: list[Short]) -> list[Short]:
        """Those that no lost place accounts for; a place that guesses at a part goes to that part first."""
        if self.unreadable:
            return []
        for one in short:
            one.take(self._lost, one.tag)
        rest: Counter[tuple[str, Side]] = Counter()
        for (_, side), count in self._lost.items():
            rest["", side] += count
        for one in short:
            one.take(rest, "")
        return [one for one in short if one.lacks]

    # -- the plant as a whole --------------------------------------------------------------------------

    def _islands(self) -> Iterator[Fault]:
        """Two plants in one file: said only where no other fault could be what parts them."""
        bare = (end for _, ends in self.runs for end in (ends[0], ends[-1]) if isinstance(end, Lost))
        if self.unreadable or any(not end.guess for end in bare):
            return
        parent = {tag: tag for tag in self.tags
                  if tag not in self.kinds or self.kinds[tag].shape != "instrument"}

        def root(tag: str) -> str:
            while parent[tag] != tag:
                parent[tag] = parent[parent[tag]]
                tag = parent[tag]
            return tag

        for _, ends in self.runs:
            tags = [tag for tag in (end.guess if isinstance(end, Lost) else tag_of(end) for end in ends)
                    if tag in parent]
            for tag in tags[1:]:
                parent[root(tag)] = root(tags[0])
        islands: dict[str, list[str]] = defaultdict(list)
        for tag in parent:
            islands[root(tag)].append(tag)
        sure = [tags for tags in islands.values() if self._stands_alone(tags)]
        if len(sure) > 1:
            names = "; ".join(", ".join(tags[:MOST_NAMED]) + (", …" if len(tags) > MOST_NAMED else "")
                              for tags in sure[:MOST_NAMED])
            more = "; …" if len(sure) > MOST_NAMED else ""
            yield Fault("", f"{len(sure)} plants that no pipe joins ({names}{more})",
                        "write one plant a file, or the run that joins them")

    def _stands_alone(self, tags: list[str]) -> bool:
        if any(tag not in self.kinds or tag in self._open for tag in tags):
            known = [self.kinds[tag].name for tag in tags if tag in self.kinds]
            return len(tags) > 1 and "boiler" in known
        return True


def _needs(need: Need, times: int) -> list[Need]:
    return [need] * max(0, times)
