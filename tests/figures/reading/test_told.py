"""What each finding lights up and how severe it is, and the forms in which a reading is handed on."""

import json

import pytest

from figures import read
from figures.reading.rules.context import Context
from figures.reading.settings import settings
from figures.reading.survey import survey

from .plants import ONE_BOILER, SENSOR, SENSORS, SEPARATOR, SYSTEM
from .sketch import sketch
from .test_rules import CASES

TEES = ONE_BOILER + SYSTEM

# case of test_rules.py → severity, parts to light up, the first pipes to light up. Worked out by hand.
TOLD = {
    "tee-spacing": ("should fix", "A Z", "A>Z"),
    "tee-spacing at each boiler": ("should fix", "A2 Z2", "A2>Z2"),
    "common-pipe-blocked by a hand valve": ("must fix", "HV1 A Z", "A>Z"),
    "common-pipe-blocked by a pump": ("must fix", "P9 A Z", "A>Z"),
    "loop-pump: none on the system loop": ("must fix", "E1", "A>x"),
    "loop-pump: none on the boiler loop": ("must fix", "B1", "B1>t1"),
    "loop-pump: missing at one boiler of two": ("must fix", "B2", "B2>t2"),
    "load-straddles": ("must fix", "IT s d", "s>d"),
    "ports-crossed at tees": ("must fix", "A2 Z2", "Z2>A2"),
    "ports-crossed at a separator": ("must fix", "HS1", ""),
    "boiler-isolation": ("must fix", "B2", ""),
    "boiler-isolation: a pump without a check valve": ("must fix", "B1", ""),
    "boiler-isolation-local": ("check local code", "B1", ""),
    "valve-fail-position": ("should fix", "MV2 B2", ""),
    "pump-bypass: none": ("must fix", "PS MV1 MV2", ""),
    "pump-bypass: the wrong way round": ("must fix", "PS MV1 MV2", ""),
    "reverse-return": ("should fix", "B1 B2", ""),
    "lead-boiler: none": ("should fix", "B1 B2", ""),
    "lead-boiler: two": ("should fix", "B1 B2", ""),
    "relief-missing at one of two": ("must fix", "B2", ""),
    "relief-missing: one shared by two": ("must fix", "B1 B2", ""),
    "relief-isolated by a hand valve": ("must fix", "HV2 RV2 B2", ""),
    "relief-isolated: beyond the pump": ("must fix", "P1 RV1 B1", ""),
    "expansion-missing": ("must fix", "B1", ""),
    "expansion-missing: behind a check valve": ("must fix", "C1 XT", ""),
    "expansion-isolated": ("should fix", "HV9 XT", ""),
    "expansion-point: at the pump's outlet": ("should fix", "XT PS", ""),
    "expansion-point: on the return of zone pumps": ("should fix", "XT PZ1 PZ2", ""),
    "part-reversed pump": ("must fix", "PS", ""),
    "ghost-flow at one boiler of two": ("should fix", "B2 P2", "B2>t2"),
    "ghost-flow: a check valve that another pump pushes open": ("should fix", "IT PT", "M1>N1#2"),
    "ghost-flow: a tank without pump or valve": ("should fix", "IT", "M1>N1#2"),
    "ghost-flow: no valve at the tank": ("should fix", "IT PT", "e>d"),
    "ghost-flow: two tanks behind one pump": ("should fix", "IT PT", "e>m"),
    "ghost-flow: two tanks before one pump": ("should fix", "IT PT", "e>m"),
    "mixing-valve": ("should fix", "IT", ""),
    "tank-sensor": ("should fix", "IT", ""),
    "low-temperature-zone": ("must fix", "E1", "A>x"),
    "low-temperature-zone: the mixing valve set too high": ("must fix", "E1", "MX1>v"),
}


@pytest.mark.parametrize("name", TOLD)
def test_finding_is_as_severe_as_the_design_says_and_lights_its_parts(name):
    runs, sensors, given, rules = CASES[name]
    severity, parts, pipe = TOLD[name]
    finding = next(f for f in read(sketch(runs, sensors=sensors, given=given)).findings if f.rule in rules)
    assert finding.severity == severity
    assert finding.parts == tuple(parts.split())
    assert finding.pipes[:1] == ((pipe,) if pipe else ()) or name == "ports-crossed at a separator"


def test_notes_are_notes_and_the_rest_is_asked_of_the_local_code():
    """No flow switch and no low-water cut-off drawn: note; zones that may shut: check."""
    severity = {f.rule: f.severity for f in read(sketch(TEES, sensors=SENSOR)).findings}
    assert severity == {"proof-of-flow": "note", "low-water": "note", "zones-shut": "check local code"}


def test_json_has_the_keys_of_the_design():
    """Every key at every depth, with its kind of value, through json and back."""
    said = json.loads(json.dumps(read(sketch(TEES, given={"B1": {"lead": False}})).as_dict()))
    assert set(said) == {"title", "arrangement", "separations", "loops", "dhw", "control", "dhw_priority", "boilers", "lead",
                         "return", "evidence", "findings"}
    assert said["title"] == "Sketch" and said["lead"] == "B1" and said["boilers"] == ["B1"]
    assert said["separations"] == [{"kind": "closely spaced tees", "parts": ["A", "Z"], "spacing_diameters": 2.8582}]
    assert said["loops"] == [{"role": "boiler loop", "parts": ["B1", "P1", "RV1", "t1"]},
                             {"role": "system loop", "parts": ["E1", "PS", "XT", "ZV1", "s", "x"]}]
    assert all(isinstance(text, str) for text in said["evidence"]) and len(said["evidence"]) >= 7
    assert all(set(found) == {"rule", "severity", "parts", "says", "fix"} for found in said["findings"])
    assert said["findings"][0]["rule"] == "supply-sensor" and said["findings"][0]["parts"] == ["A", "Z"]
    vessel = read(sketch(SEPARATOR)).as_dict()["separations"]
    assert vessel == [{"kind": "hydraulic separator", "parts": ["HS1"], "spacing_diameters": None}]


def test_settings_are_said_in_the_order_in_which_a_plant_is_read():
    """Name, value and the key of the reading that supports it."""
    told = settings(read(sketch(TEES + "s > MV5 > IT > Z : 9", sensors=SENSORS)))
    assert [(line.name, line.value, line.about) for line in told.lines()] == [
        ("arrangement", "separated loops", "arrangement"),
        ("control configuration", "DHW on the system loop", "control"),
        ("DHW priority", "optional, with a time limit", "dhw_priority"),
        ("boilers", "1", "boilers"),
        ("lead boiler", "B1", "lead"),
        ("outdoor reset", "not yet: something that it needs is missing", "reset")]
    assert [(need.key, need.applies, need.met) for need in told.reset] == [
        ("outdoor sensor", True, False), ("return guard", True, None), ("own temperature", False, None),
        ("DHW override", True, None)]
    assert told.sensors["system supply"] == ("sensor0",) and told.sensors["tank"] == ("sensor1",)
    fitted = settings(read(sketch(TEES, given={"TO": {"kind": "temperature sensor", "role": "outdoor"}})))
    assert fitted.lines()[-1].value == "only when what the drawing does not show is settled"
    assert fitted.lines()[2].value == "not applicable"


IN_A_ROW = "B1 > t > A : 2\nt > RV1\nA > x > PS > E1 > m : 6\nx > XT\nm > E2 > Z : 4\nm > BAL2 > Z\nZ > B1"
JOBS = {
    "ghost-flow: one pump for all boilers pushes idle ones": {"P0": "boiler", "PS": "system"},
    "sound: tees": {"P1": "boiler", "PS": "system"},
    "sound: twin system pumps": {"P1": "boiler", "PS": "system", "PS2": "system"},
    "sound: twin pumps of a single loop": {"PS": "system", "PS2": "system"},
    "sound: two boilers": {"P1": "boiler", "P2": "boiler", "PS": "system"},
    "sound: single loop": {"PS": "system"},
    "sound: own pumps with check valves in place of boiler valves": {"P1": "boiler", "P2": "boiler", "PS": "system"},
    "sound: tank on the boiler loop": {"P1": "boiler", "PS": "system", "PT": "tank"},
    "sound: tees per load": {"P1": "boiler", "P2": "boiler", "PS": "system", "PT": "tank"},
    "sound: zones with own pumps and no system pump": {"PZ1": "zone", "PZ2": "zone"},
    "sound: tank beside the system pump, pushed backwards by it": {"PS": "system", "PT": "tank"},
    "low-temperature-zone behind a mixing valve is sound": {"PS": "system", "P7": "zone"},
}


OTHER_JOBS = {
    "in a row with one emitter, before another": (IN_A_ROW, {"PS": "system"}),
    "each in a row with its emitter": ("B1 > t > A\nA > PZ1 > E1 > Z\nA > PZ2 > E2 > Z\nA > PZ3 > E3 > Z\nZ > B1",
                                       {"PZ1": "zone", "PZ2": "zone", "PZ3": "zone"}),
    "one for two zones of three, and a tank's": (
        "B1 > t > PS > A\nA > P2 > m\nm > E1 > n\nm > E2 > n\nn > Z\nA > E3 > Z\nA > PT > IT > Z\nZ > B1",
        {"PS": "system", "P2": "zone", "PT": "tank"}),
    "twins, of which a valve closes neither": ("B1 > A\nA > PS1 > C1 > m\nA > PS2 > C2 > m\nm > E1 > Z\nm > E2 > Z\nZ > B1",
                                              {"PS1": "system", "PS2": "system"}),
    "nothing but a boiler": ("B1 > PS > B1", {"PS": "boiler"}),
    "nothing but a tank": ("B1 > PT > IT > B1", {"PT": "tank"}),
    "a separator between, a pump without a load beyond": (
        "B1 > P1 > HS1.b_supply\nHS1.b_return > B1\nHS1.a_supply > PS > A\nA > E1 > Z\nA > P5 > BAL1 > Z\nZ > HS1.a_return",
        {"P1": "boiler", "PS": "system", "P5": "system"}),
}


@pytest.mark.parametrize("name", OTHER_JOBS)
def test_a_pump_has_the_job_of_what_it_serves(name):
    """A system pump is one without which no emitter of its loop gets water; a zone pump serves some of them, a tank's only tanks."""
    runs, jobs = OTHER_JOBS[name]
    plant = sketch(runs)
    assert Context(survey(plant), read(plant)).pump_jobs == jobs


@pytest.mark.parametrize("name", JOBS)
def test_each_pump_has_its_job_from_the_piping(name):
    runs, sensors, given, _ = CASES[name]
    plant = sketch(runs, sensors=sensors, given=given)
    assert Context(survey(plant), read(plant)).pump_jobs == JOBS[name]
