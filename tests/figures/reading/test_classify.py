"""The reading of plants that the samples do not show."""

import pytest

from figures import read
from figures.reading.order import BoilerOrder
from figures.reading.survey import survey

from .plants import (
    ON_BOILER_LOOP,
    ONE_BOILER,
    PER_BOILER,
    PER_LOAD,
    SENSORS,
    SEPARATOR,
    SINGLE,
    SYSTEM,
    THREE_BOILERS,
    TWO_BOILERS,
    changed,
)
from .sketch import sketch

TEES = ONE_BOILER + SYSTEM
COMMON = "A > Z : 0.15"
ON_BOILER_SIDE = (("Z > B1 : 3", "Z > d : 1\nd > B1 : 2"), ("t1 > P1 > A : 3", "t1 > e : 2\ne > A : 1"))

BEYOND = changed(TEES, (COMMON, "A > Z : 0.5"), ("s > ZV1 > E1 > Z : 20", "s > g\ng > ZV1 > E1 > k\nk > Z\ng > k : 2"))

CASES = {
    # what stands between the loops
    "tees": (TEES, "separated loops", "none", "not applicable", "single boiler"),
    "parallel common pipes": (changed(TEES, (COMMON, "A > Z : 0.15\nA > Z : 0.18")), "separated loops", "none", "not applicable", "single boiler"),
    "common pipe of two pieces with a capped tee": (
        changed(TEES, (COMMON, "q > A : 0.07\nq > Z : 0.07\nq > DR1 : 0.3")), "separated loops", "none", "not applicable", "single boiler"),
    "wide tees, a pump on each side": (changed(TEES, (COMMON, "A > Z : 0.5")), "separated loops", "none", "not applicable", "single boiler"),
    "a plain bypass across the loads, beyond wide tees": (BEYOND, "separated loops", "none", "not applicable", "single boiler"),
    "a shorter bypass across the loads, beyond wide tees": (
        changed(BEYOND, ("g > k : 2", "g > k : 0.3")), "separated loops", "none", "not applicable", "single boiler"),
    "two plain bypass pipes": (changed(BEYOND, ("t1 > P1 > A", "t1 > A")), "single loop", "none", "not applicable", "single boiler"),
    "an emitter's loop beside a tank's at the same tees of a building": (
        TEES + "A > P7 > C7 > E7 > Z\nA > PT > C1 > IT > Z : 5", "separated loops", "undetermined", "undetermined", "single boiler"),
    "the same pipe without a boiler pump is a bypass": (
        changed(TEES, (COMMON, "A > Z : 0.5"), ("t1 > P1 > A", "t1 > A")), "single loop", "none", "not applicable", "single boiler"),
    "the same pipe without a system pump is a bypass": (
        changed(TEES, (COMMON, "A > Z : 0.5"), ("x > PS > s", "x > s")), "single loop", "none", "not applicable", "single boiler"),
    "a tank's pump on the boiler side does not make a bypass a separation": (
        changed(TEES, (COMMON, "A > Z : 0.5"), *ON_BOILER_SIDE, plus="e > PT > C1 > IT > d : 4"),
        "single loop", "system loop", "optional", "single boiler"),
    "short tees separate even without a pump": (
        changed(TEES, ("t1 > P1 > A", "t1 > A"), ("x > PS > s", "x > s")), "separated loops", "none", "not applicable", "single boiler"),
    "a pump in the common pipe": (changed(TEES, (COMMON, "A > P7 > Z : 0.15")), "separated loops", "none", "not applicable", "single boiler"),
    "an emitter between the tees is no common pipe": (
        changed(TEES, (COMMON, "A > E7 > Z : 0.15")), "single loop", "none", "not applicable", "single boiler"),
    "a separator": (SEPARATOR, "separated loops", "none", "not applicable", "reverse"),
    "a separator with its sides swapped": (
        changed(SEPARATOR, ("HS1.a", "HS1.Q"), ("HS1.b", "HS1.a"), ("HS1.Q", "HS1.b")), "separated loops", "none", "not applicable", "reverse"),
    "a separator that nothing lies beyond": (
        changed(SEPARATOR, ("N1 > HS1.a_return", "N1 > R1\nHS1.a_return > DR1")), "undetermined", "none", "not applicable", "reverse"),
    "a buffer tank that nothing lies beyond": (
        changed(SEPARATOR, ("HS1", "BT1"), ("N1 > BT1.a_return", "N1 > R1\nBT1.a_return > DR1")), "undetermined", "none", "not applicable", "reverse"),
    "a loop between two separators": (
        changed(SEPARATOR, ("M1 > ZV1 > E1 > N1 : 9", "M1 > HS2.a_supply\nHS2.a_return > N1\nHS2.b_supply > P9 > ZV1 > E1 > HS2.b_return")),
        "separated loops", "none", "not applicable", "reverse"),
    "a ring without a load": ("B1 > PS > B1", "single loop", "none", "not applicable", "single boiler"),
    "boilers whose water has no way round": (
        "d > B1 > t\nt > B2 > v\nd > DR1\nv > DR2", "undetermined", "none", "not applicable", "undetermined"),
    "a ring without a tee": ("B1 > PS > E1 > B1", "single loop", "none", "not applicable", "single boiler"),
    "emitters hung on one pipe": (
        "B1 > t > PS > a > b > c > d > B1\nt > RV1\na > E1 > b\nc > E2 > d", "single loop", "none", "not applicable", "single boiler"),
    # where the tank is
    "tank in a row with the boiler": (changed(TEES, ("Z > B1", "Z > IT > B1")), "separated loops", "boiler loop", "always", "single boiler"),
    "tank beside the boilers' loop": (ON_BOILER_LOOP, "separated loops", "boiler loop", "always", "single boiler"),
    "tank fed at the tee, returned to the boiler loop": (
        changed(TEES, ON_BOILER_SIDE[0], plus="A > PT > C1 > IT > d : 5"), "separated loops", "boiler loop", "always", "single boiler"),
    "tank at the tees themselves, beside another loop": (
        TEES + "A > PT > C1 > IT > Z : 5", "separated loops", "undetermined", "undetermined", "single boiler"),
    "a tank as only load behind a separation": (
        ONE_BOILER + "A > x > PT > C1 > s > IT > Z : 5\nx > XT", "separated loops", "system loop", "optional", "single boiler"),
    "tank as only load of a single loop": ("B1 > PT > IT > B1", "single loop", "system loop", "optional", "single boiler"),
    "coil fed from the system, returned to the boiler loop": (
        changed(TEES, ON_BOILER_SIDE[0], plus="s > PT > C1 > IT > d : 5"), "separated loops", "undetermined", "undetermined", "single boiler"),
    "a straddling emitter leaves the tank where it is": (
        ON_BOILER_LOOP + "s > ZV2 > E2 > d : 5", "separated loops", "boiler loop", "always", "single boiler"),
    "a heat exchanger that serves DHW": (TEES + "s > MV5 > HX1 > Z : 9", "separated loops", "system loop", "optional", "single boiler"),
    "tees per load": (PER_LOAD, "separated loops", "boiler loop", "always", "reverse"),
    "tees per load, two zones": (
        changed(PER_LOAD, ("ZV1 > E1 > Z1 : 9", "ZV1 > E1 > n > Z1 : 9"), plus="s > ZV2 > E2 > n"), "separated loops", "boiler loop", "always", "reverse"),
    "tees per load, an emitter in the tank's loop": (
        changed(PER_LOAD, ("A2 > PT > C9 > IT > Z2 : 4", "A2 > PT > m > MV9 > IT > n > Z2\nm > ZV9 > E9 > n")),
        "separated loops", "system loop", "optional", "reverse"),
    "tees per load, an emitter on the boilers' loop": (
        changed(PER_LOAD, ("S2 > H", "S2 > h > H"), ("K > R1", "K > k > R1"), plus="h > P8 > C8 > E8 > k"),
        "separated loops", "system loop", "optional", "reverse"),
    "tees per load, tanks behind both": (
        changed(PER_LOAD, ("ZV1 > E1", "C3 > IT3")), "separated loops", "system loop", "optional", "reverse"),
    "tank behind a second separator on the system loop": (
        changed(SEPARATOR, ("N1 > HS1", "M1 > HS2.a_supply\nHS2.a_return > N1\nHS2.b_supply > P9 > C9 > IT > HS2.b_return\nN1 > HS1")),
        "separated loops", "system loop", "optional", "reverse"),
    "tank on one boiler's loop of several": (
        changed(PER_BOILER, ("B1 > t1 > P1", "B1 > t1 > e > P1"), ("A1 > B1", "A1 > d > B1"), plus="e > PT > C8 > IT > d"),
        "separated loops", "boiler loop", "always", "not applicable"),
    "tank on a dead end": (TEES + "s > PT > IT > DR5", "separated loops", "undetermined", "undetermined", "single boiler"),
    # priority
    "a diverting valve on a single loop": (
        changed(SINGLE, ("s > M1 : 2", "s > DV1.common\nDV1.a > M1"), ("N1 > Y2", "N1 > r > Y2"), plus="DV1.b > IT > r"),
        "single loop", "system loop", "always", "reverse"),
    "a diverting valve in the return": (
        changed(SINGLE, ("N1 > Y2", "N1 > DV1.a\nDV1.common > Y2"), plus="M1 > IT > DV1.b"), "single loop", "system loop", "always", "reverse"),
    "a diverting valve whose port feeds an emitter too": (
        changed(SINGLE, ("s > M1 : 2", "s > DV1.common\nDV1.a > M1"), ("N1 > Y2", "N1 > r > Y2"), plus="DV1.b > m > IT > r\nm > ZV2 > E2 > r"),
        "single loop", "system loop", "optional", "reverse"),
    "a diverting valve before two tanks": (
        changed(SINGLE, ("s > M1 : 2", "s > DV1.common\nDV1.a > M1"), ("N1 > Y2", "N1 > r > Y2"), plus="DV1.b > m\nm > IT > r\nm > IT2 > r"),
        "single loop", "system loop", "always", "reverse"),
    "a diverting valve behind two tanks": (
        changed(SINGLE, ("N1 > Y2", "N1 > DV1.a\nDV1.common > Y2"), plus="M1 > IT > m\nM1 > IT2 > m\nm > DV1.b"),
        "single loop", "system loop", "always", "reverse"),
    "a diverting valve before one tank of two": (
        changed(SINGLE, ("s > M1 : 2", "s > DV1.common\nDV1.a > M1"), ("N1 > Y2", "N1 > r > Y2"), plus="DV1.b > IT > r\nM1 > IT2 > N1"),
        "single loop", "system loop", "optional", "reverse"),
    # the order of return
    "two boilers told apart by metres": (TWO_BOILERS + SYSTEM, "separated loops", "none", "not applicable", "reverse"),
    "two boilers alike": (changed(TWO_BOILERS + SYSTEM, ("R1 > B2 : 2", "R1 > B2 : 1")), "separated loops", "none", "not applicable", "undetermined"),
    "two boilers on direct return": (
        changed(TWO_BOILERS + SYSTEM, ("R1 > B1 : 1", "R1 > B1 : 4")), "separated loops", "none", "not applicable", "direct"),
    "three boilers, tees before metres": (THREE_BOILERS, "separated loops", "none", "not applicable", "reverse"),
    "three boilers, tees before metres, on direct return": (
        changed(THREE_BOILERS, ("R1 > B1 : 3", "R2 > B1 : 3"), ("R2 > B3 : 2", "R1 > B3 : 30")), "separated loops", "none", "not applicable", "direct"),
    "three boilers in no order": (
        changed(THREE_BOILERS, ("R1 > B1 : 3", "R2 > B1 : 3"), ("R2 > B2 : 1", "R1 > B2 : 9")), "separated loops", "none", "not applicable", "undetermined"),
    "three boilers, two of them alike": (
        changed(THREE_BOILERS, ("P1 > C1 > S2 : 2", "P1 > C1 > S2 : 1"), ("R2 > B3 : 2", "R2 > B3 : 1")), "separated loops", "none", "not applicable", "undetermined"),
    "the shorter of two legs side by side counts": (
        changed(TWO_BOILERS + SYSTEM, ("C2 > S2 : 1", "C2 > v : 0.2\nv > FS2 > w : 9\nv > BAL2 > w : 0.2\nw > S2 : 0.2")),
        "separated loops", "none", "not applicable", "reverse"),
    "the shorter of two legs side by side counts, whichever is written first": (
        changed(TWO_BOILERS + SYSTEM, ("C2 > S2 : 1", "C2 > v : 0.2\nv > FS2 > w : 0.2\nv > BAL2 > w : 9\nw > S2 : 0.2")),
        "separated loops", "none", "not applicable", "reverse"),
    "a boiler that stands far from its outlet tee": (
        changed(TWO_BOILERS + SYSTEM, ("C1 > S2 : 2", "C1 > S2 : 40"), ("R1 > B1 : 1", "R1 > B1 : 1.9")), "separated loops", "none", "not applicable", "reverse"),
    "two boilers on one separation, a third on its own": (
        changed(TWO_BOILERS + SYSTEM, ("A > x > PS", "A > Z3 : 2\nA3 > Z3 : 0.15\nB3 > t3 > P3 > C3 > A3\nt3 > RV3\nZ3 > B3\nA3 > x > PS")),
        "separated loops", "none", "not applicable", "undetermined"),
    "two boilers, one of them on a dead end": (
        changed(TWO_BOILERS + SYSTEM, ("R1 > B2 : 2", "DR2 > B2 : 2")), "separated loops", "none", "not applicable", "undetermined"),
    "boilers in a row": (
        "B1 > t1 > B2 > PS > E1 > B1\nt1 > RV1", "single loop", "none", "not applicable", "undetermined"),
    "tees per boiler": (PER_BOILER, "separated loops", "none", "not applicable", "not applicable"),
    "a local bypass at one boiler does not change the order": (
        changed(TWO_BOILERS + SYSTEM, ("B2 > t2 > P2", "B2 > t2 > v > P2"), ("R1 > B2 : 2", "R1 > w > B2 : 2"), plus="v > BAL7 > w : 1"),
        "separated loops", "none", "not applicable", "reverse"),
}


@pytest.mark.parametrize("name", CASES)
def test_plant_is_read(name):
    """Arrangement, place of the tank, priority and order of return of a plant of our own."""
    runs, arrangement, dhw, priority, order = CASES[name]
    reading = read(sketch(runs))
    assert (arrangement, dhw, priority, order) == (
        reading.arrangement, reading.dhw, reading.dhw_priority, reading.return_order)


def test_several_separations_are_all_told():
    """One separation a load, each with its two tees."""
    assert {s.parts for s in read(sketch(PER_LOAD)).separations} == {("A1", "Z1"), ("A2", "Z2")}


def test_a_plain_bypass_beyond_wide_tees_is_no_second_separation():
    """Whichever pipe is longer: the tees between the boiler's pump and the system's stay, the one across the loads falls."""
    for pipe in ("g > k : 2", "g > k : 0.3"):
        assert [s.parts for s in read(sketch(changed(BEYOND, ("g > k : 2", pipe)))).separations] == [("A", "Z")]


def test_spacing_is_counted_in_inside_diameters():
    """0.15 m of NPS 2 are 2.858 inside diameters of 52.48 mm (ASME B36.10M)."""
    assert read(sketch(TEES)).separations[0].spacing_diameters == pytest.approx(0.15 / 0.05248, abs=1e-3)
    both = read(sketch(changed(TEES, (COMMON, "A > Z : 0.18\nA > Z : 0.15")))).separations[0]
    assert both.spacing_diameters == pytest.approx(0.15 / 0.05248, abs=1e-4) and len(both.pipes) == 2     # the shorter counts


def test_every_part_is_in_one_loop_or_one_separation():
    """What lies on a run belongs somewhere, and nowhere twice."""
    for runs in (TEES, PER_LOAD, PER_BOILER, SEPARATOR, SINGLE, ON_BOILER_LOOP):
        plant = sketch(runs, sensors=SENSORS if "IT" in runs else "")
        reading = read(plant)
        told = [t for group in (*reading.loops, *reading.separations) for t in group.parts]
        assert sorted(told) == sorted(t for t, p in plant.parts.items() if p.what.shape != "instrument")
        pipes = [p for group in (*reading.loops, *reading.separations) for p in group.pipes]
        assert sorted(pipes) == sorted(plant.run_names)


def test_each_load_is_on_its_loop_and_a_straddling_one_on_none():
    """Numbers of the loops as they are listed, the boiler loop first; what hangs at the tees goes with the boilers."""
    assert read(sketch(ON_BOILER_LOOP)).loads_on == {"E1": 1, "IT": 0}
    assert read(sketch(PER_LOAD)).loads_on == {"E1": 2, "IT": 1}
    straddling = read(sketch(changed(TEES, ON_BOILER_SIDE[0], plus="s > PT > C1 > IT > d : 5")))
    assert straddling.loads_on == {"E1": 1, "IT": None}
    assert "DR3" in read(sketch(TEES + "A > DR3")).loops[0].parts


def test_the_loop_of_a_part_is_told():
    """None for a part of a separation, an instrument, a straddling load or a tag that nobody has."""
    reading = read(sketch(changed(TEES, ON_BOILER_SIDE[0], plus="s > PT > C1 > IT > d : 5"), sensors=SENSORS))
    assert [reading.loop_of(tag) for tag in ("B1", "RV1", "E1", "XT")] == [reading.loops[k] for k in (0, 0, 1, 1)]
    assert [reading.loop_of(tag) for tag in ("A", "sensor0", "IT", "nobody")] == [None] * 4


def test_absent_parts_are_named():
    """'No indirect tank anywhere' is evidence as good as a tank."""
    about = read(sketch(SINGLE)).about("dhw")
    assert about[0].absent == ("indirect tank",) and "no indirect tank" in about[0].says


def test_a_heat_exchanger_that_does_not_say_what_it_serves_is_asked_about():
    """It counts as no tank, and the evidence asks."""
    reading = read(sketch(TEES + "s > MV5 > HX1 > Z : 9", given={"HX1": {"kind": "heat exchanger", "serves": "heating"}}))
    assert not any("ask" in e.says for e in reading.about("dhw"))
    plant = sketch(TEES + "s > MV5 > HX1 > Z : 9")
    unsaid = type(plant)(plant.title, {t: (type(p)(t, p.kind) if t == "HX1" else p) for t, p in plant.parts.items()}, plant.runs)
    assert read(unsaid).dhw == "none"
    assert any("ask" in e.says and e.parts == ("HX1",) for e in read(unsaid).about("dhw"))


def test_lead_is_null_when_not_exactly_one():
    """None or several marked: no lead. A sole boiler leads, marked or not."""
    assert read(sketch(TWO_BOILERS + SYSTEM)).lead == "B1"
    assert read(sketch(TWO_BOILERS + SYSTEM, given={"B1": {"lead": False}})).lead is None
    assert read(sketch(TWO_BOILERS + SYSTEM, given={"B2": {"lead": True}})).lead is None
    assert read(sketch(TEES, given={"B1": {"lead": False}})).lead == "B1"


# Plant → role and parts of each loop, as listed. Dead ends lie in the loop on which they hang, however many pieces they have.
STUB = "q > HV5 > DR5\nk > q\nq > AV5\n"
LOOPS = {
    "one ring": ("B1 > PS > E1 > B1", ["single loop B1 E1 PS"]),
    "one loop with a stub of pieces, the far one written first": (
        STUB + "B1 > PS > k > E1 > B1", ["single loop AV5 B1 DR5 E1 HV5 PS k q"]),
    "a stub at a loop": (STUB + changed(TEES, ("x > XT", "x > k > XT")),
                         ["boiler loop B1 P1 RV1 t1", "system loop AV5 DR5 E1 HV5 PS XT ZV1 k q s x"]),
    "a stub at the tee where loops meet": (STUB + TEES + "A > k", ["boiler loop AV5 B1 DR5 HV5 P1 RV1 k q t1", "system loop E1 PS XT ZV1 s x"]),
    "a stub at a separator's side of the boilers": (
        changed(SEPARATOR, ("R1 > B1 : 1", "R1 > d > B1 : 1"), plus="d > AV1"),
        ["boiler loop AV1 B1 B2 C1 C2 P1 P2 R1 RV1 RV2 S2 d t1 t2", "system loop E1 M1 N1 PS XT ZV1 s x"]),
    "a branch with a straddling coil lies in none, nor does its drain": (
        changed(TEES, ON_BOILER_SIDE[0], plus="s > PT > C1 > v > IT > d : 5\nv > DR7"),
        ["boiler loop B1 P1 RV1 d t1", "system loop E1 PS XT ZV1 s x"]),
    "a vessel that parts nothing lies in the loop of the boiler": (
        "B1 > P1 > HS1.b_supply\nHS1.b_return > B1\nHS1.a_supply > HV1 > HS1.a_return", ["boiler loop B1 HS1 HV1 P1"]),
    "tees per boiler": (PER_BOILER, ["boiler loop B1 C1 P1 RV1 t1", "boiler loop B2 C2 P2 RV2 t2", "system loop E1 PS XT ZV1 s x"]),
}


@pytest.mark.parametrize("name", LOOPS)
def test_parts_lie_in_their_loop(name):
    """Roles and parts, worked out by hand; every pipe lies in one loop, in one separation, or in a straddling branch."""
    runs, expected = LOOPS[name]
    reading = read(sketch(runs))
    assert [" ".join((loop.role, *loop.parts)) for loop in reading.loops] == expected
    pipes = [p for group in (*reading.loops, *reading.separations) for p in group.pipes]
    assert len(pipes) == len(set(pipes)) and (set(reading.plant.run_names) - set(pipes)
                                              == ({"s>v", "v>d", "v>DR7"} if "straddling" in name else set()))


def test_the_boilers_come_in_order_of_tees_then_of_metres():
    """B3's pipe is the longest, but its water meets the others' last; the points where all have met are the header's ends."""
    assert survey(sketch(THREE_BOILERS)).order == BoilerOrder("reverse", ("B3", "B2", "B1"), ("B1", "B2", "B3"), "S3", "R1")
    assert survey(sketch(TWO_BOILERS + SYSTEM)).order == BoilerOrder("reverse", ("B2", "B1"), ("B1", "B2"), "S2", "R1")
    assert survey(sketch("B1 > PS > E1 > B1")).order == BoilerOrder("single boiler")
    assert survey(sketch(PER_BOILER)).order == BoilerOrder("not applicable")
