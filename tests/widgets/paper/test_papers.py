"""Printed tests: what every paper has, what none may tell, and that the key is right."""

import csv
import io
import json
import re
import tomllib
from collections import Counter
from dataclasses import replace

import pytest

from figures.plant import read_plant
from figures.plant.scheme import Scheme
from tests.plants import SAMPLES
from widgets.command import main
from widgets.learn import mark
from widgets.learn.bank import make_item
from widgets.paper.answer_forms import class_form, toml_form
from widgets.paper.codes import LETTERS, paper_codes, sound, tidy
from widgets.paper.drawn import LEAST, figures_of, layout_of, plants_of, size_px
from widgets.paper.keyfile import BadKey, _key, read_key, written
from widgets.paper.marked import score
from widgets.paper.numbered import FILE, numbered_plant
from widgets.paper.pages import PX_PER_MM, SIZES_MM
from widgets.paper.papers import blueprint_of, make_test, shape_of, test_of_plants
from widgets.paper.printed import answer_of, asked_on_paper, is_point, key_pages, paper_pages, paper_pdf, signs
from widgets.paper.rubric import rubric_text


@pytest.fixture(scope="module")
def printed():
    """Two papers of nine questions."""
    return make_test(5, 2, 9)


def words_of(groups) -> str:
    """All that goes to the typesetter, drawings and descriptions too."""
    return json.dumps([group.blocks for group in groups], ensure_ascii=False)


def test_papers_follow_one_blueprint_about_different_plants(printed):
    """The same objectives, kinds and difficulties in each; no piping stands on two papers, nor twice on one."""
    slots = [sorted((q.place, q.item.kind, q.item.difficulty) for q in one.questions) for one in printed.papers]
    assert slots[0] == slots[1] and len(slots[0]) == 9
    shapes = Counter(shape_of(plant) for one in printed.papers for q in one.questions for plant in plants_of(q.item))
    assert max(shapes.values()) == 1 and len(shapes) >= 16
    again = make_test(5, 1, 9)
    assert [q.item for q in again.papers[0].questions] == [q.item for q in printed.papers[0].questions]
    assert again.papers[0].code != printed.papers[0].code


@pytest.mark.parametrize("count", [1, 3, 12, 26, 60])
def test_a_blueprint_has_so_many_questions_and_must_pass_first(count):
    """However many are asked for."""
    made = blueprint_of(count)
    assert len(made.slots()) == count
    asked = {part.objective for part in made.parts}
    assert asked >= {"R7", "C1", "J1", "J4"} if count >= 4 else asked < {"R7", "C1", "J1", "J4"}


def test_neither_paper_nor_form_holds_the_key(printed):
    """No seed, no item's id, no reason, and no loop named; the two forms hold nothing but codes and numbers."""
    one = printed.papers[0]
    words = words_of(paper_pages(printed, one, "a4"))
    assert one.code in words and "Name" in words and "practice for a certificate" in words
    pdf = paper_pdf(printed, one)
    assert pdf.startswith(b"%PDF") and str(printed.seed).encode() not in re.findall(rb"/(?:Title|Subject|Keywords).*", pdf)
    for asked in one.questions:
        assert asked.item.id not in words and asked.item.because not in words
        assert not any(option.because in words for option in asked.item.options if len(option.because) > 30)
        assert asked_on_paper(asked.item) in words and "Click" not in asked_on_paper(asked.item)
    form = tomllib.loads(toml_form(one))
    assert form["code"] == one.code and set(form["answers"].values()) == {""} and set(form) == {
        "format", "code", "learner", "answers"}
    head, *rows = csv.reader(io.StringIO(class_form(printed).removeprefix("\ufeff")))
    assert head == ["learner", "code", *map(str, range(1, 10))] and [row[1] for row in rows] == [p.code for p in printed.papers]
    assert not any(cell for row in rows for cell in (row[0], *row[2:]))
    assert str(printed.seed) not in one.code and sound(one.code)


def test_drawings_on_a_paper_tell_no_loop_and_can_be_read(printed):
    """The loops' names and tints are hidden, no description reads the plant, tags are not too small, none is clipped."""
    for paper in ("a4", "letter"):
        short, long = (side - 30.0 for side in SIZES_MM[paper])
        for one in printed.papers[:1]:
            for asked in one.questions:
                cuts = figures_of(asked.item, paper)
                assert len(cuts) == len(plants_of(asked.item)) or layout_of(asked.item) == 3
                for cut, plant in zip(cuts, plants_of(asked.item)):
                    assert "tints" in re.search(r'data-hide="([^"]*)"', cut.svg)[1] and "<desc></desc>" in cut.svg
                    assert "lbk-black" in cut.svg
                    assert cut.width_mm <= (long if layout_of(asked.item) == 3 else short) + 0.1
                    if layout_of(asked.item) == 2:
                        assert cut.width_mm * PX_PER_MM / size_px(plant)[0] >= 0.45
                    elif len(cuts) == 1:
                        assert cut.width_mm * PX_PER_MM / size_px(plant)[0] >= LEAST - 0.07


def test_the_key_answers_every_question_rightly(printed, tmp_path):
    """What the key file takes for right earns all on the item itself, and each other answer what it earns there."""
    key = _key(json.loads(written(printed)))
    for one in printed.papers:
        kept = key.papers[one.code]
        for asked in one.questions:
            item, sign = asked.item, signs(asked.item)
            assert score(kept.items[asked.place], answer_of(item)).right
            for value in sign:
                got = mark(item, value)
                told = score(kept.items[asked.place], sign[value].lower())
                assert told.share == pytest.approx(got.points / got.of)
                assert told.mistake == (None if got.right else got.misconception)
    words = words_of(key_pages(printed, "a4"))
    assert all(one.code in words for one in printed.papers) and "For the instructor alone" in words
    every = [q for one in printed.papers for q in one.questions]
    assert all(q.item.because in words and f"{q.number}.  {answer_of(q.item)}" in words for q in every)
    (tmp_path / "key.json").write_text(written(printed)[:-300])
    with pytest.raises(BadKey, match="damaged"):
        read_key(tmp_path)


def test_every_kind_of_question_can_be_written_on_paper():
    """A tag, one of four drawings, several letters, letters in an order, a dash for none."""
    point = make_item("R8", "point", 1, 3)
    assert is_point(point) and answer_of(point) == point.key[0] and asked_on_paper(point).startswith("Write the tag of")
    four = make_item("R7", "drawings", 1, 3)
    assert layout_of(four) == 2 and answer_of(four) in "ABCD" and len(figures_of(four, "a4")) == 4
    made = test_of_plants([read_plant(SAMPLES[0])], 1, 1).papers[0]
    several = next(q.item for q in made.questions if q.item.pick == "several")
    assert set(answer_of(several)) <= set("ABCDEFGH–")
    order = replace(several, pick="order", key=tuple(o.value for o in reversed(several.options)))
    assert answer_of(order) == "ABCDEFGH"[:len(order.options)][::-1]
    kept = replace(several, key=(), options=tuple(replace(o, value=s) for o, s in zip(several.options, "ABCDEFGH")))
    assert answer_of(replace(several, key=())) == "–" and score(kept, "-").right and not score(kept, "A").right
    sorted_ = replace(kept, pick="order", key=tuple(o.value for o in kept.options))
    letters = "".join(sorted_.key)
    assert score(sorted_, " ".join(letters)).right and score(sorted_, letters[::-1]).share == 0.0
    assert "each of them once" in score(sorted_, "A").note


@pytest.mark.parametrize("path", SAMPLES[::5], ids=lambda path: path.stem)
def test_an_instructors_plant_is_asked_about_with_a_right_key(path):
    """Papers about a plant file: keys earn all, the tags are the file's own, no question twice, order differs."""
    plant = read_plant(path)
    made = test_of_plants([plant], 3, 2, 12)
    first, second = made.papers
    assert len(first.questions) == 12 and [q.place for q in first.questions] != [q.place for q in second.questions]
    assert {q.place for q in first.questions} == {q.place for q in second.questions}
    for asked in first.questions:
        assert asked.item.plant == plant and mark(asked.item, asked.item.right).right
    assert len({q.item.text for q in first.questions}) == 12


def test_codes_catch_a_slip_and_are_tidied():
    """One wrong letter anywhere is seen; spaces, small letters and a missing dash are forgiven."""
    code = paper_codes("BCDF", 1)[0]
    assert tidy(code.lower().replace("-", " ")) == code
    for n, letter in enumerate(code):
        if letter != "-":
            assert not any(sound(code[:n] + other + code[n + 1:]) for other in LETTERS if other != letter)


def test_numbered_plants_are_the_same_for_ever():
    """The file of the hundred plants never changes: classes quote their numbers."""
    from hashlib import sha256
    assert sha256(FILE.read_bytes()).hexdigest() == "0f499d768406c8f9db7898b569ee0ad5eaf3637c29365f91e974874e7473ca66"
    assert [numbered_plant(n).title for n in (1, 50, 100)] == ["Plant 1", "Plant 50", "Plant 100"]
    for wrong in (0, 101, True):
        with pytest.raises(ValueError, match="from 1 to 100"):
            numbered_plant(wrong)


def test_the_command_writes_papers_and_nothing_over_them(tmp_path, capsys):
    """Papers, forms, key apart, sheets; a second run refuses, and a seed that can be guessed is told."""
    out = tmp_path / "Prüfung"
    words = ["paper", "--seed", "3", "--copies", "2", "--questions", "4", "--blank", "1", "--plants", "1", "--rubric", "--size",
             "letter", "--out", str(out)]
    assert main(words) == 0
    assert "can guess seed 3" in capsys.readouterr().out
    names = {str(path.relative_to(out)) for path in out.rglob("*") if path.is_file()}
    assert names == {"papers/paper-01.pdf", "papers/paper-02.pdf", "answers/paper-01.toml", "answers/paper-02.toml",
                     "answers/class.csv", "key/key.json", "key/key.pdf", "blank.pdf", "plants.pdf", "plants/plant-001.toml",
                     "rubric.pdf"}
    assert (out / "key" / "key.json").stat().st_mode & 0o077 == 0
    before = (out / "key" / "key.json").read_bytes()
    assert main(words) == 2 and "--force" in capsys.readouterr().err
    assert (out / "key" / "key.json").read_bytes() == before
    assert main(["paper", "--plant", str(tmp_path / "none.toml"), "--copies", "1", "--out", str(tmp_path / "x")]) == 2
    assert "none.toml" in capsys.readouterr().err and not (tmp_path / "x").exists()


def test_the_rubric_names_cautions_and_who_decides():
    """Nothing is opened or set by a learner; licensed people and the local code are named."""
    text = " ".join(rubric_text().split())
    assert "opens no valve" in text and "licensed people" in text and "Scald" in text and "J4 *" in text


def test_a_very_wide_drawing_is_cut_in_parts_that_overlap():
    """Eight boilers: parts as wide as a page turned, each at a scale that can be read, nothing left out between them."""
    item = replace(make_item("R7", "loop", 1, 3), plant=Scheme(boilers=8, emitters=6, tank="boiler loop").plant())
    cuts = figures_of(item, "letter")
    assert layout_of(item) == 3 and len(cuts) >= 2
    spans = [tuple(map(float, re.search(r'viewBox="([\d.]+) [\d.]+ ([\d.]+)', cut.svg).groups())) for cut in cuts]
    for cut, (left, wide), after in zip(cuts, spans, [*spans[1:], None]):
        assert cut.width_mm <= SIZES_MM["letter"][1] - 29 and cut.width_mm * PX_PER_MM / wide >= 0.5
        assert after is None or left < after[0] < left + wide
    assert spans[-1][0] + spans[-1][1] >= size_px(item.plant)[0] - 1


def test_the_command_asks_about_an_instructors_plant(tmp_path, capsys):
    """As rows with their key, and as papers on which the plant is drawn once."""
    file = str(SAMPLES[0])
    assert main(["paper", "--plant", file, "--questions", "5", "--json"]) == 0
    rows = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert len(rows) == 5 and all(isinstance(row["key"], int | list) for row in rows)
    assert main(["paper", "--plant", file, "--questions", "5", "--copies", "2", "--out", str(tmp_path / "own")]) == 0
    assert "share 1 plant" in capsys.readouterr().out
    made = test_of_plants([read_plant(SAMPLES[0])], 1, 2, 5)
    pages = paper_pages(made, made.papers[0], "a4")
    assert words_of(pages).count("<svg") == 2 and "another order" in words_of(pages)      # the legend, and the plant
