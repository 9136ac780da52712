"""The settings sheet: what it must say of any plant, in every form."""

import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from figures.plant import read_plant
from figures.plant.model import Design
from figures.plant.scheme import Scheme
from figures.reading import read
from tests.plants import SAMPLES
from widgets.paper.as_text import WIDTH
from widgets.paper.pages import SIZES_MM, windows
from widgets.paper.reset import reset_line
from widgets.paper.sheet import sheet
from widgets.paper.steps import ORDER
from widgets.paper.told import NAMES
from widgets.paper.wiring import INPUTS, OUTPUTS

FAULTY = Scheme(boilers=8, tank="boiler loop", emitters=6, title="Great Hall & Sons",
                fittings=("air separator", "fill", "flow switch", "strainer", "isolation valves", "balancing valves"),
                faults=("relief-missing", "lead-boiler", "mixing-valve", "supply-sensor"))


def plant(name):
    """One sample plant."""
    return read_plant(next(path for path in SAMPLES if path.stem == name))


def one_line(text: str) -> str:
    """A text without its line ends and columns, so that words can be looked for."""
    return " ".join(text.split())


def wire(made, name):
    """The row of one output or input."""
    [row] = [row for row in made.content.wires if row.name == name]
    return row


def told(made, name):
    """The row of one setting."""
    [row] = [row for row in made.content.told if row.name == name]
    return row


def complete(made):
    """What must hold on any plant's sheet."""
    content, reading = made.content, made.content.reading
    names = [row.name for row in content.wires]
    assert [name for name in (*OUTPUTS, *INPUTS) if names.count(name) != 1] == []
    assert tuple(row.name for row in content.told) == NAMES
    assert tuple(step.title for step in content.steps) == ORDER
    assert all(step.checks for step in content.steps)
    assert all(row.says for row in content.wires)
    assert [(f.number, f.severity, f.says) for f in content.findings] == [
        (n, f.severity, f.says) for n, f in enumerate(reading.findings, 1)]
    weights = [f.severity for f in content.findings]
    assert weights == sorted(weights, key=("must fix", "should fix", "check local code", "note").index)
    for row in (*content.read, *content.told):
        assert not row.value.startswith("undetermined") or row.open, row
    text = made.text()
    first = text.split("\nDRAWING\n")[0]
    if "must fix" in weights:
        assert "must be fixed before this plant is fired" in one_line(first)
    if any(value == "undetermined" for value in (reading.arrangement, reading.dhw, reading.control)):
        assert "ASK BEFORE ANYTHING IS SET" in first and "undetermined" in first
    if reading.lead is None:
        assert "lead boiler" in first
    assert max(map(len, text.splitlines())) <= WIDTH
    placed = {tag for row in content.wires for tag in row.parts}
    assert {p.tag for p in reading.plant.of_kind("pump")} <= placed, "a pump that no output drives"
    valves = {tag for row in content.valves for tag in row.parts}
    kinds = ("check valve", "isolation valve", "motorised valve", "balancing valve", "bypass valve", "diverting valve",
             "mixing valve", "relief valve")
    assert {p.tag for p in reading.plant.of_kind(*kinds)} <= valves


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
@pytest.mark.parametrize("units", ["si", "us"])
def test_a_sample_plant_has_every_line(path, units):
    """Every output and input, setting and step is there, findings stand on top, nothing undetermined is hidden."""
    complete(sheet(read_plant(path), units=units))


@given(st.integers(0, 100_000), st.integers(0, 4))
@settings(max_examples=40, deadline=None)
def test_any_made_plant_has_every_line(seed, faults):
    """Plants that nobody has seen before, with up to four faults."""
    scheme = Scheme.with_random_faults(seed, faults)
    made = sheet(scheme.plant())
    complete(made)
    assert told(made, "DHW place").value == scheme.expected()["dhw"]
    assert told(made, "control configuration").value == scheme.expected()["control"]


def test_outputs_follow_the_piping():
    """Three plants, each with its own outputs."""
    made = sheet(plant("tees-tank-on-boiler"))
    assert [(n, wire(made, n).use, wire(made, n).parts) for n in OUTPUTS] == [
        ("boiler pump", "used", ("PB1",)), ("system pump", "used", ("PS",)), ("tank pump or valve", "used", ("PT",)),
        ("boiler isolation valve", "not used", ()), ("zone pumps and valves", "used", ("ZV1",))]
    made = sheet(plant("single-loop-four-boilers"))
    assert wire(made, "boiler pump").use == wire(made, "tank pump or valve").use == "not used"
    assert wire(made, "boiler isolation valve").parts == ("MV1", "MV2", "MV3", "MV4")
    made = sheet(plant("tees-diverting-valve"))
    assert wire(made, "tank pump or valve").parts == ("DV",)
    assert "DHW call" in wire(made, "tank pump or valve").says


def test_a_plant_without_tank_uses_nothing_of_the_tank():
    """Filled in, or 'not used'."""
    made = sheet(plant("tees-one-boiler"))
    for name in ("DHW priority", "DHW time limit", "boilers allowed on DHW", "DHW setpoint", "tank setpoint"):
        assert told(made, name).value == "not used"
    assert wire(made, "tank sensor or aquastat").use == "not used"


def test_priority_never_goes_without_a_time_limit():
    """Wherever there may be priority there is room for its limit, and a check of it."""
    made = sheet(plant("tees-tank-on-boiler"))
    assert told(made, "DHW time limit").write
    assert "freeze" in told(made, "DHW time limit").why
    assert any("time limit is reached" in check.says for step in made.content.steps for check in step.checks)


def test_what_cannot_be_told_is_asked():
    """A straddling tank: no DHW line is filled in, the tank's output is not to be connected."""
    made = sheet(plant("tank-straddles"))
    for name in ("DHW place", "control configuration", "DHW priority", "DHW time limit", "boilers allowed on DHW"):
        assert told(made, name).open, name
    assert wire(made, "tank pump or valve").use == "ask"
    assert any("trace both coil pipes of IT" in row.why for row in made.content.ask)
    calls = next(step for step in made.content.steps if step.title == "each call in turn")
    assert "no DHW call before the DHW place is settled" in calls.checks[0].says


def test_a_missing_sensor_is_called_missing():
    """Where loops are separated the supply sensor is no matter of choice."""
    assert wire(sheet(FAULTY.plant()), "system-supply sensor").use == "missing"


def test_a_heat_exchanger_that_does_not_say_what_it_heats_is_asked_about():
    """The evidence asks too; the sheet puts it on top."""
    data = Scheme(exchangers=(1,)).data()
    from figures.plant.check import plant_from_data
    for part in data["parts"].values():
        part.pop("serves", None)
    made = sheet(plant_from_data(data))
    assert any(row.name == "heat exchanger" and "Ask what" in row.why for row in made.content.ask)


def test_calls_tell_what_runs():
    """On a DHW call on the boiler loop the system pump stands still."""
    made = sheet(Scheme(tank="boiler loop", boilers=2).plant())
    [calls] = [step for step in made.content.steps if step.title == "each call in turn"]
    [dhw] = [check.says for check in calls.checks if check.says.startswith("DHW call")]
    assert "PB1 and PT run; PB2 and PS stand still" in dhw
    assert "PS run" in calls.checks[0].says or "PS runs" in calls.checks[0].says


def test_us_units_reach_every_figure():
    """No SI figure is left on a sheet in US units, but where a caution gives both."""
    text = sheet(plant("tees-tank-on-boiler"), units="us").text().split("CAUTIONS")[0]
    assert "psi" in text and "°F" in text and "gal" in text and "Btu/h" in text
    assert re.findall(r"\d ?(?:°C|kPa|kW|L)\b", text) == []


def test_the_reset_line_agrees_with_computed_values():
    """Room 20, 80/60 at −18 °C, n = 1.3 at full flow: −10 → 69.582/53.792, 0 → 55.780/45.254 (computed from the
    EN 442 characteristic equation)."""
    steps = 3800
    rows = {round(a, 2): (b, c) for a, b, c in reset_line(Design(-18.0, 20.0, 80.0, 60.0, 1.3), steps)}
    assert rows[-10.0] == pytest.approx((69.582, 53.792), abs=0.001)
    assert rows[0.0] == pytest.approx((55.780, 45.254), abs=0.001)
    assert reset_line(replace(Design(), outdoor_c=25.0)) == []


# -- forms -----------------------------------------------------------------------------------------------

HOSTILE = 'Hall <script>alert(1)</script> & "co" #import </title> $x$ \x1b[31m'


@pytest.mark.parametrize("paper", SIZES_MM)
def test_html_is_well_formed_and_escaped(paper):
    """A title that wants to be markup stays words, and the page asks nothing of a network."""
    hostile = replace(FAULTY.plant(), title=HOSTILE)
    page = sheet(hostile, paper=paper).html()
    root = ElementTree.fromstring(page.split("\n", 1)[1])
    assert [e for e in root.iter() if e.tag.endswith("script")] == []
    assert "Hall <script>alert(1)" in root.findtext("./head/title")
    assert "\x1b" not in page
    assert re.findall(r'(?:src|href)="(?!#)[^"]*"|url\((?!#)|@import', page) == []
    assert len([e for e in root.iter() if e.tag == "tr"]) > 80


def test_text_holds_no_control_characters():
    """Nothing in a title moves a terminal's cursor."""
    text = sheet(replace(plant("tees-one-boiler"), title=HOSTILE)).text()
    assert re.findall(r"[\x00-\x09\x0b-\x1f\x7f]", text) == []


@pytest.mark.parametrize("paper", SIZES_MM)
@pytest.mark.parametrize("made", [plant("single-loop-one-boiler"), replace(FAULTY.plant(), title=HOSTILE)],
                         ids=["one boiler", "eight boilers"])
def test_pdf_is_made_with_the_face_that_comes_along(tmp_path, paper, made):
    """A PDF of several pages of the size asked for, in the one face, tagged."""
    raw = sheet(made, paper=paper).save(tmp_path / "s.pdf").read_bytes()
    assert raw.startswith(b"%PDF")
    boxes = {tuple(round(float(v) / 72 * 25.4, 1) for v in found) for found in re.findall(
        rb"/MediaBox ?\[0 0 ([0-9.]+) ([0-9.]+)\]", raw)}
    upright = SIZES_MM[paper]
    assert upright in {tuple(round(v, 1) for v in box) for box in boxes}
    assert boxes <= {upright, upright[::-1]}
    names = set(re.findall(rb"/BaseFont ?/[A-Z]{6}\+([A-Za-z-]+)", raw))
    assert names and all(name.startswith(b"DejaVuSans") for name in names), names
    assert b"/StructTreeRoot" in raw


def test_a_wide_drawing_is_shown_larger_in_parts():
    """Every spot of it lies in some part, and parts overlap."""
    for width in (500.0, 1200.0, 2138.0, 5000.0):
        for paper in SIZES_MM:
            cuts = windows(width, 800.0, paper)
            for (left, wide), (after, _) in pairwise(cuts):
                assert left < after < left + wide
            assert not cuts or (cuts[0][0] == 0.0 and sum(cuts[-1]) == pytest.approx(width))
    assert windows(500.0, 800.0, "a4") == []


def test_a_file_is_never_written_over(tmp_path):
    """But when told to; and only endings that are known are written."""
    made = sheet(plant("tees-one-boiler"))
    target = made.save(tmp_path / "s.txt")
    target.write_text("mine")
    with pytest.raises(FileExistsError):
        made.save(target)
    assert target.read_text() == "mine"
    assert made.save(target, force=True).read_text(encoding="utf-8") == made.text()
    with pytest.raises(ValueError, match=r"\.pdf, \.html, \.txt"):
        made.save(tmp_path / "s.doc")


@pytest.mark.parametrize(("words", "says"), [({"units": "metric"}, "use si or us"), ({"paper": "a5"}, "a4 or letter")])
def test_what_is_not_known_is_refused(words, says):
    """In one plain sentence."""
    with pytest.raises(ValueError, match=says):
        sheet(plant("tees-one-boiler"), **words)


def test_the_sheet_shows_itself_in_a_notebook_and_prints_short():
    """Its page cannot run anything."""
    made = sheet(plant("tees-one-boiler"))
    assert repr(made) == "<Sheet: Quarry Road school>"
    shown = made._repr_html_()
    assert shown.startswith("<iframe") and "allow-scripts" not in shown


def test_the_drawing_numbers_the_findings_as_the_sheet_does():
    """Every number on the drawing belongs to that finding's first part."""
    made = sheet(FAULTY.plant())
    numbers = dict(re.findall(r'data-finding="(\d+)" role="img"><title>\d+: ([^<]*)</title>', made.svg))
    assert numbers
    from html import unescape
    by = {str(f.number): f.says for f in made.content.findings}
    assert {n: unescape(says) for n, says in numbers.items()} == {n: by[n] for n in numbers}
    assert made.content.reading == read(made.content.reading.plant)


# -- the command -----------------------------------------------------------------------------------------

def test_the_command_writes_sheets_of_several_plants_into_a_folder(tmp_path, capsys):
    """And leaves what is there; a bad plant does not stop the others."""
    from widgets.command import main

    bad = tmp_path / "bad.toml"
    bad.write_text("format = 2")
    files = [str(path) for path in SAMPLES[:2]]
    out = tmp_path / "out"
    assert main(["sheet", files[0], str(bad), files[1], "--out", f"{out}/", "--format", "txt"]) == 2
    assert {path.name for path in out.iterdir()} == {f"{Path(file).stem}.txt" for file in files}
    capsys.readouterr()
    assert main(["sheet", files[0], "--out", f"{out}/", "--format", "txt"]) == 2
    assert "is there already; --force writes over it" in capsys.readouterr().err
    assert main(["sheet", files[0], "--out", f"{out}/", "--format", "txt", "--force"]) == 0
    capsys.readouterr()
    assert main(["sheet", files[0]]) == 0
    assert capsys.readouterr().out.startswith(read_plant(files[0]).title)


def test_a_sensor_in_the_wrong_place_is_missing_where_it_is_needed():
    """The sample has its supply sensor on a boiler, and a hand valve under each relief valve."""
    made = sheet(plant("tees-many-findings"))
    row = wire(made, "system-supply sensor")
    assert row.use == "missing" and row.parts == ("TS",) and "See finding" in row.says
    [hand] = [row for row in made.content.valves if "HV1" in row.parts]
    number = next(f.number for f in made.content.findings if f.rule == "relief-isolated" and "HV1" in f.parts)
    assert f"See finding {number}." in hand.position


def test_no_more_boilers_fire_for_dhw_than_the_coil_can_use():
    """Four boilers of 100 kW and a coil of 120 kW: two fire on a DHW call, the lead first."""
    made = sheet(Scheme(tank="boiler loop", boilers=4, lead=3, coil_kw=120.0).plant())
    assert told(made, "boilers allowed on DHW").value == "2 of 4"
    [calls] = [step for step in made.content.steps if step.title == "each call in turn"]
    assert calls.checks[1].says.startswith("DHW call alone, the heating off: B3 and B1 fire")
    assert "B4" in calls.checks[0].says


def test_a_store_that_is_too_cold_is_asked_about():
    """60 °C: UK HSE, HSG274 Part 2 (2014)."""
    sound = Scheme(tank="boiler loop").plant()
    assert not any(row.name in ("tank setpoint", "DHW setpoint") for row in sheet(sound).content.ask)
    cold = replace(sound, design=replace(sound.design, tank_c=48.0, dhw_setpoint_c=48.0))
    asked = {row.name: row.why for row in sheet(cold).content.ask}
    assert "bacteria" in asked["tank setpoint"] and "no hotter than the store" in asked["DHW setpoint"]
