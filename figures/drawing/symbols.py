"""The symbols, as schemdraw elements, and their strokes turned once into SVG.

Shapes after ISO 14617 and ASHRAE 134, from memory; every drawing prints a legend of those it uses. A symbol lies
along x: water enters at (−ahead, 0) and leaves at (ahead, 0); y points up. Units are drawing units, which are
pixels of the SVG. Parts at the end of a run (relief valve, drain …) and instruments start at (0, 0) instead.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Any

from . import open_schemdraw

open_schemdraw()

from schemdraw.elements import Dot, Element, Resistor  # noqa: E402
from schemdraw.segments import Segment, SegmentArc, SegmentCircle, SegmentPoly, SegmentText  # noqa: E402


@dataclass(frozen=True, slots=True)
class Shape:
    """The room a symbol takes: `ahead` from its middle to where the water leaves (for an end part, from its joint
    to its far end), `up` and `down` across. `strokes` is SVG that turns with the pipe, `upright` SVG that does not,
    `words` are (x, y, text, size) about the middle. `stands`: by how much it is turned where it stands by itself, in the
    legend say [degrees], and whether it is mirrored.
    """

    ahead: float
    up: float
    down: float
    strokes: str
    upright: str = ""
    words: tuple[tuple[float, float, str, float], ...] = ()
    stands: tuple[int, bool] = (0, False)


class Symbol(Element):
    """An element with the room that it takes. `upright` holds segments that do not turn with the pipe. `stands` is that of
    `Shape`."""

    ahead = 16.0
    up: Any = 16.0                                          # schemdraw keeps a method of this name, and `down`
    down: Any = 16.0
    stands = (0, False)

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.upright: list[Any] = []
        self.strokes()

    def strokes(self) -> None:
        """Append the segments; a kind overrides this."""
        raise AssertionError("a symbol without strokes")

    def bowtie(self, half: float = 15.0, high: float = 10.0) -> None:
        """Two triangles, point to point: the body of a valve."""
        self.segments += [SegmentPoly([(-half, high), (-half, -high), (0, 0)], fill="white"),
                          SegmentPoly([(half, high), (half, -high), (0, 0)], fill="white")]

    def word(self, x: float, y: float, text: str, size: float = 11) -> None:
        """A word of the symbol that stays upright."""
        self.segments.append(SegmentText((x, y), text, fontsize=size))


class Boiler(Symbol):
    """A box with a flame."""

    ahead, up, down = 38.0, 32.0, 32.0
    stands = (270, False)

    def strokes(self) -> None:
        self.segments.append(SegmentPoly([(-38, -32), (38, -32), (38, 32), (-38, 32)], cornerradius=4, fill="white"))
        outer = [(0, 22), (9, 9), (13, -2), (10, -13), (0, -19), (-10, -13), (-13, -2), (-7, 6), (-4, 2)]
        inner = [(0, 0), (5, -8), (3, -14), (-3, -14), (-5, -8)]
        self.upright += [SegmentPoly(outer, fill="white"), SegmentPoly(inner, fill="black")]


class Pump(Symbol):
    """A circle; the triangle points to the discharge side."""

    def strokes(self) -> None:
        self.segments += [SegmentCircle((0, 0), 16, fill="white"),
                          SegmentPoly([(-8, 13.86), (16, 0), (-8, -13.86)], fill="black")]


class CheckValve(Symbol):
    """A triangle against a bar: water passes towards the bar only."""

    ahead, up, down = 13.0, 12.0, 12.0

    def strokes(self) -> None:
        self.segments += [SegmentPoly([(-13, 11), (11, 0), (-13, -11)], fill="white"),
                          Segment([(12, 12), (12, -12)], lw=3)]


class IsolationValve(Symbol):
    """A valve with a handle."""

    ahead, up, down = 15.0, 20.0, 10.0

    def strokes(self) -> None:
        self.bowtie()
        self.segments += [Segment([(0, 0), (0, 18)]), Segment([(-8, 18), (8, 18)])]


class MotorisedValve(Symbol):
    """A valve whose stem ends in a circle lettered M."""

    ahead, up, down = 15.0, 34.0, 10.0

    def strokes(self) -> None:
        self.bowtie()
        self.segments += [Segment([(0, 0), (0, 14)]), SegmentCircle((0, 24), 10, fill="white")]
        self.word(0, 24, "M", 12)


class BalancingValve(Symbol):
    """A valve crossed by the arrow of a thing that is set."""

    ahead, up, down = 15.0, 18.0, 16.0

    def strokes(self) -> None:
        self.bowtie()
        self.segments += [Segment([(-12, -16), (12, 16)]), SegmentPoly([(12, 16), (4, 12), (10, 7)], fill="black")]


class BypassValve(Symbol):
    """A valve under a dome, lettered for the pressure difference that opens it."""

    ahead, up, down = 15.0, 34.0, 10.0

    def strokes(self) -> None:
        self.bowtie()
        dome = [(14 * math.cos(a), 14 + 17 * math.sin(a)) for a in (math.pi * n / 12 for n in range(13))]
        self.segments += [Segment([(0, 0), (0, 14)]), SegmentPoly(dome, fill="white")]
        self.word(0, 21, "Δp", 10)


class Emitter(Symbol):
    """A radiator: a box with its columns."""

    ahead, up, down = 26.0, 30.0, 30.0
    stands = (90, False)

    def strokes(self) -> None:
        self.segments.append(SegmentPoly([(-26, -30), (26, -30), (26, 30), (-26, 30)], cornerradius=3, fill="white"))
        self.segments += [Segment([(-20, y), (20, y)]) for y in (-20, -10, 0, 10, 20)]


class IndirectTank(Symbol):
    """An upright vessel with rounded ends beside the pipe, which makes a coil inside it."""

    ahead, up, down = 44.0, 66.0, 6.0
    stands = (90, False)

    def strokes(self) -> None:
        body = [(44 - 14 + 14 * math.sin(a), 8 + 28 - 28 * math.cos(a)) for a in (math.pi * n / 12 for n in range(13))]
        body += [(-x, 72 - y) for x, y in body]
        self.segments.append(SegmentPoly(body, fill="white"))
        coil = [(44, 0), (24, 0), (24, 24)]
        for n in range(5):
            coil += [(20 - 8 * n, 50 if n % 2 == 0 else 20)]
        coil += [(-24, 36), (-24, 0), (-44, 0)]
        self.segments.append(Segment(coil, lw=2.5))


class HeatExchanger(Symbol):
    """A box with the zigzag of the heated side: the peaks of schemdraw's resistor."""

    ahead, up, down = 26.0, 22.0, 22.0
    stands = (90, False)

    def strokes(self) -> None:
        self.segments.append(SegmentPoly([(-26, -22), (26, -22), (26, 22), (-26, 22)], fill="white"))
        zigzag: Any = Resistor().segments[0]
        peaks = [p for p in zigzag.path if not math.isnan(p[0])]
        middle = sum(p[0] for p in peaks) / len(peaks)
        self.segments += [Segment([(-26, 0), (-18, 0)]), Segment([(18, 0), (26, 0)]),
                          Segment([((p[0] - middle) * 36, p[1] * 56) for p in peaks])]


class AirSeparator(Symbol):
    """A round body with bubbles and a vent on top."""

    ahead, up, down = 16.0, 24.0, 16.0

    def strokes(self) -> None:
        self.segments += [SegmentCircle((0, 0), 16, fill="white"), Segment([(0, 16), (0, 24)]),
                          Segment([(-6, 24), (6, 24)])]
        self.upright += [SegmentCircle((x, y), r) for x, y, r in ((-5, -5, 2.5), (5, -1, 3), (-2, 6, 3.5))]


class Strainer(Symbol):
    """A body crossed by a dashed screen."""

    ahead, up, down = 14.0, 14.0, 14.0

    def strokes(self) -> None:
        self.segments += [SegmentPoly([(-14, 0), (0, 14), (14, 0), (0, -14)], fill="white"),
                          Segment([(0, 12), (0, -12)], ls="--")]


class FlowSwitch(Symbol):
    """A circle lettered FS."""

    ahead, up, down = 14.0, 14.0, 14.0

    def strokes(self) -> None:
        self.segments.append(SegmentCircle((0, 0), 14, fill="white"))
        self.word(0, 0, "FS", 11)


class Tee(Symbol):
    """schemdraw's dot, grown to drawing units."""

    ahead, up, down = 5.0, 5.0, 5.0

    def strokes(self) -> None:
        dot: Any = Dot().segments[0]
        self.segments.append(SegmentCircle(dot.center, dot.radius / 0.075 * 4, fill="black"))


class ThreePort(Symbol):
    """Three triangles, points together: ports left, right and below."""

    ahead, up, down = 16.0, 36.0, 16.0

    def strokes(self) -> None:
        self.bowtie(16)
        self.segments.append(SegmentPoly([(-10, -16), (10, -16), (0, 0)], fill="white"))
        self.head()

    def head(self) -> None:
        """The actuator."""
        raise AssertionError("a three-port valve without a head")


class DivertingValve(ThreePort):
    """Three ports and a motor."""

    def head(self) -> None:
        self.segments += [Segment([(0, 0), (0, 14)]), SegmentCircle((0, 24), 10, fill="white")]
        self.word(0, 24, "M", 12)


class MixingValve(ThreePort):
    """Three ports and a thermostat."""

    def head(self) -> None:
        self.segments += [Segment([(0, 0), (0, 14)]), SegmentPoly([(-8, 14), (8, 14), (8, 34), (-8, 34)], fill="white")]
        self.word(0, 24, "T", 12)


class ReliefValve(Symbol):
    """An angle valve with a spring on its stem."""

    ahead, up, down = 36.0, 9.0, 18.0
    stands = (180, True)

    def strokes(self) -> None:
        self.segments += [SegmentPoly([(0, 9), (0, -9), (14, 0)], fill="white"),
                          SegmentPoly([(5, -17), (23, -17), (14, 0)], fill="white"),
                          Segment([(14, 0), (18, 0), (20, 6), (24, -6), (28, 6), (32, -6), (34, 0), (36, 0)])]


class ExpansionTank(Symbol):
    """A vessel with a membrane."""

    ahead, up, down = 36.0, 18.0, 18.0
    stands = (270, False)

    def strokes(self) -> None:
        self.segments += [SegmentCircle((18, 0), 18, fill="white"),
                          Segment([(18 + 4 * math.sin(y / 3), y) for y in range(-17, 18, 2)])]


class Fill(Symbol):
    """An arrow into the plant."""

    ahead, up, down = 24.0, 9.0, 9.0
    stands = (270, False)

    def strokes(self) -> None:
        self.segments += [SegmentPoly([(2, 0), (16, 9), (16, -9)], fill="black"), Segment([(0, 0), (24, 0)])]


class AirVent(Symbol):
    """A small bottle with a cap."""

    ahead, up, down = 24.0, 8.0, 8.0
    stands = (270, False)

    def strokes(self) -> None:
        self.segments += [SegmentPoly([(0, -7), (14, -7), (14, 7), (0, 7)], cornerradius=2, fill="white"),
                          Segment([(14, 0), (20, 0)]), Segment([(20, -6), (20, 6)]), Segment([(23, -3), (23, 3)])]


class Drain(Symbol):
    """A valve with a hose end."""

    ahead, up, down = 28.0, 8.0, 8.0
    stands = (90, True)

    def strokes(self) -> None:
        self.segments += [SegmentPoly([(0, 8), (0, -8), (9, 0)], fill="white"),
                          SegmentPoly([(18, 8), (18, -8), (9, 0)], fill="white"),
                          Segment([(18, 0), (28, 0)], lw=3)]


class Lettered(Symbol):
    """An instrument: a circle with letters."""

    ahead, up, down = 24.0, 12.0, 12.0
    letters = "T"

    def strokes(self) -> None:
        self.segments.append(SegmentCircle((12, 0), 12, fill="white"))
        self.word(12, 0, self.letters, 12 if len(self.letters) == 1 else 10)


class LowWater(Lettered):
    """Level, low: letters after ANSI/ISA-5.1."""

    letters = "LL"


class HighLimit(Lettered):
    """Temperature, high: letters after ANSI/ISA-5.1."""

    letters = "TH"


class HydraulicSeparator(Symbol):
    """The vessel as the legend shows it; in a drawing it is as tall as the plant."""

    ahead, up, down = 19.0, 20.0, 20.0

    def strokes(self) -> None:
        self.segments += [SegmentPoly([(-9, -18), (9, -18), (9, 18), (-9, 18)], cornerradius=8, fill="white")]
        self.segments += [Segment([(x, y), (x * 1.8, y)]) for x in (-9, 9) for y in (-9, 9)]


class BufferTank(HydraulicSeparator):
    """A wider vessel, with its layers."""

    def strokes(self) -> None:
        self.segments += [SegmentPoly([(-13, -18), (13, -18), (13, 18), (-13, 18)], cornerradius=8, fill="white")]
        self.segments += [Segment([(x, y), (x * 1.4, y)]) for x in (-13, 13) for y in (-9, 9)]
        self.segments += [Segment([(-13, y), (13, y)], ls="--") for y in (-4, 4)]


ELEMENTS: dict[str, type[Symbol]] = {
    "boiler": Boiler, "pump": Pump, "check valve": CheckValve, "isolation valve": IsolationValve,
    "motorised valve": MotorisedValve, "balancing valve": BalancingValve, "bypass valve": BypassValve,
    "emitter": Emitter, "indirect tank": IndirectTank, "air separator": AirSeparator, "strainer": Strainer,
    "flow switch": FlowSwitch, "heat exchanger": HeatExchanger, "tee": Tee,
    "hydraulic separator": HydraulicSeparator, "buffer tank": BufferTank, "diverting valve": DivertingValve,
    "mixing valve": MixingValve, "relief valve": ReliefValve, "expansion tank": ExpansionTank, "fill": Fill,
    "air vent": AirVent, "drain": Drain, "temperature sensor": Lettered, "low-water cut-off": LowWater,
    "high limit": HighLimit,
}
"""The element of each kind of part."""


def n(value: float) -> str:
    """A coordinate, as short as it can be.

    >>> n(12.0), n(12.04), n(-0.5)
    ('12', '12', '-0.5')
    """
    text = f"{value:.1f}"
    return text[:-2] if text.endswith(".0") else text


def _fill(segment: Any) -> str:
    return {"white": "w", "black": "b"}.get(str(segment.fill), "n")


def _stroke(segment: Any) -> str:
    """One schemdraw segment as SVG, y turned downwards."""
    more = f' stroke-width="{n(segment.lw)}"' if getattr(segment, "lw", None) else ""
    if getattr(segment, "ls", None) == "--":
        more += ' stroke-dasharray="3 2.5"'
    if isinstance(segment, SegmentCircle):
        x, y = segment.center
        return f'<circle class="{_fill(segment)}" cx="{n(x)}" cy="{n(-y)}" r="{n(segment.radius)}"{more}/>'
    if isinstance(segment, SegmentPoly):
        if segment.cornerradius and len(segment.verts) == 4:
            xs, ys = [v[0] for v in segment.verts], [v[1] for v in segment.verts]
            return (f'<rect class="{_fill(segment)}" x="{n(min(xs))}" y="{n(-max(ys))}" width="{n(max(xs) - min(xs))}"'
                    f' height="{n(max(ys) - min(ys))}" rx="{n(segment.cornerradius)}"/>')
        points = " ".join(f"{n(x)},{n(-y)}" for x, y in segment.verts)
        return f'<polygon class="{_fill(segment)}" points="{points}"/>'
    assert isinstance(segment, Segment) and not isinstance(segment, SegmentArc)
    points = " ".join(f"{n(x)},{n(-y)}" for x, y in segment.path)
    return f'<polyline class="n" points="{points}"{more}/>'


@cache
def shape(kind: str) -> Shape:
    """The symbol of a kind of part, its strokes taken from the element once and kept.

    >>> shape("pump").ahead
    16.0
    """
    element = ELEMENTS[kind]()
    words = tuple((float(s.xy[0]), float(s.xy[1]), s.text, float(s.fontsize))
                  for s in element.segments if isinstance(s, SegmentText))
    strokes = "".join(_stroke(s) for s in element.segments if not isinstance(s, SegmentText))
    return Shape(element.ahead, element.up, element.down, strokes, "".join(map(_stroke, element.upright)), words, element.stands)


# Advance widths of DejaVu Sans in thousandths of its size, from memory of the face, rounded up; it is the widest of
# the faces that a browser is likely to take, so what clears with it clears with all.
_WIDE = {**dict.fromkeys("ijl.,:;'|!", 360), **dict.fromkeys("frtI ()[]-/", 430), **dict.fromkeys("mwMW@%", 1000),
         **dict.fromkeys("ABCDEFGHKNOPQRSTUVXYZ&+<>=~", 800)}


def text_width(text: str, size: float) -> float:
    """Width [px] that a line of text takes at most, on the face that the drawing asks for.

    >>> 10 < text_width("B1", 13) < 25
    True
    """
    return sum(_WIDE.get(c, 660) for c in text) * size / 1000
