"""Every kind has a symbol, and each is a schemdraw element whose strokes stay inside the room it claims."""

import re
import xml.etree.ElementTree as ET

import pytest
import schemdraw.elements as elm

from figures.drawing.symbols import ELEMENTS, shape, text_width
from figures.plant import KINDS


def test_every_kind_has_a_symbol():
    assert set(ELEMENTS) == set(KINDS)
    assert all(issubclass(element, elm.Element) for element in ELEMENTS.values())


@pytest.mark.parametrize("kind", list(KINDS))
def test_strokes_stay_inside(kind):
    form = shape(kind)
    root = ET.fromstring(f"<g>{form.strokes}</g>")
    xs, ys = [], []
    for element in root.iter():
        for x, y in re.findall(r"(-?[\d.]+),(-?[\d.]+)", element.get("points", "")):
            xs.append(float(x))
            ys.append(float(y))
        if element.tag == "circle":
            x, y, r = (float(element.get(k, 0)) for k in ("cx", "cy", "r"))
            xs += [x - r, x + r]
            ys += [y - r, y + r]
        if element.tag == "rect":
            x, y, w, h = (float(element.get(k, 0)) for k in ("x", "y", "width", "height"))
            xs += [x, x + w]
            ys += [y, y + h]
    end = KINDS[kind].shape in ("end", "instrument")
    assert min(xs) >= (0 if end else -form.ahead) - 2 and max(xs) <= form.ahead + 2
    if kind not in ("hydraulic separator", "buffer tank"):
        assert min(ys) >= -form.up - 2 and max(ys) <= form.down + 2


def test_text_width_is_never_too_narrow():
    """Against the advance widths of DejaVu Sans as matplotlib ships it."""
    from matplotlib.font_manager import findfont
    from matplotlib.ft2font import FT2Font

    font = FT2Font(findfont("DejaVu Sans"))
    font.set_size(100, 72)
    for text in ("B1", "closely spaced tees", "WWWW", "HS-main_2", "Mill & Co", "188 °C", "88.88 L/s", "single loop"):
        drawn = sum(font.load_char(ord(c)).linearHoriAdvance / 65536 for c in text) / 100
        assert text_width(text, 1.0) >= drawn, text
