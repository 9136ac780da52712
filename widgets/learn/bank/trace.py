"""Which way the water goes: what each pipe carries, and what a short pipe across is for."""

from __future__ import annotations

from dataclasses import replace

from figures.plant.model import Plant, tag_of
from figures.reading import read

from .case import Case

FAR = {"a": "b", "b": "a"}
CROSSING = ("hydraulic separator", "buffer tank")


class Trace:
    """The elements of a plant in a row along its written runs; pipes across are left out."""

    def __init__(self, case: Case) -> None:
        self.case = case
        plant = self.plant = case.plant
        across = {name for s in case.reading.separations for name in s.pipes}
        across |= {name for name, run in zip(plant.run_names, plant.runs)
                   if any(plant.parts[tag_of(end)].kind == "bypass valve" for end in run.through)}
        self.across = across
        self.before: dict[str, list[str]] = {}
        self.after: dict[str, list[str]] = {}
        for name, run in zip(plant.run_names, plant.runs):
            if name in across:
                continue
            for here, there in zip(run.through, run.through[1:]):
                self.after.setdefault(here, []).append(there)
                self.before.setdefault(there, []).append(here)

    def onward(self, end: str, back: bool) -> list[str]:
        """What comes next after an element, through a vessel or a three-port valve too."""
        table = self.before if back else self.after
        tag, _, port = end.partition(".")
        kind = self.plant.parts[tag].kind
        found = list(table.get(end, ()))
        if port and not found:
            if kind in CROSSING:
                found = [f"{tag}.{FAR[port[0]]}{port[1:]}"]
            elif kind == "diverting valve":
                found = [f"{tag}.common"] if port != "common" else [f"{tag}.a", f"{tag}.b"]
            elif kind == "mixing valve":
                found = [f"{tag}.hot"] if port == "mixed" else [f"{tag}.mixed"]
        return found

    def meets(self, end: str, back: bool) -> set[str]:
        """What is met first: 'boiler', 'load', or 'end' where nothing follows."""
        plant, seen, waiting, met = self.plant, {end}, [end], set()
        while waiting:
            here = waiting.pop()
            kind = plant.parts[tag_of(here)].kind
            if kind == "boiler" or plant.is_load(tag_of(here)):
                met.add("boiler" if kind == "boiler" else "load")
                continue
            ahead = self.onward(here, back)
            if not ahead:
                met.add("end")
            for there in ahead:
                if there not in seen:
                    seen.add(there)
                    waiting.append(there)
        return met


def sides(case: Case) -> dict[str, str]:
    """Of each pipe of which it is plain: 'supply', 'return', 'dead end', or 'between' supply and return."""
    plant, trace = case.plant, Trace(case)
    found = {}
    for name, run in zip(plant.run_names, plant.runs):
        tags = [tag_of(end) for end in run.through]
        if name in trace.across:
            found[name] = "between"
        elif plant.parts[tags[-1]].what.shape == "end":
            found[name] = "dead end"
        elif not any(plant.is_load(tag) or plant.parts[tag].kind == "boiler" for tag in tags[1:-1]):
            # Where the run itself ends at a boiler or load, that is what is met.
            came = trace.meets(run.through[0], back=True)
            goes = trace.meets(run.through[-1], back=False) - {"end"}
            if came == {"boiler"} and goes == {"load"}:
                found[name] = "supply"
            elif came == {"load"} and goes == {"boiler"}:
                found[name] = "return"
    return found


def bypass_of(case: Case) -> dict[str, str]:
    """What each bypass is for, by the rules: 'boilers' or 'loads' where their finding appears without it."""
    plant, found = case.plant, {}
    before = {finding.rule for finding in case.reading.findings}
    separating = {name for s in case.reading.separations for name in s.pipes}
    for n, name in enumerate(plant.run_names):
        kinds = {plant.parts[tag_of(end)].kind for end in plant.runs[n].through[1:-1]}
        ends = {plant.parts[tag_of(end)].kind for end in (plant.runs[n].through[0], plant.runs[n].through[-1])}
        if name in separating or ends != {"tee"} or not (kinds == {"bypass valve"} or (
                not kinds and case.reading.arrangement == "single loop" and not plant.of_kind("bypass valve"))):
            continue
        new = {finding.rule for finding in read(without(plant, n)).findings} - before
        if "pump-bypass" in new and "zones-shut" not in new:
            found[name] = "boilers"
        elif "zones-shut" in new and "pump-bypass" not in new:
            found[name] = "loads"
    return found


def without(plant: Plant, number: int) -> Plant:
    """The plant without one run and the parts that stand in it."""
    run = plant.runs[number]
    gone = {tag_of(end) for end in run.through[1:-1]}
    parts = {tag: part for tag, part in plant.parts.items() if tag not in gone and part.given.get("at") not in gone}
    return replace(plant, parts=parts, runs=plant.runs[:number] + plant.runs[number + 1:])
