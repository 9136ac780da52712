"""Paper sizes, and how a drawing that is too wide for a page is shared out over several."""

from __future__ import annotations

import math
import re
from typing import Literal

Paper = Literal["a4", "letter"]
SIZES_MM: dict[str, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height: ISO 216; ANSI/ASME Y14.1, size A."""
MARGIN_MM, HEAD_MM = 15.0, 14.0
PX_PER_MM = 96.0 / 25.4
PLAIN_SCALE, LARGE_SCALE = 0.70, 0.62   # of drawn letters 11 px high: the smallest still read at arm's length
OVERLAP = 70.0
_BOX = re.compile(r'viewBox="0 0 ([0-9.]+) ([0-9.]+)"')


def drawn_size(svg: str) -> tuple[float, float]:
    """Width and height of a drawing [px]. Raises ValueError where its SVG does not say."""
    found = _BOX.search(svg)
    if found is None:
        raise ValueError("the drawing has no viewBox")
    return float(found[1]), float(found[2])


def windows(width: float, height: float, paper: str) -> list[tuple[float, float]]:
    """Where a drawing too wide to be read on an upright page is cut for pages turned: (left, width) of each part
    [px]; [] for one that is read well as it is.

    >>> windows(600, 500, "a4")
    []
    >>> windows(1200, 800, "a4"), len(windows(2138, 824, "letter"))
    ([(0.0, 1200)], 2)
    """
    short, long = (side - 2 * MARGIN_MM for side in SIZES_MM[paper])
    if short * PX_PER_MM / width >= PLAIN_SCALE:
        return []
    room_w, room_h = long * PX_PER_MM, (short - HEAD_MM) * PX_PER_MM
    scale = min(LARGE_SCALE, room_h / height)
    across = room_w / scale
    if width <= across:
        return [(0.0, width)]
    count = math.ceil((width - OVERLAP) / (across - OVERLAP))
    part = (width + (count - 1) * OVERLAP) / count
    return [(n * (part - OVERLAP), part) for n in range(count)]


def window(svg: str, left: float, width: float) -> str:
    """The part of a drawing from `left` on, `width` wide, as a drawing of its own."""
    _, height = drawn_size(svg)
    root = svg[:svg.index(">") + 1]
    cut = _BOX.sub(f'viewBox="{left:.1f} 0 {width:.1f} {height:g}"', root)
    cut = re.sub(r' width="[^"]*"', f' width="{width:.1f}"', cut, count=1)
    return cut + svg[len(root):]
