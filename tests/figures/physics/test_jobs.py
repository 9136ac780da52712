"""What pumps and valves are for: the builder's own names say it, and the piping must come to the same without looking at them."""

import re

import pytest

from figures.physics.jobs import jobs_of
from figures.physics.network import Prepared
from figures.physics.operation import Operator
from figures.plant import Part, Plant, Run
from figures.plant.scheme import Scheme
from figures.reading import read

from .test_operation import operator

JOB = {"PB": "boiler", "MV": "boiler", "PR": "boiler", "PS": "system", "PZ": "zone", "PL": "zone", "ZV": "zone", "PT": "tank",
       "VT": "tank"}


def letters(tag: str) -> str:
    return tag.rstrip("0123456789")


def number(tag: str) -> str:
    return re.sub(r"\D", "", tag)


@pytest.mark.parametrize("seed", range(40))
def test_the_piping_tells_what_the_builder_meant(seed: int) -> None:
    """Every pump and valve of a scheme has the job that its builder named it for. The only pump of an undivided boiler room is
    the system's, and so is the pump of the only zone."""
    ready = operator(seed)
    plant, jobs = ready.plant, ready.jobs
    boilers, loads = plant.of_kind("boiler"), [tag for tag in plant.parts if plant.is_load(tag)]
    for part in plant.of_kind("pump", "motorised valve"):
        kind, job = letters(part.tag), jobs.job.get(part.tag)
        if kind in JOB and job != JOB[kind]:
            sole = {"PB": boilers, "PZ": loads}.get(kind, [])
            assert job == "system" and len(sole) == 1, part.tag
    for job in ("boiler", "system", "tank", "zone", "shared"):
        assert jobs.with_job(job) == [tag for tag in plant.parts if jobs.job.get(tag) == job]           # type: ignore[arg-type]
    assert jobs.with_job("tank", "zone") == [tag for tag in plant.parts if jobs.job.get(tag) in ("tank", "zone")]


@pytest.mark.parametrize("seed", range(40))
def test_the_way_of_the_water_meets_what_lies_on_it_and_nothing_else(seed: int) -> None:
    """From every boiler to every load: its own pump and valve, the load's own, the loops' between; never another boiler's or
    another load's. A diverting valve is passed by b to the tank, by a to the heating."""
    ready = operator(seed)
    plant, jobs = ready.plant, ready.jobs
    loads = [tag for tag in plant.parts if plant.is_load(tag)]
    for boiler in (part.tag for part in plant.of_kind("boiler")):
        assert list(jobs.ways[boiler]) == loads
        for load, way in jobs.ways[boiler].items():
            dhw, met = plant.is_dhw(load), {*way.pumps, *way.valves}
            own = {"PT", "VT"} if dhw else {f"{kind}{number(load)}" for kind in ("PZ", "PL", "ZV")}
            wanted = {f"PB{number(boiler)}", f"MV{number(boiler)}", "PR"} | own
            if not dhw or (ready.reading.dhw == "system loop" and "PT" not in plant.parts):
                wanted.add("PS")
            assert wanted & set(plant.parts) <= met, (boiler, load)
            assert {tag for tag in met if letters(tag) in JOB and letters(tag) != "PS"} <= wanted, (boiler, load)
            assert set(way.ports.values()) <= {"b" if dhw else "a", "mixed", "hot"}
            assert set(way.ports) == {part.tag for part in plant.of_kind("diverting valve")}
            assert [jobs.serves[tag] >= {load} for tag in met] == [True] * len(met)
            assert jobs.load_parts(load) == [tag for tag in jobs.load_parts(load) if jobs.job[tag] != "boiler"]
            assert set(jobs.closes(load)) <= own | {"VH"} and (own & set(plant.parts)) - set(jobs.closes(load)) <= {
                tag for tag in own if jobs.job.get(tag) == "system"}


def test_what_a_boiler_works_is_its_own() -> None:
    """PB1 of B1, in a row of boilers the pump that they share, a valve between boiler and the first tee."""
    assert operator("tees-direct-return").jobs.boiler_parts == {f"B{n}": (f"PB{n}",) for n in (1, 2, 3)}
    row = operator("tees-per-load").jobs.boiler_parts
    assert {boiler: set(tags) for boiler, tags in row.items()} == {"B1": {"MV1", "PR"}, "B2": {"MV2", "PR"}}
    assert operator("single-loop-four-boilers").jobs.boiler_parts == {f"B{n}": (f"MV{n}",) for n in (1, 2, 3, 4)}


def undivided(*tags: str) -> dict[str, str]:
    """Jobs on one ring in that order: boiler B, pump P, load E, motorised valves V and W."""
    kinds = {"B": "boiler", "P": "pump", "E": "emitter", "V": "motorised valve", "W": "motorised valve"}
    plant = Plant("ring", {tag: Part(tag, kinds[tag]) for tag in tags}, (Run((*tags, tags[0]), 20.0, "NPS 1"),))
    jobs = jobs_of(Prepared(plant), read(plant))
    assert set(jobs.boiler_parts["B"]) == {tag for tag, job in jobs.job.items() if job == "boiler"}
    return dict(jobs.job)


@pytest.mark.parametrize(("ring", "boilers"), [("BVPE", "V"), ("BPVE", ""), ("BPEV", "V"), ("BPEVW", "VW"), ("BVPWE", "V"),
                                               ("BPVEW", "W"), ("PBVE", "V"), ("EVBP", "V")])
def test_on_an_undivided_ring_a_valve_is_the_boilers_up_to_the_first_pump_or_load(ring: str, boilers: str) -> None:
    """On either side of it; the rest are the zone's, and the pump is the system's."""
    assert undivided(*ring) == {"P": "system"} | {tag: "boiler" if tag in boilers else "zone" for tag in ring if tag in "VW"}


def test_a_load_that_no_boiler_reaches_has_no_way() -> None:
    """On a ring of its own, or on a dead end: no way, nobody's job, and no error."""
    kinds = {"B": "boiler", "D": "drain", **dict.fromkeys("PQR", "pump"), **dict.fromkeys("EFG", "emitter"),
             **dict.fromkeys("AZ", "tee")}
    parts = {tag: Part(tag, kind) for tag, kind in kinds.items()}
    ends = (("Z", "B", "P", "A"), ("A", "E", "Z"), ("F", "Q", "F"), ("A", "R", "G", "D"))
    plant = Plant("cut", parts, tuple(Run(end, 3.0, "NPS 1") for end in ends))
    jobs = jobs_of(Prepared(plant), read(plant))
    assert set(jobs.ways["B"]) == {"E"} and set(jobs.job) == {"P"}
    assert jobs.load_parts("F") == jobs.closes("F") == jobs.load_parts("G") == []


@pytest.mark.parametrize("pump", ["supply", "return"])
def test_the_way_back_from_a_floor_does_not_go_through_its_mixing_valve(pump: str) -> None:
    """The pump of the loop stands on the way, wherever it is; none is left without a job, and the floor gets its heat."""
    ready = Operator(Scheme(low_temperature=(1,), system_pump=pump).plant())
    assert ready.jobs.job == {"PB1": "boiler", "PS": "system", "ZV1": "zone", "PL1": "zone"}
    found = ready.operate(ready.right("heat"))
    assert set(found.sequence.running) == {"PB1", "PS", "PL1"}
    assert found.load("E1").given_kw > 0.95 * found.load("E1").wanted_kw
