"""From what is set on the screen to the arrays of a chart. matplotlib is loaded by the drawing room when a chart is made."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from figures.physics import NoSolution, Prepared, Solution, solve, sweep
from figures.physics.day import Day, DaySettings, day
from figures.plant.model import Part, Plant, Run
from figures.plant.units import Units

from .explore_scene import BY_HAND, Scene, Values, in_us

if TYPE_CHECKING:
    from figures.drawing.charts import Chart

DAY, RATIO, PUMP, RETURNS = "the day", "supply against flow ratio", "pump and pipes: ", "direct against reverse return"


def charts_of(scene: Scene) -> list[str]:
    """Names of the charts that this plant can have."""
    separated = scene.reading.arrangement == "separated loops" and "boiler" in scene.operator.jobs.job.values()
    return [DAY, *([RATIO] if separated else []), *(f"{PUMP}{tag}" for tag in scene.pumps), RETURNS]


def chart(scene: Scene, values: Values, name: str, units: Units = "si") -> Chart:
    """The chart of that name for what is set. Raises ValueError, in plain words, where there is nothing to draw."""
    if name == DAY:
        from figures.drawing.charts_day import day_chart

        told = days(scene, values)
        made = day_chart(dict(told), units=units)
        rows = [f"{title[:1].upper()}{title[1:]}: {' '.join(one.says())}" for title, one in told]
        rows = rows if units == "si" else [in_us(row) for row in rows]
        made.alt = "\n".join([made.alt, *rows])
        return made
    if name == RATIO:
        return _ratio(scene, values, units)
    if name == RETURNS:
        from figures.drawing.charts import returns_by_branch

        return returns_by_branch(*(branch_flows_lps(reverse=reverse) for reverse in (False, True)), units=units)
    if name.startswith(PUMP) and name.removeprefix(PUMP) in scene.pumps:
        return _pump(scene, values, name.removeprefix(PUMP), units)
    raise ValueError(f"there is no chart '{name}' of this plant; there are {', '.join(charts_of(scene))}")


def days(scene: Scene, values: Values, settings: DaySettings | None = None) -> list[tuple[str, Day]]:
    """The day under what is set; beside it the rightly set one, or the one with priority the other way round."""
    if values["configuration"] == BY_HAND:
        raise ValueError("A day needs a control: choose a configuration in place of 'by hand'.")
    settings = DaySettings() if settings is None else settings
    settings = replace(settings, priority=bool(values["priority"]), boilers=int(float(values["boilers"])))
    set_so = day(scene.operator, str(values["configuration"]), settings, arrangement=str(values["arrangement"]))
    if scene.wrong(values):
        right = scene.operator.right("both")
        return [("as it is set", set_so), ("as the piping asks", day(scene.operator, right.configuration, settings))]
    if scene.reading.dhw_priority == "optional":
        other = day(scene.operator, str(values["configuration"]), replace(settings, priority=not settings.priority))
        pair = [("without priority", set_so), ("with priority", other)]
        return pair if not settings.priority else [("without priority", other), ("with priority", set_so)]
    return [("as it is set", set_so)]


def _pump(scene: Scene, values: Values, tag: str, units: Units) -> Chart:
    from figures.drawing.charts import pump_and_system

    state = scene.state(values)
    if tag in state.off:
        raise ValueError(f"{tag} is off, and a pump that stands still has no operating point. Let it run first.")
    part, now = scene.plant.parts[tag], state.speed.get(tag, 1.0)
    shutoff, rated, at = part.number("shutoff_m"), part.number("rated_m"), part.number("rated_lps")
    sign = -1.0 if part.given.get("reversed") else 1.0
    speeds = np.linspace(0.15, 1.6, 30)
    flow = sign * np.append(sweep(scene.operator.prepared, state, speed={tag: speeds}).lps(tag),
                            scene.operator.prepared.solve(state).lps(tag))
    head = np.append(speeds, now) ** 2 * shutoff - (shutoff - rated) * flow * np.abs(flow) / at**2
    if flow[-1] <= 0.0:
        raise ValueError(f"The water runs backwards through {tag}: the other pumps are stronger. There is no curve to show.")
    most = at * np.sqrt(shutoff / max(shutoff - rated, 1e-9)) * now
    grid = np.linspace(0.0, min(most, 3.0 * float(flow[-1])) if np.isfinite(most) else 3.0 * float(flow[-1]), 60)
    order = np.argsort(flow)
    wanted = np.interp(grid, flow[order], head[order], left=np.nan, right=np.nan)
    first = float(flow[order][0])
    if first > 0.0:      # below the slowest speed that was tried: down to no flow as a square
        wanted = np.where(grid < first, head[order][0] * (grid / first) ** 2, wanted)
    add = now**2 * shutoff - (shutoff - rated) * (grid / at) ** 2
    return pump_and_system(grid, add, wanted, float(flow[-1]), float(head[-1]), pump=tag, units=units)


def ratio_point(scene: Scene, found: Solution) -> tuple[float, float, float, float, float] | None:
    """Boiler flow over system flow, system supply, boiler return, boiler outlet, system return [°C]; None where one of
    the two loops stands still. The system's are those of the heating and DHW loads that no boiler loop holds."""
    boiler_loops = {tag for loop in scene.reading.loops if loop.role == "boiler loop" for tag in loop.parts}
    system = [tag for tag in scene.loads if tag not in boiler_loops]
    pumps = scene.operator.jobs.with_job("system") or system

    def mixed(tags: list[str], end: str) -> float:
        rows = [(abs(found.lps(tag)), found.parts[tag][end]) for tag in tags]
        flows = [(q, c) for q, c in rows if c is not None and q > 1e-6]
        return sum(q * c for q, c in flows) / sum(q for q, _ in flows) if flows else float("nan")

    into, out = (sum(abs(found.lps(tag)) for tag in tags) for tags in (scene.boilers, pumps))
    if into < 1e-4 or out < 1e-4:
        return None
    return (into / out, mixed(system, "inlet_c"), mixed(scene.boilers, "inlet_c"), mixed(scene.boilers, "outlet_c"),
            mixed(system, "outlet_c"))


def _ratio(scene: Scene, values: Values, units: Units) -> Chart:
    from figures.drawing.charts import supply_against_ratio

    state = scene.state(values)
    pumps = [tag for tag in scene.operator.jobs.with_job("boiler")
             if scene.plant.parts[tag].kind == "pump" and tag not in state.off]
    now = ratio_point(scene, solve(scene.operator.prepared, state))
    if now is None or not pumps:
        raise ValueError("One of the two loops stands still, so nothing mixes. Let a boiler pump and a system pump run.")
    points, start = [], None
    for factor in np.linspace(0.12, 2.0, 26):
        slow = replace(state, speed={**state.speed, **{tag: min(2.0, factor) for tag in pumps}})
        try:
            found = solve(scene.operator.prepared, slow, start)
        except NoSolution:
            continue
        start = found.flow
        point = ratio_point(scene, found)
        if point is not None and not np.isnan(point).any():
            points.append(point)
    points.append(now)
    if len(points) < 3:
        raise ValueError("The water passes the loads at too few settings to draw a line.")
    points.sort()
    ratio, supply, back, _, _ = np.array(points).T
    return supply_against_ratio(ratio, supply, back, boiler_c=now[3], return_c=now[4], at=now[0], units=units)


def branch_flows_lps(branches: int = 4, mains: str = "NPS 1-1/2", reverse: bool = False) -> list[float]:
    """Flow of each of several equal branches between two mains, nearest first [L/s].

    The case that facts of the trade are checked with: 3 m of main between branches, branches of 6 m NPS 1.

    >>> [round(q, 3) for q in branch_flows_lps()]       # another solver, Colebrook: 0.6960, 0.6088, 0.5666, 0.5547
    [0.696, 0.609, 0.567, 0.555]
    """
    rows: list[tuple[tuple[str, ...], str, float, float]] = [(("R0", "P", "B", "S0"), mains, 0.001, 0.0)]
    rows += [((f"S{n}", f"S{n + 1}"), mains, 3.0, 0.0) for n in range(branches)]
    rows += [((f"S{n}", f"R{n}"), "NPS 1", 6.0, 10.0) for n in range(1, branches + 1)]
    if reverse:
        rows += [((f"R{n}", f"R{n + 1}"), mains, 3.0, 0.0) for n in range(1, branches)]
        rows.append(((f"R{branches}", "R0"), mains, 3.0 * branches, 0.0))
    else:
        rows += [((f"R{n + 1}", f"R{n}"), mains, 3.0, 0.0) for n in range(branches)]
    parts = {f"{side}{n}": Part(f"{side}{n}", "tee") for side in "SR" for n in range(branches + 1)}
    parts["P"] = Part("P", "pump", {"shutoff_m": 4.0, "rated_lps": 2.0, "rated_m": 2.5})
    parts["B"] = Part("B", "boiler", {"kv_m3h": 1e5})
    plant = Plant("branches", parts, tuple(Run(through, long, size, k) for through, size, long, k in rows))
    flow = Prepared(plant).solve()
    return [flow.run_lps(n) for n in range(branches + 1, 2 * branches + 1)]
