"""What an exploration can turn, and what that does: values in, a state to solve and words out. No widget here.

A value is named by what it sets: 'run:PS', 'speed:PS', 'open:MV1', 'turn:DV', 'share:BV1', 'fire:B1', 'load:E1',
and 'configuration', 'arrangement', 'call', 'priority' and 'boilers' for what the control is told.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import ceil, pi
from typing import TYPE_CHECKING

from figures.physics import Solution, State, solve
from figures.physics.operation import ARRANGEMENTS, CALLS, CONFIGURATIONS, Operation, Operator, Sequence, sequence
from figures.plant.model import Plant, tag_of
from figures.plant.units import Units, converted, figure, unit_name
from figures.reading.evidence import listed

if TYPE_CHECKING:
    from figures.drawing import Diagram
    from figures.physics.operation import Setting

BY_HAND = "by hand"
CALL_WORDS = {"heat": "heat", "dhw": "hot water (DHW)", "both": "both"}
JOB_WORDS = {"boiler": "boiler pump", "system": "system pump", "tank": "tank pump", "zone": "zone pump"}
BY_CONTROL = ("configuration", "arrangement", "call", "priority", "boilers")
WORKED = ("run", "open", "turn", "fire")
HAND_VALVES = ("isolation valve",)
Value = bool | float | str
Values = dict[str, Value]
STILL_LPS = 0.005


@dataclass(frozen=True)
class Seen:
    """One solved state. operation: what the control makes of a call; None where parts are worked by hand.
    right: the rightly set plant on the same call; None where this is right, or where nobody can say."""

    solution: Solution
    operation: Operation | None
    right: Operation | None


class Scene:
    """A plant, what of it can be turned, and what happens then.

    >>> from figures.plant.scheme import Scheme
    >>> scene = Scene(Scheme(tank="system loop").plant())
    >>> values = scene.start("heat")
    >>> values["configuration"], values["run:PS"], values["speed:PS"]
    ('DHW on the system loop', True, 100.0)
    >>> seen = scene.solve(scene.follow({**values, "configuration": "DHW on the boiler loop", "call": "both"}, "call"))
    >>> seen.operation.load("E1").still, seen.right.load("E1").still
    (True, False)
    """

    def __init__(self, plant: Plant, operator: Operator | None = None) -> None:
        self.plant = plant
        self.operator = Operator(plant) if operator is None else operator
        self.reading = self.operator.reading
        jobs = self.operator.jobs.job
        pumps = plant.of_kind("pump")
        self.pumps = [p.tag for p in pumps if p.tag in jobs] + [p.tag for p in pumps if p.tag not in jobs]
        self.valves = [p.tag for p in plant.of_kind("motorised valve")]
        self.hand = [p.tag for p in plant.of_kind(*HAND_VALVES) if self.operator.prepared.topology.where[p.tag].link >= 0]
        self.diverting = [p.tag for p in plant.of_kind("diverting valve")]
        self.balancing = [p.tag for p in plant.of_kind("balancing valve")]
        self.boilers = list(self.operator.setting(CONFIGURATIONS[0], "heat").boilers)
        self.loads = [tag for tag in plant.parts if plant.is_load(tag)]
        self.tanks = [tag for tag in self.loads if plant.is_dhw(tag)]

    # -- what can be turned ------------------------------------------------------------------------------

    def groups(self, what: str = "all", units: Units = "si", labels: Mapping[str, str] | None = None) -> list[dict[str, object]]:
        """Titles with their controls, in the order in which they stand beside the drawing.

        what: 'all', 'flow' (no control configuration), 'setting' (nothing but what the control is told) or 'calls' (nothing but
        who calls: the control stays set as the piping asks).
        labels: other words for configurations and arrangements, shown beside ours."""
        told = list(self._told(labels or {})) if what != "flow" else []
        if what == "calls":
            asked = ("call", "priority") if self.reading.dhw == "system loop" else ("call",)
            return [{"title": "The call", "controls": [row for row in told if row["name"] in asked]}]
        found = [("The control", told)] if told else []
        if what != "setting":
            found += [("Pumps", list(self._pump_controls())), ("Valves", list(self._valve_controls())),
                      ("Boilers", [_switch(f"fire:{tag}", f"{tag} fires") for tag in self.boilers]),
                      ("Loads", [self._load_control(tag, units) for tag in self.loads])]
        return [{"title": title, "controls": rows} for title, rows in found if rows]

    def _told(self, labels: Mapping[str, str]) -> Iterator[dict[str, object]]:
        def both(name: str) -> tuple[str, str]:
            return name, f"{name} (“{labels[name]}”)" if name in labels else name

        yield _choice("configuration", "Configuration that is set", [both(c) for c in (*CONFIGURATIONS, BY_HAND)])
        yield _choice("arrangement", "Arrangement that is set", [both(a) for a in ARRANGEMENTS])
        yield _choice("call", "Who calls", [(c, CALL_WORDS[c]) for c in CALLS])
        if self.tanks:
            yield _switch("priority", "DHW priority, tank on the system loop")
        if len(self.boilers) > 1:
            yield _slider("boilers", "Boilers that may fire", 1, len(self.boilers), 1, "")

    def _pump_controls(self) -> Iterator[dict[str, object]]:
        for tag in self.pumps:
            words = JOB_WORDS.get(self.operator.jobs.job.get(tag) or "", "pump")
            yield _switch(f"run:{tag}", f"{tag} runs ({words})")
            yield _slider(f"speed:{tag}", f"{tag} speed", 20, 150, 1, "%")

    def _valve_controls(self) -> Iterator[dict[str, object]]:
        for tag in (*self.valves, *self.hand):
            yield _switch(f"open:{tag}", f"{tag} is open ({self.plant.parts[tag].kind})")
        for tag in self.diverting:
            yield _choice(f"turn:{tag}", f"{tag} sends the water to", [("a", "port a"), ("b", "port b")])
        for tag in self.balancing:
            yield _slider(f"share:{tag}", f"{tag} is open by", 0, 100, 1, "%")

    def _load_control(self, tag: str, units: Units) -> dict[str, object]:
        most = max(1.0, ceil(self.plant.load_kw(tag) * 1.5))
        unit = unit_name("kw", units)
        shown = converted(1.0, "kw", units)
        return {**_slider(f"load:{tag}", f"{tag} wants", 0, most, 0.5 if most >= 20.0 else 0.05, unit), "factor": shown}

    def start(self, call: str | None = None, configuration: str | None = None) -> Values:
        """The rightly set plant on a call, everything at full speed and full open."""
        right = self.operator.right("heat")
        values: Values = {"configuration": configuration or right.configuration, "arrangement": right.arrangement,
                          "call": call or ("both" if self.tanks else "heat"), "priority": False,
                          "boilers": float(len(self.boilers))}
        values |= {f"speed:{tag}": 100.0 for tag in self.pumps}
        values |= {f"share:{tag}": 100.0 for tag in self.balancing}
        values |= {f"open:{tag}": True for tag in self.hand}
        values |= {f"load:{tag}": self.plant.load_kw(tag) for tag in self.loads}
        return self.follow(values, "call")

    # -- what follows ------------------------------------------------------------------------------------

    def setting(self, values: Values) -> Setting:
        """What the control is told. Raises ValueError where that is no setting."""
        return self.operator.setting(str(values["configuration"]), str(values["call"]), str(values["arrangement"]),
                                     int(float(values["boilers"])), bool(values["priority"]))

    def follow(self, values: Values, touched: str) -> Values:
        """The values once one of them was turned: the control works its parts, or, where one of those was turned,
        everything stays as it stands and is worked by hand."""
        kind = touched.partition(":")[0]
        if kind in WORKED and touched.partition(":")[2] not in self.hand:
            return {**values, "configuration": BY_HAND}
        if kind not in BY_CONTROL or values["configuration"] == BY_HAND:
            return dict(values)
        return {**values, **self._worked(sequence(self.operator.jobs, self.reading, self.setting(values)))}

    def _worked(self, steps: Sequence) -> Values:
        return {**{f"run:{tag}": tag in steps.running for tag in self.pumps},
                **{f"open:{tag}": tag in steps.open for tag in self.valves},
                **{f"turn:{tag}": "b" if tag in steps.diverted else "a" for tag in self.diverting},
                **{f"fire:{tag}": tag in steps.firing for tag in self.boilers}}

    def state(self, values: Values) -> State:
        """The values as a state to solve."""
        def off(kind: str, tags: list[str]) -> list[str]:
            return [tag for tag in tags if not values[f"{kind}:{tag}"]]

        return State(
            off=off("run", self.pumps), shut=off("open", [*self.valves, *self.hand]), idle=off("fire", self.boilers),
            divert=[tag for tag in self.diverting if values[f"turn:{tag}"] == "b"], **self._slides(values))  # type: ignore[arg-type]

    def _slides(self, values: Values) -> dict[str, dict[str, float]]:
        return {"speed": {tag: s / 100.0 for tag in self.pumps if (s := float(values[f"speed:{tag}"])) != 100.0},
                "position": {tag: s / 100.0 for tag in self.balancing if (s := float(values[f"share:{tag}"])) != 100.0},
                "load": {tag: kw for tag in self.loads if (kw := float(values[f"load:{tag}"])) != self.plant.load_kw(tag)}}

    def solve(self, values: Values) -> Seen:
        """What happens. Raises NoSolution where the water does not balance, ValueError for values that are none."""
        if values["configuration"] == BY_HAND:
            return Seen(solve(self.operator.prepared, self.state(values)), None, None)
        setting = self.setting(values)
        also = State(shut=[tag for tag in self.hand if not values[f"open:{tag}"]], **self._slides(values))  # type: ignore[arg-type]
        set_so = self.operator.operate(setting, also=also)
        right = None
        if self.wrong(values):
            told = self.operator.right(setting.call)
            right = self.operator.operate(self.operator.setting(told.configuration, told.call, told.arrangement,
                                                                len(setting.boilers), setting.priority), also=also)
        return Seen(set_so.solution, set_so, right)

    def wrong(self, values: Values) -> list[str]:
        """What is set otherwise than the piping asks: one short sentence each. [] where nobody can tell."""
        said = []
        control, found = self.reading.control, self.reading.arrangement
        if control in CONFIGURATIONS and values["configuration"] not in (control, BY_HAND):
            said.append(f"The control is set as {values['configuration']}; the piping asks for {control}.")
        if found in ARRANGEMENTS and values["arrangement"] != found and values["configuration"] != BY_HAND:
            said.append(f"The control is set for {_a(str(values['arrangement']))}; the piping is {_a(found)}.")
        return said

    # -- what is shown -----------------------------------------------------------------------------------

    def warm_parts(self) -> list[str]:
        """Parts that show their temperature: boilers and loads what leaves them, pumps at a vessel, tees."""
        vessels = self.plant.of_kind("hydraulic separator", "buffer tank")
        kinds = ("boiler", "emitter", "indirect tank", "heat exchanger", *(("pump",) if vessels else ()))
        t = self.operator.prepared.topology
        tees = [p.tag for p in self.plant.of_kind("tee") if t.vertices.get(p.tag) in t.junctions]
        return [*(p.tag for p in self.plant.of_kind(*kinds) if t.where[p.tag].link >= 0), *tees]

    def flowing_runs(self) -> list[str]:
        """Runs that are no dead ends."""
        where = self.operator.prepared.topology.edge_where
        return [name for n, name in enumerate(self.plant.run_names) if n in where and where[n].link >= 0]

    def spots(self, diagram: Diagram) -> dict[str, dict[str, object]]:
        """Where every figure stands on the drawing, and the paths that its water takes."""
        names, paths = [*self.flowing_runs(), *self.warm_parts()], ways_of(diagram)
        found: dict[str, dict[str, object]] = {}
        for name, spot in diagram.overlay.spots_for(names).items():
            found[name] = {"x": round(spot.x, 1), "y": round(spot.y, 1), "fits": spot.fits,
                           "arrow": None if spot.arrow is None else [round(a, 1) for a in spot.arrow[:2]],
                           "turn": 0.0 if spot.arrow is None else spot.arrow[2], "paths": paths.get(name, [])}
        return found

    def patch(self, solution: Solution | None, units: Units = "si") -> dict[str, dict[str, object]]:
        """What a screen changes: by run name its figure, whether the water is still and its speed along the run [m/s];
        by tag the temperature of what leaves a part. None empties everything."""
        found: dict[str, dict[str, object]] = {}
        index = {name: n for n, name in enumerate(self.plant.run_names)}
        for name in self.flowing_runs():
            flow = 0.0 if solution is None else solution.flow.run_lps(index[name])
            text = "–" if solution is None else "0" if abs(flow) < STILL_LPS else _short(abs(flow), units)
            found[name] = {"text": text, **moving(self.plant, index[name], flow)}
        for tag in self.warm_parts():
            value = None if solution is None else self._warm(solution, tag)
            shown = "–" if value is None else f"{converted(value, 'c', units):.0f} {unit_name('c', units)}"
            found[tag] = {"text": shown}
        return found

    def _warm(self, solution: Solution, tag: str) -> float | None:
        if self.plant.parts[tag].kind == "tee":
            return solution.nodes[tag]["temperature_c"]
        ends = solution.temperature_c(tag)
        return ends[1] if solution.lps(tag) >= 0.0 else ends[0]

    def lines(self, seen: Seen, operation: Operation | None, units: Units = "si") -> list[str]:
        """Who gets heat and why, where the waters meet, and what to look at: plain sentences."""
        solution = seen.solution if operation is None else operation.solution
        said = []
        for tag in self.loads:
            given, flow = solution.heat.heat_kw.get(tag, 0.0), solution.lps(tag)
            if operation is not None:
                row = operation.load(tag)
                said.append(f"{tag}: {_gets(row.given_kw, row.wanted_kw, units)}. {row.because}")
            elif abs(flow) < STILL_LPS:
                said.append(f"{tag}: its water stands still; it gets nothing.")
            else:
                wanted = solution.state.load.get(tag, self.plant.load_kw(tag))
                said.append(f"{tag}: {_gets(given, wanted, units)}, with {figure(abs(flow), 'lps', units)}.")
        said += self._meetings(solution, units)
        said += operation.warnings if operation is not None else solution.warnings
        return said if units == "si" else [in_us(line) for line in said]

    def _meetings(self, solution: Solution, units: Units) -> Iterator[str]:
        """Which way the water goes where two loops meet."""
        index = {name: n for n, name in enumerate(self.plant.run_names)}
        for separation in self.reading.separations:
            for pipe in separation.pipes[:1]:
                flow = solution.flow.run_lps(index[pipe])
                through = self.plant.runs[index[pipe]].through
                ends = [tag_of(through[0]), tag_of(through[-1])]
                one, other = ends if flow >= 0.0 else ends[::-1]
                passing = max((abs(solution.lps(tag)) for tag in self.boilers), default=0.0)
                yield f"Common pipe between {listed(sorted(ends))}: " + (
                    "its water stands still, for boiler flow and system flow are equal." if abs(flow) < STILL_LPS < passing
                    else "its water stands still." if abs(flow) < STILL_LPS
                    else f"next to nothing, {_short(abs(flow), units)} from {one} to {other}: boiler flow and system flow are "
                         "all but equal." if abs(flow) < 0.02 * passing
                    else f"{figure(abs(flow), 'lps', units)} from {one} to {other}.")
            if not separation.pipes and len(separation.parts) == 1:
                flow = solution.lps(separation.parts[0])
                way = "from its supply end to its return end" if flow > 0 else "from its return end to its supply end"
                yield f"Inside {separation.parts[0]}: " + ("nothing passes from end to end." if abs(flow) < STILL_LPS
                                                           else f"{figure(abs(flow), 'lps', units)} {way}.")


def ways_of(diagram: Diagram) -> dict[str, list[dict[str, object]]]:
    """By the name of a run the paths that its water takes on a drawing: each as SVG, and whether it is drawn along the run."""
    from figures.drawing.paint import path_of

    ways: dict[str, list[dict[str, object]]] = {}
    for piece in diagram.placed.pieces:
        if piece.run and piece.style != "stub":
            ways.setdefault(piece.run, []).append({"d": path_of(piece), "along": piece.along})
    return ways


def moving(plant: Plant, run: int, flow_lps: float) -> dict[str, object]:
    """Whether the water of a run stands still, and its speed along the run [m/s]. run: its place in the file.

    >>> from figures.plant.scheme import Scheme
    >>> plant = Scheme().plant()
    >>> moving(plant, 0, -0.5)["speed"] < -0.1, moving(plant, 0, 0.001)
    (True, {'still': True, 'speed': 0.0})
    """
    still = abs(flow_lps) < STILL_LPS
    area_m2 = pi / 4.0 * plant.runs[run].bore.inside_m ** 2
    return {"still": still, "speed": 0.0 if still else round(flow_lps / 1000.0 / area_m2, 4)}


_FIGURE = re.compile(r"(-?\d+(?:\.\d+)?)(?: of (\d+(?:\.\d+)?))? (kW|L/s|°C)(?![\w/])")
_ENDINGS = {"kW": "kw", "L/s": "lps", "°C": "c"}


def in_us(says: str) -> str:
    """A sentence with its SI figures as US ones.

    >>> in_us("it gets 77 of 85 kW at 60 °C (0.5 L/s)")
    'it gets 263 000 of 290 000 Btu/h at 140 °F (7.93 gpm)'
    """
    def put(found: re.Match[str]) -> str:
        ending = _ENDINGS[found[3]]
        numbers = [float(n) for n in found.groups()[:2] if n]
        words = [f"{converted(n, 'c', 'us'):.0f}" if ending == "c"
                 else figure(n, ending, "us").removesuffix(f" {unit_name(ending, 'us')}") for n in numbers]
        return f"{' of '.join(words)} {unit_name(ending, 'us')}"

    return _FIGURE.sub(put, says)


def _short(flow_lps: float, units: Units) -> str:
    """A flow as it is written on a drawing."""
    return f"{flow_lps:.2f} L/s" if units == "si" else f"{converted(flow_lps, 'lps', units):.1f} gpm"


def _gets(given_kw: float, wanted_kw: float, units: Units) -> str:
    """Heat that a load gets, of what it asks for.

    >>> _gets(2.23, 0.0, "si"), _gets(40.0, 50.0, "si")
    ('2.23 kW, and it asks for none', '40 kW of 50 kW')
    """
    given = figure(given_kw, "kw", units)
    return f"{given} of {figure(wanted_kw, 'kw', units)}" if wanted_kw > 0.0 else f"{given}, and it asks for none"


def _a(arrangement: str) -> str:
    return f"a {arrangement}" if arrangement == "single loop" else arrangement


def _switch(name: str, label: str) -> dict[str, object]:
    return {"name": name, "label": label, "type": "switch"}


def _slider(name: str, label: str, low: float, high: float, step: float, unit: str) -> dict[str, object]:
    return {"name": name, "label": label, "type": "slider", "min": low, "max": high, "step": step, "unit": unit}


def _choice(name: str, label: str, options: list[tuple[str, str]]) -> dict[str, object]:
    return {"name": name, "label": label, "type": "choice", "options": [{"value": v, "label": w} for v, w in options]}


def checked(values: Mapping[str, object], groups: list[dict[str, object]]) -> Values:
    """Values as they came from a page, each held to what its control can say; what is strange is left out."""
    found: Values = {}
    for group in groups:
        for control in group["controls"]:  # type: ignore[attr-defined]
            value = values.get(control["name"])
            if control["type"] == "switch" and isinstance(value, bool):
                found[control["name"]] = value
            elif control["type"] == "slider" and isinstance(value, int | float) and not isinstance(value, bool):
                found[control["name"]] = float(min(max(value, control["min"]), control["max"]))
            elif control["type"] == "choice" and value in [option["value"] for option in control["options"]]:
                found[control["name"]] = str(value)
    return found
