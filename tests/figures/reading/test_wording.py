"""What the reading says is written plainly, and lights up what it speaks of, on every plant that the tests know."""

import re

import pytest

from figures import read, read_plant
from figures.plant.kinds import KINDS
from figures.reading.record import SEVERITIES
from figures.reading.rules import rules
from figures.reading.settings import settings

from .plants import ON_BOILER_LOOP, ONE_BOILER, PER_LOAD, SINGLE, SYSTEM, TWO_BOILERS, changed
from .sketch import sketch
from .test_classify import CASES as PLANTS
from .test_rules import CASES as SPOILT
from .test_samples import SAMPLES

TEES = ONE_BOILER + SYSTEM
COUPLE = TWO_BOILERS + SYSTEM
KEYS = {"arrangement", "loops", "dhw", "control", "dhw_priority", "boilers", "lead", "return", "reset"}
LOOKED_FOR = {*KINDS, "closely spaced tees", "outdoor sensor", "emitter with a highest supply"}
TAGS_THAT_ARE_WORDS = {"A", "a", "s", "d"}


def readings():
    """Every plant of the tables of this folder, and every sample, read."""
    yield from (read(sketch(case[0])) for case in PLANTS.values())
    yield from (read(sketch(runs, sensors=sensors, given=given)) for runs, sensors, given, _ in SPOILT.values())
    yield from (read(read_plant(path)) for path in SAMPLES)


def sentences(reading):
    """All that is said of a plant, in full sentences."""
    yield from (evidence.says for evidence in reading.evidence)
    yield from (need.evidence.says for need in settings(reading).reset)
    for finding in reading.findings:
        yield from (finding.says, finding.fix)


def phrases(reading):
    """What stands in a table, and begins with a small letter."""
    yield from (need.says for need in settings(reading).reset)
    for line in settings(reading).lines():
        yield from (line.name, line.value)


def test_sentences_are_whole_and_capitals_are_for_tags():
    """Each begins with a capital or a tag and ends with a full stop; a word with two capitals is a tag of the plant or DHW;
    no blank is doubled and no value left out."""
    for reading in readings():
        known = {*reading.plant.parts, "DHW"}
        for text in (*sentences(reading), *phrases(reading)):
            words = re.findall(r"[A-Za-z0-9_]+", text)
            assert not {word for word in words if len(re.findall("[A-Z]", word)) > 1} - known, text
            assert "  " not in text and " ." not in text and " ," not in text, text
            assert "None" not in words or text.startswith("None of "), text
        for text in sentences(reading):
            for one in re.split(r"(?<=[.]) (?=[^0-9])", text):
                assert one[0] == "'" or one[0].isupper() or one.split()[0].strip(",:;") in reading.plant.parts, text
            assert text.endswith(".") and "dhw" not in text and "°c" not in text, text


def test_what_is_lit_is_there_and_what_is_absent_is_a_kind():
    """Evidence supports a key of the reading, absent kinds have the names that plant files use, and a finding lights every tag
    in its sentence: whose side it is, and who pushes, is not lit."""
    for reading in readings():
        for evidence in (*reading.evidence, *(need.evidence for need in settings(reading).reset)):
            assert evidence.about in KEYS and set(evidence.absent) <= LOOKED_FOR
            assert set(evidence.parts) <= set(reading.plant.parts)
            assert set(evidence.pipes) <= set(reading.plant.run_names)
        plant, separations = reading.plant, [s.pipes for s in reading.separations]
        assert [e.pipes for e in reading.about("loops")] == [loop.pipes for loop in reading.loops]
        assert not separations or sorted(e.pipes for e in reading.about("arrangement")) == sorted(separations)
        for evidence in reading.about("dhw"):
            assert " fed from " not in evidence.says or plant.run_names[plant.run_through[evidence.parts[0]]] in evidence.pipes
        for finding in reading.findings:
            assert finding.rule in rules() and finding.severity in SEVERITIES
            assert set(finding.parts) <= set(reading.plant.parts)
            assert set(finding.pipes) <= set(reading.plant.run_names)
            says = re.sub(r" on the side of [^.]*|: [A-Z0-9]+( and [A-Z0-9]+)? push(es)? ", "", finding.says)
            said = set(re.findall(r"[A-Za-z0-9_]+", says)) & set(reading.plant.parts)
            assert said - TAGS_THAT_ARE_WORDS <= set(finding.parts), finding


# Plant of test_classify.py → key of the reading, and the parts that its evidence lights, in order. Worked out by hand.
LIT = {
    "a loop between two separators": ["arrangement HS1", "arrangement HS2", "loops P1 P2", "loops P9", "loops PS", "dhw", "control",
                                      "dhw_priority", "boilers B1 B2", "lead B1", "return B2 S2 R1"],
    "a heat exchanger that serves DHW": ["arrangement A Z", "loops P1", "loops PS", "dhw HX1 s Z", "control HX1", "dhw_priority HX1",
                                         "boilers B1", "lead B1", "return B1"],
    "tees": ["arrangement A Z", "loops P1", "loops PS", "dhw", "control", "dhw_priority", "boilers B1", "lead B1", "return B1"],
    "a separator": ["arrangement HS1", "loops P1 P2", "loops PS", "dhw", "control", "dhw_priority", "boilers B1 B2", "lead B1",
                    "return B2 S2 R1"],
    "tank beside the boilers' loop": ["arrangement A Z", "loops P1 PT", "loops PS", "dhw IT e d", "control IT", "dhw_priority IT",
                                      "boilers B1", "lead B1", "return B1"],
    "tank at the tees themselves, beside another loop": [
        "arrangement A Z", "loops P1", "loops PT", "loops PS", "dhw IT A Z", "control IT", "dhw_priority IT", "boilers B1",
        "lead B1", "return B1"],
    "tees per load": ["arrangement A1 Z1", "arrangement A2 Z2", "loops P1 P2", "loops PT", "loops PS", "dhw IT A2 Z2",
                      "control IT", "dhw_priority IT", "boilers B1 B2", "lead B1", "return B2 S2 R1"],
    "a diverting valve in the return": ["arrangement B1 B2 E1 IT", "loops PS", "dhw IT M1 DV1", "control IT",
                                        "dhw_priority IT DV1", "boilers B1 B2", "lead B1", "return B2 S2 R1"],
    "the same pipe without a boiler pump is a bypass": [
        "arrangement B1 E1", "arrangement A Z", "loops PS", "dhw", "control", "dhw_priority", "boilers B1", "lead B1", "return B1"],
    "tees per boiler": ["arrangement A1 Z1", "arrangement A2 Z2", "loops P1", "loops P2", "loops PS", "dhw", "control",
                        "dhw_priority", "boilers B1 B2", "lead B1", "return B1 B2"],
    "short tees separate even without a pump": [
        "arrangement A Z", "loops", "loops", "dhw", "control", "dhw_priority", "boilers B1", "lead B1", "return B1"],
    "a buffer tank that nothing lies beyond": ["arrangement BT1", "loops P1 P2 PS", "dhw", "control", "dhw_priority",
                                               "boilers B1 B2", "lead B1", "return B2 S2 R1"],
    "a separator that nothing lies beyond": ["arrangement HS1", "loops P1 P2 PS", "dhw", "control", "dhw_priority",
                                             "boilers B1 B2", "lead B1", "return B2 S2 R1"],
    "boilers in a row": ["arrangement B1 B2 E1", "loops PS", "dhw", "control", "dhw_priority", "boilers B1 B2", "lead B1",
                         "return B1 B2"],
}
SAID = {
    "a ring without a load": ["the same water passes B1."],
    "boilers whose water has no way round": ["The water of B1 and B2 has no way round"],
    "a loop between two separators": ["HS2: E1 beyond it", "PS moves the water of the loop between the separations."],
    "tees": ["B1 on one side, E1 on the other", "2.9 inside diameters", "(closely spaced)", "the boiler loop of B1.",
             "P1 moves", "the system loop of E1.", "There is 1 boiler: B1.", "heating only", "no order of return"],
    "wide tees, a pump on each side": ["9.5 inside diameters", "wider than the usual four"],
    "a separator": ["in the hydraulic separator HS1", "P1 and P2 move the", "are 2 boilers", "B2 is first out", "reverse return"],
    "two boilers on direct return": ["B2 is first out", "first to come back", "direct return"],
    "tank beside the boilers' loop": ["coil of IT is fed from e and returns to d", "never crosses the tees A and Z",
                                      "The tank IT is on the boiler loop", "system pump stops"],
    "tank at the tees themselves, beside another loop": ["tees A and Z themselves", "cannot be told", "Priority cannot be said"],
    "coil fed from the system, returned to the boiler loop": ["joins two loops"],
    "tees per load": ["a separation of its own, the tees A2 and Z2, and E1 is behind another"],
    "tees per load, two zones": ["and E1 and E2 are behind another"],
    "tees per load, an emitter in the tank's loop": ["fed from m and returns to n, on the system loop, beyond the tees A2 and Z2"],
    "tees per load, tanks behind both": ["The tanks IT and IT3 are on the system loop", "IT and IT3", "No load but IT and IT3"],
    "tank as only load of a single loop": ["lies in the ring", "One loop serves IT,", "No load but IT is"],
    "tank behind a second separator on the system loop": ["HS2: E1 and IT beyond it", "beyond the hydraulic separator HS2",
                                                          "IT is one load among others"],
    "a heat exchanger that serves DHW": ["heat exchanger HX1 is fed from s and returns to Z"],
    "tank on a dead end": ["lies on a dead end"],
    "a diverting valve on a single loop": ["DV1 sends the water", "One loop serves heating and IT alike"],
    "the same pipe without a system pump is a bypass": ["the pipe between A and Z is a bypass", "9.5 inside diameters long"],
    "emitters hung on one pipe": ["passes B1 and the loads E1 and E2"],
    "a ring without a tee": ["passes B1 and E1"],
    "short tees separate even without a pump": ["No pump stands in the boiler loop of B1", "No pump stands in the system loop of E1"],
}


@pytest.mark.parametrize("name", LIT)
def test_evidence_lights_what_it_speaks_of(name):
    """In the order in which a plant is read aloud."""
    evidence = read(sketch(PLANTS[name][0])).evidence
    assert [" ".join((one.about, *one.parts)) for one in evidence] == LIT[name]
    absent = {kind for one in evidence if one.about in ("dhw", "control", "dhw_priority") for kind in one.absent}
    assert absent == (set() if read(sketch(PLANTS[name][0])).tanks else {"indirect tank"})
    none = {kind for one in evidence if one.about == "arrangement" for kind in one.absent}
    assert none == ({"hydraulic separator", "buffer tank", "closely spaced tees"}
                    if PLANTS[name][1] == "single loop" else set())


@pytest.mark.parametrize("name", SAID)
def test_evidence_names_what_shows_it(name):
    """The figures and the tags that the sentences must bring."""
    text = " ".join(one.says for one in read(sketch(PLANTS[name][0])).evidence)
    for words in SAID[name]:
        assert words.lower() in text.lower(), words


TWO_PUMPS = changed(ON_BOILER_LOOP, ("PT > C1 > IT", "PT > IT > PT2"))
SEVERAL = {
    "P1 and PS are set against the flow.": (TEES, {"P1": {"reversed": True}, "PS": {"reversed": True}}),
    "PS is set against the flow.": (TEES, {"PS": {"reversed": True}}),
    "B1 and B2 have no relief valve": (changed(COUPLE, ("t1 > RV1", "t1 > DR1"), ("t2 > RV2", "t2 > DR2")), {}),
    "B2 has no relief valve": (changed(COUPLE, ("t2 > RV2", "t2 > DR2")), {}),
    "When E1 and E2 are all shut off, PS has": (TEES + "s > ZV2 > E2 > Z", {}),
    "When E1 is shut off, PS has": (TEES, {}),
    "when PT and PT2 are off: water": (TWO_PUMPS, {}),
    "The isolation valve HV1 and the check valve C9 stands": (changed(TEES, ("A > Z : 0.15", "A > HV1 > C9 > Z : 0.15")), {}),
    "go round the boiler loop through B1 without meeting a pump": (changed(TEES, ("t1 > P1 > A", "t1 > A")), {}),
    "go round the system loop through E1 without": (changed(TEES, ("x > PS > s", "x > s")), {}),
    "swapped at the tees A2 and Z2 on the side of IT.": (changed(PER_LOAD, ("A2 > PT > C9 > IT > Z2", "Z2 > PT > C9 > IT > A2")), {}),
    "E1 may see at most 45 °C, its loop reaches 75 °C, and no mixing valve stands before it.": (
        TEES, {"E1": {"max_supply_c": 45.0}, "B1": {"setpoint_c": 75.0}}),
    "its mixing valve is set to 60 °C": (
        changed(SINGLE, ("M1 > ZV1 > E1 > N1 : 9", "M1 > ZV1 > MX1.hot\nMX1.mixed > P7 > E1 > v\nv > MX1.cold\nv > N1")),
        {"E1": {"max_supply_c": 40.0}, "MX1": {"set_c": 60.0}}),
    "here 210 mm": (changed(TEES, ("A > Z : 0.15", "A > Z : 0.5")), {}),
    "B2 is first out and first back, so it takes more": (changed(SINGLE, ("R1 > B1 : 1", "R1 > B1 : 6")), {}),
    "B2 is first out and first back, though each has a pump": (changed(COUPLE, ("R1 > B1 : 1", "R1 > B1 : 4")), {}),
    "It is fed from s and returns to d.": (changed(TEES, ("Z > B1 : 3", "Z > d > B1"), plus="s > PT > C1 > IT > d"), {}),
    "No flow switch is drawn at B1 and B2.": (COUPLE, {}),
    "No low-water cut-off is drawn at B1.": (TEES, {}),
}


@pytest.mark.parametrize("words", SEVERAL)
def test_findings_count_what_they_speak_of(words):
    """One thing is, several are; figures are those of the plant."""
    runs, given = SEVERAL[words]
    said = [text for finding in read(sketch(runs, given=given)).findings for text in (finding.says, finding.fix)]
    assert any(words in text for text in said), said


def test_evidence_says_who_leads_and_who_else_is_marked():
    """One marked, none, both."""
    for given, words, lit in (({}, "B1 is marked as the lead boiler.", ("B1",)),
                              ({"B1": {"lead": False}}, "None of B1 and B2 is marked as lead.", ("B1", "B2")),
                              ({"B2": {"lead": True}}, "B1 and B2 are all marked as lead; only one", ("B1", "B2"))):
        (said,) = read(sketch(COUPLE, given=given)).about("lead")
        assert said.says.startswith(words) and said.parts == lit


def test_settings_count_what_they_speak_of():
    """Two boilers, two mixing valves, two zones, two tanks."""
    guarded = ("B1 > P1 > S\nB2 > P2 > S\nS > T\nT > MX1.hot\nT > MX2.hot\nT > E1 > U\nU > MX1.cold\nU > MX2.cold\n"
               "MX1.mixed > B1\nMX2.mixed > B2")
    zones = ("B1 > PS > T\nT > MX1.hot\nMX1.mixed > P1 > E1 > V\nV > MX1.cold\nV > U\nT > MX2.hot\nMX2.mixed > P2 > E2 > W\n"
             "W > MX2.cold\nW > U\nU > B1")
    low = {"E1": {"max_supply_c": 45.0}, "E2": {"max_supply_c": 45.0}}
    tanks = TEES + "s > MV5 > IT > Z : 9\ns > MV6 > IT2 > Z : 9"
    condensing = {"B1": {"condensing": True}, "B2": {"condensing": True}}
    for runs, given, words in (
            (guarded, {}, "MX1 and MX2 hold the return of B1 and B2 warm."),
            (zones, low, "MX1 and MX2 give E1 and E2 temperatures of their own."),
            (TEES, {"E1": {"max_supply_c": 45.0}}, "No mixing valve keeps the supply of E1 below"),
            (tanks, {}, "IT and IT2 need hot water on the mildest day"),
            (COUPLE, condensing, "B1 and B2 are built to condense: cold return does no harm."),
            (COUPLE, {}, "B1 and B2 are not built to condense, and no mixing valve"),
            (COUPLE, {"B1": {"condensing": True}}, "B2 is not built to condense, and no mixing valve"),
            (TEES, {"TO": {"kind": "temperature sensor", "role": "outdoor"}}, "The outdoor sensor TO is fitted.")):
        said = [need.evidence.says for need in settings(read(sketch(runs, given=given))).reset]
        assert any(words in text for text in said), said


def test_evidence_of_a_loop_lights_its_pipes_and_that_of_a_coil_its_branch():
    """Names of runs, worked out by hand."""
    reading = read(sketch(PLANTS["tank beside the boilers' loop"][0]))
    assert [set(one.pipes) for one in reading.about("loops")] == [
        {"B1>t1", "t1>RV1", "t1>e", "e>A", "Z>d", "d>B1", "e>d"}, {"A>x", "x>s", "x>XT", "s>Z"}]
    assert reading.about("dhw")[0].pipes == ("e>d",) and reading.about("arrangement")[0].pipes == ("A>Z",)
    straddling = read(sketch(PLANTS["coil fed from the system, returned to the boiler loop"][0]))
    assert straddling.about("dhw")[0].pipes == ("s>d",) and straddling.about("dhw")[0].parts == ("IT", "s", "d")
    bare = read(sketch(PLANTS["short tees separate even without a pump"][0]))
    assert [one.absent for one in bare.about("loops")] == [("pump",), ("pump",)]
