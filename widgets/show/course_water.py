"""What the lessons on parts and pressure show: symbols, and one expansion tank at two joints.

Every figure is computed on the plant shown, and follows the units that the learner has chosen.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from html import escape
from typing import Any

import ipywidgets

from figures.physics.pressure import head_kpa, pressures_kpa
from figures.plant import Plant
from figures.plant.check import plant_from_data
from figures.plant.kinds import KINDS
from figures.plant.scheme import Scheme
from figures.plant.sizing import fill_kpa
from figures.plant.units import Units, converted, unit_name

from .canvas import unread
from .explore import Flowing
from .explore_scene import moving, ways_of
from .pieces import Note
from .table import Cell, Table
from .turned import Turned

AT_TANK_KPA = 100.0
"""What the gauge at the expansion tank shows to begin with."""
TOP_KPA = fill_kpa(0.0)
SHORT_M = 0.1
"""Of pipe between the two gauges, the pump's own length."""
GAUGE_PX = 11.0
ADDED_KPA = 60.0
"""About what the pump of `joints` adds."""
CAUTION = ("Pressure and hot water scald and kill. These are pictures: on a real plant a licensed person works, by the local "
           "code and the makers' instructions, and nobody opens anything that is hot or under pressure.")


# -- symbols -----------------------------------------------------------------------------------------------------------

class Symbols:
    """Kinds of part: the symbol, the name, what it does. A notebook shows them as cards.

    more: by kind, a second sentence.  Raises ValueError for a kind that is none.

    >>> print(Symbols(["pump"], {"pump": "The arrow is the way of the water."}))
    pump: moves the water. The arrow is the way of the water.
    """

    def __init__(self, kinds: list[str] | tuple[str, ...], more: Mapping[str, str] | None = None) -> None:
        if unknown := [kind for kind in kinds if kind not in KINDS]:
            raise ValueError(f"no kind of part is called {', '.join(unknown)}")
        self.rows = [(kind, f"{KINDS[kind].says}.", (more or {}).get(kind, "")) for kind in kinds]

    def __repr__(self) -> str:
        return "\n".join(f"{kind}: {says} {more}".strip() for kind, says, more in self.rows)

    def _repr_markdown_(self) -> str:
        return "\n".join(f"- **{kind}**: {says} {more}".strip() for kind, says, more in self.rows)

    def _repr_html_(self) -> str:
        cards = "".join(
            "<div style='display:flex;gap:10px;align-items:center;border:1px solid var(--jp-border-color1,#8a8a8a);"
            f"border-radius:4px;padding:6px 10px'>{_sign(kind)}"
            "<p style='margin:0;font-family:Arial,Helvetica,sans-serif;line-height:1.4'>"
            f"<strong>{escape(kind)}</strong>: {escape(says)}{'<br>' if more else ''}{escape(more)}</p></div>"
            for kind, says, more in self.rows)
        return ("<div class='lb-signs' style='display:grid;gap:8px;"
                f"grid-template-columns:repeat(auto-fit,minmax(min(100%,300px),1fr))'>{cards}</div>")


def _sign(kind: str) -> str:
    """A symbol alone on white, as the legend shows it, and larger."""
    from figures.drawing.ink import style
    from figures.drawing.paint import symbol, upright

    turn, flip, (x0, y0, x1, y1) = upright(kind)
    scale = round(min(1.2, 56 / (y1 - y0), 66 / (x1 - x0)), 2)
    drawn = symbol(kind, 37 - (x0 + x1) / 2 * scale, 32 - (y0 + y1) / 2 * scale, turn, flip, scale)
    return (f"<svg xmlns='http://www.w3.org/2000/svg' class='lbk' width='74' height='64' viewBox='0 0 74 64' role='img' "
            f"aria-label='{escape(kind, quote=True)}' style='background:#fff;flex:none'><style>{style()}</style>{drawn}</svg>")


# -- plants of the lessons ------------------------------------------------------------------------------------------------

FITTINGS = ("air separator", "air vent", "fill", "strainer", "drain", "low-water cut-off", "high limit")


def equipped(seed: int) -> Plant:
    """The small single loop of a seed with what a real room has besides: air, fill, dirt, drain and the boiler's guards.

    >>> sorted(part.tag for part in equipped(1).of_kind("fill", "strainer", "drain", "air vent"))
    ['AV', 'DR', 'FV', 'ST']
    """
    scheme = Scheme.random(seed, arrangement="single loop", control="heating only", size="small")
    return replace(scheme, fittings=FITTINGS).plant()


def spoilt(seed: int, fault: str, arrangement: str = "single loop", control: str = "heating only", **fields: Any) -> Plant:
    """A small plant of a seed with one fault, and whatever else of its scheme is set otherwise.

    >>> from figures.reading import read
    >>> read(spoilt(1, "relief-missing")).findings[0].rule
    'relief-missing'
    """
    scheme = Scheme.random(seed, arrangement=arrangement, control=control, size="small")
    return replace(scheme, faults=(fault,), **fields).plant()


# -- two joints for one expansion tank ---------------------------------------------------------------------------------

@dataclass(frozen=True)
class Joints:
    """One plant twice: its expansion tank joins at the pump's inlet, and at the pump's outlet. Nothing else differs.

    pump: its tag.  before, after: the tees straight before and behind it, where gauges stand.
    """

    at_inlet: Plant
    at_outlet: Plant
    pump: str
    before: str
    after: str

    @cached_property
    def _prepared(self) -> dict[str, Any]:
        from figures.physics import Prepared

        return {"inlet": Prepared(self.at_inlet), "outlet": Prepared(self.at_outlet)}

    def solved(self, side: str, runs: bool = True, speed: float = 1.0) -> Any:
        """The plant solved. side: 'inlet' or 'outlet', where the tank joins.  speed: share of full."""
        from figures.physics import State, solve

        return solve(self._prepared[side], State(off=[] if runs else [self.pump],
                                                 speed={self.pump: speed} if runs and speed != 1.0 else {}))

    def kpa(self, side: str, runs: bool = True, speed: float = 1.0, at_tank_kpa: float = AT_TANK_KPA) -> dict[str, float]:
        """Gauge pressure [kPa] at every tee, with `at_tank_kpa` where the tank joins, pump running or not."""
        return pressures_kpa(self.solved(side, runs, speed), at_tank_kpa)

    def suction_kpa(self, side: str, **state: Any) -> float:
        """Gauge pressure at the pump's inlet [kPa]; see `kpa`."""
        return self.kpa(side, **state)[self.before]

    def discharge_kpa(self, side: str, **state: Any) -> float:
        """Gauge pressure at the pump's outlet [kPa]; see `kpa`."""
        return self.kpa(side, **state)[self.after]

    @property
    def added_kpa(self) -> float:
        """What the pump adds [kPa]."""
        found = self.solved("inlet")
        return head_kpa(found, found.pump_head_m(self.pump))


def joints(seed: int) -> Joints:
    """A small single loop with a strong pump, its expansion tank on the right side of the pump and on the wrong one.

    >>> pair = joints(1)
    >>> round(pair.suction_kpa("inlet")), 20.0 < pair.suction_kpa("outlet") < 60.0
    (100, True)
    """
    scheme = Scheme.random(seed, arrangement="single loop", control="heating only", size="small")
    data = replace(scheme, faults=("expansion-point",)).data()
    runs = data["runs"]
    tank = next(run for run in runs if run["through"][-1] == "XT")
    moved = tank["through"][0]
    chain = next(run for run in runs if "PS" in run["through"][1:-1])
    before = chain["through"][0]
    # Short pipe on both sides of the pump, and the rest of the way behind it, so that the gauges show the pump alone.
    beyond = next(run for run in runs if run["through"][0] == moved and run is not tank)
    beyond["length_m"] = round(beyond["length_m"] + chain["length_m"] - SHORT_M, 2)
    beyond["k"] = round(beyond["k"] + chain["k"], 1)
    chain["length_m"], chain["k"] = SHORT_M, 0.0
    # A loop that resists enough for the pump to add about what is wanted.
    pump, radiator = data["parts"]["PS"], data["parts"]["E1"]
    wanted_m = ADDED_KPA / 9.64
    pump["shutoff_m"], pump["rated_m"] = round(1.33 * wanted_m, 1), round(wanted_m, 1)
    radiator["kv_m3h"] = _kv_for(data, radiator, wanted_m)
    wrong = plant_from_data(data)
    tank["through"][0] = before
    return Joints(plant_from_data(data), wrong, "PS", before, moved)


def _kv_for(data: dict[str, Any], radiator: dict[str, Any], wanted_m: float) -> float:
    """The radiator's flow coefficient at which the pump adds `wanted_m`, by halving."""
    from figures.physics import solve

    low, high = 0.5, 40.0
    for _ in range(20):
        radiator["kv_m3h"] = (low * high) ** 0.5
        if solve(plant_from_data(data)).pump_head_m("PS") > wanted_m:
            low = radiator["kv_m3h"]
        else:
            high = radiator["kv_m3h"]
    return round((low * high) ** 0.5, 3)


def joints_table(pair: Joints, at_tank_kpa: float = AT_TANK_KPA) -> Table:
    """What the two gauges at the pump show, for each joint, with the pump still and running.

    >>> round(joints_table(joints(1)).value(3, 1))
    40
    """
    rows: list[list[Cell]] = []
    for side, words in (("inlet", "at the inlet"), ("outlet", "at the outlet")):
        for runs in (False, True):
            at = pair.kpa(side, runs, at_tank_kpa=at_tank_kpa)
            does = "runs" if runs else "stands still"
            rows.append([f"{words}, the pump {does}", (at[pair.before], "kpa"), (at[pair.after], "kpa")])
    return Table(f"{pair.at_inlet.title}: two gauges at {pair.pump}",
                 ["The expansion tank joins", "Gauge at the inlet", "Gauge at the outlet"], rows)


def fill_table(heights_m: Sequence[float] = (5.6, 10.0, 15.0)) -> Table:
    """How high a plant is filled cold: the weight of the water above the gauge, and 28 kPa (4 psi) at the top.

    Common practice, no source with authority.

    >>> round(fill_table((5.6,)).value(0, 3))
    83
    """
    rows: list[list[Cell]] = [[(h, "m"), (fill_kpa(h) - TOP_KPA, "kpa"), (TOP_KPA, "kpa"), (fill_kpa(h), "kpa")]
                              for h in heights_m]
    return Table("How high a plant is filled, cold",
                 ["Highest water above the gauge", "It weighs on the gauge", "Left over at the top", "So it is filled to"], rows)


SIDES = {"inlet": "The tank joins at the pump's inlet", "outlet": "The tank joins at the pump's outlet"}


class TwoJoints(Turned):
    """The two plants of `joints` side by side, with gauges before and behind the pump, and one set of controls for both.

    What can be turned: 'run', 'speed' [%], 'fill' [kPa at the tank].

    >>> shown = TwoJoints(joints(1))
    >>> shown.turn("run", False)
    >>> print(shown.verdict().partition(chr(10))[0])
    The tank joins at the pump's inlet. The pump stands still: both gauges show 100 kPa.
    """

    def __init__(self, pair: Joints) -> None:
        self.pair = pair
        self.canvases = {side: self._drawn(side, plant) for side, plant in (("inlet", pair.at_inlet), ("outlet", pair.at_outlet))}
        self.notes = {side: Note(live=True) for side in SIDES}
        # Side by side as soon as there is room for two: they are there to be compared.
        pictures = [ipywidgets.VBox([self.canvases[side], self.notes[side]], layout={"flex": "1 1 300px", "min_width": "0"})
                    for side in SIDES]
        sides = ipywidgets.Box(pictures, layout={"flex_flow": "row wrap", "width": "100%", "grid_gap": "10px"})
        self._stand(f"One plant, two joints: {pair.at_inlet.title}", {"run": True, "speed": 100.0, "fill": AT_TANK_KPA},
                    [sides], CAUTION)

    def __repr__(self) -> str:
        return f"<Two joints: {self.pair.at_inlet.title}>"

    @property
    def gauges(self) -> tuple[str, str]:
        """The tees at which gauges stand."""
        return self.pair.before, self.pair.after

    def verdict(self) -> str:
        """What both gauges show, in words."""
        return "\n".join(note.text for note in self.notes.values())

    def _drawn(self, side: str, plant: Plant) -> Flowing:
        from figures.drawing import Diagram

        diagram = Diagram(plant, title=SIDES[side])
        gauges = diagram.overlay.spots_for([self.pair.before, self.pair.after])
        middle = {mark.tag: (mark.box[0] + mark.box[2]) / 2 for mark in diagram.placed.marks}
        spots: dict[str, dict[str, object]] = {
            # The figures are larger than the room that is kept for them: a little farther from the pipe.
            tag: {"x": round(s.x + (GAUGE_PX if s.x > middle[tag] + 8 else -GAUGE_PX if s.x < middle[tag] - 8 else 0.0), 1),
                  "y": round(s.y, 1), "fits": s.fits, "arrow": None, "turn": 0.0, "paths": []}
            for tag, s in gauges.items()}
        spots |= {name: {"x": 0, "y": 0, "fits": False, "arrow": None, "turn": 0.0, "paths": ways}
                  for name, ways in ways_of(diagram).items()}
        svg, words = unread(diagram)
        # Gauges are larger than figures elsewhere: they are what this picture is about.
        svg = svg.replace("</desc>", "</desc><style>.lbk .layer-temperatures .fig{font-size:15px;font-weight:700}</style>", 1)
        return Flowing(svg=svg, description=words, spots=spots, hide=["tints", "figures"], caption=SIDES[side])

    def _groups(self, which: Units) -> list[dict[str, object]]:
        kpa, factor = unit_name("kpa", which), converted(1.0, "kpa", which)
        return [{"title": "The pump", "controls": [
                    {"name": "run", "label": "It runs", "type": "switch"},
                    {"name": "speed", "label": "Its speed", "type": "slider", "min": 40, "max": 120, "step": 5, "unit": "%"}]},
                {"title": "The fill", "controls": [
                    {"name": "fill", "label": "Gauge at the expansion tank", "type": "slider", "min": 20, "max": 200, "step": 5,
                     "unit": kpa, "factor": factor}]}]

    def _show(self, which: Units) -> None:
        runs, speed, fill = bool(self._values["run"]), float(self._values["speed"]) / 100.0, float(self._values["fill"])
        for side in SIDES:
            found = self.pair.solved(side, runs, speed)
            at = pressures_kpa(found, fill)
            before, after = at[self.pair.before], at[self.pair.after]
            patch: dict[str, dict[str, object]] = {tag: {"text": kpa_words(at[tag], which)} for tag in self.gauges}
            for n, name in enumerate(found.plant.run_names):
                patch[name] = {"text": "", **moving(found.plant, n, found.flow.run_lps(n))}
            self.canvases[side].patch = patch
            self.notes[side].say(self._says(side, runs, before, after, which), "wrong" if before < 0.0 else "plain")

    def _says(self, side: str, runs: bool, before: float, after: float, which: Units) -> str:
        first = f"{SIDES[side]}."
        if not runs:
            return f"{first} The pump stands still: both gauges show {kpa_words(before, which)}."
        added = kpa_words(after - before, which)
        says = f"{first} Inlet {kpa_words(before, which)}, outlet {kpa_words(after, which)}. The pump adds {added}, "
        says += "and the inlet keeps what it had." if side == "inlet" else "and takes all of it away from its inlet."
        if before < 0.0:
            says += " The inlet is below the air outside: air is drawn in wherever it can, and the pump runs noisy."
        return says


def two_joints(pair: Joints) -> TwoJoints:
    """The same plant with its expansion tank on either side of the pump: see `TwoJoints`."""
    return TwoJoints(pair)


def kpa_words(value: float, which: Units) -> str:
    text = f"{converted(value, 'kpa', which):.{0 if which == 'si' else 1}f}"
    return f"{'0' if text in ('-0', '-0.0') else text} {unit_name('kpa', which)}"
