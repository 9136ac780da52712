"""Go with the water: on drawings that are tidy, crooked, untagged or lagged; and who runs on which call.

The way is that of `figures.drawing.views.trace`; what runs is what `figures.physics.operation` makes of a call.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

import ipywidgets

from figures.drawing.views import loads, trace
from figures.drawing.worn import LOOKS, Looks, worn
from figures.plant import Plant, parse_plant, write_plant
from figures.plant.scheme import Scheme
from figures.reading import read
from figures.reading.evidence import listed
from widgets.learn import Record, RecordTrouble
from widgets.learn.consent import record_of

from .canvas import Canvas
from .given import any_seed, plant_of, sound_seed
from .look import Look, look_at, what_is
from .pieces import Note, box
from .table import Cell, Table
from .task import guarded, origin_of

if TYPE_CHECKING:
    from figures.physics.operation import Operator

ITEM, OBJECTIVE = "walk", "R2"
ASK = "Click what the water meets next; or go to it with Tab and the arrow keys, and press Enter. Tees and pipes may be left out."
SLIPS = {0: "without a slip", 1: "with one slip"}
SHOWN = "?"
"""Among the clicks: the next part was shown."""
FREE = 3
"""So many slips, and the walk still counts for something."""


class Walk(ipywidgets.VBox):
    """A drawing on which the learner goes with the water, part by part, from the lead boiler to a load and home.

    plant: as elsewhere, or None for a made one of the seed.  looks: 'tidy', 'crooked', 'untagged' or 'lagged'.  to: tag of the
    load; the last that the water reaches, unless said.  size: of made plants, 'small' or 'any'.  key: a name under which it comes
    back as it was left.  record: where the result is kept, the learner's own unless said; False keeps none.

    >>> from widgets.show.lesson import example
    >>> walk = Walk(example(1, "single loop", "heating only"), record=False)
    >>> walk.next, walk.press("E1"), walk.slips
    ('PS', False, 1)
    >>> walk.walk_home()
    >>> print(walk.verdict())
    Round and home, with one slip.
    """

    def __init__(self, plant: object = None, *, seed: int | None = None, looks: Looks = "tidy", to: str | None = None,
                 size: Literal["small", "any"] = "small", key: str = "", record: Record | Literal[False] | None = None) -> None:
        if looks not in LOOKS:
            raise ValueError(f"looks is {looks!r}; use one of {', '.join(LOOKS)}")
        self.looks: Looks = looks
        self.size, self.key, self._to = size, key, to
        self.record = record_of(record) if key else None
        self.head, self.report = Note(heading=3), Note(live=True)
        self.canvas = Canvas(pickable=True)
        self.canvas.observe(self._on_pick, "n")
        self.show_button = ipywidgets.Button(description="Show the next one")
        self.again_button = ipywidgets.Button(description="Start again")
        self.another_button = ipywidgets.Button(description="Another plant")
        self.show_button.on_click(self._on_show)
        self.again_button.on_click(self._on_again)
        self.another_button.on_click(self._on_another)
        bar = box("lb-bar", self.show_button, self.again_button, self.another_button)
        super().__init__([self.head, self.canvas, self.report, bar])
        self.add_class("lb-exercise")
        self.add_class("lb-walk")
        self._start(plant, seed)

    def __repr__(self) -> str:
        return f"<Walk: the drawing is {self.looks}>"

    # -- which plant -------------------------------------------------------------------------------------

    def _start(self, plant: object, seed: int | None) -> None:
        own = plant_of(plant) if plant is not None else None
        self._origin = origin_of(seed, own, [self.size, f"to {self._to or 'the last load'}"])
        kept = self._kept()
        if kept is not None:
            self._take(kept[0])
            for tag in kept[1]:
                if tag == SHOWN:
                    self.slips += 1
                    self.pressed.append(SHOWN)
                else:
                    self._press(tag)
            return
        self._take(own or self._made(any_seed() if seed is None else sound_seed(seed)))

    def _made(self, seed: int) -> Plant:
        return Scheme.random(seed, size=self.size, boilers=1 if self.size == "small" else (1, 2)).plant()

    def another(self, seed: int | None = None) -> None:
        """Another made plant: that of the seed, or any."""
        self._to = None
        self._take(self._made(any_seed() if seed is None else sound_seed(seed)))
        self._keep("plant")

    def _take(self, plant: Plant) -> None:
        from figures.drawing.describe import describe

        self.plant = plant
        title = "A plant without tags" if self.looks == "untagged" else plant.title or "A plant"
        self.head.text = f"Go with the water: {title}"
        with self.canvas.hold_sync():
            self.canvas.hide = ["tints"]                    # the loops are the learner's to find
            self.canvas.svg, self.canvas.description = worn(plant, self.looks), describe(plant, None, plant.title)
        reached = loads(plant)
        self.to = self._to or (reached[-1] if reached else "")
        self.steps = trace(plant, read(plant), self.to) if self.to else ()
        self._begin()

    def _begin(self) -> None:
        self.at, self.slips, self.pressed = 0, 0, list[str]()
        start = self._at_step()
        self._tell(f"You stand at {start}. Go to {self.to}, which is framed with a full line, and home. {ASK}" if start else
                   "No water goes round in this plant.")
        self._light()

    # -- going -------------------------------------------------------------------------------------------

    @property
    def stops(self) -> tuple[int, ...]:
        """Places of the steps that count: parts, not tees."""
        return tuple(n for n, step in enumerate(self.steps) if self.plant.parts[step.names[-1]].kind != "tee")

    @property
    def next(self) -> str:
        """The part that the water meets next; '' once it is home."""
        ahead = [n for n in self.stops if n > self.at]
        return self.steps[ahead[0]].names[-1] if ahead else ""

    @property
    def home(self) -> bool:
        """The walk is done."""
        return bool(self.steps) and not self.next

    def press(self, name: str) -> bool:
        """Go to a part, as a click does; False where the water does not meet it next."""
        gone = self._press(name)
        if gone is not None:
            self._keep("answer" if self.home else "step")
        return bool(gone)

    def _press(self, name: str) -> bool | None:
        """The same, nothing kept; None where a click changes nothing."""
        if self.home or not self.steps or (name not in self.plant.parts and name not in self.plant.run_names):
            return None
        ahead = next(n for n in self.stops if n > self.at)
        if name != self.next and any(name in self.steps[n].names for n in range(self.at, ahead + 1)):
            self._tell(f"Yes, the water comes by {name}. Which part does it meet next?")
            return None
        self.pressed.append(name)
        if name == self.next:
            self.at = ahead
            self._light()
            self._tell(self._told(), "right" if self.home else "plain")
            return True
        self.slips += 1
        self._tell(self._astray(name), "plain" if self.at == 0 else "wrong")
        return False

    def show_next(self) -> None:
        """Help with one part: it is lit up, and that counts as a slip."""
        if self.next:
            self.slips += 1
            self.pressed.append(SHOWN)
            name = self.next
            self._press(name)
            self._keep("answer" if self.home else "step")

    def walk_home(self) -> None:
        """Go the rest of the way rightly, as a learner would who knows."""
        while self.next:
            self.press(self.next)

    def verdict(self) -> str:
        """How it stands: the same text for the same clicks."""
        slips = SLIPS.get(self.slips, f"with {self.slips} slips")
        return f"Round and home, {slips}." if self.home else self._worded(f"On the way at {self._at_step()}, {slips}.")

    # -- what shows --------------------------------------------------------------------------------------

    def _at_step(self) -> str:
        return self.steps[self.at].names[-1] if self.steps else ""

    def _told(self) -> str:
        says = self.steps[self.at].says
        return f"{says} {self.verdict()}" if self.home else says

    def _astray(self, name: str) -> str:
        """Why the water does not come there next, and nothing that gives the next part away."""
        part = self.plant.parts.get(name)
        if part is None:
            return "The water does not take that pipe from here on its way. Look at the arrow of the pump, and follow the pipe."
        if part.what.shape == "end":
            return f"{what_is(self.plant, name)} The pipe to it ends there: water does not go round through it."
        if part.what.shape == "instrument":
            return f"{what_is(self.plant, name)} No water passes it."
        if any(name in self.steps[n].names for n in range(self.at + 1, len(self.steps))):
            return f"The water comes to {name} later. Something stands in between."
        if any(name in self.steps[n].names for n in range(self.at)):
            return f"You come from {name}. Water does not turn round."
        return f"{what_is(self.plant, name)} It is not on this way to {self.to} and home."

    def _light(self) -> None:
        here = [name for n in range(self.at + 1) for name in self.steps[n].names] if self.steps else []
        caption = self.canvas.caption
        with self.canvas.hold_sync():
            self.canvas.light({**dict.fromkeys(here, "look"), **({self.to: "right"} if self.to else {})})
            self.canvas.caption = caption
        if self.steps:
            gone = " → ".join(self.steps[n].names[-1] for n in self.stops if n <= self.at)
            self.canvas.caption = self._worded(f"Gone so far: {gone}")

    def _tell(self, text: str, tone: Literal["plain", "right", "wrong", "trouble"] = "plain") -> None:
        self.report.say(self._worded(text), tone)

    def _worded(self, text: str) -> str:
        """Where no tag is drawn parts are called by their kind, 'the pump', and pipes 'that pipe'."""
        if self.looks != "untagged":
            return text
        for name in sorted(self.plant.run_names, key=len, reverse=True):
            text = text.replace(name, "that pipe")
        for tag in sorted(self.plant.parts, key=len, reverse=True):
            kind = re.escape(self.plant.parts[tag].kind)
            text = re.sub(rf"(?<!\w){tag} \(({kind})[^)]*\)|(?<!\w){tag}: [^—.]*—|(?<!\w){tag}(?![\w-])",
                          lambda found: f"the {self.plant.parts[tag].kind}", text)   # noqa: B023
        return re.sub(r"(^|[.!?] )the ", lambda found: f"{found[1]}The ", text)

    # -- the record --------------------------------------------------------------------------------------

    def _keep(self, kind: str) -> None:
        if self.record is None:
            return
        points = max(0.0, 1.0 - self.slips / (FREE + 1)) if kind == "answer" else None
        try:
            self.record.add(kind, exercise=self.key, item=ITEM, objective=OBJECTIVE, plant=write_plant(self.plant),
                            answer=list(self.pressed), points=points, of=None if points is None else 1.0,
                            more={"origin": self._origin})
        except RecordTrouble as trouble:
            self.record = None
            self._tell(str(trouble), "trouble")

    def _kept(self) -> tuple[Plant, list[str]] | None:
        """The plant and the clicks with which this walk was left; None where the cell asked for another one then."""
        if self.record is None:
            return None
        try:
            rows = [row for row in self.record.rows(exercise=self.key) if row.item == ITEM and row.plant]
        except RecordTrouble as trouble:
            self.record = None
            self._tell(str(trouble), "trouble")
            return None
        if not rows or rows[-1].more.get("origin") != self._origin:
            return None
        clicks = rows[-1].answer
        return parse_plant(rows[-1].plant), [str(tag) for tag in clicks] if isinstance(clicks, list) else []

    # -- presses -----------------------------------------------------------------------------------------

    @guarded
    def _on_pick(self, change: object) -> None:
        self.press(self.canvas.picked)

    @guarded
    def _on_show(self, button: object) -> None:
        self.show_next()

    @guarded
    def _on_again(self, button: object) -> None:
        self._begin()
        self._keep("plant")

    @guarded
    def _on_another(self, button: object) -> None:
        self.another()


def walk(plant: object = None, **more: object) -> Walk:
    """Go with the water on a drawing: see `Walk`."""
    return Walk(plant, **more)      # type: ignore[arg-type]


def as_found(plant: object, looks: Looks) -> Look:
    """A drawing that says what each part is when it is picked, in one of its looks: see `figures.drawing.worn`."""
    shown = look_at(plant)
    shown.svg = worn(shown.plant, looks)
    return shown


# -- who runs ----------------------------------------------------------------------------------------------------------

CALLED = {"heat": "The building calls", "dhw": "The tank calls", "both": "Both call"}


def who_runs(plant: object, configuration: str | None = None, calls: Sequence[str] = ("heat", "dhw", "both")) -> Table:
    """Pumps and valves part by part: what each does on each call, and what heat each load gets.

    configuration: what the control is told; what the piping asks for, unless said.

    >>> from widgets.show.lesson import example
    >>> shown = who_runs(example(1, "separated loops", "DHW on the boiler loop"))
    >>> next(row[1:] for row in shown.rows if row[0].startswith("PS"))
    ['runs', 'stands still', 'stands still']
    """
    made = plant_of(plant)
    operator = _operator(made)
    told = configuration or operator.right("heat").configuration
    found = {call: operator.operate(operator.setting(told, call)) for call in calls}
    rows: list[list[Cell]] = []
    for tag, job in operator.jobs.job.items():
        words = {"pump": ("runs", "stands still"), "motorised valve": ("open", "shut")}[made.parts[tag].kind]
        kind = "pump" if made.parts[tag].kind == "pump" else "valve"
        rows.append([f"{tag}, {_job(job, kind)}", *(words[tag not in (*one.sequence.running, *one.sequence.open)]
                                                    for one in found.values())])
    for part in made.of_kind("diverting valve"):
        rows.append([f"{part.tag}, diverting valve", *(f"to port {'b' if part.tag in one.sequence.diverted else 'a'}"
                                                        for one in found.values())])
    for tag in made.parts:
        if made.is_load(tag):
            kind = "the tank" if made.is_dhw(tag) else "the building"
            rows.append([f"{tag}, {kind}, gets", *((max(0.0, one.load(tag).given_kw), "kw") for one in found.values())])
    return Table(f"{made.title}: who runs, and who gets heat", ["Part", *(CALLED[call] for call in calls)], rows)


def _job(job: str, kind: str) -> str:
    """'the boiler pump', 'the zone's valve'."""
    return {"boiler": f"the boiler's {kind}", "system": f"the system {kind}", "tank": f"the tank's {kind}",
            "zone": f"the zone's {kind}", "shared": f"a {kind} for both"}[job]


def _operator(plant: Plant) -> Operator:
    from figures.physics.operation import Operator

    return Operator(plant)


def runs_on(plant: object, call: str, configuration: str | None = None) -> str:
    """The pumps that run on a call, in words; 'no pump' where none does.

    >>> from widgets.show.lesson import example
    >>> runs_on(example(1, "single loop", "heating only"), "heat")
    'PS'
    """
    made = plant_of(plant)
    operator = _operator(made)
    told = configuration or operator.right("heat").configuration
    running = operator.operate(operator.setting(told, call)).sequence.running
    return listed(list(running)) or "no pump"


def gets_kw(plant: object, tag: str, call: str, configuration: str | None = None) -> float:
    """Heat that a load gets on a call [kW]; under what the piping asks for, unless another configuration is named.

    >>> from widgets.show.lesson import example
    >>> gets_kw(example(1, "separated loops", "DHW on the system loop"), "IT", "dhw", "heating only")
    0.0
    """
    made = plant_of(plant)
    operator = _operator(made)
    told = configuration or operator.right("heat").configuration
    return max(0.0, operator.operate(operator.setting(told, call)).load(tag).given_kw)
