"""Colours and sizes by published rules: contrast by WCAG 2.2, letters by the angle at the eye, nothing by colour alone."""

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from figures.drawing import Diagram
from figures.drawing.ink import FILLS, LINES, LOOP_CLASS, TEXT, style
from figures.drawing.sizes import CAPITAL, PICTURE_PX, capital_mm, extent, readable_from_m
from figures.plant import read_plant
from figures.plant.scheme import Scheme

FOLDER = Path(__file__).parents[2] / "plants"
SVG = "{http://www.w3.org/2000/svg}"
PLANT = Scheme(boilers=2, tank="boiler loop", emitters=2).plant()


def luminance(colour: str) -> float:
    """WCAG 2.2, relative luminance (W3C 2023)."""
    assert re.fullmatch("#[0-9a-f]{6}", colour), colour
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4
               for c in (int(colour[k:k + 2], 16) / 255 for k in (1, 3, 5)))
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize(("colour", "ratio"), [("#000000", 21), ("#767676", 4.542), ("#949494", 3.033), ("#d55e00", 3.867),
                                               ("#0072b2", 5.185), ("#f0e442", 1.322), ("#cc79a7", 3.061)])
def test_contrast_is_that_of_the_published_pairs(colour, ratio):
    """W3C 2023 and Okabe and Ito 2008; the ratios computed elsewhere."""
    assert contrast(colour, "#ffffff") == pytest.approx(ratio, abs=0.001)


@pytest.mark.parametrize("name", TEXT)
def test_text_reads_on_white_and_on_every_light_ground(name):
    """SC 1.4.3: 4.5:1; ghosts stand on white alone."""
    assert contrast(TEXT[name], "#ffffff") >= 4.5
    for ground in FILLS.values() if name == "words" else ():
        assert contrast(TEXT[name], ground) >= 4.5


@pytest.mark.parametrize("name", LINES)
def test_lines_and_symbols_are_seen_on_white(name):
    """SC 1.4.11: 3:1."""
    assert contrast(LINES[name], "#ffffff") >= 3


def test_a_light_fill_has_an_edge_that_is_seen():
    for name in FILLS:
        assert contrast(LINES[f"{name}, its edge"], "#ffffff") >= 3
        assert contrast(LINES[f"{name}, its edge"], FILLS[name]) >= 3 or name != "look"


def test_no_other_colour_is_drawn():
    """Whatever is in the style sheet, on the sheet or in a symbol is in the tables that were checked."""
    known = {*TEXT.values(), *LINES.values(), *FILLS.values(), "#ffffff", "#fff", "#000", "#56b4e9", "#bbb"}
    svg = Diagram(PLANT).svg(highlight=["B1"], missing=True, loop="boiler loop", flows=dict.fromkeys(PLANT.run_names, 1.0))
    used = set(re.findall(r"(?<!&)#[0-9a-f]{3,6}\b", svg))
    assert used <= known, used - known
    assert contrast(LINES["keyboard focus"], "#ffffff") == 21        # the blue within a focus has it as its edge


def test_black_ink_needs_no_colour():
    """Without colour everything is black, white or grey, and bands, highlights and pipes differ by line style."""
    sheet = style("black").rpartition(style())[2]
    assert all(len(set(re.findall("..", c[1:] if len(c) == 7 else c[1] * 2 + c[2] * 2 + c[3] * 2))) == 1
               for c in re.findall(r"#[0-9a-f]{3,6}", sheet))
    dashes = [re.search(rf"\.lbk \.{css}\.e{{[^}}]*stroke-dasharray:([^;}}]+)", style()) for css in LOOP_CLASS.values()]
    values = [found.group(1) for found in dashes if found]
    assert len(values) == 4 and len(set(values[:2])) == 2 and values[3] not in values[:2]
    assert "stroke-dasharray:9 4.5" in style() and 'class="lbk lbk-black"' in Diagram(PLANT).svg(ink="black")


def test_sizes_and_inks_that_are_not_known_are_refused():
    with pytest.raises(ValueError, match="no size 'wall': use screen, projector, phone, a4, letter"):
        Diagram(PLANT).svg(size="wall")
    with pytest.raises(ValueError, match="no ink 'sepia': use colour, black"):
        Diagram(PLANT).svg(ink="sepia")


def shown(svg: str) -> tuple[ET.Element, float]:
    """The picture and how many px one unit of it takes."""
    root = ET.fromstring(svg)
    return root, float(root.get("width", "0")) / float(root.get("viewBox", "").split()[2])


def test_projected_tags_are_read_from_eight_metres():
    """Capitals of tags are a fiftieth of a picture 2 m wide and more than 16 minutes of arc at 8 m."""
    root, scale = shown(Diagram(PLANT).svg(size="projector"))
    sizes = [float(t.get("font-size", "0")) for t in root.iter(f"{SVG}text") if "tag" in (t.get("class") or "").split()]
    capital_m = min(sizes) * scale * CAPITAL / PICTURE_PX * 2.0
    assert capital_m >= 2.0 / 50 - 1e-4 and 1000 * capital_m >= capital_mm(8.0)
    assert "max-width" not in (root.get("style") or "")


def test_text_on_a_phone_is_never_under_eleven_px():
    """All text but the letters within the small symbols of the legend."""
    root, scale = shown(Diagram(PLANT).svg(size="phone"))
    parts = [g for g in root.iter(f"{SVG}g") if g.get("data-tag")]
    sizes = [float(t.get("font-size", "0")) for g in parts for t in g.iter(f"{SVG}text")]
    sizes += [float(t.get("font-size", "0")) for t in root.iter(f"{SVG}text") if t.get("class")]
    assert min(sizes) * scale >= 11 - 0.01


@pytest.mark.parametrize(("size", "across", "down"), [("a4", 277, 190), ("letter", 259.4, 195.9)])
def test_paper_holds_any_sample(size, across, down):
    for path in sorted(FOLDER.glob("*.toml"))[::4]:
        root = ET.fromstring(Diagram(read_plant(path)).svg(size=size))
        width, height = (float((root.get(key) or "").removesuffix("mm")) for key in ("width", "height"))
        assert width <= across + 0.1 and height <= down + 0.1 and max(width / across, height / down) > 0.99


def test_a_page_is_a_page(tmp_path):
    """One landscape page, 297 mm by 210 mm; 842 by 595 points."""
    made = Diagram(PLANT).save(tmp_path / "x.pdf", size="a4").read_bytes()
    assert len(re.findall(rb"/Type\s*/Page\b", made)) == 1
    box = re.search(rb"/MediaBox\s*\[\s*0 0 ([0-9.]+) ([0-9.]+)", made)
    assert box and float(box.group(1)) == pytest.approx(841.9, abs=0.2) and float(box.group(2)) == pytest.approx(595.3, abs=0.2)


def test_the_angle_at_the_eye():
    assert capital_mm(8.0) == pytest.approx(37.23, abs=0.01)
    assert readable_from_m(2 * 700) == pytest.approx(readable_from_m(700) / 2)
    assert extent(800, 400, "screen", 1600) == ("1600", "800", False)


def test_every_thing_that_can_be_reached_has_a_role_and_a_title():
    root = ET.fromstring(Diagram(PLANT).svg(missing=True))
    reached = [e for e in root.iter() if e.get("tabindex") == "0"]
    assert len(reached) >= len(PLANT.parts) + len(PLANT.run_names)
    for element in reached:
        title = element.find(f"{SVG}title")
        assert element.get("role") == "img" and title is not None and title.text
    assert root.get("role") == "group" and root.get("aria-label") == PLANT.title and root.find(f"{SVG}desc") is not None
