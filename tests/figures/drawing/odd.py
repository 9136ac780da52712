"""Plants that no scheme makes, from a short notation, and random piping of any kind."""

from __future__ import annotations

import random
import re
from collections.abc import Iterable, Mapping

from figures.plant import KINDS, Plant, parse_plant
from figures.plant.model import tag_of

PREFIX = {"B": "boiler", "P": "pump", "C": "check valve", "E": "emitter", "IT": "indirect tank", "T": "tee",
          "HS": "hydraulic separator", "BT": "buffer tank", "DV": "diverting valve", "MX": "mixing valve",
          "RV": "relief valve", "XT": "expansion tank", "FV": "fill", "AV": "air vent", "DR": "drain",
          "HV": "isolation valve", "MV": "motorised valve", "BAL": "balancing valve", "BV": "bypass valve",
          "AS": "air separator", "ST": "strainer", "FS": "flow switch", "HX": "heat exchanger"}


def made(lines: Iterable[str], at: Mapping[str, str] | None = None, more: Mapping[str, str] | None = None,
         title: str = "An odd plant", length_m: float = 2.0) -> Plant:
    """A plant from runs written 'B1 P1 T1'; the letters of a tag tell its kind. `at`: sensors, tag to place ('LW…' and
    'HL…' guard a boiler). `more`: further lines of a part, by tag."""
    rows = [line.split() for line in lines]
    tags = dict.fromkeys(tag_of(end) for row in rows for end in row)
    text = ["format = 1", f"title = '{title}'"]
    for tag in tags:
        letters = re.match("[A-Z]+", tag)
        assert letters
        text += [f"[parts.{tag}]", f'kind = "{PREFIX[letters[0]]}"', (more or {}).get(tag, "")]
    for tag, place in (at or {}).items():
        kind = {"L": "low-water cut-off", "H": "high limit"}.get(tag[0], "temperature sensor")
        text += [f"[parts.{tag}]", f'kind = "{kind}"']
        if place != "outdoor":
            text.append(f'at = "{place}"')
        if kind == "temperature sensor":
            text.append(f'role = "{"outdoor" if place == "outdoor" else "system supply"}"')
    for row in rows:
        text += ["[[runs]]", f"through = {row}", 'size = "NPS 2"', f"length_m = {length_m}"]
    return parse_plant("\n".join(text))


def per_load(count: int) -> list[str]:
    """Loads on tees of their own, one after another."""
    rows = ["B1 P1 T1"]
    for n in range(count):
        a, z = 2 * n + 1, 2 * n + 2
        rows += [f"T{a} T{z}", f"T{a} P{10 + n} E{n + 1} T{z}", f"T{z} T{z + 1}" if n < count - 1 else f"T{z} B1"]
    return rows


def cascade(boilers: int, loads: int) -> list[str]:
    """Boilers and loads between headers of many tees."""
    rows = []
    for n in range(boilers):
        rows += [f"B{n} P{n} C{n} T1{n:02}", f"T2{n:02} B{n}"]
    rows += [f"T1{n:02} T1{n + 1:02}" for n in range(boilers - 1)]
    rows += [f"T2{n + 1:02} T2{n:02}" for n in range(boilers - 1)]
    rows += [f"T1{boilers - 1:02} T8", f"T9 T2{boilers - 1:02}", "T8 T9", "T8 P90 T300", "T400 T9"]
    for n in range(loads):
        rows.append(f"T3{n:02} MV{n} E{n} T4{n:02}")
        if n:
            rows += [f"T3{n - 1:02} T3{n:02}", f"T4{n:02} T4{n - 1:02}"]
    return rows


LONG = {t: t + "-" + "m" * (23 - len(t)) for t in ("B1", "P1", "E1", "T1", "T2", "RV1", "HS1", "MV1")}

ODD: dict[str, Plant] = {
    "ring of two runs": made(["B1 P1 E1", "E1 B1"]),
    "ring of three runs": made(["B1 P1", "P1 E1", "E1 B1"]),
    "ring of a boiler and a pump": made(["B1 P1", "P1 B1"]),
    "ring with tees": made(["B1 T1", "T1 P1 T2", "T2 E1 B1", "T1 RV1", "T2 XT1"]),
    "ring, much in a row": made(["B1 AS1 P1 HV1 FS1 ST1 C1 MV1 BAL1 E1 HV2 ST2 HV3", "HV3 B1"]),
    "two loads in a row": made(["B1 P1 E1 E2 IT1", "IT1 B1"]),
    "two boilers in a row": made(["B1 B2 P1 E1", "E1 B1"]),
    "boiler, load, boiler, load": made(["B1 P1 E1 B2 P2 E2", "E2 B1"]),
    "parallel runs": made(["B1 P1 T1", "T1 E1 T2", "T1 E2 T2", "T1 T2", "T1 T2", "T2 B1"]),
    "parallel mains": made(["B1 T1", "T1 P1 T2", "T1 P2 T2", "T1 P3 T2", "T2 E1 T3", "T3 B1", "T3 B1b T1"]),
    "capped headers": made(["B1 T1", "T1 T2", "T2 T3", "T2 P1 E1 T4", "T4 T5", "T5 T6", "T6 B1", "T3 DR1"]),
    "a tee of nine pipes": made(["B1 P1 T1", *[f"T1 E{n} T2" for n in range(7)], "T2 B1", "T1 RV1", "T2 DR1"]),
    "a boiler beside a ring": made(["T1 B1 DR1", "T1 P1 E1 T2", "T2 T1"]),
    "a row between two dead ends": made(["B1 DR1", "RV1 B1"]),
    "a vessel whose far side has no load": made(["B1 P1 T1", "T1 IT1 T2", "T1 BT1.b_supply", "BT1.b_return T2", "T2 B1",
                                                 "BT1.a_supply P2 MV1 C1 BT1.a_return"]),
    "a vessel with a ring at each side": made(["B1 P1 HS1.a_supply", "HS1.a_return B1", "HS1.b_supply C1 HS1.b_return"]),
    "straddling coil": made(["B1 P1 T1", "T1 T2", "T2 B1", "T1 T3", "T3 P2 E1 T4", "T4 T2", "T1 IT1 T4"]),
    "straddling emitter": made(["B1 P1 T1", "T1 T2", "T2 B1", "T1 P2 T3", "T3 E1 T4", "T4 T2", "T3 E2 T2"]),
    "crossed ports": made(["B1 P1 HS1.a_supply", "HS1.a_return B1", "HS1.b_return P2 E1 HS1.b_supply"]),
    "both sides crossed": made(["B1 P1 HS1.a_return", "HS1.a_supply B1", "HS1.b_return P2 E1 HS1.b_supply"]),
    "boiler ports crossed": made(["B1 P1 BT1.b_return", "BT1.b_supply B1", "BT1.a_supply P2 E1 BT1.a_return"]),
    "two separators in a row": made(["B1 P1 HS1.a_supply", "HS1.a_return B1", "HS1.b_supply P2 T1", "T2 HS1.b_return",
                                     "T1 E1 T2", "T1 P3 BT2.a_supply", "BT2.a_return T2",
                                     "BT2.b_supply P4 E2 BT2.b_return"]),
    "a separator each": made(["B1 P1 HS1.a_supply", "HS1.a_return B1", "B2 P2 HS2.a_supply", "HS2.a_return B2",
                              "HS1.b_supply T1", "HS2.b_supply T1", "T1 P3 E1 T2", "T2 HS1.b_return", "T2 HS2.b_return"]),
    "a port that is a dead end": made(["B1 P1 HS1.a_supply", "HS1.a_return B1", "HS1.b_supply RV1", "HS1.b_return DR1"]),
    "third ports": made(["B1 P1 DV1.common", "DV1.a T1", "DV1.b IT1 T2", "T1 DV2.common", "DV2.a E1 T3", "DV2.b E2 T3",
                         "T3 T2", "T2 B1", "T1 BV1 T2"]),
    "a diverting valve on the return": made(["B1 P1 T1", "T1 E1 DV1.a", "T1 IT1 DV1.b", "DV1.common B1"]),
    "mixing valves": made(["B1 P1 T1", "T1 MX1.hot", "MX1.mixed P2 E1 T2", "T2 MX1.cold", "T2 T3", "T1 MX2.hot",
                           "T3 MX2.cold", "MX2.mixed E2 T3", "T3 B1"]),
    "a mixing valve, cold from far": made(["B1 P1 T1", "T1 HV1 MX1.hot", "MX1.mixed P2 E1 T2", "T3 C1 MX1.cold",
                                           "T2 T3", "T3 B1", "T1 E2 T3"]),
    "a mixing valve the wrong way": made(["B1 P1 MX1.mixed", "MX1.hot E1 T1", "MX1.cold E2 T1", "T1 B1"]),
    "a way back to one tee": made(["B1 P1 T1", "T1 B1", "T1 P2 E1 T1"]),
    "dead ends with tees": made(["B1 T1", "T1 P1 E1 T2", "T2 B1", "T1 T3", "T3 RV1", "T3 T4", "T4 AV1", "T4 HV1 XT1"]),
    "a long dead end": made(["B1 T1", "T1 E1 B1", "T1 HV1 HV2", "HV2 ST1 C1 XT1"]),
    "a dead end with a load": made(["B1 T1", "T1 P1 E1 T2", "T2 B1", "T1 E2 AV1"]),
    "sensors everywhere": made(
        ["B1 P1 HS1.a_supply", "HS1.a_return B1", "HS1.b_supply P2 T1", "T1 MV1 E1 HS1.b_return"],
        at={"S1": "P1", "S2": "P2", "S3": "HS1", "S4": "HS1.b_supply", "S5": "T1", "S6": "T1", "S7": "T1", "S8": "MV1",
            "S9": "E1", "O1": "outdoor", "O2": "outdoor", "LW1": "B1", "HL1": "B1", "S10": "B1", "S11": "B1",
            "S12": "P2", "S13": "HS1.a_return"}),
    "a sensor on a dead end": made(["B1 T1", "T1 E1 B1", "T1 HV1 XT1"], at={"S1": "HV1", "S2": "XT1"}),
    "eight boilers, twelve loads": made(cascade(8, 12)),
    "ten separations": made(per_load(10), length_m=0.1),
    "three separations": made(per_load(3), length_m=0.1),
    "against their runs": made(["B1 P1 C1 T1", "T2 B1", "T1 P2 E1 T2", "T2 T1"],
                               more={"P1": "reversed = true", "C1": "reversed = true", "P2": "reversed = true"}),
    "runs written backwards": made(["T1 P1 B1", "B1 T2", "E1 MV1 T1", "T2 P2 E1", "T2 T1"]),
    "long tags": parse_plant(re.sub(r"\b(" + "|".join(LONG) + r")\b", lambda m: LONG[m[0]], """
format = 1
title = "Long"
[parts.B1]
kind = "boiler"
[parts.P1]
kind = "pump"
[parts.E1]
kind = "emitter"
[parts.T1]
kind = "tee"
[parts.T2]
kind = "tee"
[parts.RV1]
kind = "relief valve"
[parts.MV1]
kind = "motorised valve"
[parts.HS1]
kind = "hydraulic separator"
[[runs]]
through = ["B1", "T1"]
size = "NPS 2"
length_m = 1.0
[[runs]]
through = ["T1", "RV1"]
size = "NPS 2"
length_m = 1.0
[[runs]]
through = ["T1", "P1", "HS1.a_supply"]
size = "NPS 2"
length_m = 1.0
[[runs]]
through = ["HS1.a_return", "B1"]
size = "NPS 2"
length_m = 1.0
[[runs]]
through = ["HS1.b_supply", "T2"]
size = "NPS 2"
length_m = 1.0
[[runs]]
through = ["T2", "MV1", "E1", "HS1.b_return"]
size = "NPS 2"
length_m = 1.0
""")),
}

ROWS = ["pump", "check valve", "isolation valve", "motorised valve", "balancing valve", "bypass valve", "emitter",
        "indirect tank", "boiler", "air separator", "strainer", "flow switch", "heat exchanger"]
ENDS = ["relief valve", "expansion tank", "fill", "air vent", "drain"]


def tangle(seed: int) -> Plant:
    """Random piping: any joints, any parts anywhere. Sound as a file, senseless as a plant."""
    dice = random.Random(seed)
    count = dice.randint(2, 9)
    text = ["format = 1", f'title = "tangle {seed}"']
    ends: list[str] = []
    loose: list[str] = []

    def part(tag: str, kind: str, more: str = "") -> str:
        text.extend([f"[parts.{tag}]", f'kind = "{kind}"', more])
        return tag

    for n in range(count):
        ends.append(part(f"T{n}", "tee"))
    for n in range(dice.choice((0, 0, 1, 1, 2))):
        kind = dice.choice(("hydraulic separator", "buffer tank", "diverting valve", "mixing valve"))
        tag = part(f"V{n}", kind)
        loose += [f"{tag}.{port}" for port in KINDS[kind].ports]
    parts = 0
    runs: list[list[str]] = []

    def run(a: str, b: str) -> None:
        nonlocal parts
        row = [a]
        for _ in range(dice.choice((0, 0, 1, 1, 2, 3))):
            kind = dice.choice(ROWS)
            flip = "reversed = true" if kind in ("pump", "check valve") and dice.random() < 0.2 else ""
            row.append(part(f"K{parts}", kind, flip))
            parts += 1
        runs.append([*row, b])

    for n in range(1, count):
        run(*dice.sample([f"T{n}", f"T{dice.randrange(n)}"], 2))
    for port in loose:
        run(*dice.sample([port, dice.choice(ends)], 2))
    for _ in range(dice.randint(1, 6)):
        run(*dice.sample(ends, 2))
    joined = {e: sum((r[0] == e) + (r[-1] == e) for r in runs) for e in ends}
    for end, times in joined.items():
        for _ in range(max(0, 2 - times)):
            run(end, dice.choice([e for e in ends if e != end]))
    a, b = dice.sample(ends, 2)
    runs.append([a, part("B0", "boiler"), b])
    for n in range(dice.randint(0, 5)):
        run(dice.choice(ends), part(f"D{n}", dice.choice(ENDS)))
    for n in range(dice.randint(0, 4)):
        places = [*ends, *(f"K{k}" for k in range(parts)), *loose]
        part(f"S{n}", "temperature sensor", f'role = "tank"\nat = "{dice.choice(places)}"')
    for row in runs:
        text += ["[[runs]]", f"through = {row}", 'size = "NPS 1"', f"length_m = {dice.uniform(0.1, 9):.2f}"]
    return parse_plant("\n".join(text))
