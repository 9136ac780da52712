"""Sheets of drawings: numbered plants to quote, and the same without tags, to colour."""

from __future__ import annotations

from collections.abc import Iterable

from .drawn import untitled
from .numbered import numbered_plant
from .printed import FOOT, PRACTICE
from .typeset import Group, fill, head, para, pdf

COLOUR = ("Colour the supply red and the return blue. Draw a line round the boiler loop and another round the system loop, where "
          "there are two. Write beside each symbol what it is, and mark with an arrow which way the water goes.")
QUOTE = ("A number names the same plant in every class and every year. Its plant file lies beside this one, and can be opened in "
         "a lesson.")


def plants_pdf(numbers: Iterable[int], paper: str = "a4") -> bytes:
    """One page a plant, turned, with its tags; nothing on it reads the plant."""
    return _sheets("Numbered plants", numbers, QUOTE, False, paper)


def blanks_pdf(numbers: Iterable[int], paper: str = "a4") -> bytes:
    """The same plants without tags and names, to colour."""
    return _sheets("Drawings to colour", numbers, COLOUR, True, paper)


def _sheets(title: str, numbers: Iterable[int], says: str, blank: bool, paper: str) -> bytes:
    from figures.drawing import Diagram

    groups = []
    for number in numbers:
        diagram = Diagram(numbered_plant(number), title="")
        svg = untitled(diagram, () if blank else ("tags",), blank)
        groups.append(Group((head(f"Plant {number}", 2), para(says), fill(svg, f"The drawing of plant {number}")), turned=True))
    return pdf(title, f"{title}. {PRACTICE} {FOOT}", groups, paper)
