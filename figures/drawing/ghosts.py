"""What is missing, drawn light and dashed with a question mark where it would be, on room that nothing else takes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from html import escape

from .paint import n, rect, symbol, upright
from .placed import Box, Placed, Point, meet, obstacles, shifted
from .symbols import text_width
from .views import Missing

SIZE = 13.0
STEP = 12.0
RINGS = 26                                                 # how far to look for room, in steps
CLEAR = 10.0                                               # from the part, so that the way between is seen
NEAR = 44.0                                                # farther off, the words name the part as well
BAND = 9.0                                                 # half of a loop's band, with its edge
TOP = 42.0                                                 # the title stands above


@dataclass(frozen=True, slots=True)
class Ghost:
    """A missing part at its place: the middle of its symbol, the box that symbol and words fill, the words beside it, and
    the dashed way to the part that it belongs to (none where that would cross something)."""

    missing: Missing
    x: float
    y: float
    box: Box
    words: str
    way: tuple[Point, Point] | None


def _way(ghost: Box, part: Box, taken: list[Box]) -> tuple[Point, Point] | None:
    """A straight way, level or upright, between two boxes that face each other, where it crosses nothing."""
    left, right = max(ghost[0], part[0]) + 3, min(ghost[2], part[2]) - 3
    top, bottom = max(ghost[1], part[1]) + 3, min(ghost[3], part[3]) - 3
    ends: tuple[Point, Point] | None = None
    if bottom >= top:
        y = (top + bottom) / 2
        ends = ((ghost[2], y), (part[0], y)) if ghost[2] <= part[0] else ((ghost[0], y), (part[2], y))
    elif right >= left:
        x = (left + right) / 2
        ends = ((x, ghost[3]), (x, part[1])) if ghost[3] <= part[1] else ((x, ghost[1]), (x, part[3]))
    if ends is None:
        return None
    (x0, y0), (x1, y1) = ends
    thin = (min(x0, x1) - 0.5, min(y0, y1) - 0.5, max(x0, x1) + 0.5, max(y0, y1) + 0.5)
    return None if any(meet(thin, b) for b in taken if b != part) else ends


def place_ghosts(placed: Placed, missing: Iterable[Missing], names: Iterable[Box] = ()) -> tuple[list[Ghost], list[Missing]]:
    """A place for each, as near as can be, and those for which there is none.

    names: room that is taken besides.
    """
    taken = [*obstacles(placed, BAND), *names]
    bodies = {m.tag: m.box for m in placed.marks}
    found: list[Ghost] = []
    without: list[Missing] = []
    for one in missing:
        ghost = _nearest(placed, one, bodies[one.beside], taken) if one.beside in bodies else None
        if ghost is None:
            without.append(one)
            continue
        found.append(ghost)
        taken.append(ghost.box)
        if ghost.way:
            (x0, y0), (x1, y1) = ghost.way
            taken.append((min(x0, x1) - 1, min(y0, y1) - 1, max(x0, x1) + 1, max(y0, y1) + 1))
    return found, without


def _nearest(placed: Placed, one: Missing, part: Box, taken: list[Box]) -> Ghost | None:
    """The nearest place; near by, one with a straight way to its part, else one whose words name the part."""
    form = upright(one.kind)[2]
    middle = ((part[0] + part[2]) / 2, (part[1] + part[3]) / 2)
    places: list[tuple[float, int, int, str]] = []
    own: dict[str, Box] = {}
    for words in ("?", f"? {one.beside}"):
        own[words] = (form[0] - 3, form[1] - 3, form[2] + 7 + text_width(words, SIZE), form[3] + 3)
        for i in range(-RINGS, RINGS + 1):
            for j in range(-RINGS, RINGS + 1):
                box = shifted(own[words], middle[0] + i * STEP, middle[1] + j * STEP)
                if box[0] < 4 or box[1] < TOP or box[2] > placed.width - 4 or box[3] > placed.height:
                    continue
                far = max(box[0] - part[2], part[0] - box[2], 0.0) + max(box[1] - part[3], part[1] - box[3], 0.0)
                if far >= CLEAR and (words != "?" or far <= NEAR):
                    places.append((far + 0.1 * (abs(i) + abs(j)) + (60.0 if words != "?" else 0.0), i, j, words))
    reach = (RINGS + 8) * STEP
    window = (middle[0] - reach, middle[1] - reach, middle[0] + reach, middle[1] + reach)
    near = [box for box in taken if meet(box, window)]
    for _, i, j, words in sorted(places):
        x, y = middle[0] + i * STEP, middle[1] + j * STEP
        box = shifted(own[words], x, y)
        if any(meet(box, other) for other in near):
            continue
        way = _way((box[0] + 3, box[1] + 3, box[2], box[3] - 3), part, near)
        if words != "?" or way is not None:
            return Ghost(one, x, y, box, words, way)
    return None


def ghosts_svg(ghosts: Iterable[Ghost]) -> str:
    """The layer 'missing'."""
    rows = []
    for ghost in ghosts:
        kind = ghost.missing.kind
        turn, flip, form = upright(kind)
        way = ""
        if ghost.way:
            (x0, y0), (x1, y1) = ghost.way
            way = f'<path class="way" d="M{n(x0)} {n(y0)}L{n(x1)} {n(y1)}"/>'
        x = ghost.x + form[2] + 5
        rows.append(f'<g class="ghost" data-missing="{escape(ghost.missing.name)}" role="img" tabindex="0"><title>'
                    f'{escape("missing: " + ghost.missing.name + ". " + ghost.missing.says)}</title>{rect("hl", ghost.box)}{way}'
                    f'{symbol(kind, ghost.x, ghost.y, turn, flip)}<text x="{n(x)}" y="{n(ghost.y + 4.5)}" '
                    f'font-size="{n(SIZE)}" font-weight="700">{escape(ghost.words)}</text></g>')
    return f'<g class="layer-missing">{"".join(rows)}</g>'
