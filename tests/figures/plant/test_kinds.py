"""The table of kinds: complete, consistent, and the only place that knows them."""

import math
from fractions import Fraction

import pytest

from figures.plant import KINDS, SIZES, Part, describe_kinds
from figures.plant.kinds import VALVES

# The kinds of the plant file, as the format lists them.
TWO_PORTS = {"boiler", "pump", "check valve", "isolation valve", "motorised valve", "balancing valve",
             "bypass valve", "emitter", "indirect tank", "air separator", "strainer", "flow switch",
             "heat exchanger"}
NODES = {"tee", "hydraulic separator", "buffer tank", "diverting valve", "mixing valve"}
ENDS = {"relief valve", "expansion tank", "fill", "air vent", "drain"}
INSTRUMENTS = {"temperature sensor", "low-water cut-off", "high limit"}


def test_every_kind_of_the_format_is_there_and_no_other():
    """The four families together are the table."""
    assert set(KINDS) == TWO_PORTS | NODES | ENDS | INSTRUMENTS


@pytest.mark.parametrize(("kinds", "shapes"), [
    (TWO_PORTS, {"two ports"}), (NODES, {"tee", "three ports", "four ports"}), (ENDS, {"end"}),
    (INSTRUMENTS, {"instrument"})])
def test_each_family_is_joined_in_its_own_way(kinds, shapes):
    """A kind's shape says how pipes join it."""
    assert {KINDS[name].shape for name in kinds} == shapes


def test_ports_are_named_where_there_are_more_than_two():
    """Separator and buffer tank have four, the two valves three, nothing else any."""
    ports = {name: set(kind.ports) for name, kind in KINDS.items() if kind.ports}
    four = {"a_supply", "a_return", "b_supply", "b_return"}
    assert ports == {"hydraulic separator": four, "buffer tank": four,
                     "diverting valve": {"common", "a", "b"}, "mixing valve": {"hot", "cold", "mixed"}}


def test_every_default_lies_in_its_own_range():
    """A part that says nothing is sound."""
    for kind in KINDS.values():
        for key in kind.keys:
            if key.type == "number" and key.default is not None:
                assert key.low <= key.default <= key.high, (kind.name, key.name)
            if key.type == "choice" and key.default is not None:
                assert key.default in key.choices, (kind.name, key.name)


def test_whatever_water_passes_has_a_flow_coefficient():
    """`kv_m3h` is a key of every part but tees, ends and instruments."""
    assert {name for name, kind in KINDS.items() if kind.key("kv_m3h")} == TWO_PORTS | NODES - {"tee"}


def test_every_number_says_its_unit_and_every_key_what_it_is():
    """The name of a number ends in its unit, and the table repeats it in words."""
    for kind in KINDS.values():
        for key in kind.keys:
            assert key.says, (kind.name, key.name)
            if key.type == "number":
                assert key.unit, (kind.name, key.name)


def test_a_silent_part_takes_the_kinds_default():
    """What the file does not say comes from the table; what it says wins; no other key exists."""
    assert Part("B1", "boiler")["output_kw"] == 100.0
    assert Part("B1", "boiler", {"output_kw": 30.0}).number("output_kw") == 30.0
    with pytest.raises(KeyError, match="a tee has no key 'output_kw'"):
        Part("A", "tee")["output_kw"]
    with pytest.raises(KeyError, match="max_supply_c"):
        Part("E1", "emitter").number("max_supply_c")


def test_valves_are_two_port_kinds_and_leave_the_bypass_valve_out():
    """A bypass valve is meant to stand between supply and return, so it blocks no common pipe."""
    assert VALVES <= TWO_PORTS
    assert "bypass valve" not in VALVES


def test_the_description_is_plain_data_without_infinities():
    """`loopbook parts --json` can print it as it is."""
    rows = list(describe_kinds())
    assert [row["kind"] for row in rows] == list(KINDS)
    for row in rows:
        for key in row["keys"]:
            assert key["type"] in ("number", "flag", "choice", "tag")
            assert all(not isinstance(value, float) or math.isfinite(value) for value in key.values())


def test_every_size_of_both_standards_is_there():
    """NPS 1/2 to 6 of ASME B36.10M schedule 40, 1/2 to 4 of ASTM B88 type L, each wider than the last."""
    nominal = ["1/2", "3/4", "1", "1-1/4", "1-1/2", "2", "2-1/2", "3", "4", "5", "6"]
    assert list(SIZES) == [f"NPS {n}" for n in nominal] + [f"CU {n}" for n in nominal[:-2]]
    for family in ("NPS", "CU"):
        bores = [bore.inside_m for name, bore in SIZES.items() if name.startswith(family)]
        assert bores == sorted(bores)


def test_copper_bores_follow_from_the_standards_walls():
    """ASTM B88 type L: outside diameter nominal + 1/8 in, walls in inches from a reprint of its table."""
    walls_in = {"1/2": 0.040, "3/4": 0.045, "1": 0.050, "1-1/4": 0.055, "1-1/2": 0.060, "2": 0.070, "2-1/2": 0.080,
                "3": 0.090, "4": 0.114}
    for name, wall_in in walls_in.items():
        whole, _, part = name.rpartition("-")
        nominal_in = float(Fraction(whole or 0) + Fraction(part))
        inside_mm = (nominal_in + 0.125 - 2 * wall_in) * 25.4
        assert SIZES[f"CU {name}"].inside_m * 1000 == pytest.approx(inside_mm, abs=0.002), name
