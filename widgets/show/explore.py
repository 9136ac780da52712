"""Turn one thing and see what the water, the heat and the building do."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, get_args

import ipywidgets
import traitlets

from figures.physics import NoSolution
from figures.plant import BadPlant, Plant
from figures.plant.units import Units
from widgets.learn.consent import Chosen, on_choice
from widgets.learn.consent import units as chosen_units

from .canvas import Canvas
from .explore_charts import chart, charts_of
from .explore_scene import Scene, Seen, Values, checked
from .given import plant_of
from .pieces import Note, Piece, box, picture_html, script, style
from .safely import safely

if TYPE_CHECKING:
    from figures.plant.scheme import Scheme

What = Literal["all", "flow", "setting", "calls"]
CAUTION = ("This is a model on a screen: what it lets you do can burn, flood or freeze a real plant. There the local code "
           "and the boiler's instructions come first, and the work is for licensed people.")
LEAVES = "Beside a boiler or a load stands the temperature of the water that leaves it."
VIEW: dict[str, object] = {"title": "The drawing", "controls": [
    {"name": "figures", "label": "Flows are written on it", "type": "switch"},
    {"name": "temperatures", "label": "Temperatures are written on it", "type": "switch"},
    {"name": "units", "label": "Units", "type": "choice", "options": [
        {"value": "si", "label": "L/s, °C, kW"}, {"value": "us", "label": "gpm, °F, Btu/h"}]}]}


def _worded(error: Exception) -> str:
    if isinstance(error, NoSolution):
        return f"No balance was found: {error.says} Turn back what you turned last, and try another way."
    return str(error)


told = safely(lambda widget, text: widget._lost(text), NoSolution, words=_worded,
              then="Turn back what you turned last, or run the cell again.")
"""For what a press or a slider calls: see `safely`."""


class Controls(Piece):
    """Sliders, switches and choices under headings, as real form controls.

    groups: {'title', 'controls'}.  values: name → value.  touched: what was turned last.  asked, done: count what the page
    asked for and what was answered, so that a slider never runs ahead of the kernel.
    """

    _esm = script("explore.js")
    _css = style("explore.css")
    groups: traitlets.List = traitlets.List().tag(sync=True)
    values = traitlets.Dict().tag(sync=True)
    touched = traitlets.Unicode("").tag(sync=True)
    asked = traitlets.Int(0).tag(sync=True)
    done = traitlets.Int(0).tag(sync=True)


class Flowing(Canvas):
    """A drawing with figures, arrows and moving water that are changed in place.

    spots: name → where its figure stands and which paths its water takes.  patch: name → {'text'} or {'text', 'still',
    'speed'}, the speed in m/s along the run.  motion: beads move, unless the reader's system asks for less motion.
    """

    _esm = script("canvas.js", "explore_flow.js")
    spots = traitlets.Dict().tag(sync=True)
    patch = traitlets.Dict().tag(sync=True)
    motion = traitlets.Bool(True).tag(sync=True)


class Explore(ipywidgets.VBox):
    """A plant to play with: sliders and switches beside a drawing that answers at once.

    plant: a `Plant`, a `Scheme`, or the path of a plant file.  what: 'all'; 'flow', pumps, valves, boilers and loads by hand;
    'setting', only what the control is told; 'calls', only who calls, the control set as the piping asks.  call: 'heat', 'dhw'
    or 'both', what calls to begin with.  configuration: what is set to begin with, rightly or wrongly.  units: 'si' or 'us';
    the learner's choice unless said, and then they follow it.  motion: False shows no moving water to begin with.
    labels: an instructor's own words, shown beside ours: what `read_labels` gives.

    Where the control is set wrongly, the rightly set plant stands beside it, with who gets heat and why.
    A plant file with faults is told of in the widget. Raises ValueError for a `what` or a configuration that is none.

    >>> from figures.plant.scheme import Scheme
    >>> explore = Explore(Scheme(tank="system loop"), call="both")
    >>> explore.turn("configuration", "DHW on the boiler loop")
    >>> print(explore.verdict().partition(chr(10))[0])
    The control is set as DHW on the boiler loop; the piping asks for DHW on the system loop.
    """

    def __init__(self, plant: Plant | Scheme | str | Path, what: What = "all", *, call: str | None = None,
                 configuration: str | None = None, units: Units | None = None, motion: bool = True,
                 labels: Mapping[str, str] | None = None) -> None:
        if what not in get_args(What):
            raise ValueError(f"what is {what!r}; use 'all', 'flow', 'setting' or 'calls'")
        self.what, self.labels = what, labels or {}
        self.scene: Scene | None = None
        self.seen: Seen | None = None
        self.head, self.report, self.beside_report = Note(heading=3), Note(live=True), Note()
        self.canvas, self.beside = Flowing(motion=motion), Flowing(motion=motion)
        traitlets.link((self.canvas, "motion"), (self.beside, "motion"))
        self.canvas.add_class("lb-explore-first")
        self.controls = Controls()
        self.chart_box = ipywidgets.HTML()
        self.chart_box.add_class("lb-chart")
        self.chart_note = Note(live=True)
        self._build()
        super().__init__([self.head, self.body, self.bar, self.chart_note, self.chart_box, Note(tone="caution", text=CAUTION)])
        self.add_class("lb-explore")
        try:
            self._take(plant_of(plant), call, configuration, units or chosen_units())
            if units is None:
                on_choice(self._on_choice)
        except BadPlant as bad:
            self.head.text = "This plant cannot be read"
            self.report.say("\n".join(bad.lines()), "trouble")

    def __repr__(self) -> str:
        return f"<Explore: {self.scene.plant.title if self.scene else 'no plant'}>"

    # -- building ----------------------------------------------------------------------------------------

    def _build(self) -> None:
        self.mine = box("lb-explore-side", self.canvas, self.report)
        self.other = box("lb-explore-side", self.beside, self.beside_report)
        self.sides = box("lb-explore-sides", self.mine)
        panel = box("lb-explore-panel", self.controls)
        self.body = box("lb-explore-body", panel, box("lb-explore-view", self.sides))
        self.chart_choice = ipywidgets.Dropdown(description="Chart", style={"description_width": "initial"})
        self.chart_button = ipywidgets.Button(description="Show chart")
        self.reset_button = ipywidgets.Button(description="As it should be")
        self.chart_button.on_click(self._on_chart)
        self.reset_button.on_click(self._on_reset)
        self.bar = box("lb-bar", self.reset_button, self.chart_choice, self.chart_button)
        self.controls.observe(self._on_asked, "asked")

    def _take(self, plant: Plant, call: str | None, configuration: str | None, units: Units) -> None:
        from figures.drawing import Diagram

        scene = self.scene = Scene(plant)
        diagram = Diagram(plant, scene.reading)
        spots = scene.spots(diagram)
        svg = diagram.svg(layers=("tags", "tints", "evidence", "figures", "temperatures"))
        for canvas in (self.canvas, self.beside):
            with canvas.hold_sync():
                canvas.svg, canvas.spots, canvas.description = svg, spots, diagram.description
        self.groups = [*scene.groups(self.what, units, self.labels), VIEW]
        start = scene.start(call, configuration)
        self.head.text = f"Explore: {plant.title or 'your plant'}"
        self.chart_choice.options = charts_of(scene)
        self.chart_choice.value = self.chart_choice.options[0]
        self._view: Values = {"figures": True, "temperatures": True, "units": units}
        self._values = start
        self._show()
        self.controls.groups = self.groups
        self.controls.values = {**self._values, **self._view}

    # -- what the page calls, and tests and lessons too --------------------------------------------------

    @property
    def values(self) -> Values:
        """What is set now: name → value."""
        return {**self._values, **self._view}

    def turn(self, name: str, value: bool | float | str) -> None:
        """Turn one thing, as a slider does. Raises ValueError for a name or value that is none, or where nothing balances."""
        given = checked({name: value}, self.groups)
        if name not in given or (isinstance(value, int | float) and given[name] != value):
            names = [str(c["name"]) for group in self.groups for c in group["controls"]]  # type: ignore[attr-defined]
            raise ValueError(f"'{name}' cannot be turned to {value!r} here; there are {', '.join(names)}")
        self._turn(given, name)
        self.controls.values = self.values

    @told
    def _on_choice(self, now: Chosen) -> None:
        if self._units != now.units:
            self.turn("units", now.units)

    @told
    def reset(self) -> None:
        """Back to the rightly set plant at full speed, on the call that is chosen."""
        if self.scene is not None:
            self._values = self.scene.start(str(self._values["call"]))
            try:
                self._show()
            finally:
                self.controls.values = self.values

    @told
    def show_chart(self, name: str | None = None) -> None:
        """The chart of that name, or the one that is chosen, of what is set now."""
        if self.scene is None:
            return
        self.chart_note.text = "The chart is being drawn …"
        made = chart(self.scene, self._values, name or self.chart_choice.value, self._units)
        self.chart_box.value = picture_html(made.svg(), made.alt)
        self.chart_note.say(made.alt)

    def verdict(self) -> str:
        """What is shown in words: the same text for the same settings."""
        return "\n".join(text for text in (self.report.text, self.beside_report.text) if text)

    # -- answering ---------------------------------------------------------------------------------------

    @property
    def _units(self) -> Units:
        return "us" if self._view["units"] == "us" else "si"

    @told
    def _on_asked(self, change: object) -> None:
        controls = self.controls
        try:
            self._turn(checked(dict(controls.values), self.groups), controls.touched)
        finally:
            with controls.hold_sync():
                controls.values = self.values
                controls.done = controls.asked

    @told
    def _on_chart(self, button: object) -> None:
        self.show_chart()

    @told
    def _on_reset(self, button: object) -> None:
        self.reset()

    def _turn(self, given: Values, touched: str) -> None:
        if self.scene is None:
            return
        self._view = {name: given.get(name, value) for name, value in self._view.items()}
        merged = {name: given.get(name, value) for name, value in self._values.items()}
        if touched == "units":
            self.groups = [*self.scene.groups(self.what, self._units, self.labels), VIEW]
            self.controls.groups = self.groups
        self._values = self.scene.follow(merged, touched)
        self._show()

    def _show(self) -> None:
        scene = self.scene
        assert scene is not None
        seen = self.seen = scene.solve(self._values)
        hide = [layer for layer in ("figures", "temperatures") if not self._view[layer]]
        self._put(self.canvas, seen, hide, right=False)
        wrong = scene.wrong(self._values)
        lines = scene.lines(seen, seen.operation, self._units)
        self.report.say("\n".join([*wrong, *lines]), "wrong" if wrong else "plain")
        if seen.right is None:
            self.sides.children = (self.mine,)
            self.beside_report.text = ""
            self.sides.remove_class("lb-explore-two")
            return
        self._put(self.beside, seen, hide, right=True)
        self.beside_report.say("\n".join(["Set as the piping asks:", *scene.lines(seen, seen.right, self._units)]), "right")
        if len(self.sides.children) == 1:
            self.sides.children = (self.mine, self.other)
            self.sides.add_class("lb-explore-two")

    def _put(self, canvas: Flowing, seen: Seen, hide: list[str], right: bool) -> None:
        assert self.scene is not None
        solution = seen.right.solution if right and seen.right is not None else seen.solution
        with canvas.hold_sync():
            canvas.hide = hide
            canvas.patch = self.scene.patch(solution, self._units)
            which = "" if seen.right is None else "Set as the piping asks. " if right else "As it is set. "
            canvas.caption = which + LEAVES

    def _lost(self, words: str) -> None:
        """Say what went wrong; figures that no longer hold are taken off."""
        note = self.chart_note if self.chart_note.text.startswith("The chart is being drawn") else self.report
        if note is self.report and self.scene is not None:
            self.canvas.patch = self.scene.patch(None)
        if note is self.chart_note:
            self.chart_box.value = ""
        note.say(words, "trouble")


def explore(plant: Plant | Scheme | str | Path, what: What = "all", **more: Any) -> Explore:
    """A plant to play with: see `Explore`."""
    return Explore(plant, what, **more)
