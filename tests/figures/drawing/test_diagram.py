"""The SVG: well formed whatever a file says, every part and pipe named, layers and highlights by class alone."""

import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from figures.drawing import Diagram
from figures.drawing.paint import LAYERS
from figures.plant import KINDS, Plant, read_plant
from figures.plant.scheme import Scheme
from figures.reading import read

from .odd import ODD, made

FOLDER = Path(__file__).parents[2] / "plants"
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def four():
    return Diagram(read_plant(FOLDER / "tees-four-boilers.toml"))


def groups(svg: str, key: str) -> dict[str, ET.Element]:
    found: dict[str, ET.Element] = {}
    for element in ET.fromstring(svg).iter(f"{SVG}g"):
        if key in element.attrib:
            assert element.attrib[key] not in found, "one group each"
            found[element.attrib[key]] = element
    return found


@pytest.mark.parametrize("title", ["A & B < C > D", "'single' \"double\"", "$x^2$ & $y$", "]]> <svg onload=alert(1)>",
                                   "Ünïcode 管 °", ""])
def test_hostile_titles(title):
    plant = made(["B1 P1 E1", "E1 B1"])
    hostile = Plant(title, plant.parts, plant.runs, plant.design)
    for svg in (Diagram(hostile).svg(), Diagram(plant, title=title).svg(highlight=["B1"])):
        root = ET.fromstring(svg)
        assert title in "".join(root.itertext())
        assert root.get("aria-label") == title
        assert not [e for e in root.iter() if any(name.startswith("on") for name in e.attrib)]


@pytest.mark.parametrize("name", [p.stem for p in sorted(FOLDER.glob("*.toml"))])
def test_every_part_and_run_is_named(name):
    plant = read_plant(FOLDER / f"{name}.toml")
    svg = Diagram(plant).svg()
    parts, runs = groups(svg, "data-tag"), groups(svg, "data-run")
    assert set(parts) == set(plant.parts)
    assert set(runs) == set(plant.run_names)
    for tag, group in parts.items():
        title = group.find(f"{SVG}title")
        assert group.get("role") == "img" and group.get("tabindex") == "0"
        assert title is not None and title.text is not None
        assert tag in title.text and plant.parts[tag].kind in title.text
        hit = next(r for r in group.iter(f"{SVG}rect") if r.get("class") == "hit")
        assert float(hit.get("width", 0)) >= 24 and float(hit.get("height", 0)) >= 24
    for run, group in runs.items():
        title = group.find(f"{SVG}title")
        assert group.get("tabindex") == "0" and title is not None and run in (title.text or "")


def test_text_agrees_with_what_was_checked():
    """The checker reads placed geometry; the SVG writes each tag at just that place."""
    for plant in (read_plant(FOLDER / "separator-zone-pumps.toml"), Scheme.random(3).plant(), ODD["third ports"]):
        diagram = Diagram(plant)
        written = {(e.text, float(e.get("x", 0)), float(e.get("y", 0))) for e in ET.fromstring(diagram.svg()).iter(f"{SVG}text")
                   if "tag" in (e.get("class") or "").split()}
        assert len(written) == len(diagram.placed.words)
        for word in diagram.placed.words:
            assert any(text == word.text and abs(x - word.x) < 0.06 and abs(y - word.y) < 0.06 for text, x, y in written)


def test_highlights_change_classes_only(four):
    bare, marked = four.svg(), four.svg(highlight={"B1": "right", "A>Z": "wrong", "S2": "look"})
    assert groups(marked, "data-tag")["B1"].get("class") == "part right"
    assert groups(marked, "data-run")["A>Z"].get("class") == "run wrong"
    assert groups(marked, "data-tag")["S2"].get("class") == "part look"
    assert marked.replace(" right", "").replace(" wrong", "").replace(" look", "") == \
        bare.replace(" right", "").replace(" wrong", "").replace(" look", "")
    assert groups(four.svg(highlight="B2"), "data-tag")["B2"].get("class") == "part look"


def test_a_highlight_never_hides_a_label():
    """No outline of a highlight, 2 px to each side of its ring, crosses a label; and every label is drawn after all that
    could cover it."""
    from figures.drawing.paint import EDGE
    from figures.drawing.placed import meet
    for plant in [*(read_plant(p) for p in sorted(FOLDER.glob("*.toml"))), *(Scheme.random(n).plant() for n in range(30))]:
        diagram = Diagram(plant)
        for tag, (x0, y0, x1, y1) in diagram.painter.rings.items():
            for word in diagram.placed.words:
                inside = word.tag == tag and plant.parts[tag].kind in ("hydraulic separator", "buffer tank")
                frame = [(x0 - EDGE, y0 - EDGE, x1 + EDGE, y0 + EDGE), (x0 - EDGE, y1 - EDGE, x1 + EDGE, y1 + EDGE),
                         (x0 - EDGE, y0, x0 + EDGE, y1), (x1 - EDGE, y0, x1 + EDGE, y1)]
                for edge in () if inside else frame:
                    assert not meet(edge, (word.box[0] + 0.1, word.box[1] + 0.1, word.box[2] - 0.1, word.box[3] - 0.1)), \
                        f"{plant.title}: {tag} over {word.text}"
        svg = diagram.svg(highlight=list(plant.parts))
        assert svg.rindex('class="hl') < svg.index('<text class="tag') and svg.rindex("data-tag=") < svg.index('<text class="tag')


def test_keyboard_goes_along_the_water(four):
    order = list(groups(four.svg(), "data-tag"))
    assert order[0] == "B1"
    for before, after in (("B1", "TR1"), ("TR1", "PB1"), ("PB1", "CB1"), ("A", "PS"), ("PS", "M1"), ("M1", "E1"), ("ZV2", "E2")):
        assert order.index(before) < order.index(after)
    assert order.index("TS") == order.index("SE1") + 1, "a sensor after what it is fixed to"
    assert set(four.svg().split('data-run="')[1:][0].split('"')[:1]) == {"B1&gt;TR1"}


def test_unknown_names_are_refused(four):
    with pytest.raises(ValueError, match="'B9' is neither a part nor a run"):
        four.svg(highlight=["B9"])
    with pytest.raises(ValueError, match="is no highlight"):
        four.svg(highlight={"B1": "shiny"})
    with pytest.raises(ValueError, match="no layer colours"):
        four.svg(layers=["colours"])


def test_layers_hide_by_one_attribute(four):
    assert ET.fromstring(four.svg()).get("data-hide") == ""
    root = ET.fromstring(four.svg(layers=["tags"]))
    assert (root.get("data-hide") or "").split() == [name for name in LAYERS if name != "tags"]
    style = next(root.iter(f"{SVG}style")).text or ""
    for name in LAYERS:
        assert f'[data-hide~="{name}"]' in style


def test_blank_view_gives_no_tag_away(four):
    svg = four.svg(blank=True)
    texts = {e.text for e in ET.fromstring(svg).iter(f"{SVG}text") if e.text}
    assert not texts & set(four.plant.parts)
    titles = {e.text for e in ET.fromstring(svg).iter(f"{SVG}title")}
    assert not any(tag in (title or "").split() for tag in four.plant.parts for title in titles)
    assert set(groups(svg, "data-tag")) == set(four.plant.parts)


def test_without_its_legend_a_drawing_is_the_same_and_ends_above_it(four):
    """So that a wall shows the plant larger: every part at its place, and the sheet lower."""
    with_it, without = (ET.fromstring(four.svg(legend=legend)) for legend in (True, False))
    here, there = ([e.attrib for e in svg.iter() if "data-tag" in e.attrib] for svg in (with_it, without))
    assert here and here == there
    assert with_it.find(f"{SVG}g")[:] and ET.tostring(with_it.find(f"{SVG}g")) == ET.tostring(without.find(f"{SVG}g"))
    high, low = (float(svg.get("viewBox").split()[3]) for svg in (with_it, without))
    lowest = max(float(y) for y in re.findall(r' y="([0-9.]+)"', ET.tostring(without, encoding="unicode")))
    assert lowest < low < high - 40


def test_legend_shows_what_is_used_and_nothing_else(four):
    texts = [e.text for e in ET.fromstring(four.svg()).iter(f"{SVG}text")]
    used = {part.kind for part in four.plant.parts.values()}
    for kind in KINDS:
        assert (kind in texts) == (kind in used), kind
    assert "supply" in texts and "return" in texts and "boiler loop" in texts


def test_figures_and_findings(four):
    plant = four.plant
    flows = dict.fromkeys(plant.run_names, 1.234)
    temperatures = {"B1": 80.0, "E1": 64.6}
    svg = four.svg(flows=flows, temperatures=temperatures)
    texts = [e.text for e in ET.fromstring(svg).iter(f"{SVG}text")]
    assert "1.23 L/s" in texts and "80 °C" in texts and "65 °C" in texts
    faulty = read_plant(FOLDER / "tees-many-findings.toml")
    reading = read(faulty)
    root = ET.fromstring(Diagram(faulty, reading).svg(findings=reading.findings))
    numbers = [e.get("data-finding") for e in root.iter(f"{SVG}g") if e.get("data-finding")]
    assert numbers == [str(n) for n in range(1, len(reading.findings) + 1) if reading.findings[n - 1].parts]


def test_patches_turn_with_the_flow(four):
    there, back = four.overlay.patches({"A>Z": 0.5}), four.overlay.patches({"A>Z": -0.5})
    assert there["A>Z"]["text"] == back["A>Z"]["text"] == "0.50 L/s"
    assert (float(str(there["A>Z"]["turn"])) + 180) % 360 == float(str(back["A>Z"]["turn"]))
    assert four.overlay.patches({"A>Z": 0.0})["A>Z"]["text"] == "0"


def test_figures_cover_nothing():
    from figures.drawing.placed import meet, obstacles
    from figures.drawing.symbols import text_width
    for path in sorted(FOLDER.glob("*.toml")):
        diagram = Diagram(read_plant(path))
        taken = [*obstacles(diagram.placed), *(box for *_, box in diagram.painter.named)]
        flows = diagram.overlay.spots_for(diagram.plant.run_names)
        heated = diagram.overlay.spots_for(t for t, p in diagram.plant.parts.items()
                                           if p.kind == "boiler" or diagram.plant.is_load(t))
        assert [n for n, s in flows.items() if not s.fits] == [] == [n for n, s in heated.items() if not s.fits], path.stem
        for spots, text in ((flows, "88.88 L/s"), (heated, "188 °C")):
            half = text_width(text, 11) / 2
            for spot in spots.values():
                assert not any(meet((spot.x - half, spot.y - 11, spot.x + half, spot.y + 3), box) for box in taken)


def test_names_of_loops_cover_nothing():
    from figures.drawing.placed import meet, obstacles
    from figures.drawing.symbols import text_width
    for plant in [*(read_plant(p) for p in sorted(FOLDER.glob("*.toml"))), *(Scheme.random(n).plant() for n in range(40))]:
        diagram = Diagram(plant)
        taken = [*obstacles(diagram.placed), (20.0, 14.0, 20 + text_width(plant.title, 17), 36.0)]
        for text, _, _, _, box in diagram.painter.named:
            assert not any(meet(box, other) for other in taken), f"{plant.title}: {text}"
            taken.append(box)
        assert len(diagram.painter.named) == len(diagram.reading.loops) + len(diagram.reading.separations), plant.title


def test_a_long_title_covers_nothing():
    plant = read_plant(FOLDER / "tees-one-boiler.toml")
    placed = Diagram(plant, title="W" * 120).placed
    assert all(m.box[1] > 36 for m in placed.marks) and all(w.box[1] > 36 for w in placed.words)


def test_description_says_what_is_there_and_what_is_not(four):
    lines = four.description.splitlines()
    assert repr(four) == lines[0] == "Eastgate hospital wing: four boilers, separated loops, no indirect tank."
    assert "no indirect tank" in four.description and "four boilers (B1, B2, B3 and B4)" in four.description
    assert "Pipe A>Z: from A to Z." in lines
    assert "closely spaced tees (A and Z" in four.description


def test_shown_is_displayed_and_saved(four, tmp_path):
    shown = four.show(flows={"A>Z": 1.0}, highlight=["B1"], findings=True)
    assert "1.00 L/s" in shown._repr_svg_() and repr(shown) == repr(four)
    assert shown.save(tmp_path / "x.svg").read_text(encoding="utf-8") == shown._repr_svg_()


def test_saved_as_png_and_pdf(four, tmp_path):
    assert four.save(tmp_path / "x.png").read_bytes().startswith(b"\x89PNG")
    assert four.save(tmp_path / "x.pdf", highlight=["B1"]).read_bytes().startswith(b"%PDF")
    ET.parse(four.save(tmp_path / "x.svg"))
    with pytest.raises(ValueError, match=r"saved as \.svg, \.png or \.pdf"):
        four.save(tmp_path / "x.jpg")


def test_nothing_heavy_is_imported():
    code = ("import sys; from figures.plant.scheme import Scheme; from figures.drawing import Diagram; "
            "Diagram(Scheme.random(1).plant()).svg(); "
            "print([m for m in ('matplotlib', 'scipy', 'pandas', 'networkx', 'typst') if m in sys.modules])")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60)
    assert done.stdout.strip() == "[]"


def test_schemdraw_keeps_its_other_backend():
    """Blocking pyplot while schemdraw loads must not take that backend from a learner who wants it."""
    code = ("import sys; import figures.drawing.symbols; import schemdraw; "
            "assert 'matplotlib' not in sys.modules; import schemdraw.backends.mpl; assert 'matplotlib' in sys.modules")
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60, capture_output=True)


def test_same_bytes_twice():
    plant = Scheme.random(5).plant()
    assert Diagram(plant).svg() == Diagram(plant).svg()
