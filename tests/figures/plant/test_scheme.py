"""Schemes: the same for the same seed, checked, well sized, covering the whole space, and read as built."""

from __future__ import annotations

import subprocess
import sys
from collections import Counter
from dataclasses import replace

import pytest

from figures.physics import State, solve
from figures.plant import SIZES, parse_plant, write_plant
from figures.plant.pipe import STEEL_INSIDE_MM
from figures.plant.scheme import SEPARATIONS, Scheme
from figures.plant.sizing import (
    FASTEST_LARGE_M_S,
    FASTEST_SMALL_M_S,
    SMALL_M,
    STEEPEST_PA_M,
    flow_lps,
    gradient_pa_m,
    velocity_m_s,
)
from figures.reading import read
from tests.figures.plant.disguise import disguise

KEYS = ("arrangement", "dhw", "control", "dhw_priority", "lead", "return")
SEEDS = range(300)
SCHEMES = [Scheme.random(seed) for seed in SEEDS]


def difference(scheme: Scheme) -> dict[str, tuple[object, object]]:
    """Where the reading of a scheme's plant is not what it was built to be: key → built, read."""
    built, said = scheme.expected(), read(scheme.plant()).as_dict()
    wrong = {key: (built[key], said[key]) for key in KEYS if built[key] != said[key]}
    boilers = built["boilers"]
    assert isinstance(boilers, tuple)
    if sorted(boilers) != said["boilers"]:
        wrong["boilers"] = (built["boilers"], said["boilers"])
    return wrong


# -- seeds -------------------------------------------------------------------------------------------------


def test_the_same_seed_makes_the_same_plant():
    for seed in range(40):
        assert Scheme.random(seed) == Scheme.random(seed)
        assert write_plant(Scheme.random(seed).plant()) == write_plant(Scheme.random(seed).plant())


def test_the_same_seed_makes_the_same_plant_in_another_process():
    code = ("from figures.plant import write_plant\nfrom figures.plant.scheme import Scheme\n"
            "print(''.join(write_plant(Scheme.with_random_faults(s, 2).plant()) for s in range(12)), end='')")
    texts = {subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True,
                            env={"PYTHONHASHSEED": hash_seed, "PATH": ""}, encoding="utf-8").stdout for hash_seed in ("1", "77")}
    here = "".join(write_plant(Scheme.with_random_faults(seed, 2).plant()) for seed in range(12))
    assert texts == {here}


def test_different_seeds_make_different_plants():
    assert len({write_plant(scheme.plant()) for scheme in SCHEMES[:100]}) == 100


@pytest.mark.parametrize("filters, holds", [
    ({"control": "DHW on the boiler loop"}, lambda s: s.tank == "boiler loop"),
    ({"control": "heating only"}, lambda s: s.tank == "none"),
    ({"arrangement": "single loop"}, lambda s: s.arrangement == "single loop"),
    ({"boilers": 4}, lambda s: s.boilers == 4),
    ({"boilers": (2, 3)}, lambda s: s.boilers in (2, 3)),
    ({"control": "DHW on the system loop", "arrangement": "separated loops", "boilers": 8},
     lambda s: (s.tank, s.arrangement, s.boilers) == ("system loop", "separated loops", 8)),
    ({"size": "small"}, lambda s: s.boilers == s.emitters == 1),
])
def test_filters_hold_for_every_seed(filters, holds):
    assert all(holds(Scheme.random(seed, **filters)) for seed in range(80))


@pytest.mark.parametrize("filters, says", [
    ({"control": "DHW on the boiler loop", "arrangement": "single loop"}, "needs separated loops"),
    ({"control": "something"}, "control is 'something'"),
    ({"arrangement": "loop"}, "arrangement is 'loop'"),
    ({"boilers": 9}, "1 to 8"),
    ({"boilers": 2, "size": "small"}, "one boiler"),
    ({"size": "huge"}, "size is 'huge'"),
])
def test_filters_that_nothing_can_meet_are_refused(filters, says):
    with pytest.raises(ValueError, match=says):
        Scheme.random(1, **filters)


def test_a_small_single_loop_has_eight_tags_at_most():
    fewest = [len(Scheme.random(seed, size="small", arrangement="single loop", control="heating only").plant().parts)
              for seed in range(30)]
    assert max(fewest) <= 8


# -- what is made ------------------------------------------------------------------------------------------


def test_every_plant_is_written_and_read_back_equal():
    for scheme in SCHEMES[:150]:
        plant = scheme.plant()
        assert parse_plant(write_plant(plant)) == plant, scheme.title


def test_random_schemes_cover_the_whole_space():
    seen = Counter()
    for scheme in (Scheme.random(seed) for seed in range(1500)):
        seen.update({("separation", scheme.separation), ("boilers", scheme.boilers), ("emitters", scheme.emitters),
                     ("control", scheme.expected()["control"]), ("return", scheme.expected()["return"]),
                     ("priority", scheme.expected()["dhw_priority"]), ("by", scheme.arrangement, scheme.boilers_by),
                     ("tank", scheme.tank, scheme.tank_by, scheme.tank_joins), ("zones", scheme.zones_by),
                     ("pump", scheme.system_pump), ("bypass", scheme.bypass), ("ends", scheme.header_ends),
                     ("pipe", scheme.pipe), ("dhw by", scheme.tank != "none" and scheme.dhw_by),
                     ("second bypass", scheme.load_bypass), ("lead", scheme.lead > 1),
                     ("floor", bool(scheme.low_temperature)), ("different", len(set(scheme.outputs_kw)) > 1)})
    wanted = [("separation", name) for name in (None, *SEPARATIONS)]
    wanted += [("boilers", n) for n in range(1, 9)] + [("emitters", n) for n in range(1, 7)]
    wanted += [("control", name) for name in ("heating only", "DHW on the system loop", "DHW on the boiler loop")]
    wanted += [("return", name) for name in ("single boiler", "reverse", "direct", "not applicable")]
    wanted += [("priority", name) for name in ("not applicable", "optional", "always")]
    wanted += [("by", "single loop", name) for name in ("pump", "motorised valve", "none")]
    wanted += [("by", "separated loops", name) for name in ("pump", "motorised valve")]
    wanted += [("tank", "boiler loop", *how) for how in (
        ("pump", "branch"), ("diverting valve", "branch"), ("motorised valve", "branch"), ("pump", "own tees"))]
    wanted += [("tank", "system loop", *how) for how in (
        ("pump", "branch"), ("diverting valve", "branch"), ("motorised valve", "branch"), ("pump", "own tees"))]
    wanted += [("zones", "pump"), ("zones", "motorised valve"), ("pump", "return"), ("pump", "none"),
               ("bypass", "valve"), ("bypass", "pipe"), ("ends", "capped"), ("ends", "vented"), ("pipe", "copper"),
               ("dhw by", "heat exchanger"), ("second bypass", True), ("lead", True), ("floor", True),
               ("different", True)]
    assert [item for item in wanted if seen[item] < 5] == []


def test_pipes_are_sized_within_the_usual_limits():
    from figures.plant.build import built
    for scheme in SCHEMES[:150]:
        draft = built(scheme)
        for row, flow in zip(draft.runs, draft.flows):
            size = row["size"]
            fastest = FASTEST_SMALL_M_S if SIZES[size].inside_m <= SMALL_M else FASTEST_LARGE_M_S
            assert velocity_m_s(flow, size) <= fastest + 1e-6, (scheme.title, row)
            assert gradient_pa_m(flow, size) <= STEEPEST_PA_M + 1e-3, (scheme.title, row)
            if flow > 0.3:
                assert velocity_m_s(flow, size) > 0.02, (scheme.title, row)


def test_sizes_of_everything_else_are_plausible():
    for scheme in SCHEMES[:150]:
        plant = scheme.plant()
        for pump in plant.of_kind("pump"):
            assert 1.0 <= pump.number("rated_m") <= 15.0, (scheme.title, pump)
            assert 1.2 <= pump.number("shutoff_m") / pump.number("rated_m") <= 1.5
        for boiler, output in zip(plant.of_kind("boiler"), scheme.outputs_kw):
            assert boiler.number("output_kw") == output
        (tank,) = plant.of_kind("expansion tank")
        assert 0.02 <= tank.number("volume_l") / sum(scheme.outputs_kw) <= 3.0
        for valve in plant.of_kind("relief valve"):
            assert 207.0 <= valve.number("set_kpa") <= 690.0
        assert 0.7 <= sum(scheme.loads_kw) / sum(scheme.outputs_kw) <= 1.0


def test_the_common_pipe_is_short_and_as_large_as_the_larger_main():
    for scheme in SCHEMES:
        if scheme.separation != "closely spaced tees":
            continue
        plant = scheme.plant()
        common = next(run for run in plant.runs if run.through == ("A", "Z"))
        assert common.length_m <= 4.0 * common.bore.inside_m
        mains = [run.bore.inside_m for run in plant.runs if run is not common and {"A", "Z"} & set(run.through)]
        assert common.bore.inside_m == max(mains)


def test_pumps_deliver_the_design_flow_of_the_loads():
    assert flow_lps(100.0, 20.0) == pytest.approx(1.2151, abs=1e-3)
    plant = Scheme(outputs_kw=(100.0,), loads_kw=(80.0,), supply_c=80.0, return_c=60.0).plant()
    assert plant.parts["PS"].number("rated_lps") == pytest.approx(80.0 / (4.115 * 20.0), rel=0.01)
    assert plant.parts["PB1"].number("rated_lps") == pytest.approx(100.0 / (4.115 * 20.0), rel=0.01)


def test_the_water_does_what_the_plant_was_sized_for():
    """With all running, zones with plain water get their design flow and boilers of separated loops theirs."""
    for scheme in SCHEMES[:60]:
        flows = solve(scheme.plant(), State()).as_dict()["parts"]
        for i, load_kw in enumerate(scheme.loads_kw, 1):
            if i not in scheme.low_temperature:
                tag = f"HX{i}" if i in scheme.exchangers else f"E{i}"
                share = flows[tag]["flow_lps"] / flow_lps(load_kw, scheme.difference_k)
                assert 0.9 < share < 1.35, (scheme, tag)
        for i, output_kw in enumerate(scheme.outputs_kw, 1):
            share = flows[f"B{i}"]["flow_lps"] / flow_lps(output_kw, scheme.difference_k)
            assert (0.9 if scheme.arrangement == "separated loops" else 0.6) < share < 1.8, (scheme, i)


# -- what cannot be ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("fields, says", [
    ({"arrangement": "single loop", "tank": "boiler loop"}, "a tank on the boiler loop needs separated loops"),
    ({"arrangement": "single loop", "separation": "buffer tank"}, "a single loop has no buffer tank"),
    ({"separation": "tees per boiler"}, "two boilers or more"),
    ({"separation": "tees per boiler", "boilers": 3, "tank": "boiler loop"}, "a loop of its own"),
    ({"separation": "tees per boiler", "boilers": 3, "boilers_by": "motorised valve"}, "a pump each"),
    ({"tank": "system loop", "tank_by": "pump"}, "would push through a tank"),
    ({"tank": "system loop", "tank_by": "motorised valve", "zones_by": "pump"}, "so must the tank"),
    ({"tank_by": "pump"}, "there is none"),
    ({"boilers": 9}, "1 to 8"), ({"boilers": 0}, "1 to 8"), ({"emitters": 7}, "1 to 6"),
    ({"boilers": 2, "lead": 3}, "numbered 1 to 2"),
    ({"boilers": 2, "outputs_kw": (100.0,)}, "one positive figure for each boiler"),
    ({"emitters": 2, "loads_kw": (0.0, 10.0)}, "one positive figure for each emitter"),
    ({"spacing_diameters": 9.0}, "at most 4"),
    ({"zones_by": "pump", "system_pump": "supply"}, "in series"),
    ({"zones_by": "none", "emitters": 2}, "sole emitter"),
    ({"bypass": "valve"}, "belongs to a single loop"),
    ({"arrangement": "single loop", "boilers": 2, "boilers_by": "none"}, "several boilers need"),
    ({"arrangement": "single loop", "boilers": 2, "boilers_by": "pump", "zones_by": "pump"}, "fight each other"),
    ({"arrangement": "single loop", "boilers": 2, "bypass": "none"}, "needs a bypass across them"),
    ({"arrangement": "single loop", "boilers_by": "pump", "boiler_pump_on": "outlet"}, "stand at their inlets"),
    ({"separation": "tees per boiler", "boilers": 2, "system_pump": "none"}, "needs a pump"),
    ({"sensors": ()}, "system supply sensor"),
    ({"emitters": 0}, "emitters is 0; a scheme has 1 to 6"),
    ({"boilers": 0}, "boilers is 0; a scheme has 1 to 8"),
    ({"fittings": ("gargoyle",)}, "'gargoyle' is not known"),
    ({"return_order": "sideways"}, "return_order is 'sideways'"),
    ({"exchangers": (1,), "low_temperature": (1,)}, "not both"),
    ({"exchangers": (2,)}, "no emitter has"),
    ({"supply_c": 60.0, "return_c": 60.0}, "5 K between"),
])
def test_what_cannot_be_is_refused_in_plain_words(fields, says):
    with pytest.raises(ValueError, match=says):
        Scheme(**fields)


def test_too_much_for_the_largest_pipe_is_refused():
    with pytest.raises(ValueError, match=f"more than NPS {[*STEEL_INSIDE_MM][-1]} carries"):
        Scheme(boilers=8, outputs_kw=(900.0,) * 8, supply_c=75.0, return_c=65.0).plant()


# -- the reading of what is made ---------------------------------------------------------------------------


def test_the_reading_says_what_the_scheme_was_built_to_be():
    assert [(scheme.title, wrong) for scheme in SCHEMES if (wrong := difference(scheme))] == []


def test_the_reading_of_small_schemes():
    small = [Scheme.random(seed, size="small") for seed in range(60)]
    assert [(scheme, wrong) for scheme in small if (wrong := difference(scheme))] == []


def test_random_schemes_are_sound():
    bad = [(scheme.title, finding) for scheme in SCHEMES for finding in read(scheme.plant()).findings
           if finding.severity in ("must fix", "should fix")]
    assert bad == []


def test_every_combination_of_loops_tank_and_boilers_reads_as_built():
    """Not by chance: each arrangement with each separation, tank, way of closing it, and count of boilers."""
    made = 0
    for separation in (None, *SEPARATIONS):
        for boilers in (1, 2, 5):
            for tank, by, joins in (("none", None, ""), ("system loop", "motorised valve", "branch"),
                                    ("system loop", "diverting valve", "branch"), ("system loop", "pump", "own tees"),
                                    ("boiler loop", "pump", "branch"), ("boiler loop", "diverting valve", "branch"),
                                    ("boiler loop", "motorised valve", "branch"), ("boiler loop", "pump", "own tees")):
                for order in ("reverse", "direct"):
                    try:
                        scheme = Scheme("separated loops" if separation else "single loop", separation, boilers, tank,
                                        2, order, boilers, tank_by=by, tank_joins=joins)
                    except ValueError:
                        continue
                    made += 1
                    assert difference(scheme) == {}, scheme
                    grave = {f.rule for f in read(scheme.plant()).findings if f.severity.endswith("fix")}
                    assert grave <= ({"reverse-return"} if order == "direct" else set()), scheme
    assert made > 150


def test_disguise_changes_the_writing_and_not_the_reading():
    for seed, scheme in enumerate(SCHEMES[:60]):
        plant = scheme.plant()
        other, tags = disguise(plant, seed)
        assert parse_plant(write_plant(other)) == other
        before, after = read(plant), read(other)
        assert (before.arrangement, before.control, before.dhw_priority, before.return_order) == (
            after.arrangement, after.control, after.dhw_priority, after.return_order), (seed, scheme)
        assert sorted(tags[tag] for tag in before.boilers) == sorted(after.boilers)
        assert [finding.rule for finding in before.findings] == [finding.rule for finding in after.findings]


def test_disguise_keeps_metres_and_parts():
    for seed in range(30):
        plant = SCHEMES[seed].plant()
        other, tags = disguise(plant, seed)
        assert sum(run.length_m for run in other.runs) == pytest.approx(sum(run.length_m for run in plant.runs))
        assert sum(run.k for run in other.runs) == pytest.approx(sum(run.k for run in plant.runs))
        without_tees = Counter(part.kind for part in plant.parts.values() if part.kind != "tee")
        assert Counter(part.kind for part in other.parts.values() if part.kind != "tee") == without_tees
        assert {tag for tag, part in plant.parts.items() if part.kind != "tee"} <= set(tags)


def test_a_zones_valve_on_an_undivided_ring_is_not_the_boilers():
    """Nothing divides the water between boiler and load, so the valve stands where it serves the load alone."""
    plant = Scheme("single loop", boilers_by="none", system_pump="return").plant()
    [run] = [run.through for run in plant.runs if "ZV1" in run.through]
    assert run.index("E1") < run.index("ZV1")
    assert "boiler-isolation-local" in {finding.rule for finding in read(plant).findings}


def test_a_scheme_without_its_faults_is_sound_again():
    faulty = Scheme(boilers=2, faults=("relief-missing",))
    assert faulty.sound() == Scheme(boilers=2)
    assert replace(faulty, faults=()) == faulty.sound()
