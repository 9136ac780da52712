"""Label sheets: an instructor's own words, checked whole and shown beside ours."""

from pathlib import Path
from xml.etree import ElementTree

import pytest

from figures.plant.scheme import Scheme
from widgets.paper.labels import BadLabels, parse_labels, read_labels
from widgets.paper.sheet import sheet

EXAMPLE = Path(__file__).parents[3] / "lessons" / "labels-example.toml"
TEXT = EXAMPLE.read_text(encoding="utf-8")


def refusals(text):
    """What is said against a label sheet, a line each."""
    with pytest.raises(BadLabels) as bad:
        parse_labels(text, "mine.toml")
    return bad.value.lines()


def test_the_example_is_sound_and_says_that_it_is_invented():
    """What an instructor copies first works."""
    labels = read_labels(EXAMPLE)
    assert "invented" in TEXT.splitlines()[1] and "invented" in labels.title
    assert labels["DHW on the boiler loop"] == "Tank before the tees"


def test_a_missing_label_is_refused_by_name():
    """All that are missing at once."""
    text = TEXT.replace('"heating only" = "Radiators alone"\n', "").replace('"lead boiler" = "First heater"\n', "")
    assert refusals(text) == ['mine.toml: configurations."heating only": has no label; give it one',
                              'mine.toml: settings."lead boiler": has no label; give it one']


@pytest.mark.parametrize(("change", "says"), [
    (('"heating only"', '"heating-only"'), "is not known; did you mean 'heating only'?"),
    (("[parts]", "[part]"), "part: is not known; did you mean 'parts'?"),
    (('"circulator"', "7"), "parts.\"pump\": is 7, no text; write a label of at most 60 letters in quotes"),
    (('"circulator"', '"  "'), 'parts."pump": is empty'),
    (('"circulator"', f'"{"x" * 61}"'), 'parts."pump": is 61 letters long'),
    (('"circulator"', '"a\\u202eb"'), 'parts."pump": holds a letter that cannot be seen'),
    (('"mixing pot"', '"mixing pot'), "is not TOML"),
    (("format = 1", "format = 2"), "format: is 2; write format = 1"),
    (('title = "Training rig, invented words"', ""), "title: is missing"),
    (('title = "Training rig, invented words"', "title = 3"), "title: is 3, no text; say in a few words whose words these are"),
    (("[parts]", "[other]\n[[parts]]"), "parts: is a list, no table; write [parts]"),
])
def test_what_is_wrong_is_told_with_its_place(change, says):
    """And how to mend it."""
    assert any(says in line for line in refusals(TEXT.replace(*change)))


def test_a_file_that_is_not_there_or_no_text_is_told_plainly(tmp_path, monkeypatch):
    """Without a traceback."""
    with pytest.raises(BadLabels, match="no such file"):
        read_labels(tmp_path / "none.toml")
    (tmp_path / "raw.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(BadLabels, match="UTF-8"):
        read_labels(tmp_path / "raw.toml")
    monkeypatch.setattr("widgets.paper.labels.LARGEST_FILE", 2)
    with pytest.raises(BadLabels, match="is it a label sheet"):
        read_labels(tmp_path / "raw.toml")


def test_the_sheet_shows_both_words_in_every_form():
    """Ours first, theirs beside, and escaped."""
    labels = parse_labels(TEXT.replace("Tank before the tees", "Tank <b>first</b> & fast"))
    made = sheet(Scheme(tank="boiler loop").plant(), labels=labels)
    text = " ".join(made.text().split())
    assert "control configuration (“Job card”): DHW on the boiler loop (“Tank" in text
    assert "DHW on the boiler loop" in text and "<b>first</b>" in text
    page = made.html()
    assert "DHW on the boiler loop (“Tank &lt;b&gt;first&lt;/b&gt; &amp; fast”)" in page
    assert [e for e in ElementTree.fromstring(page.split("\n", 1)[1]).iter() if e.tag == "b"] == []
    assert made.pdf().startswith(b"%PDF")


def test_the_command_refuses_a_bad_label_sheet(tmp_path, capsys):
    """Exit 2, the lines on stderr, nothing written."""
    from tests.plants import SAMPLES
    from widgets.command import main

    bad = tmp_path / "labels.toml"
    bad.write_text(TEXT.replace('"Rings"', "1"), encoding="utf-8")
    assert main(["sheet", str(SAMPLES[0]), "--labels", str(bad), "--out", str(tmp_path / "s.pdf")]) == 2
    assert 'settings."arrangement": is 1, no text' in capsys.readouterr().err
    assert not (tmp_path / "s.pdf").exists()


def test_an_exercise_shows_both_words():
    """In the answers to choose from, in the answer when it is shown, and in the drawing's words once all is read."""
    from widgets import Exercise

    scheme = Scheme(tank="boiler loop")
    exercise = Exercise(plant=scheme, record=False, labels=read_labels(EXAMPLE))
    labels = {o["value"]: o["label"] for o in exercise.choices["control"].options}
    assert labels["DHW on the boiler loop"] == "DHW on the boiler loop (“Tank before the tees”)"
    assert labels["undetermined"] == exercise.items["control"].option("undetermined").label
    assert "Two rings" not in exercise.canvas.description
    exercise.show_answers()
    assert "The answer is: DHW on the boiler loop (“Tank before the tees”)." in exercise.choices["control"].says
    assert "In other words: separated loops (“Two rings”)" in exercise.canvas.description
    plain = Exercise(plant=scheme, record=False)
    plain.show_answers()
    assert "(“" not in str([ask.options for ask in plain.choices.values()]) + plain.canvas.description


def test_the_form_shows_both_words():
    """On the screen, and on the sheet that it makes."""
    from widgets import PlantForm

    form = PlantForm({"meet": "closely spaced tees", "tank": "boiler loop"}, labels=read_labels(EXAMPLE))
    assert "Control configuration (“Job card”): DHW on the boiler loop (“Tank before the tees”)" in form.said.text
    assert "tees”)" in form.sheet().text() and "Tank before the tees" in form.sheet().html()


def test_the_legend_of_a_drawing_shows_both_words(tmp_path):
    """By the command, in the exercise and on the sheet; a long word is cut before it leaves the drawing."""
    import re

    from figures.drawing import Diagram
    from figures.drawing.symbols import text_width
    from widgets.command import main

    plant = tmp_path / "plant.toml"
    assert main(["make", "--seed", "1", "--size", "small", "--out", str(plant)]) == 0
    assert main(["draw", str(plant), "--labels", str(EXAMPLE), "--out", str(tmp_path / "d.svg")]) == 0
    assert ">pump (“circulator”)<" in (tmp_path / "d.svg").read_text(encoding="utf-8")
    made = Scheme(title="x").plant()
    svg = Diagram(made, words={"pump": "W" * 60, "emitter": "<b>"}).svg()
    wide = float(re.search(r'viewBox="0 0 ([0-9.]+)', svg)[1])
    [word] = re.findall(r">(pump \(“W+…”\))<", svg)
    assert text_width(word, 11.5) + 52 < wide and "emitter (“&lt;b&gt;”)" in svg
