"""Changes to a plant's data before it is checked: take a part out, put one in, join a pipe elsewhere."""

from __future__ import annotations

import random
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .scheme import Scheme

Row = dict[str, Any]


class Spoiler:
    """The data of one scheme's plant, and what a fault may do to it."""

    def __init__(self, scheme: Scheme, data: dict[str, Any], name: str) -> None:
        self.scheme = scheme
        self.parts: dict[str, Row] = data["parts"]
        self.runs: list[Row] = data["runs"]
        # A text seed is hashed with SHA-512, so the choice is the same on every machine.
        self.chance = random.Random(f"{scheme.title}|{scheme.boilers}|{scheme.emitters}|{name}")

    def __contains__(self, tag: str) -> bool:
        return tag in self.parts

    def boiler(self) -> int:
        """The number of one boiler."""
        return self.chance.randint(1, self.scheme.boilers)

    def tags(self, *kinds: str) -> list[str]:
        """Tags of these kinds."""
        return [tag for tag, body in self.parts.items() if body["kind"] in kinds]

    def home(self, tag: str) -> Row:
        """The run inside which a part stands."""
        return next(run for run in self.runs if tag in run["through"][1:-1])

    def run_of(self, start: str, end: str) -> Row:
        """The run that holds both, in this order."""
        return next(
            run
            for run in self.runs
            if start in run["through"]
            and end in run["through"]
            and run["through"].index(start) < run["through"].index(end)
        )

    def new_tag(self, stem: str) -> str:
        """A tag that no part has yet."""
        return next(tag for n in range(1, 1000) if (tag := f"{stem}{n}") not in self.parts)

    def take_out(self, tag: str) -> None:
        """Take a part out of its run, which closes up, or an end part with its pipe, or an instrument."""
        body = self.parts.pop(tag)
        for run in self.runs:
            if tag in run["through"][1:-1]:
                run["through"].remove(tag)
                break
            if body["kind"] not in ("boiler",) and run["through"][-1] == tag:
                self.runs.remove(run)
                for inner in run["through"][1:-1]:
                    del self.parts[inner]
                break

    def put_in(self, run: Row, place: int, kind: str, stem: str, **keys: Any) -> str:
        """Put a new part at a place in a run. Returns its tag."""
        tag = self.new_tag(stem)
        self.parts[tag] = {"kind": kind, **keys}
        run["through"].insert(place, tag)
        return tag

    def tee_in(self, run: Row, place: int, stem: str = "Q") -> str:
        """Cut a run with a new tee, which stands at that place of it. Returns the tee's tag."""
        tee = self.new_tag(stem)
        self.parts[tee] = {"kind": "tee"}
        through, share = run["through"], place / len(run["through"])
        rest = {
            **run,
            "through": [tee, *through[place:]],
            "length_m": round(run["length_m"] * (1.0 - share), 4),
        }
        run["through"] = [*through[:place], tee]
        run["length_m"] = round(run["length_m"] * share, 4)
        if "k" in run:
            rest["k"], run["k"] = round(run["k"] * (1.0 - share), 2), round(run["k"] * share, 2)
        self.runs.append(rest)
        return tee

    def tee_after(self, tag: str) -> str:
        """A tee straight behind a part that stands in a run: the one that is there, or a new one."""
        run = self.home(tag)
        place = run["through"].index(tag) + 1
        after = run["through"][place]
        if place == len(run["through"]) - 1 and self.parts.get(after, {}).get("kind") == "tee":
            return str(after)
        return self.tee_in(run, place)

    def move_end(self, run: Row, end: str) -> None:
        """Let a run end at another tee; where the old one is left with one pipe, a drain goes on it."""
        old, run["through"][-1] = run["through"][-1], end
        if sum(old in (r["through"][0], r["through"][-1]) for r in self.runs) == 1:
            drain = self.new_tag("DQ")
            self.parts[drain] = {"kind": "drain"}
            self.runs.append({"through": [old, drain], "size": "NPS 3/4", "length_m": 0.3})

    def arriving(self, end: str) -> Row:
        """The run that ends at a node or port."""
        return next(run for run in self.runs if run["through"][-1] == end)

    def expansion_run(self) -> Row:
        """The pipe to the expansion tank."""
        return self.arriving("XT")
