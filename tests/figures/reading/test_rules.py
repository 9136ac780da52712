"""Each rule fires on the fault it is for, on plants that the samples do not show, and not on the sound twin."""

import inspect
from pathlib import Path

import pytest

from figures import read
from figures.plant.faults import FAULTS
from figures.reading.record import SEVERITIES
from figures.reading.rules import rules
from widgets.learn.objectives import OBJECTIVES

from .plants import (
    ON_BOILER_LOOP,
    ONE_BOILER,
    PER_BOILER,
    PER_LOAD,
    SENSOR,
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
COUPLE = TWO_BOILERS + SYSTEM
NOTES = {"proof-of-flow", "low-water", "zones-shut"}
WITH_TANK = SINGLE + "M1 > PT > C5 > IT > N1"
AFTER_TEE = changed(SINGLE, ("Y1 > x", "Y1 > q > x"), ("N1 > Y2", "N1 > r > Y2"), plus="q > PT > C5 > IT > r")

# name → (runs, sensors, given, rules that fire besides the notes)
CASES = {
    "sound: tees": (TEES, SENSOR, {}, set()),
    "sound: two boilers": (COUPLE, SENSOR, {}, set()),
    "sound: single loop": (SINGLE, SENSOR, {}, set()),
    "sound: tees per load": (PER_LOAD, SENSORS, {}, set()),
    "sound: tees per boiler": (PER_BOILER, SENSOR, {}, set()),
    "sound: separator": (SEPARATOR, SENSOR, {}, set()),
    "sound: tank on the boiler loop": (ON_BOILER_LOOP, SENSORS, {}, set()),
    "sound: zones with own pumps and no system pump": (
        changed(SINGLE, ("x > PS > s", "x > s"), ("M1 > ZV1 > E1", "M1 > PZ1 > C8 > E1"), plus="M1 > PZ2 > C7 > E2 > N1"), SENSOR, {}, set()),
    "sound: zone pumps at the tees themselves": (
        ONE_BOILER + "A > x > PZ1 > C1 > E1 > Z\nx > XT\nA > PZ2 > C2 > E2 > Z", "x system supply", {}, set()),
    "sound: a diverting valve in place of a tank pump": (
        changed(SINGLE, ("s > M1 : 2", "s > DV1.common\nDV1.a > M1"), ("N1 > Y2", "N1 > r > Y2"), plus="DV1.b > IT > r"), SENSORS, {}, set()),
    "sound: a plain bypass pipe": (changed(SINGLE, ("Y2 > BV1 > Y1", "Y1 > Y2")), SENSOR, {}, set()),
    "sound: twin system pumps": (TEES + "x > PS2 > s", SENSOR, {}, set()),
    "sound: twin pumps of a single loop": (SINGLE + "x > PS2 > s", SENSOR, {}, set()),
    **{f"sound: a bypass pipe with {part}, drawn either way": (changed(SINGLE, ("Y2 > BV1 > Y1", f"Y1 > {part} > Y2")), SENSOR, {}, set())
       for part in ("BAL1", "HV1", "ST1", "AS1", "FS1")},
    "sound: own pumps with check valves in place of boiler valves": (
        changed(SINGLE, ("MV1", "P1 > C1"), ("MV2", "P2 > C2")), SENSOR, {}, set()),
    "sound: tank beside the system pump, pushed backwards by it": (AFTER_TEE, SENSORS, {}, set()),
    "tee-spacing": (changed(TEES, ("A > Z : 0.15", "A > Z : 0.22")), SENSOR, {}, {"tee-spacing"}),
    "tee-spacing at four diameters is sound": (changed(TEES, ("A > Z : 0.15", "A > Z : 0.2099")), SENSOR, {}, set()),
    "tee-spacing at each boiler": (changed(PER_BOILER, ("A2 > Z2 : 0.15", "A2 > Z2 : 0.5")), SENSOR, {}, {"tee-spacing"}),
    "common-pipe-blocked by a hand valve": (changed(TEES, ("A > Z : 0.15", "A > HV1 > Z : 0.15")), SENSOR, {}, {"common-pipe-blocked"}),
    "common-pipe-blocked by a pump": (changed(TEES, ("A > Z : 0.15", "A > P9 > Z : 0.15")), SENSOR, {}, {"common-pipe-blocked"}),
    "common-pipe-blocked by an air separator": (changed(TEES, ("A > Z : 0.15", "A > AS1 > Z : 0.15")), SENSOR, {}, {"common-pipe-blocked"}),
    "loop-pump: none on the system loop": (changed(TEES, ("x > PS > s", "x > s")), SENSOR, {}, {"loop-pump"}),
    "loop-pump: none on the boiler loop": (changed(TEES, ("t1 > P1 > A", "t1 > A")), SENSOR, {}, {"loop-pump"}),
    "loop-pump: missing at one boiler of two": (changed(COUPLE, ("B2 > t2 > P2 > C2", "B2 > t2 > C2")), SENSOR, {}, {"loop-pump"}),
    "loop-pump: a tank beside the boiler pump without its own": (changed(ON_BOILER_LOOP, ("e > PT > C1 > IT", "e > C1 > IT")), SENSORS, {}, set()),
    "load-straddles": (changed(TEES, ("Z > B1 : 3", "Z > d > B1"), plus="s > PT > C1 > IT > d"), SENSOR, {}, {"load-straddles"}),
    "load-straddles leaves the mixing valve to be told": (
        changed(TEES, ("Z > B1 : 3", "Z > d > B1"), plus="s > PT > IT > d"), SENSOR, {"IT": {"outlet_mixing_valve": False}},
        {"load-straddles", "mixing-valve"}),
    "ports-crossed at tees": (changed(PER_LOAD, ("A2 > PT > C9 > IT > Z2", "Z2 > PT > C9 > IT > A2")), SENSORS, {}, {"ports-crossed"}),
    "ports-crossed at a separator": (
        changed(SEPARATOR, ("HS1.a_supply", "HS1.Q"), ("HS1.a_return", "HS1.a_supply"), ("HS1.Q", "HS1.a_return")), SENSOR, {}, {"ports-crossed"}),
    "boiler-isolation": (changed(SINGLE, ("MV2 > ", "")), SENSOR, {}, {"boiler-isolation"}),
    "boiler-isolation: one valve for two boilers": (
        changed(SINGLE, ("MV2 > ", ""), ("MV1 > ", ""), ("S2 > Y1", "S2 > MV1 > Y1")), SENSOR, {}, {"boiler-isolation"}),
    "boiler-isolation: a pump without a check valve": (changed(SINGLE, ("MV1", "P1"), ("MV2", "P2 > C2")), SENSOR, {}, {"boiler-isolation"}),
    "boiler-isolation: a valve in one of two legs side by side": (
        changed(SINGLE, ("B2 > t2 > MV2 > S2 : 1", "B2 > t2 > v > MV2 > w > S2 : 0.2\nv > FS2 > w : 0.2")), SENSOR, {}, {"boiler-isolation"}),
    "sound: a valve behind two legs side by side": (
        changed(SINGLE, ("B2 > t2 > MV2 > S2 : 1", "B2 > t2 > v > BAL2 > w > MV2 > S2 : 0.2\nv > FS2 > w : 0.2")), SENSOR, {}, set()),
    "boiler-isolation: a valve in one of two legs at the inlet": (
        changed(SINGLE, ("B2 > t2 > MV2 > S2", "B2 > t2 > S2"), ("R1 > B2 : 2", "R1 > v > MV2 > w > B2 : 0.5\nv > FS2 > w : 0.5")), SENSOR, {}, {"boiler-isolation"}),
    "sound: a valve at the inlet before two legs": (
        changed(SINGLE, ("B2 > t2 > MV2 > S2", "B2 > t2 > S2"), ("R1 > B2 : 2", "R1 > MV2 > v > BAL2 > w > B2 : 0.5\nv > FS2 > w : 0.5")), SENSOR, {}, set()),
    "boiler-isolation-local": ("B1 > t > PS > x > ZV1 > E1 > d > B1\nt > RV1\nd > x2\nx2 > DR1\nt > XT", SENSOR.replace("s ", "x "), {}, {"boiler-isolation-local"}),
    "sound: a check valve behind two legs side by side": (
        changed(COUPLE, ("B2 > t2 > P2 > C2 > S2 : 1", "B2 > t2 > P2 > v > BAL2 > w > C2 > S2 : 0.2\nv > FS2 > w : 0.2")), SENSOR, {}, set()),
    "valve-fail-position": (SINGLE, SENSOR, {"MV2": {"power_off": "closed"}}, {"valve-fail-position"}),
    "pump-bypass: none": (changed(SINGLE, ("Y2 > BV1 > Y1", "Y2 > q\nq > DR9")), SENSOR, {}, {"pump-bypass"}),
    "pump-bypass: across the loads": (changed(SINGLE, ("Y2 > BV1 > Y1", "M1 > BV1 > N1")), SENSOR, {}, {"pump-bypass"}),
    "pump-bypass: a check valve in it, the wrong way round": (changed(SINGLE, ("Y2 > BV1 > Y1", "Y1 > C9 > Y2")), SENSOR, {}, {"pump-bypass"}),
    "sound: a bypass pipe with a check valve along the water": (changed(SINGLE, ("Y2 > BV1 > Y1", "Y2 > C9 > Y1")), SENSOR, {}, set()),
    "pump-bypass: a motorised valve in it may shut, but is no boiler's": (changed(SINGLE, ("Y2 > BV1 > Y1", "Y2 > MV9 > Y1")), SENSOR, {}, set()),
    "pump-bypass: the wrong way round": (changed(SINGLE, ("Y2 > BV1 > Y1", "Y1 > BV1 > Y2")), SENSOR, {}, {"pump-bypass"}),
    "pump-bypass: none for zone pumps": (
        changed(SINGLE, ("Y2 > BV1 > Y1", "Y2 > q\nq > DR9"), ("x > PS > s", "x > s"), ("M1 > ZV1 > E1", "M1 > PZ1 > C8 > E1"),
                plus="M1 > PZ2 > C7 > E2 > N1"), SENSOR, {}, {"pump-bypass"}),
    "pump-bypass: none for a tank's pump, the only one": (
        changed(SINGLE, ("Y2 > BV1 > Y1", "Y2 > q\nq > DR9"), ("x > PS > s", "x > PT > s"), ("M1 > ZV1 > E1 > N1", "M1 > IT > N1")),
        "IT tank", {}, {"pump-bypass", "ghost-flow"}),
    "pump-bypass: none, and the valves stand behind legs side by side": (
        changed(SINGLE, ("Y2 > BV1 > Y1", "Y2 > q\nq > DR9"), ("B1 > t1 > MV1 > S2 : 3", "B1 > t1 > v1 > BAL1 > w1 > MV1 > S2 : 0.6\nv1 > FS1 > w1"),
                ("B2 > t2 > MV2 > S2 : 1", "B2 > t2 > v2 > BAL2 > w2 > MV2 > S2 : 0.2\nv2 > FS2 > w2")), SENSOR, {}, {"pump-bypass"}),
    "reverse-return": (changed(SINGLE, ("R1 > B1 : 1", "R1 > B1 : 6")), SENSOR, {}, {"reverse-return"}),
    "lead-boiler: none": (COUPLE, SENSOR, {"B1": {"lead": False}}, {"lead-boiler"}),
    "lead-boiler: two": (COUPLE, SENSOR, {"B2": {"lead": True}}, {"lead-boiler"}),
    "relief-missing at one of two": (changed(COUPLE, ("t2 > RV2", "t2 > DR2")), SENSOR, {}, {"relief-missing"}),
    "relief-missing: one shared by two": (changed(COUPLE, ("t1 > RV1", "t1 > DR1"), ("t2 > RV2", "S2 > RV2")), SENSOR, {}, {"relief-missing"}),
    "relief-missing: one where the returns part": (changed(COUPLE, ("t2 > RV2", "R1 > RV2")), SENSOR, {}, {"relief-missing"}),
    "relief-missing: one shared by two boilers of three": (
        changed(THREE_BOILERS, ("t1 > RV1", "t1 > DR1"), ("t2 > RV2", "S2 > RV2")), SENSOR, {}, {"relief-missing"}),
    "sound: three boilers": (THREE_BOILERS, SENSOR, {}, set()),
    "sound: a relief valve between the legs of its boiler's inlet, a bypass valve elsewhere": (
        changed(SINGLE, ("R1 > B2 : 2", "R1 > w > u > B2 : 0.5\nw > FS2 > u"), ("t2 > RV2", "u > RV2"), plus="M1 > BV2 > N1"), SENSOR, {}, set()),
    "relief-missing: beyond the pump of a ring": (
        "B1 > P1 > v > E1 > w > B1\nv > RV1\nw > XT\nw > DR1", "", {}, {"relief-missing", "boiler-isolation-local", "expansion-point"}),
    "a relief valve beyond the load of a ring, at the boiler's inlet, is sound": (
        "B1 > v > P1 > E1 > w > B1\nw > RV1\nv > XT", "", {}, {"boiler-isolation-local"}),
    "a relief valve where a sole boiler's water divides is sound": (
        "B1 > S : 1\nS > RV1\nS > ZV1 > E1 > R\nS > ZV2 > E2 > R\nR > x > PS > B1\nx > XT", "", {}, {"boiler-isolation-local"}),
    "relief-isolated on a ring": (
        "B1 > HV1 > v > P1 > E1 > B1\nv > RV1\nv > XT", "", {}, {"relief-isolated", "boiler-isolation-local"}),
    "a relief valve at a sole boiler's inlet is sound": (
        changed(TEES, ("t1 > RV1 : 0.2", "t1 > DR1"), ("Z > B1 : 3", "Z > d > B1"), plus="d > RV1"), SENSOR, {}, set()),
    "relief-isolated by a hand valve": (changed(COUPLE, ("t2 > RV2", "t2 > HV2 > RV2")), SENSOR, {}, {"relief-isolated"}),
    "relief-isolated: beyond the pump": (changed(TEES, ("t1 > RV1 : 0.2\nt1 > P1 > A : 3", "t1 > P1 > v > A\nv > RV1")), SENSOR, {}, {"relief-isolated"}),
    "expansion-missing": (changed(TEES, ("x > XT", "x > DR1")), SENSOR, {}, {"expansion-missing"}),
    "expansion-missing: behind a check valve": (changed(TEES, ("x > XT", "x > C1 > XT")), SENSOR, {}, {"expansion-missing"}),
    "expansion-missing: behind a motorised valve": (changed(TEES, ("x > XT", "x > MV9 > XT")), SENSOR, {}, {"expansion-missing"}),
    "expansion-isolated": (changed(TEES, ("x > XT", "x > HV9 > XT")), SENSOR, {}, {"expansion-isolated"}),
    "a locked hand valve is sound": (changed(TEES, ("x > XT", "x > HV9 > XT")), SENSOR, {"HV9": {"locked_open": True}}, set()),
    "expansion-point: at the pump's outlet": (changed(TEES, ("x > XT", "s > XT")), SENSOR, {}, {"expansion-point"}),
    "expansion-point: at the outlet of a tank's pump, the only one": (
        "B1 > t > PT > s > C1 > IT > B1\nt > RV1\ns > XT", "IT tank", {}, {"expansion-point", "boiler-isolation-local"}),
    "expansion-point: beyond a balancing valve": (changed(TEES, ("x > PS > s", "x > BAL1 > PS > s")), SENSOR, {}, {"expansion-point"}),
    "expansion-point: an air separator between is sound": (changed(TEES, ("x > PS > s", "x > AS1 > PS > s")), SENSOR, {}, set()),
    "expansion-point: a separation does not count as between": (changed(TEES, ("x > XT", "x > DR2"), ("t1 > P1 > A : 3", "t1 > P1 > v > A\nv > XT")), SENSOR, {}, set()),
    "expansion-point: on the return of zone pumps": (
        changed(SINGLE, ("x > PS > s", "x > s"), ("M1 > ZV1 > E1", "M1 > PZ1 > C8 > E1"), ("x > XT", "N1 > XT"), plus="M1 > PZ2 > C7 > E2 > N1"),
        SENSOR, {}, {"expansion-point"}),
    "supply-sensor: none": (TEES, "", {}, {"supply-sensor"}),
    "supply-sensor: at the boiler": (TEES, "t1 system supply", {}, {"supply-sensor"}),
    "supply-sensor: at the tee where waters meet": (TEES, "A system supply", {}, {"supply-sensor"}),
    "supply-sensor: beyond the first load": (TEES, "E1 system supply", {}, {"supply-sensor"}),
    "supply-sensor: just before the first load is sound": (TEES, "ZV1 system supply", {}, set()),
    "supply-sensor: on a stub counts as at its joint": (TEES, "XT system supply", {}, set()),
    "supply-sensor: on a stub of the boiler loop": (TEES, "RV1 system supply", {}, {"supply-sensor"}),
    "supply-sensor: the pump beyond the tee is sound": (TEES, "PS system supply", {}, set()),
    "supply-sensor: before a bypass and a header is sound": (
        changed(TEES, ("s > ZV1 > E1 > Z : 20", "s > BV1 > Z\ns > m\nm > ZV1 > E1 > Z\nm > ZV2 > E2 > Z")), SENSOR, {}, set()),
    "supply-sensor: another role does not serve": (TEES, "s system return", {}, {"supply-sensor"}),
    "supply-sensor: between two boilers' tees": (
        changed(PER_BOILER, ("Z1 > A2 : 1", "Z1 > v > A2\nv > AV1")), "v system supply", {}, {"supply-sensor"}),
    "supply-sensor: at the separator's supply port": (SEPARATOR, "HS1.a_supply system supply", {}, set()),
    "supply-sensor: at the separator's supply port, before two zones": (
        SEPARATOR + "M1 > ZV2 > E2 > N1", "HS1.a_supply system supply", {}, set()),
    "supply-sensor: at the separator's return port": (SEPARATOR, "HS1.a_return system supply", {}, {"supply-sensor"}),
    "supply-sensor: at the boilers' port": (SEPARATOR, "HS1.b_supply system supply", {}, {"supply-sensor"}),
    "supply-sensor: in a second separator beyond": (
        changed(SEPARATOR, ("M1 > ZV1 > E1 > N1 : 9", "M1 > HS2.a_supply\nHS2.a_return > N1\nHS2.b_supply > P9 > ZV1 > E1 > HS2.b_return")),
        "HS2 system supply", {}, {"supply-sensor"}),
    "supply-sensor: in the separator": (SEPARATOR, "HS1 system supply", {}, {"supply-sensor"}),
    "ghost-flow: one pump for all boilers pushes idle ones": (
        changed(COUPLE, ("P1 > C1 > ", "C1 > "), ("P2 > C2 > ", "C2 > "), ("S2 > A", "S2 > P0 > A")), SENSOR, {}, {"ghost-flow"}),
    "sound: a changeover valve closes the boiler that rests": (
        changed(COUPLE, ("P1 > C1 > S2", "P1 > DV1.a"), ("P2 > C2 > S2", "P2 > DV1.b"), ("S2 > A", "DV1.common > A")), SENSOR, {}, set()),
    "part-reversed pump": (TEES, SENSOR, {"PS": {"reversed": True}}, {"part-reversed"}),
    "a reversed check valve on a dead end is no loop's": (
        changed(TEES, ("x > XT", "x > C9 > XT")), SENSOR, {"C9": {"reversed": True}}, {"expansion-missing"}),
    "a reversed pump in a common pipe faces neither way": (
        changed(TEES, ("A > Z : 0.15", "A > P9 > Z : 0.15")), SENSOR, {"P9": {"reversed": True}}, {"common-pipe-blocked"}),
    "part-reversed check valve at one boiler": (COUPLE, SENSOR, {"C2": {"reversed": True}}, {"part-reversed"}),
    "ghost-flow at one boiler of two": (changed(COUPLE, ("P2 > C2 > S2", "P2 > S2")), SENSOR, {}, {"ghost-flow"}),
    "ghost-flow at a boiler on its own tees": (changed(PER_BOILER, ("P2 > C2 > Z2", "P2 > Z2")), SENSOR, {}, {"ghost-flow"}),
    "ghost-flow: a check valve that another pump pushes open": (WITH_TANK, SENSORS, {}, {"ghost-flow"}),
    "ghost-flow: the same tank with a motorised valve is sound": (changed(WITH_TANK, ("PT > C5", "PT > MV5")), SENSORS, {}, set()),
    "ghost-flow: the boilers' pump pushes a tank beside an emitter of its loop": (
        changed(ON_BOILER_LOOP, ("e > A : 1", "e > E9 > A : 1")), SENSORS, {}, {"ghost-flow"}),
    "ghost-flow: no valve at the tank": (changed(ON_BOILER_LOOP, ("PT > C1 > IT", "PT > IT")), SENSORS, {}, {"ghost-flow"}),
    "ghost-flow: behind zone pumps a check valve will do": (
        changed(SEPARATOR, ("x > PS > s", "x > s"), ("M1 > ZV1 > E1", "M1 > PZ1 > C8 > E1"), plus="M1 > PT > C5 > IT > N1"), SENSORS, {}, set()),
    "ghost-flow: a tank without pump or valve": (SINGLE + "M1 > IT > N1", SENSORS, {}, {"ghost-flow"}),
    "ghost-flow: two tanks behind one pump": (
        changed(ON_BOILER_LOOP, ("e > PT > C1 > IT > d : 4", "e > PT > m > IT > n > d\nm > IT2 > n")), SENSORS + "; IT2 tank", {}, {"ghost-flow"}),
    "ghost-flow: two tanks before one pump": (
        changed(ON_BOILER_LOOP, ("e > PT > C1 > IT > d : 4", "e > m > IT > n > PT > d\nm > IT2 > n")), SENSORS + "; IT2 tank", {}, {"ghost-flow"}),
    "ghost-flow: two tanks before one pump with a check valve are sound": (
        changed(ON_BOILER_LOOP, ("e > PT > C1 > IT > d : 4", "e > m > IT > n > C1 > PT > d\nm > IT2 > n")), SENSORS + "; IT2 tank", {}, set()),
    "ghost-flow: three tanks behind one pump with a check valve are sound": (
        changed(ON_BOILER_LOOP, ("e > PT > C1 > IT > d : 4", "e > PT > C1 > m > IT > n > d\nm > k\nk > IT2 > j\nk > IT3 > j\nj > n")),
        SENSORS + "; IT2 tank; IT3 tank", {}, set()),
    "mixing-valve": (ON_BOILER_LOOP, SENSORS, {"IT": {"outlet_mixing_valve": False}}, {"mixing-valve"}),
    "tank-sensor": (ON_BOILER_LOOP, SENSOR, {}, {"tank-sensor"}),
    "low-temperature-zone": (TEES, SENSOR, {"E1": {"max_supply_c": 45.0}}, {"low-temperature-zone"}),
    "low-temperature-zone: beyond the separation a tank on the boiler loop does not reach it": (
        ON_BOILER_LOOP, SENSORS, {"E1": {"max_supply_c": 80.0}, "B1": {"setpoint_c": 75.0}}, set()),
    "low-temperature-zone: the boilers' water does": (
        ON_BOILER_LOOP, SENSORS, {"E1": {"max_supply_c": 74.0}, "B1": {"setpoint_c": 75.0}}, {"low-temperature-zone"}),
    "low-temperature-zone: on the boilers' loop a tank's call does": (
        changed(ON_BOILER_LOOP, ("e > A : 1", "e > E9 > A : 1")), SENSORS, {"E9": {"max_supply_c": 79.0}, "B1": {"setpoint_c": 75.0}},
        {"low-temperature-zone", "ghost-flow"}),
    "low-temperature-zone: without a tank the boilers' water alone counts": (
        TEES, SENSOR, {"E1": {"max_supply_c": 75.0}, "B1": {"setpoint_c": 75.0}}, set()),
    "low-temperature-zone: the hottest of two boilers": (
        COUPLE, SENSOR, {"E1": {"max_supply_c": 75.0}, "B1": {"setpoint_c": 75.0}, "B2": {"setpoint_c": 76.0}}, {"low-temperature-zone"}),
    "low-temperature-zone: a mixing valve set at the highest is sound": (
        changed(SINGLE, ("M1 > ZV1 > E1 > N1 : 9", "M1 > ZV1 > MX1.hot\nMX1.mixed > P7 > E1 > v\nv > MX1.cold\nv > N1")), SENSOR,
        {"E1": {"max_supply_c": 45.0}, "MX1": {"set_c": 45.0}}, set()),
    "low-temperature-zone: the DHW call reaches an emitter on the tank's loop": (
        TEES + "s > MV5 > IT > Z : 9", SENSORS, {"E1": {"max_supply_c": 79.0}, "B1": {"setpoint_c": 75.0}}, {"low-temperature-zone"}),
    "low-temperature-zone behind a mixing valve is sound": (
        changed(SINGLE, ("M1 > ZV1 > E1 > N1 : 9", "M1 > ZV1 > MX1.hot\nMX1.mixed > P7 > E1 > v\nv > MX1.cold\nv > N1")), SENSOR,
        {"E1": {"max_supply_c": 50.0}}, set()),
    "low-temperature-zone: two zones behind one mixing valve are sound": (
        changed(SINGLE, ("M1 > ZV1 > E1 > N1 : 9", "M1 > ZV1 > MX1.hot\nMX1.mixed > P7 > m\nm > E1 > v\nm > E2 > v\nv > w\nw > MX1.cold\nw > N1")), SENSOR,
        {"E1": {"max_supply_c": 50.0}, "E2": {"max_supply_c": 50.0}}, set()),
    "low-temperature-zone: a second way round the mixing valve": (
        changed(SINGLE, ("M1 > ZV1 > E1 > N1 : 9", "M1 > h > ZV1 > MX1.hot\nh > m\nMX1.mixed > P7 > m\nm > E1 > v\nv > MX1.cold\nv > N1")), SENSOR,
        {"E1": {"max_supply_c": 50.0}}, {"low-temperature-zone"}),
    "low-temperature-zone: the mixing valve set too high": (
        changed(SINGLE, ("M1 > ZV1 > E1 > N1 : 9", "M1 > ZV1 > MX1.hot\nMX1.mixed > P7 > E1 > v\nv > MX1.cold\nv > N1")), SENSOR,
        {"E1": {"max_supply_c": 40.0}, "MX1": {"set_c": 60.0}}, {"low-temperature-zone"}),
}


@pytest.mark.parametrize("name", CASES)
def test_rules_that_fire(name):
    """The set of rules that fire on one plant, notes left aside."""
    runs, sensors, given, expected = CASES[name]
    findings = read(sketch(runs, sensors=sensors, given=given)).findings
    assert expected == {f.rule for f in findings} - NOTES


def test_every_rule_has_a_case_here():
    """A rule without a plant on which it fires is not tested."""
    fired = set().union(*(case[3] for case in CASES.values())) | NOTES
    assert set(rules()) == fired


@pytest.mark.parametrize("name", rules())
def test_rule_names_its_source(name):
    """Each rule's docstring says where the rule comes from."""
    assert "Source:" in inspect.getdoc(rules()[name])


def test_notes_fall_silent_when_the_parts_are_there():
    """Flow switch and low-water cut-off drawn: no note. A bypass across the loads: zones may shut."""
    plant = sketch(changed(TEES, ("t1 > P1 > A", "t1 > FS1 > P1 > A"), ("s > ZV1 > E1 > Z : 20", "s > ZV1 > E1 > n > Z\ns > BV1 > n")),
                   sensors=SENSOR, given={"LW": {"kind": "low-water cut-off", "at": "B1"}})
    assert read(plant).findings == ()
    assert {f.rule for f in read(sketch(TEES, sensors=SENSOR)).findings} == NOTES


def shut_zones(runs, **given):
    """The parts that `zones-shut` speaks of, () where it is silent."""
    return next((f.parts for f in read(sketch(runs, sensors=SENSORS if "IT" in runs else SENSOR, given=given)).findings
                 if f.rule == "zones-shut"), ())


def test_zones_are_shut_by_their_own_valves_and_by_a_diverting_valve():
    """Boilers' valves do not count as the zones'; a diverting valve at the building's port shuts the tank's."""
    assert shut_zones(SINGLE) == ("PS", "E1") and shut_zones(changed(SINGLE, ("ZV1 > ", ""))) == ()
    diverted = changed(SINGLE, ("s > M1 : 2", "s > DV1.common\nDV1.a > M1"), ("N1 > Y2", "N1 > r > Y2"), plus="DV1.b > IT > r")
    back = changed(SINGLE, ("N1 > Y2", "N1 > DV1.a\nDV1.common > Y2"), plus="M1 > IT > DV1.b")
    assert shut_zones(back) == ("PS", "E1", "IT") and shut_zones(changed(back, ("ZV1 > ", ""))) == ()
    assert shut_zones(diverted) == ("PS", "E1", "IT") and shut_zones(changed(diverted, ("ZV1 > ", ""))) == ()


def test_a_drawing_that_contradicts_itself_does_not_show_crossed_ports():
    """An emitter written against its loop's pump, and a zone that comes home to the tee it set out from: neither tells which way
    the loop runs past the tees."""
    for loop in ("Z > E1 > ZV1 > s : 20", "s > ZV1 > E1 > Z : 20\ns > ZV2 > E2 > A"):
        assert "ports-crossed" not in {f.rule for f in read(sketch(changed(TEES, ("s > ZV1 > E1 > Z : 20", loop)))).findings}


PUSHED = {
    "ghost-flow: a check valve that another pump pushes open": "The branch of IT stays open when PT is off: PS pushes its check valve open",
    "ghost-flow: the boilers' pump pushes a tank beside an emitter of its loop": "when PT is off: P1 pushes its check valve open",
    "ghost-flow: a tank without pump or valve": "Nothing closes the branch of IT at all times",
    "ghost-flow: no valve at the tank": "Nothing closes the branch of IT when PT is off",
    "ghost-flow at one boiler of two": "Nothing closes the branch of boiler B2 when P2 is off",
    "ghost-flow: one pump for all boilers pushes idle ones": "The branch of boiler B1 stays open at all times: P0 pushes its check valve open",
}


@pytest.mark.parametrize("name", PUSHED)
def test_ghost_flow_names_the_pump_that_pushes(name):
    """And those that are off; the mend is a check valve only where none pushes."""
    runs, sensors, given, _ = CASES[name]
    found = next(f for f in read(sketch(runs, sensors=sensors, given=given)).findings if f.rule == "ghost-flow")
    assert PUSHED[name] in found.says and ("check valve" in found.fix) == ("no valve" in name or "one boiler" in name)


def test_twin_pumps_push_together_and_a_pump_of_another_zone_does_not():
    """A tank beside the loads of two system pumps in parallel, each with its check valve or not; and beside a zone with its own pump."""
    def ghosts(runs):
        return [f.says for f in read(sketch(runs, sensors=SENSORS)).findings if f.rule == "ghost-flow"]

    for twins in (changed(WITH_TANK, plus="\nx > PS2 > s"), changed(WITH_TANK, ("x > PS > s", "x > PS > C1 > s"), plus="\nx > PS2 > C2 > s")):
        assert "PT is off: PS and PS2 push its check valve open" in ghosts(twins)[0] and len(ghosts(twins)) == 1
    zone = changed(WITH_TANK, ("M1 > ZV1 > E1", "M1 > PZ1 > ZV1 > E1"))
    assert ": PS pushes" in ghosts(zone)[0] and len(ghosts(zone)) == 1


def test_each_straddling_load_is_told():
    """Two coils from the system loop back to the boiler loop, each on its own branch."""
    plant = sketch(changed(TEES, ("Z > B1 : 3", "Z > d > B1"), plus="s > PT > C1 > IT > d\ns > PT2 > C2 > IT2 > d"), sensors=SENSOR)
    assert [f.parts for f in read(plant).findings if f.rule == "load-straddles"] == [("IT", "s", "d"), ("IT2", "s", "d")]


def test_a_straddling_coil_is_found_among_hundreds_of_zones():
    """Four hundred chains: only tees where water comes and goes are looked at, and the common pipe's are."""
    zones = "\n".join(f"g{n} > g{n + 1}\nr{n + 1} > r{n}\ng{n + 1} > E{n + 2} > r{n + 1}" for n in range(130))
    many = changed(TEES, ("Z > B1 : 3", "Z > d > B1"), ("s > ZV1 > E1 > Z : 20", "s > g0\nr0 > Z\ng0 > E1 > r0"),
                   plus="s > PT > C1 > IT > d\n" + zones)
    assert [f.parts for f in read(sketch(many)).findings if f.rule == "load-straddles"] == [("IT", "s", "d")]


def test_a_supply_sensor_in_the_wrong_place_is_named_and_a_missing_one_is_not():
    """Parts to light: the sensor, or the tees where one is to stand behind."""
    wrong = next(f for f in read(sketch(TEES, sensors="t1 system supply")).findings if f.rule == "supply-sensor")
    assert wrong.parts == ("sensor0",) and wrong.says.startswith("sensor0 does not stand between the separation")
    none = next(f for f in read(sketch(TEES)).findings if f.rule == "supply-sensor")
    assert none.parts == ("A", "Z") and none.says.startswith("No system-supply sensor stands between the separation")


def test_separations_are_found_in_a_plant_of_thousands_of_pipes():
    """Beyond a thousand chains only tees where water comes and goes are looked at; a bypass stays a bypass."""
    zones = "\n".join(f"g{n} > g{n + 1}\nr{n + 1} > r{n}\ng{n + 1} > E{n + 2} > r{n + 1}" for n in range(600))
    many = changed(TEES, ("s > ZV1 > E1 > Z : 20", "s > g0\nr0 > Z\ng0 > E1 > r0")) + zones
    for common, arrangement in (("A > Z : 0.15", "separated loops"), ("A > Z : 0.5", "separated loops")):
        assert read(sketch(changed(many, ("A > Z : 0.15", common)))).arrangement == arrangement
    reading = read(sketch(changed(many, ("A > Z : 0.15", "A > Z : 0.5"), ("x > PS > s", "x > s"))))
    assert reading.arrangement == "single loop" and not reading.separations


def test_direct_return_is_a_note_where_each_boiler_has_its_pump():
    """Severity follows the pumps."""
    direct = read(sketch(changed(COUPLE, ("R1 > B1 : 1", "R1 > B1 : 4")), sensors=SENSOR))
    assert [f.severity for f in direct.findings if f.rule == "reverse-return"] == ["note"]
    shared = read(sketch(changed(SINGLE, ("R1 > B1 : 1", "R1 > B1 : 6")), sensors=SENSOR))
    assert [f.severity for f in shared.findings if f.rule == "reverse-return"] == ["should fix"]


def test_findings_are_sorted_and_name_their_parts():
    """By severity, then by rule; every part is one of the plant's and stands in the sentence or the list."""
    plant = sketch(changed(COUPLE, ("t2 > RV2", "t2 > HV2 > RV2"), ("P2 > C2 > S2", "P2 > S2")),
                   given={"PS": {"reversed": True}, "B1": {"lead": False}})
    findings = read(plant).findings
    assert [SEVERITIES.index(f.severity) for f in findings] == sorted(SEVERITIES.index(f.severity) for f in findings)
    for finding in findings:
        assert finding.parts and set(finding.parts) <= set(plant.parts)
        assert finding.says.endswith(".") and finding.fix.endswith(".")


def test_every_rule_has_a_row_in_developers_md():
    """The table of rules names each rule and each of its faults."""
    text = (Path(__file__).parents[3] / "DEVELOPERS.md").read_text(encoding="utf-8")
    for name in rules():
        row = next(line for line in text.splitlines() if line.startswith(f"| `{name}` |"))
        assert all(f"`{fault}`" in row for fault, what in FAULTS.items() if what.rule == name)
        assert any(f"| {code} |" in row for code in OBJECTIVES)
