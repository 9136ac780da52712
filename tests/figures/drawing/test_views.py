"""One loop at a time, the way of the water, what is missing: lists of names that hold on any plant, drawn on free room."""

import itertools
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import pytest

from figures.drawing import Diagram
from figures.drawing.views import ABSENT, dimmed, loads, loops, missing, trace
from figures.plant import KINDS, read_plant
from figures.plant.faults import FAULTS
from figures.plant.model import tag_of
from figures.plant.scheme import Scheme
from figures.reading import read

from .checker import check_ghosts
from .odd import ODD

FOLDER = Path(__file__).parents[2] / "plants"
SVG = "{http://www.w3.org/2000/svg}"
PLANTS = [*(read_plant(p) for p in sorted(FOLDER.glob("*.toml"))), *(Scheme.random(n).plant() for n in range(40))]


def spoilt():
    """Schemes with each fault that leaves something out, wherever it can be made."""
    for name in FAULTS:
        made = 0
        for seed in range(40):
            try:
                plant = replace(Scheme.random(seed), faults=(name,)).plant()
            except ValueError:
                continue
            if missing(plant, read(plant)):
                yield name, plant
                made += 1
            if made == 3:
                break


SPOILT = list(spoilt())


def test_every_loop_shows_its_own_and_nothing_of_another():
    for plant in PLANTS:
        reading = read(plant)
        views = loops(plant, reading)
        assert len(views) == len(reading.loops)
        joints = {n for s in reading.separations for n in (*s.parts, *s.pipes)}
        for (name, shown), loop in zip(views.items(), reading.loops):
            assert {*loop.parts, *loop.pipes} <= set(shown)
            faint = set(dimmed(plant, reading, name)) - {other.role for other in reading.loops if other.role != loop.role}
            assert loop.role not in faint
            assert faint | set(shown) == {*plant.parts, *plant.run_names} and not faint & set(shown)
            for other in reading.loops:
                if other is not loop:
                    assert {*other.parts, *other.pipes} - joints <= faint, plant.title


def test_an_unknown_loop_is_refused():
    with pytest.raises(ValueError, match="'attic loop' is no loop of this plant: use single loop"):
        Diagram(Scheme(arrangement="single loop", separation=None).plant()).svg(loop="attic loop")


def test_a_loop_is_a_matter_of_classes():
    diagram = Diagram(Scheme(boilers=2, tank="boiler loop").plant())
    whole, one = diagram.svg(), diagram.svg(loop="system loop", highlight=["B1"])
    assert one.replace(" look", "").replace(" dim", "") == whole
    assert 'class="part look dim" data-tag="B1"' in one and 'class="part" data-tag="E1"' in one


def joined(plant):
    """Parts and the runs that hold both, one beside the other."""
    return {(name, frozenset((tag_of(a), tag_of(b)))) for name, run in zip(plant.run_names, plant.runs)
            for a, b in zip(run.through, run.through[1:])}


@pytest.mark.parametrize("plant", PLANTS, ids=lambda p: p.title)
def test_the_water_comes_round(plant):
    """Every step follows the one before by the pipe it names, out to the load and back to the lead boiler."""
    reading = read(plant)
    known = joined(plant)
    for to in loads(plant):
        steps = trace(plant, reading, to)
        assert steps, to
        assert steps[0].names == (reading.lead or steps[0].names[0],) and steps[-1].names[-1] == steps[0].names[0]
        tags = [s.names[-1] for s in steps]
        assert to in tags
        for before, step in itertools.pairwise(steps):
            assert (step.names[0], frozenset((before.names[-1], step.names[-1]))) in known
        assert all(s.says.endswith(".") and s.names[-1] in s.says for s in steps)


def test_the_water_of_odd_plants():
    for name, plant in ODD.items():
        for to in loads(plant):
            steps = trace(plant, read(plant), to)
            assert not steps or steps[0].names[-1] == steps[-1].names[-1], name


def test_the_trace_goes_where_asked():
    plant = Scheme(boilers=2, tank="boiler loop").plant()
    reading = read(plant)
    assert "E1" not in [s.names[-1] for s in trace(plant, reading, "IT")]
    assert any("The water is in the system loop now." in s.says for s in trace(plant, reading, "E1"))
    with pytest.raises(ValueError, match="'PB1' takes no heat in this plant"):
        trace(plant, reading, "PB1")


def test_sound_plants_miss_nothing():
    for seed in range(40):
        plant = replace(Scheme.random(seed), faults=()).plant()
        assert missing(plant, read(plant)) == ()


def first_plant(fault):
    """The first random scheme on which a fault can be made, with it."""
    for seed in range(200):
        try:
            return replace(Scheme.random(seed), faults=(fault,)).plant()
        except ValueError:
            continue
    raise AssertionError(fault)


def test_each_rule_whose_mend_is_to_fit_a_part_has_its_entry():
    """Whoever words a mend as 'Fit a …' is told here that the drawing has to know which. What takes another's place is there,
    and notes and what local code decides are left out."""
    found = [f for fault in FAULTS for f in read(first_plant(fault)).findings if f.severity in ("must fix", "should fix")]
    asked = {f.rule for f in found if re.search(r"\b[Ff]it (a|an|the|one)\b", f.fix) and "in place of" not in f.fix}
    assert asked == {*ABSENT, "ghost-flow"}
    assert set(ABSENT.values()) <= set(KINDS)


def test_each_rule_that_asks_for_a_part_is_drawn():
    """A plant of some fault shows each."""
    seen = {one.rule for _, plant in SPOILT for one in missing(plant, read(plant))}
    assert seen == {*ABSENT, "ghost-flow"}


@pytest.mark.parametrize(("name", "plant"), SPOILT, ids=[f"{name}-{n}" for n, (name, _) in enumerate(SPOILT)])
def test_ghosts_stand_on_free_room(name, plant):
    diagram = Diagram(plant)
    gone = missing(plant, diagram.reading)
    assert [g.missing for g in diagram.ghosts] == list(gone), "each has a place"
    assert check_ghosts(diagram) == []
    for one in gone:
        assert one.beside in plant.parts and one.kind.split()[-1] in one.says, one
    root = ET.fromstring(diagram.svg(missing=True, findings=diagram.reading.findings))
    assert [g.get("data-missing") for g in root.iter(f"{SVG}g") if g.get("class") == "ghost"] == [g.name for g in gone]
    assert "ghost" not in diagram.svg().partition("</style>")[2]
