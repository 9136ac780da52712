"""Find the fault and the findings on the drawing, driven as a learner would, with no browser."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from figures.plant import write_plant
from figures.plant.scheme import Scheme
from widgets import FindTheFault, Record, show_findings
from widgets.learn import BadAnswer
from widgets.learn import record as record_module
from widgets.show.claims import told_of

BASE = Scheme(boilers=2, tank="system loop", emitters=2)


@pytest.fixture
def record(tmp_path: Path) -> Record:
    return Record(tmp_path, learner="Kim")


def find(*faults: str, **more: object) -> FindTheFault:
    return FindTheFault(**{"plant": replace(BASE, faults=faults), "record": False, **more})  # type: ignore[arg-type]


def solve(widget: FindTheFault) -> None:
    for claim in widget.task.right if widget.task else ():
        widget.claim(claim.place, claim.rule)
    if widget.task and widget.task.sound:
        widget.say_nothing_is_wrong()
    widget.check()


def unfounded(widget: FindTheFault) -> str:
    assert widget.task
    fired = {f.finding.rule for f in (*widget.task.faults, *widget.task.notes)}
    return next(rule for rule in widget.task.rules if rule not in fired)


# -- both ways -----------------------------------------------------------------------------------------------

def test_untouched_it_is_not_passed_and_check_says_what_to_do() -> None:
    widget = find("relief-missing")
    widget.check_button.click()
    assert "Point at what is wrong" in widget.report.text and widget.report.tone == "trouble"
    assert widget.mark is None and widget.verdict() == "Not answered."


@pytest.mark.parametrize("seed", range(8))
def test_the_model_answer_passes_on_made_plants(seed: int) -> None:
    widget = FindTheFault(seed=seed, record=False)
    solve(widget)
    assert widget.mark and widget.mark.right and widget.claims.state == "right" and widget.claims.locked
    assert widget.report.tone == "right" and widget.report.text.startswith(f"{widget.mark.of:g} of {widget.mark.of:g} points")


def test_nothing_is_wrong_is_right_of_a_sound_plant_and_wrong_of_another() -> None:
    sound, spoilt = find(), find("relief-missing")
    for widget in (sound, spoilt):
        widget.claims.nothing = True
        widget.check_button.click()
    assert sound.claims.state == "right"
    assert spoilt.claims.state == "again" and "not to be signed off" in spoilt.claims.says and not spoilt.claims.nothing


# -- picking -------------------------------------------------------------------------------------------------

def test_a_click_on_the_drawing_and_the_list_of_tags_pick_the_same_place() -> None:
    widget = find("relief-missing")
    widget.canvas.picked, widget.canvas.n = "B1", 1
    assert widget.claims.place == "B1" and widget.canvas.marks == {"B1": "look"}
    assert widget.canvas.caption.startswith("B1: boiler — heats the water. It is set to 80 °C. Say what is wrong there")
    widget.claims.place = "PS"
    assert widget.canvas.marks == {"PS": "look"} and "PS: pump" in widget.canvas.caption


def test_every_part_and_pipe_that_can_be_claimed_can_be_picked_on_the_drawing_and_in_the_list() -> None:
    widget = find("relief-missing")
    drawn = set(re.findall(r'data-(?:tag|run)="([^"]+)"', widget.canvas.svg.replace("&gt;", ">")))
    listed = {row["value"] for row in widget.claims.places}
    assert widget.task and set(widget.task.places) == listed and listed <= drawn


def test_what_no_symbol_shows_is_told_of_the_picked_part(monkeypatch: pytest.MonkeyPatch) -> None:
    """A fault that nobody could see on the drawing would be a riddle."""
    says = {"valve-fail-position": ("MV1", "It goes closed when its power fails."),
            "expansion-isolated": ("HVX1", "Nothing locks it open."),
            "mixing-valve": ("IT", "No mixing valve stands at its outlet"),
            "tee-spacing": ("A>Z", "of its inside diameters")}
    for fault, (place, words) in says.items():
        base = Scheme("single loop") if fault == "valve-fail-position" else BASE
        assert words in told_of(replace(base, faults=(fault,)).plant(), place)
    assert told_of(BASE.plant(), "TS").startswith("TS: temperature sensor")
    assert told_of(BASE.plant(), "nowhere") == ""
    monkeypatch.setattr("widgets.show.claims.units", lambda: "us")
    assert "It is set to 176 °F." in told_of(BASE.plant(), "B1")
    assert " ft long, " in told_of(BASE.plant(), BASE.plant().run_names[0])


def test_add_lists_the_claim_and_remove_takes_it_back() -> None:
    widget = find("relief-missing")
    widget.claims.add_pressed += 1
    assert widget.report.text == "Point at a part or a pipe first."
    widget.claims.asked = ["PS", ""]
    widget.claims.add_pressed += 1
    assert widget.report.text == "Choose what is wrong at PS first."
    widget.claims.asked = ["PS", widget.task.rules[0]]  # type: ignore[union-attr]
    widget.claims.add_pressed += 1
    row, = widget.claims.claims
    assert (row["place"], row["state"], row["removable"]) == ("PS", "", True)
    assert widget.report.text == ""
    widget.claims.add_pressed += 1
    assert "You have said so already" in widget.report.text
    widget.claims.at = 0
    widget.claims.remove_pressed += 1
    assert widget.claims.claims == [] and widget.canvas.marks == {}


def test_the_same_claim_twice_and_what_is_none_are_refused() -> None:
    widget = find("relief-missing")
    rule = unfounded(widget)
    widget.claim("PS", rule)
    for place, word in (("PS", rule), ("nowhere", rule), ("PS", "colour")):
        with pytest.raises(BadAnswer):
            widget.claim(place, word)
    with pytest.raises(BadAnswer):
        widget.pick("nowhere")
    assert len(widget.claims.claims) == 1


def test_pointing_and_saying_that_nothing_is_wrong_do_not_go_together() -> None:
    widget = find("relief-missing")
    widget.say_nothing_is_wrong()
    widget.claim("PS", unfounded(widget))
    assert not widget.claims.nothing, "who points at something takes it back"
    widget.say_nothing_is_wrong()
    widget.check_button.click()
    assert "Take one of the two back" in widget.report.text and widget.mark is None


# -- marks ---------------------------------------------------------------------------------------------------

def test_a_false_alarm_is_counted_told_lit_up_and_left_out_of_the_next_try() -> None:
    widget = find("relief-isolated")
    widget.claim("PS", unfounded(widget))
    widget.claim("HVR1", "relief-isolated")
    widget.check()
    alarm, found = widget.claims.claims
    assert alarm["state"] == "false alarm" and alarm["says"] and found["state"] == "found"
    assert widget.canvas.marks == {"PS": "wrong", "HVR1": "right"}
    assert widget.mark and (widget.mark.points, widget.mark.false_alarms) == (0.5, 1)
    assert widget.claims.state == "part" and "1 false alarm" in widget.claims.says
    assert not found["removable"] and alarm["removable"]
    widget.check()
    assert widget.claims.state == "right" and widget.first and widget.first.points == 0.5


def test_half_a_find_can_be_made_whole() -> None:
    widget = find("relief-isolated")
    widget.claim("HVR1", unfounded(widget))
    widget.check()
    assert widget.claims.claims[0]["state"] == "half" and widget.canvas.marks == {"HVR1": "look"}
    widget.claim("HVR1", "relief-isolated")
    widget.check()
    assert widget.mark and widget.mark.right and widget.mark.false_alarms == 0


def test_after_the_second_try_all_is_shown_with_numbers_on_the_drawing() -> None:
    widget = find("relief-isolated", "part-reversed")
    assert "data-finding" not in widget.canvas.svg, "the answer does not go to the page before"
    widget.claim("HVR1", "relief-isolated")
    widget.check()
    assert "data-finding" not in widget.canvas.svg and len(widget.claims.claims) == 1 and not widget.claims.locked
    widget.claim("B1", unfounded(widget))
    widget.check()
    assert widget.claims.locked and widget.claims.state == "shown"
    assert widget.canvas.svg.count("data-finding=") == 2
    states = [row["state"] for row in widget.claims.claims]
    assert states == ["found", "half" if states[1] == "half" else "false alarm", "shown"]
    assert all("(number" in str(row["label"]) for row in widget.claims.claims if row["state"] in ("found", "shown"))


def test_show_shows_without_a_try_and_what_is_done_stays_done() -> None:
    widget = find("relief-isolated")
    widget.show_button.click()
    assert widget.claims.locked and widget.claims.claims[0]["state"] == "shown"
    assert widget.report.text.startswith("0 of 1 points")
    with pytest.raises(BadAnswer):
        widget.claim("HVR1", "relief-isolated")
    widget.check()
    assert widget.mark is None
    sound = find()
    sound.show_answer()
    assert sound.report.text.startswith("0 of 1 points")
    assert "Nothing is wrong here" in sound.claims.says and sound.claims.state == "shown"


def test_pressing_a_claim_shows_its_place() -> None:
    widget = find("relief-isolated")
    widget.claim("PS", unfounded(widget))
    came = widget.canvas.come_into_view
    widget.claims.at = 0
    widget.claims.look_pressed += 1
    assert widget.canvas.come_into_view == came + 1 and "PS: pump" in widget.canvas.caption


# -- plants --------------------------------------------------------------------------------------------------

def test_another_plant_begins_anew_and_a_seed_finds_the_same_plant() -> None:
    widget = FindTheFault(seed=5, faults=2, record=False)
    plant = widget.task.plant  # type: ignore[union-attr]
    solve(widget)
    widget.another_button.click()
    assert widget.claims.claims == [] and not widget.claims.locked and widget.verdict() == "Not answered."
    widget.seed_box.value = "5"
    assert widget.task and widget.task.plant == plant
    widget.seed_box.value = "x"
    assert "0 to 999999" in widget.report.text


def test_bad_beginnings_are_refused() -> None:
    for more in ({"seed": -1}, {"seed": True}, {"seed": 3, "plant": BASE}, {"faults": 7}, {"plant": 3}):
        with pytest.raises(ValueError):
            FindTheFault(record=False, **more)


def test_a_plant_file_with_faults_is_told_in_the_widget(tmp_path: Path) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text("format = 1\n[parts]\nB = {kind = 'kettle'}\n")
    widget = FindTheFault(plant=bad, record=False)
    assert widget.report.tone == "trouble" and "kettle" in widget.report.text
    widget.check_button.click()
    assert "There is no plant here" in widget.report.text


# -- the record ----------------------------------------------------------------------------------------------

def test_each_try_is_kept_and_a_restart_finds_it_again(record: Record) -> None:
    widget = find("relief-isolated", record=record, key="find")
    widget.claim("PS", unfounded(widget))
    widget.check()
    row, = record.rows(exercise="find", kind="answer")
    assert (row.item, row.objective, row.points, row.of) == ("find the fault", "J1", 0.0, 1.0)
    assert row.answer == [["PS", unfounded(widget)]] and row.more["false alarms"] == 1
    assert row.more["faults"] == [{"rule": "relief-isolated", "objective": "J1", "points": 0.0}]
    again = find("relief-isolated", record=record, key="find")
    assert again.verdict() == widget.verdict() and again.claims.claims == widget.claims.claims
    again.claim("HVR1", "relief-isolated")
    again.check()
    last = find("relief-isolated", record=record, key="find")
    assert last.claims.state == "right" and last.first and last.first.false_alarms == 1
    assert len(record.rows(exercise="find", kind="answer")) == 2


def test_a_shown_answer_is_kept_too(record: Record) -> None:
    find("relief-isolated", record=record, key="find").show_answer()
    assert find("relief-isolated", record=record, key="find").claims.state == "shown"


def test_a_record_that_cannot_be_written_is_said_once_and_on_it_goes(
        record: Record, monkeypatch: pytest.MonkeyPatch) -> None:
    widget = find("relief-isolated", record=record)

    def full(*given: object, **more: object) -> int:
        raise record_module.RecordTrouble("The disk is full.")

    monkeypatch.setattr(Record, "add", full)
    solve(widget)
    assert widget.record is None and "The disk is full." in widget.caution.text and widget.claims.state == "right"


# -- findings on the drawing -----------------------------------------------------------------------------------

def test_every_finding_has_a_number_on_the_drawing_and_an_entry_beside_it() -> None:
    shown = show_findings(replace(BASE, faults=("relief-missing", "tee-spacing", "mixing-valve")))
    count = len(shown.found)
    assert count >= 3 and set(re.findall(r'data-finding="(\d+)"', shown.svg)) == {str(k + 1) for k in range(count)}
    assert [line["text"].split(".")[0] for line in shown.lines.lines] == [str(k + 1) for k in range(count)]
    assert shown.lines.lines[0]["group"] == "Must fix"


def test_each_entry_lights_up_its_place_and_a_part_finds_its_entry() -> None:
    shown = show_findings(replace(BASE, faults=("relief-missing",)))
    for at, finding in enumerate(shown.found):
        shown.lines.picked, shown.lines.n = at, shown.lines.n + 1
        assert set(shown.canvas.marks) == {*finding.parts, *finding.pipes}
        assert shown.canvas.caption.startswith(f"{at + 1}: ")
    shown.canvas.picked, shown.canvas.n = "B1", 1
    assert "B1" in shown.found[shown.lines.picked].parts
    shown.canvas.picked, shown.canvas.n = "XT", 2
    assert shown.canvas.caption == "Nothing is found against XT."


def test_on_paper_it_reads_without_colour_or_script(tmp_path: Path) -> None:
    plant = replace(BASE, title="R&D < 2", faults=("relief-missing",))
    path = tmp_path / "plant.toml"
    path.write_text(write_plant(plant.plant()))
    shown = show_findings(path)
    page = shown._repr_mimebundle_()["text/html"]
    assert isinstance(page, str) and page.count("<li>") == len(shown.found) and "R&D" not in page and "D < 2" not in page
    assert "Must fix" in page and shown.words().startswith("1 (must fix): ")


def test_a_plant_without_findings_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    from figures.reading import read

    plant = BASE.plant()
    clean = replace(read(plant), findings=())
    shown = show_findings(plant, clean)
    assert shown.words() == "Nothing found." and shown.panel.children == (shown.none,) and shown.lines.lines == []
    assert "nothing found" in shown.head.text
