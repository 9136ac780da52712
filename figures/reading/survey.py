"""What the classifier finds on its way: loops, boilers, tanks and their order, before anything is said of them."""

from __future__ import annotations

from dataclasses import dataclass

from figures.plant.model import Plant

from .dhw import on_diverting_port, place_of_tank
from .graph import PipeGraph
from .loops import Loops, find_loops
from .order import BoilerOrder, return_order
from .record import Arrangement, Dhw


@dataclass(frozen=True)
class Survey:
    """Everything the classifier found on its way, for the rules and the evidence to look at.

    whole: the graph of the plant as drawn.  loops: its loops, straddling loads taken away.
    diverted: tank → the diverting valve that gives it all the water or none.
    """

    plant: Plant
    whole: PipeGraph
    loops: Loops
    arrangement: Arrangement
    boilers: tuple[str, ...]
    lead: str | None
    tanks: tuple[str, ...]
    tank_places: dict[str, Dhw]
    diverted: dict[str, str]
    order: BoilerOrder

    @property
    def graph(self) -> PipeGraph:
        """The live graph, straddling loads taken away."""
        return self.loops.graph


def survey(plant: Plant) -> Survey:
    """Reads the piping. Takes any checked plant; never raises."""
    whole = PipeGraph(plant)
    loops = find_loops(whole)
    boilers = tuple(sorted(part.tag for part in plant.of_kind("boiler")))
    marked = [tag for tag in boilers if plant.parts[tag]["lead"]]
    lead = boilers[0] if len(boilers) == 1 else marked[0] if len(marked) == 1 else None
    arrangement = _arrangement(loops)
    tanks = tuple(sorted(tag for tag in plant.parts if plant.is_dhw(tag)))
    places = {tag: _tank_place(loops, arrangement, tag) for tag in tanks}
    diverted = {tag: valve for tag in tanks if (valve := on_diverting_port(loops.graph, tag))}
    return Survey(plant, whole, loops, arrangement, boilers, lead, tanks, places, diverted,
                  return_order(loops, boilers))


def _arrangement(loops: Loops) -> Arrangement:
    if not any(loops.graph.boilers):
        return "undetermined"            # no boiler's water can come round
    if loops.joints:
        return "separated loops"
    vessels = any(kind in ("hydraulic separator", "buffer tank") and _ports_in_use(loops.graph, tag) > 2
                  for tag, kind in loops.graph.kind.items())
    return "undetermined" if vessels else "single loop"


def _ports_in_use(graph: PipeGraph, vessel: str) -> int:
    return len(graph.incident.get(vessel, ()))


def _tank_place(loops: Loops, arrangement: Arrangement, tag: str) -> Dhw:
    if arrangement == "separated loops":
        return place_of_tank(loops, tag)
    if arrangement == "single loop" and loops.graph.chain_of(tag) is not None:
        return "system loop"
    return "undetermined"
