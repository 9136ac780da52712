"""Your own plant: the form without a browser, and the same questions in a terminal."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from figures.plant import read_plant, write_plant
from figures.plant.scheme import Scheme
from figures.reading import read
from tests.plants import SAMPLES
from widgets import PlantForm
from widgets._ask import Stopped, ask
from widgets.command import main
from widgets.show.drafting import BY_FAULT, draft
from widgets.show.questions import QUESTIONS, settled

LIKE: dict[str, dict[str, str | list[str]]] = {
    "single-loop-one-boiler": {"meet": "single loop", "boilers_by": "motorised valve", "fittings": ["fill", "air vent", "drain"]},
    "tees-tank-on-boiler-cascade": {"boilers": "3", "meet": "closely spaced tees", "tank": "boiler loop", "emitters": "2"},
    "single-loop-bypass-misplaced": {"boilers": "3", "meet": "single loop", "bypass": "across the loads"},
    "tees-tank-check-valve-only": {"meet": "closely spaced tees", "tank": "system loop", "tank_by": "pushed pump"},
    "tank-straddles": {"meet": "closely spaced tees", "tank": "fed from the boilers"},
    "tees-too-far-apart": {"boilers": "2", "meet": "tees far apart", "tank": "system loop"},
    "tees-per-boiler": {"boilers": "3", "meet": "tees per boiler", "tank": "system loop"},
    "separator-zone-pumps": {"boilers": "2", "meet": "hydraulic separator", "tank": "system loop", "zones_by": "pump",
                             "emitters": "3"},
    "tees-diverting-valve": {"meet": "closely spaced tees", "tank": "boiler loop", "tank_by": "diverting valve"},
    "single-loop-valves-fail-closed": {"boilers": "2", "meet": "single loop", "tank": "system loop", "power_off": "closed"},
    "tees-no-relief-pump-reversed": {"meet": "closely spaced tees", "tank": "system loop", "missing": ["RV1"],
                                     "reversed": ["PS"]},
}
"""Answers that a technician would give in front of a plant like the sample."""


def filled(answers: dict[str, str | list[str]], **more: object) -> PlantForm:
    """A form, answered question by question in the order in which it asks."""
    form = PlantForm(**more)  # type: ignore[arg-type]
    for question in QUESTIONS:
        if question.key in answers:
            form.answer(question.key, answers[question.key])
    return form


@pytest.mark.parametrize("name", LIKE)
def test_the_file_it_saves_is_read_as_the_sample_is(name: str, tmp_path: Path) -> None:
    """What separates the loops, the configuration, the boilers, the order of return, and the piping rules that fire."""
    path = filled({"title": name, **LIKE[name]}, folder=tmp_path).save()
    assert path.name == f"{name}.toml"
    seen, wanted = read(read_plant(path)), read(read_plant(next(p for p in SAMPLES if p.stem == name)))
    for key in ("arrangement", "dhw", "control", "dhw_priority", "return_order"):
        assert getattr(seen, key) == getattr(wanted, key), key
    assert len(seen.boilers) == len(wanted.boilers)
    assert [s.kind for s in seen.separations] == [s.kind for s in wanted.separations]
    heavy = ("must fix", "should fix")
    assert {f.rule for f in seen.findings if f.severity in heavy} == {f.rule for f in wanted.findings if f.severity in heavy}


def test_what_is_shown_follows_every_answer() -> None:
    """Drawing, words, reading and findings are those of the plant as it stands."""
    form = PlantForm()
    before = form.canvas.svg
    form.answer("boilers", "2")
    form.answer("missing", ["RV2"])
    assert form.canvas.svg != before and 'data-tag="B2"' in form.canvas.svg and 'data-tag="RV2"' not in form.canvas.svg
    assert form.plant is not None and write_plant(form.plant) == form.text()
    assert "1. must fix: B2 has no relief valve" in form.said.text and form.said.tone == "wrong"
    assert "two boilers" in form.canvas.description


def test_questions_that_do_not_apply_are_not_asked() -> None:
    """And what was not answered follows what was; what was answered stays while it fits."""
    form = PlantForm()
    assert "lead" not in form.answers and "tank_by" not in form.answers
    form.answer("boilers", "3")
    form.answer("lead", "B3")
    form.answer("meet", "hydraulic separator")
    assert form.answers["lead"] == ("B3",) and form.answers["boilers_by"] == ("pump",)
    form.answer("boilers", "2")
    assert form.answers["lead"] == ("B1",)
    shown = set(form.panel.children)
    assert form._pieces["lead"] in shown and "tank_by" not in form._pieces


def test_a_choice_on_the_screen_is_an_answer() -> None:
    """What the front end sends arrives."""
    form = PlantForm()
    form._pieces["boilers"].value = ["4"]  # type: ignore[union-attr]
    form._fields["title"].value = "Mill Street"
    assert form.reading is not None and len(form.reading.boilers) == 4 and form.reading.title == "Mill Street"
    form._fields["output_kw"].value = "many"
    assert form.report.tone == "trouble" and "'many' is no figure" in form.report.text
    form._fields["output_kw"].value = "50 60 70 80"
    assert form.report.text == "" and [b["output_kw"] for b in form.plant.of_kind("boiler")] == [50, 60, 70, 80]  # type: ignore[union-attr]


def test_every_choice_has_a_name_and_every_field_a_label() -> None:
    """For those who hear the form."""
    form = filled({"boilers": "2", "meet": "closely spaced tees", "tank": "boiler loop"})
    for piece in form._pieces.values():
        if hasattr(piece, "legend"):
            assert piece.legend.endswith("?") and all(option["label"] for option in piece.options)
    assert all(field.description for field in form._fields.values())


def test_us_units_are_taken_and_asked_for() -> None:
    """A boiler of 341 214 Btu/h is one of 100 kW."""
    form = filled({"output_kw": "341214", "supply_c": "176", "return_c": "149"}, units="us")
    assert form.plant is not None and form.plant.parts["B1"].number("output_kw") == pytest.approx(100.0, abs=0.01)
    assert form.plant.design.supply_c == pytest.approx(80.0)
    assert "[Btu/h]" in form._fields["output_kw"].description


def test_a_file_is_never_written_over(tmp_path: Path) -> None:
    """The next free name, or a plain word where a taken one is asked for."""
    form = PlantForm({"title": "Mill Street"}, folder=tmp_path)
    assert [form.save().name for _ in range(3)] == ["mill-street.toml", "mill-street-2.toml", "mill-street-3.toml"]
    with pytest.raises(FileExistsError):
        form.save("mill-street.toml")
    form.name_box.value = "mill-street.toml"
    form.save_button.click()
    assert form.saved.tone == "trouble" and "is there already and is left as it is" in form.saved.text
    form.name_box.value = ""
    form.save_button.click()
    assert str(tmp_path.resolve() / "mill-street-4.toml") in form.saved.text
    form.name_box.value = "plant.txt"
    form.save_button.click()
    assert "ends in .toml" in form.saved.text
    form.name_box.value = "nowhere/plant.toml"
    form.save_button.click()
    assert "cannot be written" in form.saved.text


def test_the_sheet_is_of_the_plant_that_stands(tmp_path: Path) -> None:
    """By the button and by the call."""
    form = PlantForm({"title": "Mill Street", "tank": "system loop"}, folder=tmp_path)
    form.sheet_button.click()
    assert (tmp_path / "mill-street.pdf").read_bytes().startswith(b"%PDF")
    text = form.save_sheet("own.txt").read_text(encoding="utf-8")
    assert text.startswith("Mill Street\n") and "DHW on the system loop" in text


def test_what_the_form_cannot_say_is_told_and_the_drawing_stays() -> None:
    """Two answers that meet in one place: the last plant stands, and the way by the file is shown."""
    form = filled({"meet": "closely spaced tees", "common": "pump"})
    before = form.canvas.svg
    form.answer("expansion", "outlet")
    assert "meet in one place" in form.report.text and "`loopbook parts`" in form.report.text
    assert form.canvas.svg == before
    with pytest.raises(ValueError, match="meet in one place"):
        form.save()
    form.answer("expansion", "inlet")
    assert form.report.text == ""
    assert "[parts.B1]" in form.file.value and "<details>" in form.file.value


def test_words_of_a_title_never_become_markup() -> None:
    """A title with tags is refused; what else it holds is shown as it stands."""
    form = PlantForm({"title": 'Hall & "Sons" > all'})
    assert "Hall &amp; " in form.file.value and "&quot;Sons" in form.file.value
    form.answer("title", "<img src=x>")
    assert "markup" in form.report.text and "<img" not in form.file.value + form.canvas.svg


@pytest.mark.parametrize(("key", "value"), [("colour", "red"), ("boilers", "9"), ("boilers", []), ("lead", "B1")])
def test_no_question_and_no_answer_are_refused(key: str, value: str | list[str]) -> None:
    """In a plain sentence."""
    with pytest.raises(ValueError, match=r"no question|is no answer"):
        PlantForm().answer(key, value)


def test_any_answers_make_a_plant_or_a_plain_word() -> None:
    """Chance goes through the form; every option of a question that is shown can be taken."""
    chance = random.Random(3)
    made = 0
    for _ in range(25):
        given: dict[str, tuple[str, ...]] = {}
        for question in QUESTIONS:
            now = settled(given)
            if question.key not in now or question.kind == "written":
                continue
            values = [value for value, _ in question.options(now)]
            rare = (question.key, "") in {(key, "") for key, _ in BY_FAULT} or question.kind == "several"
            if question.kind == "one" and (not rare or chance.random() < 0.2):
                given[question.key] = (chance.choice(values),)
            elif question.kind == "several":
                given[question.key] = tuple(value for value in values if chance.random() < 0.1)
        try:
            plant = draft(settled(given)).plant
        except ValueError as wrong:
            assert str(wrong)[0].isupper() or "heated floor" in str(wrong)
            continue
        made += 1
        absent = settled(given)["missing"]
        assert not set(absent) & set(plant.parts)
        assert read(plant).boilers
    assert made >= 18


# -- the same in a terminal ------------------------------------------------------------------------------

class Talk:
    """Somebody who answers by the words of the options."""

    def __init__(self, words: dict[str, str]) -> None:
        self.words, self.said, self.lines = words, [], []  # type: ignore[var-annotated]

    def say(self, words: str) -> None:
        """Hear what is said."""
        self.said.append(words)

    def hear(self, prompt: str) -> str:
        """Answer the question that stands last."""
        at = max(n for n, words in enumerate(self.said) if "?" in words.lstrip("\n").split("\n")[0])
        asked = " ".join(self.said[at].split())
        for start, word in self.words.items():
            if start in asked:
                option = next((line for line in self.said[at:] if word in " ".join(line.split())), None)
                number = option.lstrip("* ").split()[0] if option and option.lstrip("* ")[0].isdigit() else word
                self.lines.append(number)
                return number
        return ""


def test_the_terminal_asks_the_same_and_makes_the_same() -> None:
    """Four words make the plant that the form makes of the same answers."""
    talk = Talk({"How many boilers": "2", "Where does the boilers' water meet": "hydraulic separator",
                 "Is there an indirect tank": "boilers' side (boiler loop)",
                 "Which of these are not there": "relief valve of B2"})
    plant = ask(talk.hear, talk.say)
    form = filled({"boilers": "2", "meet": "hydraulic separator", "tank": "boiler loop", "missing": ["RV2"]})
    assert write_plant(plant) == form.text()
    said = "\n".join(talk.said)
    asked = [q.text for q in QUESTIONS if q.key in form.answers and q.key in form._pieces]
    assert [text for text in asked if text not in said and len(text) < 70] == []


def lines(*words: str):  # type: ignore[no-untyped-def]
    """A `hear` that gives these lines, then ends."""
    left = list(words)

    def hear(prompt: str) -> str:
        if not left:
            raise EOFError
        return left.pop(0)
    return hear


def test_back_wrong_words_and_first_answers() -> None:
    """'b' asks again, nonsense is asked again, 'd' takes the rest."""
    said: list[str] = []
    plant = ask(lines("Old Mill", "9", "x", "3", "b", "2", "many", "80", "d"), said.append)
    assert plant.title == "Old Mill" and [b["output_kw"] for b in plant.of_kind("boiler")] == [80, 80]
    text = "\n".join(said)
    assert text.count("Write a number from 1 to 8") == 2 and "'many' is no figure" in text


@pytest.mark.parametrize("words", [(), ("Old Mill", "2"), ("q",)])
def test_an_end_before_the_end_makes_nothing(words: tuple[str, ...]) -> None:
    """Said plainly."""
    with pytest.raises(Stopped, match="nothing was made"):
        ask(lines(*words), lambda words: None)


def test_the_command_asks_and_saves(tmp_path: Path, capsys: pytest.CaptureFixture, monkeypatch: pytest.MonkeyPatch) -> None:
    """Questions go to stderr; the file is never written over; flags of a layout do not go with it."""
    import io

    target = tmp_path / "own.toml"
    monkeypatch.setattr("sys.stdin", io.StringIO("Old Mill\n2\nd\n"))
    assert main(["make", "--ask", "--out", str(target)]) == 0
    printed = capsys.readouterr()
    assert printed.out == "" and "How many boilers are there?" in printed.err and str(target.resolve()) in printed.err
    assert read_plant(target).title == "Old Mill"
    monkeypatch.setattr("sys.stdin", io.StringIO("Old Mill\nd\n"))
    assert main(["make", "--ask", "--out", str(target)]) == 2
    assert "is there already" in capsys.readouterr().err
    assert main(["make", "--ask", "--boilers", "2"]) == 2
    assert "--ask asks for all of it" in capsys.readouterr().err
    monkeypatch.setattr("sys.stdin", io.StringIO("Old Mill\n"))
    assert main(["make", "--ask"]) == 2


def test_a_scheme_and_a_form_agree() -> None:
    """The form's first answers to a layout are the scheme of that layout."""
    form = PlantForm({"meet": "closely spaced tees", "boilers": "2", "title": "T"})
    assert form.plant == Scheme(boilers=2, title="T").plant()
