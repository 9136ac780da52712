"""A placed drawing: where everything is, before it is written as SVG. The checker in the tests reads these."""

from __future__ import annotations

import itertools
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Literal

Box = tuple[float, float, float, float]                    # left, top, right, bottom
Point = tuple[float, float]
Style = Literal["supply", "return", "stub"]


@dataclass(slots=True)
class Mark:
    """A symbol: its middle, the way its water goes (0 right, 90 down, 180 left, 270 up), and the box it fills.

    flip: mirrored across its axis.  box: of the symbol alone.  span: of a vessel, (width, height); for a tee its dots.
    """

    tag: str
    kind: str
    x: float
    y: float
    turn: int
    flip: bool
    box: Box
    dots: list[Point] = field(default_factory=list)
    ports: tuple[str, ...] = ()


@dataclass(slots=True)
class Piece:
    """A stretch of pipe of one run. `tag` instead of `run` where a tee is stretched along its level. `chain` tells
    pieces that join from pieces that only cross. `along`: drawn in the direction in which the run is written."""

    run: str
    points: list[Point]
    style: Style
    tag: str = ""
    along: bool = True
    hops: list[Point] = field(default_factory=list)


@dataclass(slots=True)
class Words:
    """One line of text: its tag, where it is anchored ('start', 'middle', 'end') on its baseline, and its box."""

    text: str
    x: float
    y: float
    anchor: str
    size: float
    box: Box
    tag: str = ""
    what: str = "tag"


@dataclass
class Placed:
    """Everything at its place."""

    width: float = 0.0
    height: float = 0.0
    marks: list[Mark] = field(default_factory=list)
    pieces: list[Piece] = field(default_factory=list)
    words: list[Words] = field(default_factory=list)
    wires: list[tuple[str, list[Point]]] = field(default_factory=list)     # instrument -> its thin line
    plain: bool = False


def turned(ahead: float, back: float, up: float, down: float, turn: int, flip: bool) -> Box:
    """The box of a symbol about its middle, once turned. `back` is what it takes behind the middle.

    >>> turned(16, 16, 30, 10, 90, False)
    (-10, -16, 30, 16)
    """
    if flip:
        up, down = down, up
    if turn == 0:
        return (-back, -up, ahead, down)
    if turn == 90:
        return (-down, -back, up, ahead)
    if turn == 180:
        return (-ahead, -down, back, up)
    return (-up, -ahead, down, back)


def shifted(box: Box, x: float, y: float) -> Box:
    """A box moved by (x, y)."""
    return (box[0] + x, box[1] + y, box[2] + x, box[3] + y)


def hops(pieces: list[Piece]) -> None:
    """Where a level pipe crosses an upright one of another run, it gets a bridge."""
    flat: list[tuple[float, float, float, Piece]] = []
    upright: list[tuple[float, float, float]] = []
    for piece in pieces:
        for (x0, y0), (x1, y1) in zip(piece.points, piece.points[1:]):
            if y0 == y1 and x0 != x1:
                flat.append((y0, min(x0, x1), max(x0, x1), piece))
            elif x0 == x1 and y0 != y1:
                upright.append((x0, min(y0, y1), max(y0, y1)))
    upright.sort()
    for y, low, high, piece in flat:
        for x, top, bottom in upright[bisect_left(upright, (low + 1,)):bisect_left(upright, (high - 1,))]:
            if low + 1 < x and top + 1 < y < bottom - 1 and (x, y) not in piece.hops:
                piece.hops.append((x, y))


def meet(a: Box, b: Box) -> bool:
    """True where two boxes share room.

    >>> meet((0, 0, 2, 2), (1, 1, 3, 3)), meet((0, 0, 2, 2), (2, 0, 3, 3))
    (True, False)
    """
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


class Taken:
    """Room that is taken, by squares, so that a box is held only against those near it.

    >>> taken = Taken([(0, 0, 10, 10)])
    >>> taken.add((100, 0, 400, 4))
    >>> taken.is_free((20, 0, 30, 10)), taken.is_free((5, 5, 30, 10)), taken.is_free((390, 3, 420, 9))
    (True, False, False)
    """

    SQUARE = 64.0

    def __init__(self, boxes: Iterable[Box]) -> None:
        self.squares: dict[tuple[int, int], list[Box]] = defaultdict(list)
        for box in boxes:
            self.add(box)

    def _squares(self, box: Box) -> Iterator[tuple[int, int]]:
        left, top, right, bottom = (int(side // self.SQUARE) for side in box)
        return itertools.product(range(left, right + 1), range(top, bottom + 1))

    def add(self, box: Box) -> None:
        """Take one more."""
        for square in self._squares(box):
            self.squares[square].append(box)

    def is_free(self, box: Box) -> bool:
        """True where none shares room with the box."""
        return not any(meet(box, other) for square in self._squares(box) for other in self.squares.get(square, ()))


def obstacles(placed: Placed, half: float = 2.0) -> list[Box]:
    """The room that symbols, tags and pipes take, a pipe `half` px to each side."""
    boxes = [m.box for m in placed.marks] + [w.box for w in placed.words]
    for points in [p.points for p in placed.pieces] + [points for _, points in placed.wires]:
        for (x0, y0), (x1, y1) in itertools.pairwise(points):
            boxes.append((min(x0, x1) - half, min(y0, y1) - half, max(x0, x1) + half, max(y0, y1) + half))
    return boxes
