"""Find the fault: point at the place on the drawing, say what is wrong there, or that nothing is."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import ipywidgets
from traitlets import Bunch

from figures.plant import BadPlant, Plant, parse_plant, write_plant
from widgets.learn import BadAnswer, Record, Row
from widgets.learn.consent import record_of
from widgets.learn.find import Claim, ClaimMark, FindMark, FindTask, find_task, mark_places, task_of
from widgets.learn.wrong import WRONG

from .canvas import Canvas, Style, unread
from .claims import Claims, places_of, told_of
from .given import any_seed, sound_seed
from .pieces import beside, options
from .task import TRIES, PlantTask, guarded

if TYPE_CHECKING:
    from figures.plant.scheme import Scheme

ASK = "Click the part or pipe that is wrong, or go to it with Tab and the arrow keys and press Enter."
THEN = "Say what is wrong there, and press Add."
ITEM = "find the fault"
LIT: dict[str, Style] = {"found": "right", "half": "look", "false alarm": "wrong", "noted": "look", "again": "right",
                         "shown": "look", "": "look"}


class FindTheFault(PlantTask):
    """A plant to be judged: point at what is wrong and say what it is, as often as needed; or say that nothing is.

    seed: which made plant to begin with, 0 to 999999; one at random unless said.  plant: a plant of your own in place of a
    made one: a `Plant`, a `Scheme`, or the path of a plant file.  faults: how many things are spoilt on made plants, 0 to 3; by
    chance unless said.  record, key: as for `Exercise`.  size: 'small' for made plants of few parts.

    What counts is what the piping rules say must or should be fixed.  Raises ValueError for a seed or a number of
    faults that is none, and BadAnswer from its methods for a place or words that are none.

    >>> find = FindTheFault(seed=5, faults=1, record=False)
    >>> for claim in find.task.right:
    ...     find.claim(claim.place, claim.rule)
    >>> find.check()
    >>> print(find.verdict())
    1 of 1 found.
    """

    def __init__(self, seed: int | None = None, plant: Plant | Scheme | str | Path | None = None, faults: int | None = None,
                 record: Record | Literal[False] | None = None, key: str = "",
                 size: Literal["any", "small"] = "any") -> None:
        self.key, self.size, self.faults = key, size, faults
        self.record = record_of(record)
        self.seed: int | None = None
        self.task: FindTask | None = None
        self.first: FindMark | None = None
        self.mark: FindMark | None = None
        self._origin = "any"
        self._said: list[Claim] = []
        self._marked: dict[Claim, ClaimMark] = {}
        self._tries = 0
        self._replaying = False
        self._build()
        super().__init__([self.head, self.body, self.report, self.bar, self.caution])
        self.add_class("lb-exercise")
        self.add_class("lb-find")
        self._begin(seed, plant)

    def __repr__(self) -> str:
        return f"<FindTheFault on {self._name()}>"

    # -- building --------------------------------------------------------------------------------------

    def _build(self) -> None:
        self.canvas = Canvas(pickable=True)
        self.claims = Claims()
        self.panel = ipywidgets.VBox([self.claims])
        self.body = beside(self.canvas, self.panel)
        self._build_bar("Show the answer", self.check, self.show_answer, self.another)
        self.canvas.observe(self._on_pick, "n")
        self.claims.observe(self._on_place, "place")
        self.claims.observe(self._on_add, "add_pressed")
        self.claims.observe(self._on_remove, "remove_pressed")
        self.claims.observe(self._on_look, "look_pressed")

    def _begin(self, seed: int | None, plant: Plant | Scheme | str | Path | None) -> None:
        try:
            own = self._given(seed, plant, [f"{self.faults} faults", self.size])
        except BadPlant as bad:
            self._unreadable(bad)
            return
        rows = self._kept()
        if rows:
            # The plant itself is kept, not its seed alone: a newer Loopbook may make another from the same seed.
            self._take(task_of(parse_plant(rows[0].plant), rows[0].seed))
            self._replay(rows[1:])
            return
        if own is None:
            self._take(find_task(any_seed() if seed is None else seed, self.faults, self.size))
        else:
            self._take(task_of(own))
        self._keep("plant")

    def _take(self, task: FindTask) -> None:
        from figures.drawing import Diagram

        self._diagram = Diagram(task.plant, task.reading)
        svg, words = unread(self._diagram)
        self.task, self.seed = task, task.seed
        self.first = self.mark = None
        self._said, self._marked, self._tries = [], {}, 0
        with self.canvas.hold_sync():
            self.canvas.light([])
            self.canvas.hide, self.canvas.caption = ["tints"], ASK
            self.canvas.svg, self.canvas.description = svg, words
        with self.claims.hold_sync():
            self.claims.place = self.claims.word = self.claims.told = self.claims.says = self.claims.state = ""
            self.claims.nothing = self.claims.locked = False
            self.claims.places = places_of(task.plant)
            self.claims.words = options([(rule, WRONG[rule].label) for rule in task.rules])
        self._list()
        self.head.text = self._name()
        self.seed_box.value = "" if task.seed is None else str(task.seed)
        self._tell("")

    def _name(self) -> str:
        number = "This plant" if self.seed is None else f"{'Small plant' if self.size == 'small' else 'Plant'} {self.seed}"
        return f"{number}: {self.task.plant.title}" if self.task and self.task.plant.title else number

    # -- what buttons call, and tests and hidden cells too -----------------------------------------------

    def pick(self, place: str) -> None:
        """Point at a part or a pipe. Raises BadAnswer for what is neither."""
        if place not in self._task().places:
            raise BadAnswer(f"there is no part or pipe '{place[:60]}' on this plant")
        self.claims.place = place

    def claim(self, place: str, rule: str) -> None:
        """Say what is wrong at a place. Raises BadAnswer for a place or words that are not offered."""
        if self.claims.locked:
            raise BadAnswer("this plant is done; take another")
        made = Claim(place, rule)
        mark_places(self._task(), [made])
        if made in self._said:
            raise BadAnswer(f"You have said so already: {place}: {WRONG[rule].label}.")
        self._said.append(made)
        self.claims.nothing = False
        self._list()

    def withdraw(self, at: int) -> None:
        """Take back what was said, by its place in the list. What was found already stays."""
        if not self.claims.locked and 0 <= at < len(self._said) and self._removable(self._said[at]):
            gone = self._said.pop(at)
            self._marked.pop(gone, None)
            self._list()

    def say_nothing_is_wrong(self) -> None:
        """Tick the box that says so."""
        if not self.claims.locked:
            self.claims.nothing = True

    def check(self) -> None:
        """Mark what was said. Where it is not all right there is one more try; then the answer is shown."""
        task = self._task()
        live = [claim for claim in self._said if self._verdict(claim) != "false alarm"]
        if self.claims.locked:
            return
        if not live and not self.claims.nothing:
            raise BadAnswer("Point at what is wrong and say what it is, or say that nothing is wrong here.")
        if live and self.claims.nothing:
            raise BadAnswer("You say that nothing is wrong, and point at something as well. Take one of the two back.")
        given = mark_places(task, live)
        if worn := [one.claim for one in given.claims if one.verdict == "false alarm" and self._verdict(one.claim) == "half"]:
            live = [claim for claim in live if claim not in worn]      # a half guess that a better one has taken over
            self._said = [claim for claim in self._said if claim not in worn]
            given = mark_places(task, live)
        self._tries += 1
        # On disk before the screen says so.
        self._keep("answer", [[claim.place, claim.rule] for claim in live], given)
        self.mark = given
        self.first = self.first or given
        self._marked |= {one.claim: one for one in given.claims}
        with self.claims.hold_sync():
            self.claims.says = given.because
            if given.right:
                self.claims.state, self.claims.locked = "right", True
            else:
                self.claims.state = "part" if given.points else "again"
        if given.right or self._tries >= TRIES:
            self._finish()
        else:
            self.claims.nothing = False
            self._list()
            self._tell(f"{given.because} One more try: read the reasons, and look again.", "wrong")

    def show_answer(self) -> None:
        """Show what is wrong here, every fault with a number on the drawing."""
        if not self.claims.locked:
            self._keep("shown")
            self._finish()

    def another(self, seed: int | None = None) -> None:
        """Take another made plant: that of the seed, or any. Raises ValueError for what is no seed."""
        self._take(find_task(any_seed() if seed is None else sound_seed(seed), self.faults, self.size))
        self._keep("plant")

    def verdict(self) -> str:
        """How it stands, in a sentence: the same text for the same answers."""
        return self.mark.because if self.mark else "Not answered."

    # -- what shows --------------------------------------------------------------------------------------

    def _task(self) -> FindTask:
        if self.task is None:
            raise BadAnswer("There is no plant here; take another.")
        return self.task

    def _verdict(self, claim: Claim) -> str:
        return self._marked[claim].verdict if claim in self._marked else ""

    def _removable(self, claim: Claim) -> bool:
        return self._verdict(claim) != "found"

    def _list(self) -> None:
        """The claims beside the drawing, and their places lit up on it."""
        locked = self.claims.locked
        self.claims.claims = [self._row(claim.place, claim.rule, self._verdict(claim),
                                        self._marked[claim].because if claim in self._marked else "",
                                        not locked and self._removable(claim)) for claim in self._said]
        self._light()

    def _row(self, place: str, rule: str, state: str, says: str, removable: bool) -> dict[str, object]:
        return {"place": place, "label": WRONG[rule].label, "state": state, "says": says, "removable": removable}

    def _light(self, also: Sequence[str] = ()) -> None:
        marks: dict[str, Style] = {}
        for claim in self._said:
            style = LIT[self._verdict(claim)]
            marks[claim.place] = style if marks.get(claim.place) in (None, "look") else marks[claim.place]
        place = self.claims.place
        marks |= dict.fromkeys((*also, *([place] if place else [])), "look")
        caption = self.canvas.caption
        with self.canvas.hold_sync():
            self.canvas.light(marks)
            self.canvas.caption = caption

    def _finish(self) -> None:
        """All is told: each fault with its number, the loops tinted, the whole description."""
        task = self._task()
        given = self.mark or mark_places(task, ())
        shown = [fault for fault, share in zip(task.faults, given.shares) if share < 1]
        with self.claims.hold_sync():
            self.claims.locked, self.claims.place = True, ""
            if self.claims.state != "right":
                self.claims.state = "shown"
            if task.sound:
                self.claims.says = "Nothing is wrong here that must or should be mended."
                self.claims.nothing = True
        self._list()
        numbers = {id(fault): at for at, fault in enumerate(task.faults, 1)}
        rows = []
        for claim, row in zip(self._said, self.claims.claims):
            one = self._marked.get(claim)
            number = f" (number {one.fault + 1})" if one and one.verdict == "found" and one.fault is not None else ""
            rows.append({**row, "label": f"{row['label']}{number}"})
        for fault in shown:
            where = next(iter((*fault.finding.parts, *fault.finding.pipes)))
            row = self._row(where, fault.finding.rule, "shown", f"{fault.finding.says} {fault.finding.fix}", False)
            rows.append({**row, "label": f"{row['label']} (number {numbers[id(fault)]})"})
        self.claims.claims = rows
        with self.canvas.hold_sync():
            self.canvas.hide, self.canvas.description = ["figures", "temperatures"], self._diagram.description
            self.canvas.caption = ("Numbers stand at what must or should be mended." if task.faults else
                                   "Nothing here must or should be mended.")
            self.canvas.svg = self._diagram.svg(findings=[fault.finding for fault in task.faults])
        self._light([name for fault in shown for name in (*fault.finding.parts, *fault.finding.pipes)])
        if self.mark:
            self._tell(_score(given), "right" if given.right else "wrong")
        else:
            self._tell(f"0 of {given.of:g} points: the answer was shown.", "wrong")

    # -- the record ----------------------------------------------------------------------------------------

    def _keep(self, kind: str, answer: object = None, given: FindMark | None = None) -> None:
        if self.record is None or self._replaying or self.task is None:
            return
        more: dict[str, object] = {"origin": self._origin} if kind == "plant" else {}
        if given is not None:
            more = {"try": self._tries, "misconception": None, "hints": 0, "false alarms": given.false_alarms,
                    "faults": [{"rule": f.finding.rule, "objective": WRONG[f.finding.rule].objective, "points": share}
                               for f, share in zip(self.task.faults, given.shares)]}
        self._add(kind, item="" if kind == "plant" else ITEM, objective="" if kind == "plant" else self.task.objective,
                  plant=write_plant(self.task.plant), answer=answer, points=given.points if given else None,
                  of=given.of if given else None, more=more)

    def _replay(self, rows: Sequence[Row]) -> None:
        """What was said before the kernel went away, marked again by today's rules."""
        self._replaying = True
        try:
            for row in rows:
                if self.claims.locked or row.item != ITEM:
                    continue
                if row.kind == "shown":
                    self.show_answer()
                elif row.kind == "answer" and isinstance(row.answer, list):
                    self._said = [claim for claim in self._said if self._verdict(claim) == "false alarm"]
                    self._said += [Claim(*pair) for pair in row.answer if self._offered(pair)]
                    self.claims.nothing = not row.answer
                    self.check()
        finally:
            self._replaying = False

    def _offered(self, pair: object) -> bool:
        return (isinstance(pair, list) and len(pair) == 2 and pair[0] in self._task().places
                and pair[1] in self._task().rules)

    # -- presses -------------------------------------------------------------------------------------------

    @guarded
    def _on_pick(self, change: Bunch) -> None:
        if not self.claims.locked:
            self.pick(self.canvas.picked)
        elif self.task is not None:
            self.canvas.caption = told_of(self.task.plant, self.canvas.picked)

    @guarded
    def _on_place(self, change: Bunch) -> None:
        told = told_of(self._task().plant, change.new) if change.new else ""
        self.claims.told = told
        self.canvas.caption = f"{told} {THEN}" if told else ASK
        self._light()

    @guarded
    def _on_add(self, change: Bunch) -> None:
        place, word = [*self.claims.asked, "", ""][:2]
        if not place:
            raise BadAnswer("Point at a part or a pipe first.")
        if not word:
            raise BadAnswer(f"Choose what is wrong at {place} first.")
        self.claim(place, word)
        self._tell("")

    @guarded
    def _on_remove(self, change: Bunch) -> None:
        self.withdraw(self.claims.at)

    @guarded
    def _on_look(self, change: Bunch) -> None:
        rows = self.claims.claims
        if 0 <= self.claims.at < len(rows):
            place = str(rows[self.claims.at]["place"])
            one = next((self._marked[c] for c in self._said if c in self._marked and c.place == place), None)
            self._light([place] if one is None or one.verdict not in ("found", "false alarm") else [])
            self.canvas.caption = told_of(self._task().plant, place)
            self.canvas.come_into_view += 1


def _score(given: FindMark) -> str:
    """Points, and what they are made of."""
    found, half, false = given.shares.count(1.0), given.shares.count(0.5), given.false_alarms
    parts = [f"{found} of {len(given.shares)} found"] if given.shares else []
    parts += [f"{half} half found"] if half else []
    parts += [f"{false} false alarm{'s' if false > 1 else ''}"] if false else []
    return f"{given.points:g} of {given.of:g} points" + (f": {', '.join(parts)}." if parts else ".")
