"""Nothing lies on anything else: samples, schemes, odd plants and senseless piping, in the ladder and in the plain form."""

import random
from pathlib import Path

import pytest

from figures.drawing.mains import in_turn
from figures.drawing.place import place
from figures.plant import Plant, read_plant
from figures.plant.model import tag_of
from figures.plant.scheme import Scheme
from figures.reading import read

from .checker import check
from .odd import ODD, cascade, made, tangle

SAMPLES = sorted((Path(__file__).parents[2] / "plants").glob("*.toml"))


def common(plant: Plant) -> list[str]:
    return [run for separation in read(plant).separations for run in separation.pipes]


def shuffled(plant: Plant, seed: int) -> Plant:
    dice = random.Random(seed)
    tags = list(plant.parts)
    runs = list(plant.runs)
    dice.shuffle(tags)
    dice.shuffle(runs)
    return Plant(plant.title, {t: plant.parts[t] for t in tags}, tuple(runs), plant.design)


@pytest.mark.parametrize("path", SAMPLES, ids=lambda p: p.stem)
@pytest.mark.parametrize("plain", [False, True], ids=["ladder", "plain"])
def test_samples(path, plain):
    plant = read_plant(path)
    assert check(place(plant, common(plant), plain), plant).wrong == {}


def test_there_are_samples():
    assert len(SAMPLES) >= 26


def test_sample_ladders_hardly_cross():
    """Straight pipes are the point of the ladder: over all samples one crossing, where a coil straddles."""
    crossed = {path.stem: n for path in SAMPLES
               if (n := check(place(p := read_plant(path), common(p)), p).crossings)}
    assert sum(crossed.values()) <= 2, crossed


def test_five_hundred_schemes():
    wrong, crossings = {}, 0
    for seed in range(500):
        plant = Scheme.random(seed).plant()
        counts = check(place(plant, common(plant)), plant)
        crossings += counts.crossings
        if counts.wrong:
            wrong[seed] = counts.wrong
    assert wrong == {}
    assert crossings < 60


@pytest.mark.parametrize("name", ODD)
def test_odd_plants(name):
    plant = ODD[name]
    for plain in (False, True):
        assert check(place(plant, common(plant), plain), plant).wrong == {}, "plain" if plain else "ladder"


def test_senseless_piping():
    wrong = {}
    for seed in range(120):
        plant = tangle(seed)
        for plain in (False, True):
            if found := check(place(plant, (), plain), plant).wrong:
                wrong[seed, plain] = found
    assert wrong == {}


def test_same_plant_same_drawing():
    """Neither the order of the file nor an earlier drawing changes anything."""
    for plant in [*map(read_plant, SAMPLES), *(Scheme.random(seed).plant() for seed in range(40))]:
        first = place(plant, common(plant))
        for seed in (1, 2):
            again = place(shuffled(plant, seed), common(plant))
            assert {m.tag: (m.box, m.turn, m.flip) for m in again.marks} == \
                   {m.tag: (m.box, m.turn, m.flip) for m in first.marks}, plant.title
            one, two = (sorted((p.run.partition("#")[0], p.points) for p in d.pieces) for d in (first, again))
            assert one == two, "twins may swap their numbers, nothing else"


def test_boilers_left_loads_right_supply_above_return():
    for path in SAMPLES:
        plant = read_plant(path)
        if "straddles" in path.stem:
            continue
        at = {m.tag: m for m in place(plant, common(plant)).marks}
        boilers = [at[p.tag].x for p in plant.of_kind("boiler")]
        loads = [at[t].x for t in plant.parts if plant.is_load(t)]
        assert max(boilers) < min(loads), path.stem
        for part in plant.of_kind("boiler"):
            assert at[part.tag].turn == 270, "water rises through a boiler"


def test_the_drawing_shows_the_return_order():
    """Reverse return: the main comes home under the boiler that is furthest out. Direct: it ends there last."""
    seen = {"reverse": 0, "direct": 0}
    for plant in [*map(read_plant, SAMPLES), *(Scheme.random(seed).plant() for seed in range(150))]:
        reading = read(plant)
        if reading.return_order not in seen:
            continue
        at = {m.tag: m for m in place(plant, common(plant)).marks}
        boilers = {p.tag for p in plant.of_kind("boiler")}
        furthest = min(at[b].x for b in boilers)
        tees = {tag_of(run.through[0]) for run in plant.runs if boilers & {tag_of(e) for e in run.through[1:]}}
        dots = [x for t in tees if plant.parts[t].kind == "tee" and len([r for r in plant.runs if t in (
            r.through[0], r.through[-1])]) > 2 for x, _ in at[t].dots]
        assert (abs(min(dots) - furthest) < 1) == (reading.return_order == "reverse"), plant.title
        seen[reading.return_order] += 1
    assert seen["reverse"] > 20 and seen["direct"] > 5


def test_reversed_parts_are_drawn_the_other_way():
    sound = made(["B1 P1 C1 T1", "T1 E1 T2", "T2 B1", "T1 T2"])
    wrong = made(["B1 P1 C1 T1", "T1 E1 T2", "T2 B1", "T1 T2"], more={"P1": "reversed = true", "C1": "reversed = true"})
    one, two = ({m.tag: m for m in place(p).marks} for p in (sound, wrong))
    for tag in ("P1", "C1"):
        assert (one[tag].turn + 180) % 360 == two[tag].turn
        assert (one[tag].x, one[tag].y) == (two[tag].x, two[tag].y)
    assert one["B1"].turn == two["B1"].turn


def test_a_bridge_where_pipes_cross():
    plant = ODD["crossed ports"]
    placed = place(plant, common(plant))
    counts = check(placed, plant)
    assert counts.crossings >= 1
    assert sum(len(p.hops) for p in placed.pieces) >= counts.crossings


def test_the_checker_sees_faults():
    """A drawing that is spoilt on purpose is found out, in every count."""
    plant = made(["B1 P1 T1", "T1 E1 T2", "T2 B1", "T1 T2", "T1 RV1"])

    def fresh():
        return place(plant, common(plant))

    def mark(placed, tag):
        return next(m for m in placed.marks if m.tag == tag)

    assert check(fresh(), plant).wrong == {}
    placed = fresh()
    mark(placed, "P1").box = mark(placed, "B1").box
    assert "part_part" in check(placed, plant).wrong
    placed = fresh()
    placed.words[0].box = placed.words[1].box
    assert "label_label" in check(placed, plant).wrong
    placed = fresh()
    word = next(w for w in placed.words if w.tag == "P1")
    word.box = mark(placed, "B1").box
    assert "label_part" in check(placed, plant).wrong
    placed = fresh()
    piece = next(p for p in placed.pieces if p.run == "T1>T2")
    (x0, y0), (_, y1) = piece.points[0], piece.points[-1]
    next(w for w in placed.words if w.tag == "P1").box = (x0 - 5, (y0 + y1) / 2 - 5, x0 + 5, (y0 + y1) / 2 + 5)
    assert "label_pipe" in check(placed, plant).wrong
    placed = fresh()
    box = mark(placed, "B1").box
    placed.pieces[0].points.append((box[0] - 20, (box[1] + box[3]) / 2))
    placed.pieces[0].points.append((box[2] + 20, (box[1] + box[3]) / 2))
    assert "pipe_through_part" in check(placed, plant).wrong
    placed = fresh()
    placed.pieces = [p for p in placed.pieces if p.run != "T1>T2"]
    assert "missing" in check(placed, plant).wrong
    crossing = ODD["crossed ports"]
    placed = place(crossing, common(crossing))
    for p in placed.pieces:
        p.hops.clear()
    assert "no_bridge" in check(placed, crossing).wrong


def test_more_sensors_than_places():
    plant = made(["B1 P1 T1", "T1 E1 T2", "T2 B1"], at={f"S{n}": f"T{1 + n % 2}" for n in range(120)})
    assert check(place(plant, common(plant)), plant).wrong == {}


def test_a_large_plant():
    plant = made(cascade(8, 12))
    placed = place(plant, common(plant))
    assert check(placed, plant).wrong == {}
    assert placed.width < 3600


def test_a_header_of_thousands_of_tees_is_put_in_order():
    """One after the other, without going deeper with each: recursion would end at a thousand."""
    order, back = in_turn(["0"], lambda name: [str(int(name) + 1)] if name != "5000" else ["0"])
    assert order == [str(n) for n in range(5000, -1, -1)]
    assert back == [("5000", "0")]
