"""Plant files: whatever is in them, they are read or refused in plain words; what is written reads back."""

import math
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from figures.plant import KINDS, SIZES, BadPlant, Part, Plant, Run, parse_plant, read_plant, write_plant
from figures.plant import file as plant_file
from figures.plant.check import plant_from_data
from figures.plant.model import Design
from figures.plant.refusal import CONTROL
from figures.plant.scheme import Scheme
from tests.figures.plant.faulty import PLANT
from tests.plants import SAMPLES, sample


def lines_of(path) -> list[str]:
    """The lines with which a file is refused, less the path before them."""
    with pytest.raises(BadPlant) as caught:
        read_plant(path)
    return [line.removeprefix(f"{caught.value.file}: ") for line in caught.value.lines()]


@pytest.fixture
def written(tmp_path):
    """Writes bytes to a file and gives its path."""
    def write(content: bytes):
        path = tmp_path / "quarry.toml"
        path.write_bytes(content)
        return path
    return write


# -- reading ---------------------------------------------------------------------------------------------

@pytest.mark.parametrize("change", [
    lambda text: text.encode(), lambda text: b"\xef\xbb\xbf" + text.encode(),
    lambda text: text.replace("\n", "\r\n").encode(), lambda text: text.rstrip("\n").encode()],
    ids=["plain", "byte order mark", "Windows line ends", "no last line end"])
def test_the_same_plant_comes_of_every_way_to_save_it(written, change):
    """Editors differ; the plant does not."""
    assert read_plant(written(change(PLANT))) == parse_plant(PLANT)


@pytest.mark.parametrize(("content", "line"), [
    (b"", "is empty; a plant file begins with 'format = 1'"),
    (b" \n\n", "is empty; a plant file begins with 'format = 1'"),
    (PLANT.encode("utf-16"), "line 1: is UTF-16 text; save it as UTF-8"),
    (PLANT.replace("Weir", "Wéir").encode("latin-1"), "line 2: is not UTF-8 text; save it as UTF-8"),
    (b"\x00" * 40, "line 1, column 1: is not TOML: invalid statement; mend what stands there"),
    (b"format = 1\nkind = pump\n", "line 2, column 8: is not TOML: invalid value; mend what stands there"),
    (b'format = 1\ntitle = "Weir\n',
     "line 2, column 14: is not TOML: a text does not end on its line; close its quotes"),
    (b'format = 1\ntitle = "a\x1b[31m"',
     "line 2, column 11: is not TOML: illegal character '\\x1b'; mend what stands there"),
    (b"format = 1\nformat = 1\n",
     "line 2, column 11: this key stands in the file twice; keep one of the two"),
    (b"[parts.A]\n[parts.B]\n[parts.A]\n",
     "line 3, column 9: parts.A stands in the file twice; keep one of the two"),
    (b"format = [", "line 1, at its end: is not TOML: invalid value; mend what stands there"),
    (b"format = " + b"[" * 100_000, "is nested too deeply; tables and lists stand one deep"),
    (b"format = 1\n\nx = " + b"9" * 100_000, "line 3: a figure thousands of digits long; shorten it"),
], ids=lambda value: repr(value[:24]))
def test_what_is_no_plant_file_is_refused_in_one_line(written, content, line):
    """With the line and column where there is one to name."""
    assert lines_of(written(content)) == [line]


def test_a_path_that_leads_to_no_file_is_refused(tmp_path):
    """A missing file, a folder, a name that no file can have."""
    assert lines_of(tmp_path / "none.toml") == ["no such file; mend the path"]
    assert lines_of(tmp_path) == ["is a folder; name the plant file in it"]
    assert lines_of("a\0b") == ["is no path; mend the path"]


def test_a_file_that_may_not_be_read_is_refused(written, monkeypatch):
    """The words of the system, without a traceback."""
    def closed(*_args, **_named):
        raise PermissionError(13, "Permission denied")
    monkeypatch.setattr("builtins.open", closed)
    assert lines_of("quarry.toml") == ["cannot be read: Permission denied; mend the path"]


def test_an_endless_file_is_not_read_to_its_end(written, monkeypatch):
    """No more than the largest file is ever taken into memory."""
    monkeypatch.setattr(plant_file, "LARGEST_FILE", 1024 * 1024)
    assert lines_of(written(b"#" * 1024 * 1024 + b"#")) == ["is larger than 1 MiB; is it a plant file?"]


def test_every_line_begins_with_the_file(written):
    """So that of many plants each line says whose it is."""
    path = written(PLANT.replace('"NPS 2"', '"NPS 7"').encode())
    with pytest.raises(BadPlant) as caught:
        read_plant(path)
    assert [line.partition(": ")[0] for line in caught.value.lines()] == [str(path)] * 2


def test_a_path_with_control_characters_is_shown_without_them(tmp_path):
    """A file's name is somebody's text too."""
    path = tmp_path / "a\x1b[31m\n.toml"
    path.write_text("")
    with pytest.raises(BadPlant) as caught:
        read_plant(path)
    assert "a?[31m?.toml: is empty" in caught.value.lines()[0]


# -- writing ---------------------------------------------------------------------------------------------

@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_every_sample_reads_back_equal(path):
    """Written and read again, nothing is lost."""
    plant = read_plant(path)
    assert parse_plant(write_plant(plant)) == plant


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**9))
def test_every_made_plant_reads_back_equal(seed):
    """Any random scheme."""
    plant = Scheme.random(seed).plant()
    assert parse_plant(write_plant(plant)) == plant


def values(key) -> st.SearchStrategy:
    """Every value that a key may have."""
    if key.type == "flag":
        return st.booleans()
    if key.type == "choice":
        return st.sampled_from(key.choices)
    high = key.high if math.isfinite(key.high) else 1e9
    return st.floats(key.low, high)


@st.composite
def rings(draw) -> Plant:
    """A boiler and any two-port parts on one ring, with any figures and any title that is fit to print."""
    kinds = [kind for kind in KINDS.values() if kind.shape == "two ports"]
    parts = {"B_0-x": Part("B_0-x", "boiler")}
    for n in range(draw(st.integers(1, 5))):
        kind = draw(st.sampled_from(kinds))
        given_keys = draw(st.fixed_dictionaries({}, optional={key.name: values(key) for key in kind.keys}))
        part = Part(f"P{n}", kind.name, given_keys)
        upside_down = (kind.name == "pump" and part.number("rated_m") >= part.number("shutoff_m")) or (
            kind.key("return_c") is not None and part.number("return_c") >= part.number("supply_c"))
        parts[part.tag] = Part(part.tag, kind.name) if upside_down else part
    tags = [*parts, "B_0-x"]
    length_m, k = draw(st.floats(0.001, 10_000.0)), draw(st.floats(0.0, 10_000.0))
    run = draw(st.one_of(
        st.builds(lambda size: Run(tuple(tags), length_m, size, k), st.sampled_from(list(SIZES))),
        st.builds(lambda inside, rough: Run(tuple(tags), length_m, None, k, inside, min(10.0, rough * inside)),
                  st.floats(1.0, 3_000.0), st.floats(0.0, 0.0499))))
    title = draw(st.text(max_size=120).filter(lambda text: not CONTROL.search(text) and "<" not in text))
    design = Design(outdoor_c=draw(st.floats(-60.0, 19.0)), exponent=draw(st.floats(1.0, 2.0)))
    return Plant(title, parts, (run,), design)


@settings(max_examples=150, deadline=None)
@given(rings())
def test_any_plant_reads_back_equal(plant):
    """Every key, every size, quotes and backslashes in titles, figures to the last digit."""
    assert parse_plant(write_plant(plant)) == plant


def test_a_figure_that_no_file_can_hold_is_not_written():
    """An infinite figure would be refused when read, so it is refused when written."""
    plant = Plant("", {"B1": Part("B1", "boiler", {"output_kw": math.inf})}, ())
    with pytest.raises(ValueError, match="inf cannot stand in a plant file"):
        write_plant(plant)


# -- anything at all -------------------------------------------------------------------------------------

def taken_or_refused(text: str) -> None:
    """Nothing but BadPlant may come of a text, and its lines are fit for a terminal."""
    try:
        plant = parse_plant(text, "x.toml")
    except BadPlant as error:
        assert error.refusals
        for line in error.lines():
            assert line.startswith("x.toml: ")
            assert not CONTROL.search(line)
            assert len(line) < 1_000
    else:
        assert parse_plant(write_plant(plant)) == plant


SCRAPS = ["", "nan", "inf", "-1", "0", "1e400", '""', "[]", "{}", "true", "1979-05-27", '"B1"', '"<b>"',
          '"\\u0000"', "[[[1]]]", "=", "[[runs]]", "[parts]", "parts.B1.kind = 3", "\x00", "\x1b", '"""', "'",
          "9" * 400, "\u202e"]


@settings(max_examples=200, deadline=None)
@given(st.sampled_from([path.stem for path in SAMPLES]), st.integers(0, 2**32))
def test_a_spoilt_file_is_taken_or_refused_and_nothing_else(name, seed):
    """Lines lost, doubled, swapped, and values replaced by scraps, up to six times."""
    chance = random.Random(seed)
    lines = sample(name).splitlines()
    for _ in range(chance.randint(1, 6)):
        at, other = chance.randrange(len(lines)), chance.randrange(len(lines))
        match chance.randrange(5):
            case 0:
                lines[at] = ""
            case 1:
                lines[at], lines[other] = lines[other], lines[at]
            case 2:
                lines.insert(at, lines[other])
            case 3:
                lines[at] = lines[at].partition("=")[0] + "= " + chance.choice(SCRAPS)
            case _:
                cut = chance.randint(0, len(lines[at]))
                lines[at] = lines[at][:cut] + chance.choice(SCRAPS) + lines[at][cut:]
    taken_or_refused("\n".join(lines))


JSON = st.recursive(
    st.one_of(st.booleans(), st.integers(), st.floats(), st.text(max_size=8),
              st.sampled_from(["B1", "A", "boiler", "pump", "tee", "NPS 2"])),
    lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(st.sampled_from(
        ["format", "title", "parts", "runs", "design", "B1", "A", "kind", "through", "size", "at", ""]),
        inner, max_size=5)), max_leaves=25)


@settings(max_examples=300, deadline=None)
@given(st.dictionaries(st.sampled_from(["format", "title", "parts", "runs", "design", "x"]), JSON))
def test_any_data_is_taken_or_refused(data):
    """Whatever a TOML file could hold, in whatever place."""
    try:
        plant_from_data(data)
    except BadPlant as error:
        assert error.refusals
        assert not any(CONTROL.search(line) for line in error.lines())
