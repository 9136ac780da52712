"""Drawings as they stand on a test: black, without what would tell the answer, cut to what is drawn.

The legend of all symbols stands once, on the first page, so that the drawings can be large.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from figures.drawing import Diagram, open_schemdraw
from figures.plant import Plant
from widgets.learn.bank.schedule import schedule
from widgets.learn.items import Item

from .pages import MARGIN_MM, OVERLAP, PX_PER_MM, SIZES_MM

BEST, LEAST = 0.72, 0.56
"""Scales of a drawing: where a tag, drawn 13 px, is 7 points high, and where it is 5.5, below which it is hard to read."""
FOUR_HIGH_MM, FOUR_HIGHEST_MM = 92.0, 175.0        # of one of four drawings: two on a page, but for those that are very tall
FOUR_LEAST = 0.48
HALF_MM = 128.0            # of a page that holds two questions
BESIDE_MM = 116.0          # of a drawing that leaves room for the words beside it
EDGES_MM = 33.0            # above and below what a page holds
UNTOLD = ("tags", "evidence", "figures")
EDGE = 10.0
_DESC = re.compile(r"<desc>.*?</desc>", re.S)
_BOX = re.compile(r'width="[^"]*" height="[^"]*" viewBox="[^"]*"')


@dataclass(frozen=True)
class Cut:
    """A drawing on paper. width_mm: how wide it is printed.  caption, note: what stands below it, '' for nothing."""

    svg: str
    width_mm: float
    caption: str = ""
    note: str = ""


def _outline(diagram: Diagram) -> tuple[float, float, float, float]:
    """Left, top, right and bottom of what is drawn, without title and legend [px]."""
    placed, frame = diagram.placed, diagram.painter.frame()
    ys = [y for mark in diagram.painter.marks for y in (mark.box[1], mark.box[3])]
    ys += [y for word in placed.words for y in (word.box[1], word.box[3])]
    ys += [y for piece in placed.pieces for _, y in piece.points]
    left = frame.dx
    return max(0.0, left - 4), max(0.0, min(ys) - EDGE - 6), min(frame.width, left + placed.width + 4), \
        min(frame.legend_y - 2, max(ys) + EDGE + 8)


def size_px(plant: Plant) -> tuple[float, float]:
    """Width and height of a plant's drawing, without title and legend [px]."""
    left, top, right, bottom = _outline(Diagram(plant, title=""))
    return right - left, bottom - top


def _cropped(svg: str, left: float, top: float, right: float, bottom: float) -> str:
    wide, high = right - left, bottom - top
    return _BOX.sub(f'width="{wide:.1f}" height="{high:.1f}" viewBox="{left:.1f} {top:.1f} {wide:.1f} {high:.1f}"', svg, count=1)


def untold(plant: Plant, flows: Mapping[str, float] | None = None) -> tuple[str, tuple[float, float, float, float]]:
    """The drawing before the answer, with its outline: no loops, no evidence, no words that read it."""
    diagram = Diagram(plant, title="")
    svg = diagram.svg(layers=UNTOLD, flows=dict(flows or {}), ink="black")
    return _DESC.sub("<desc></desc>", svg, count=1), _outline(diagram)


def lit(plant: Plant, marks: Iterable[str], flows: Mapping[str, float] | None = None) -> tuple[str, float, float]:
    """The drawing with the answer: loops named, what shows it lit up. Returns SVG, width and height [px]."""
    diagram = Diagram(plant, title="")
    left, top, right, bottom = _outline(diagram)
    named = [box for *_, box in diagram.painter.named]
    top = max(0.0, min([top, *(box[1] - 4 for box in named)]))
    bottom = max([bottom, *(box[3] + 6 for box in named)])
    known = {*plant.parts, *plant.run_names}
    svg = diagram.svg([name for name in dict.fromkeys(marks) if name in known], flows=dict(flows or {}), ink="black")
    return _cropped(svg, left, top, right, bottom), right - left, bottom - top


def upright_px(paper: str = "a4") -> float:
    """How much of a drawing goes across an upright page at the least scale [px]."""
    return (SIZES_MM[paper][0] - 2 * MARGIN_MM) * PX_PER_MM / LEAST


def layout_of(item: Item) -> int:
    """0: no drawing; 1: one on an upright page; 2: several; 3: one that needs the page turned."""
    if item.plant is None:
        return 2 if any(option.plant is not None for option in item.options) else 0
    return 1 if size_px(item.plant)[0] <= upright_px("letter") else 3


LENGTHS_ASKED = ("R3", "R4", "P2")
"""Objectives whose answer may hang on how far apart two tees stand; other questions do without those lengths."""


def plants_of(item: Item) -> list[Plant]:
    """The plants that a question shows."""
    return [plant for plant in (item.plant, *(option.plant for option in item.options)) if plant is not None]


def beside_of(item: Item) -> str:
    """What stands beside a drawing because its symbols do not show it; of several drawings one line each."""
    def said(plant: Plant) -> str:
        return " ".join(line for line in schedule(plant) if item.objective in LENGTHS_ASKED or not line.startswith("Pipe "))

    return "\n".join(said(plant) for plant in plants_of(item))


def words_mm(item: Item) -> float:
    """How high the words of a question are, above and below its drawing; rather too much."""
    return 18.0 + 3.6 * (len(beside_of(item)) // 130 + 1) + 5.2 * (2 if item.kind == "point" else len(item.options))


def tall(cut: Cut) -> float:
    """Height over width of a drawing."""
    wide, high = (float(side) for side in re.findall(r'(?:width|height)="([\d.]+)"', cut.svg)[:2])
    return high / wide


def height_mm(item: Item) -> float:
    """How much of an upright page a question of one drawing takes."""
    taken = 12.0 if goes_beside(item) else words_mm(item)
    return taken + sum(cut.width_mm * tall(cut) for cut in figures_of(item, "a4"))


def figures_of(item: Item, paper: str) -> list[Cut]:
    """What a question shows, as large as the page allows; one that is too wide for a page turned is cut in parts.

    A drawing is made so small that two questions go on a page, but not too small to read.
    """
    short, long = (side - 2 * MARGIN_MM for side in SIZES_MM[paper])
    layout = layout_of(item)
    if layout == 2:
        drawings = [(f"Drawing {letter}", option.plant) for letter, option in zip("ABCDEFGH", item.options)
                    if option.plant is not None]
        highs = [max(FOUR_HIGH_MM, min(FOUR_LEAST * size_px(plant)[1] / PX_PER_MM, FOUR_HIGHEST_MM)) for _, plant in drawings]
        return [_fit(plant, short, high, caption) for (caption, plant), high in zip(drawings, highs)]
    if item.plant is None:
        return []
    if layout == 1:
        least = LEAST * size_px(item.plant)[1] / PX_PER_MM
        across, taken = (BESIDE_MM, 12.0) if goes_beside(item) else (short, words_mm(item))
        room = room_mm(paper) - taken
        if least > room:        # the words go before it, on a page of their own
            room = room_mm(paper) - 4.0
        return [_fit(item.plant, across, min(room, max(HALF_MM - taken, least)), "", item.flows)]
    svg, (left, top, right, bottom) = untold(item.plant, item.flows)
    room = room_mm(paper, turned=True)
    if LEAST * (bottom - top) / PX_PER_MM <= room - words_mm(item):
        room -= words_mm(item)
    return list(_parts(svg, left, top, right, bottom, long, room))


def room_mm(paper: str, turned: bool = False) -> float:
    """How high a page is between its edges."""
    return SIZES_MM[paper][0 if turned else 1] - EDGES_MM


def goes_beside(item: Item) -> bool:
    """True where the words of a question go beside its drawing."""
    return item.plant is not None and size_px(item.plant)[0] * LEAST / PX_PER_MM <= BESIDE_MM


def _fit(plant: Plant, across_mm: float, high_mm: float, caption: str, flows: Mapping[str, float] | None = None) -> Cut:
    svg, (left, top, right, bottom) = untold(plant, flows)
    wide, high = right - left, bottom - top
    scale = min(BEST, across_mm * PX_PER_MM / wide, high_mm * PX_PER_MM / high)
    return Cut(_cropped(svg, left, top, right, bottom), wide * scale / PX_PER_MM, caption)


def _parts(svg: str, left: float, top: float, right: float, bottom: float, long_mm: float,
           high_mm: float) -> Iterable[Cut]:
    scale = min(BEST, high_mm * PX_PER_MM / (bottom - top))
    if long_mm * PX_PER_MM / (right - left) >= LEAST:
        scale = min(scale, long_mm * PX_PER_MM / (right - left))
        yield Cut(_cropped(svg, left, top, right, bottom), (right - left) * scale / PX_PER_MM)
        return
    across = long_mm * PX_PER_MM / scale
    count = 2
    while (right - left + (count - 1) * OVERLAP) / count > across:
        count += 1
    part = (right - left + (count - 1) * OVERLAP) / count
    for n in range(count):
        start = left + n * (part - OVERLAP)
        yield Cut(_cropped(svg, start, top, start + part, bottom), part * scale / PX_PER_MM,
                  f"Part {n + 1} of {count}, from left to right; the parts overlap")


def untitled(diagram: Diagram, layers: Iterable[str], blank: bool) -> str:
    """The drawing with its legend and no title, in black, in which nothing reads the plant."""
    svg = _DESC.sub("<desc></desc>", diagram.svg(layers=layers, blank=blank, ink="black"), count=1)
    frame = diagram.painter.frame()
    return _cropped(svg, 0.0, _outline(diagram)[1], frame.width, frame.height)


def legend_svg(plants: Iterable[Plant], width: float = 900.0) -> str:
    """The symbols that these plants are drawn with, as a drawing of their own."""
    open_schemdraw()
    from figures.drawing.ink import style
    from figures.drawing.paint import legend

    text, high = legend({part.kind for plant in plants for part in plant.parts.values()}, (), width, 0.0)
    return (f'<svg xmlns="http://www.w3.org/2000/svg" class="lbk lbk-black" width="{width:g}" height="{high:g}" '
            f'viewBox="0 0 {width:g} {high:g}"><style>{style("black")}</style>{text}</svg>')
