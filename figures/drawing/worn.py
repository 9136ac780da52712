"""Drawings as they hang in real boiler rooms: crooked, without a tag, with lagged pipes that hide what is in them.

The plant is the same and so are the names behind it; only the looks are worn, so that whoever reads by colour or by place
has to trace the pipes instead.

>>> from figures.plant.scheme import Scheme
>>> plant = Scheme(tank="system loop").plant()
>>> ">PS<" in worn(plant, "tidy"), ">PS<" in worn(plant, "untagged"), "feTurbulence" in worn(plant, "crooked")
(True, False, True)
"""

from __future__ import annotations

from typing import Literal

from figures.plant.model import Plant

from .diagram import Diagram

Looks = Literal["tidy", "crooked", "untagged", "lagged"]
LOOKS: tuple[Looks, ...] = ("tidy", "crooked", "untagged", "lagged")
_LAYERS = ("tags", "evidence")

# Legible all the same: slow waves bend lines and leave letters whole.
_HAND = ('<filter id="lbk-hand" x="-2%" y="-2%" width="104%" height="104%"><feTurbulence type="fractalNoise" '
         'baseFrequency="0.011" numOctaves="1" seed="7" result="n"/><feDisplacementMap in="SourceGraphic" in2="n" '
         'scale="8" xChannelSelector="R" yChannelSelector="G"/></filter>')
_LAGGED = (".lbk.lbk-lagged .supply .p,.lbk.lbk-lagged .return .p{stroke:#8c8c8c;stroke-width:11;stroke-dasharray:none}"
           ".lbk.lbk-lagged .stub .p{stroke-width:3}")


def worn(plant: Plant, looks: Looks = "tidy") -> str:
    """The drawing of a plant as SVG text, in one of its looks; no loop is tinted or named. Parts and pipes can be picked in all
    of them.

    crooked: as somebody drew it by hand who began with the parts and then joined them.  untagged: no tag and no title.
    lagged: pipes wrapped in insulation, so that nothing tells supply from return.
    Raises ValueError for looks that are none.
    """
    if looks not in LOOKS:
        raise ValueError(f"no looks {looks!r}: use one of {', '.join(LOOKS)}")
    svg = Diagram(plant, plain=looks == "crooked").svg(layers=_LAYERS, blank=looks == "untagged")
    if looks == "crooked":
        drawn = svg.replace("</desc>", f"</desc><defs>{_HAND}</defs><g filter=\"url(#lbk-hand)\">", 1)
        return drawn[:-len("</svg>")] + "</g></svg>"
    if looks == "lagged":
        return svg.replace('class="lbk', 'class="lbk-lagged lbk', 1).replace("</desc>", f"</desc><style>{_LAGGED}</style>", 1)
    return svg
