"""How large a drawing is shown, and from how far it can be read.

The rule: a letter can be read where its capital height covers 16 minutes of arc at the eye (ISO 9241-303, minimum, from
memory; 20 to 22 are comfortable). From 8 m that is 37 mm: on a picture 2 m wide a fiftieth of its width, 40 mm, is
enough. A capital is 0.716 of the size of its face high (Arial, from memory).
"""

from __future__ import annotations

import math
from typing import Literal

from .room import TAG_SIZE

Size = Literal["screen", "projector", "phone", "a4", "letter"]
SIZES: tuple[Size, ...] = ("screen", "projector", "phone", "a4", "letter")
CAPITAL = 0.716
ARC_MINUTES = 16.0
SMALLEST = 10.0                                            # smallest letters of a symbol [px]
PHONE_TEXT = 11.0                                          # least text on a phone [px]
PICTURE_PX = 1920.0                                        # width of a projected picture [px]
LETTERS_ON_PICTURE = 50.0                                  # capitals of a tag are at least this part of the picture's width
PAPER_MM = {"a4": (297.0, 210.0), "letter": (279.4, 215.9)}    # landscape: width, height
MARGIN_MM = 10.0


def capital_mm(distance_m: float, arc_minutes: float = ARC_MINUTES) -> float:
    """Least height of a capital [mm] that can be read from `distance_m`.

    >>> round(capital_mm(8.0), 1)
    37.2
    """
    return 1000 * distance_m * math.tan(math.radians(arc_minutes / 60))


def readable_from_m(width: float, picture_m: float = 2.0) -> float:
    """How far [m] one can be from a drawing `width` px wide that fills a picture `picture_m` wide and still read its tags.

    >>> round(readable_from_m(700.0), 1)
    5.7
    """
    return picture_m * TAG_SIZE * CAPITAL / width / math.tan(math.radians(ARC_MINUTES / 60))


def extent(width: float, height: float, size: Size, wanted: float | None) -> tuple[str, str, bool]:
    """Width and height as the SVG states them, and whether it may shrink with the page. `wanted`: a width [px], kept.

    Projector and phone keep their width where the page is narrower, so that the frame scrolls and text keeps its size.

    >>> extent(1000, 500, "phone", None), extent(1000, 500, "a4", None)
    (('1100', '550', False), ('277mm', '138.5mm', False))
    """
    def short(value: float) -> str:
        return f"{value:.1f}".removesuffix(".0")

    if wanted is None and size in PAPER_MM:
        across, down = (side - 2 * MARGIN_MM for side in PAPER_MM[size])
        scale = min(across / width, down / height)
        return f"{short(width * scale)}mm", f"{short(height * scale)}mm", False
    scale = 1.0
    if size == "projector":
        scale = PICTURE_PX / LETTERS_ON_PICTURE / CAPITAL / TAG_SIZE
    elif size == "phone":
        scale = PHONE_TEXT / SMALLEST
    if wanted is not None:
        scale = wanted / width
    return short(width * scale), short(height * scale), size == "screen" and wanted is None
