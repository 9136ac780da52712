"""How the parts of a plant file are joined: each as often as its kind wants, and all of them one plant.

Works beside other faults. A place in a run that names no part may have meant one: such a `Lost` place claims a part
that lacks just that joint, and the two are told as one fault, for one slip of the pen is behind both.
"""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
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
    """Stands for a place in a run whose text names no part.

    word: the same for places that name the same unknown part.  guess: the tag it may have meant, or ''.
    sure: nothing but a port of `guess` can be meant.
    """

    word: str
    guess: str = ""
    sure: bool = False


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


@dataclass
class Joints:
    """What the runs of a file join, as far as their text can be used.

    kinds: of every part whose kind is known.  tags: of every part, known kind or not.
    runs: the place of each run, and its ends in order: 'TAG', 'TAG.port' or `Lost`.
    unreadable: True where a run's `through` cannot be used at all, so that a missing joint proves nothing.
    told: ends of which a refusal has been given already.

    After `faults` claims says for the word of a lost place which part it may have meant and how that is joined,
    and lacking names the ends that may be missing because a run cannot be read.
    """

    kinds: Mapping[str, Kind]
    tags: Iterable[str]
    runs: Sequence[tuple[str, Sequence[str | Lost]]]
    unreadable: bool = False
    told: set[str] = field(default_factory=set)
    claims: dict[str, tuple[str, str]] = field(default_factory=dict)
    lacking: list[str] = field(default_factory=list)

    def faults(self) -> list[Fault]:
        """Every fault in the joints: part by part, then of the plant as a whole."""
        self._enters: dict[str, list[str]] = defaultdict(list)
        self._leaves: dict[str, list[str]] = defaultdict(list)
        self._lost: dict[tuple[Side, str], deque[Lost]] = defaultdict(deque)     # by side and guess
        self._open: set[str] = set()
        for place, ends in self.runs:
            last = len(ends) - 1
            for n, end in enumerate(ends):
                if isinstance(end, Lost):
                    self._lost["starts" if n == 0 else "ends" if n == last else "passes", end.guess].append(end)
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
        for one in self._unclaimed(short):
            bare[one.tag].append(one.end)
        for tag, ends_of in bare.items():
            found[tag].append(self._joined(tag, ends_of[0], self.kinds[tag]) if len(ends_of) == 1 else
                              Fault(tag, f"{', '.join(ends_of)} join no run", "each is joined by one run end"))
        return [*(fault for tag in self.kinds for fault in found.get(tag, ())), *self._islands()]

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

    def _how(self, end: str) -> str:
        places = self._enters[end] + self._leaves[end]
        if not places:
            return "joins no run"
        shown = ", ".join(places[:6]) + (", …" if len(places) > 6 else "")
        return f"is joined {'once' if len(places) == 1 else f'{len(places)} times'} ({shown})"

    def _joined(self, tag: str, end: str, kind: Kind) -> Fault:
        wanted = {"two ports": "once on each side", "tee": "by two run ends or more"}.get(kind.shape, "by one run end")
        return Fault(tag, f"{end} {self._how(end)}", f"{a(kind.name)} is joined {wanted}")

    def _lacks(self, end: str, kind: Kind) -> list[Need]:
        enters, leaves = len(self._enters[end]), len(self._leaves[end])
        if kind.shape == "two ports":
            return _needs("ends", 1 - enters) + _needs("starts", 1 - leaves)
        wanted = {"tee": 2, "instrument": 0}.get(kind.shape, 1)
        return _needs("either", wanted - enters - leaves)

    def _unclaimed(self, short: list[Short]) -> list[Short]:
        """Those that no lost place may have meant; a place that guesses at a part is taken for that part first."""
        for one in short:
            self._claim(one, lambda side, tag=one.tag: self._lost[side, tag])    # type: ignore[misc]
        pools: dict[Side, deque[Lost]] = defaultdict(deque)
        for (side, _), places in self._lost.items():
            pools[side].extend(place for place in places if not place.sure)
        for one in short:
            self._claim(one, lambda side: pools[side])
        still = [one for one in short if one.lacks]
        if self.unreadable:
            self.lacking, still = [one.end for one in still], []
        return still

    def _claim(self, one: Short, pool: Callable[[Side], deque[Lost]]) -> None:
        """Take lost places for what a part lacks; places of one word are all taken for one part."""
        def taken(side: Side) -> bool:
            places = pool(side)
            while places:
                place = places.popleft()
                if self.claims.setdefault(place.word, (one.end, self._how(one.end)))[0] == one.end:
                    return True
            return False

        if {"ends", "starts"} <= set(one.lacks) and taken("passes"):
            one.lacks = []
        one.lacks = [need for need in one.lacks if not (
            taken("ends") or taken("starts") if need == "either" else taken(need))]

    # -- the plant as a whole --------------------------------------------------------------------------

    def _islands(self) -> Iterator[Fault]:
        """Two plants in one file: said only where no other fault could be what parts them."""
        bare = (end for _, ends in self.runs for end in (ends[0], ends[-1]) if isinstance(end, Lost))
        unsure = self.unreadable or any(not self._meant(end) for end in bare)
        parent = {tag: tag for tag in self.tags
                  if tag not in self.kinds or self.kinds[tag].shape != "instrument"}

        def root(tag: str) -> str:
            while parent[tag] != tag:
                parent[tag] = parent[parent[tag]]
                tag = parent[tag]
            return tag

        for _, ends in self.runs:
            tags = [tag for tag in (self._meant(end) if isinstance(end, Lost) else tag_of(end) for end in ends)
                    if tag in parent]
            for tag in tags[1:]:
                parent[root(tag)] = root(tags[0])
        islands: dict[str, list[str]] = defaultdict(list)
        for tag in parent:
            islands[root(tag)].append(tag)
        sure = [tags for tags in islands.values() if self._stands_alone(tags, unsure)]
        if len(sure) > 1:
            names = "; ".join(", ".join(tags[:MOST_NAMED]) + (", …" if len(tags) > MOST_NAMED else "")
                              for tags in sure[:MOST_NAMED])
            more = "; …" if len(sure) > MOST_NAMED else ""
            yield Fault("", f"{len(sure)} plants that no pipe joins ({names}{more})",
                        "write one plant a file, or the run that joins them")

    def _meant(self, lost: Lost) -> str:
        return tag_of(self.claims[lost.word][0]) if lost.word in self.claims else lost.guess

    def _stands_alone(self, tags: list[str], unsure: bool) -> bool:
        """True for parts that nothing else refused could tie to the rest."""
        known = [self.kinds[tag].name for tag in tags if tag in self.kinds]
        if unsure:      # a run that cannot be read may tie anything on, but hardly two boilers' plants
            return "boiler" in known and len(known) == len(tags) and not self._open & set(tags)
        if self._open & set(tags):
            return len(tags) > 1 and ("boiler" in known or len(known) < len(tags))
        return len(tags) > 1 or len(known) == 1     # one part of no known kind may be an instrument


def _needs(need: Need, times: int) -> list[Need]:
    return [need] * max(0, times)
