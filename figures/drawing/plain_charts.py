"""Small charts as plain SVG text: lines over hours, and bars side by side. No plotting library is loaded.

For lessons, where a chart has to stand at once and a kernel has to stay small. Figures come in the units that they are
shown in. Nothing is told by colour alone: lines differ by dashes, bars carry their figure. Colours are those of Okabe
and Ito (Color Universal Design, 2008), as in `charts`. Every chart says in words what it shows.

>>> picture = bars({"direct": [0.70, 0.61, 0.57]}, unit="L/s", title="Flow by branch")
>>> print(picture)
Flow by branch
>>> picture.alt.splitlines()[1]
'direct: 1: 0.70, 2: 0.61, 3: 0.57 L/s.'
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from html import escape
from math import ceil, floor, isfinite, log10

INK = "#1a1a1a"
COLOURS = ("#0072b2", "#d55e00", "#009e73", "#8a4a77", "#1a1a1a")
DASHES = ("", "11 5", "3 4", "12 4 3 4", "18 4")
LETTER = 8.6
"""About the width of a letter of 16 px, for the places of a legend [px]."""
FONT = "font-family='Arial, Helvetica, sans-serif' font-size='16'"
Numbers = Sequence[float]
WIDE = 520.0
"""So narrow that letters are still read on a phone, where the whole is about 340 px wide; on a wider page it grows [px]."""


class Picture:
    """A chart as SVG text. alt: what it shows, in words; its first line is its name."""

    def __init__(self, svg: str, alt: str) -> None:
        self.svg, self.alt = svg, alt

    def __repr__(self) -> str:
        return self.alt.partition("\n")[0]

    def html(self) -> str:
        """The picture for a page, no wider than the page, with its words for a screen reader."""
        return f"<figure style='margin:0;overflow-x:auto'>{self.svg}</figure>"

    def _repr_html_(self) -> str:
        return self.html()


def _round_steps(low: float, high: float, about: int = 5) -> list[float]:
    """Round figures from below `low` to above `high`, about so many.

    >>> _round_steps(-3.0, 21.0)
    [-5.0, 0.0, 5.0, 10.0, 15.0, 20.0, 25.0]
    """
    span = max(high - low, 1e-9)
    raw = span / about
    size = 10.0 ** floor(log10(raw))
    step = next(m * size for m in (1.0, 2.0, 2.5, 5.0, 10.0) if m * size >= raw * 0.999)
    first, last = floor(low / step + 1e-9), ceil(high / step - 1e-9)
    return [n * step for n in range(first, max(last, first + 1) + 1)]


def _label(value: float, steps: Sequence[float]) -> str:
    size = steps[1] - steps[0]
    digits = 0 if size >= 1.0 and float(size).is_integer() else 1 if size >= 0.1 else 2
    return f"{value + 0.0:.{digits}f}"


def _text(x: float, y: float, words: str, anchor: str = "start", more: str = "") -> str:
    return f"<text x='{x:.1f}' y='{y:.1f}' text-anchor='{anchor}' fill='{INK}'{more}>{escape(words)}</text>"


def _page(width: float, height: float, body: str, alt: str) -> str:
    """The whole SVG: white ground, so that it reads in a dark theme too."""
    name, _, rest = alt.partition("\n")
    return (f"<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 {width:.0f} {height:.0f}' role='img' {FONT} "
            f"style='width:100%;max-width:max({1.3 * width:.0f}px, 45vw);height:auto;background:#ffffff'>"
            f"<title>{escape(name)}</title><desc>{escape(rest)}</desc>"
            f"<rect width='{width:.0f}' height='{height:.0f}' fill='#ffffff'/>{body}</svg>")


def _legend(names: Sequence[str], swatch: Sequence[str], width: float, top: float) -> tuple[str, float]:
    """Names with a piece of their line or bar before each, in rows; and how high that is."""
    x, y, found = 12.0, top, []
    for name, piece in zip(names, swatch):
        long = 44.0 + LETTER * len(name) + 22.0
        if x + long > width and x > 12.0:
            x, y = 12.0, y + 24.0
        found.append(f"<g transform='translate({x:.1f},{y:.1f})'>{piece}</g>{_text(x + 44.0, y + 5.0, name)}")
        x += long
    return "".join(found), y + 24.0 - top


def lines(x: Numbers, values: Mapping[str, Numbers], *, x_name: str, y_name: str, title: str,
          spans: Mapping[str, Sequence[tuple[float, float]]] | None = None, level: tuple[float, str] | None = None,
          told: Sequence[str] = (), x_step: float | None = None, width: float = WIDE, height: float = 360.0) -> Picture:
    """Lines over one row of numbers; NaN leaves a gap.

    spans: name → from where to where it is shaded with strokes.  level: a height with its name, drawn dotted.
    told: what the chart shows, in sentences.  x_step: between the figures along the bottom.
    Raises ValueError where a line is of another length, or none is there.

    >>> room = lines([6, 7, 8], {"no limit": [20.0, 18.5, 17.0]}, x_name="hour", y_name="°C", title="The room")
    >>> room.svg.count("<polyline")
    1
    """
    if not values or any(len(row) != len(x) for row in values.values()) or len(x) < 2:
        raise ValueError("a chart needs a line or more, each with as many figures as the row below it")
    spans = spans or {}
    all_y = [float(v) for row in values.values() for v in row if isfinite(v)] + ([level[0]] if level else [])
    if not all_y:
        raise ValueError("a chart needs figures to show")
    ys, xs = _round_steps(min(all_y), max(all_y)), _round_steps(float(x[0]), float(x[-1]), 8)
    if x_step is not None:
        xs = [n * x_step for n in range(floor(x[0] / x_step), ceil(x[-1] / x_step) + 1)]
    slack = 0.02 * (x[-1] - x[0])
    xs = [v for v in xs if x[0] - slack <= v <= x[-1] + slack]
    swatch = [f"<line x1='0' x2='38' y1='0' y2='0' stroke='{COLOURS[n % 5]}' stroke-width='3.5' "
              f"stroke-dasharray='{DASHES[n % 5]}'/>" for n in range(len(values))]
    swatch += [f"<rect x='0' y='-8' width='38' height='16' {_stroked(n)}/>" for n in range(len(spans))]
    legend, tall = _legend([*values, *spans], swatch, width, 50.0)
    left, right, top, bottom = 62.0, width - 16.0, 74.0 + tall, height - 50.0

    def at(a: float, b: float) -> tuple[float, float]:
        return (left + (a - x[0]) / (x[-1] - x[0]) * (right - left), bottom - (b - ys[0]) / (ys[-1] - ys[0]) * (bottom - top))

    body = [_patterns(), _text(12.0, 24.0, title, more=" font-weight='bold' font-size='17'"), legend]
    for n, rows in enumerate(spans.values()):
        body += [f"<rect x='{at(a, ys[0])[0]:.1f}' y='{top:.1f}' width='{max(at(b, 0.0)[0] - at(a, 0.0)[0], 1.0):.1f}' "
                 f"height='{bottom - top:.1f}' {_stroked(n)}/>" for a, b in rows]
    for v in ys:
        y = at(x[0], v)[1]
        body.append(f"<line x1='{left}' x2='{right}' y1='{y:.1f}' y2='{y:.1f}' stroke='#cccccc'/>")
        body.append(_text(left - 8.0, y + 5.0, _label(v, ys), "end"))
    body += [_text(at(v, ys[0])[0], bottom + 20.0, _label(v, xs if len(xs) > 1 else [0.0, 1.0]), "middle") for v in xs]
    body.append(_text((left + right) / 2.0, height - 8.0, x_name, "middle"))
    body.append(_text(left, top - 8.0, y_name))
    if level is not None:
        y = at(x[0], level[0])[1]
        body.append(f"<line x1='{left}' x2='{right}' y1='{y:.1f}' y2='{y:.1f}' stroke='{INK}' stroke-dasharray='2 4'/>")
    for n, row in enumerate(values.values()):
        for piece in _pieces(x, row):
            points = " ".join(f"{at(a, b)[0]:.1f},{at(a, b)[1]:.1f}" for a, b in piece)
            body.append(f"<polyline points='{points}' fill='none' stroke='{COLOURS[n % 5]}' stroke-width='3' "
                        f"stroke-dasharray='{DASHES[n % 5]}'/>")
    if level is not None:       # on top of the lines, with a white rim, so that it is read whatever runs there
        body.append(_text(right - 4.0, at(x[0], level[0])[1] + 16.0, level[1], "end",
                          " paint-order='stroke' stroke='#ffffff' stroke-width='4'"))
    alt = "\n".join([title, *told])
    return Picture(_page(width, height, "".join(body), alt), alt)


def _pieces(x: Numbers, row: Numbers) -> Iterator[list[tuple[float, float]]]:
    """The parts of a line between its gaps."""
    piece: list[tuple[float, float]] = []
    for a, b in zip(x, row):
        if isfinite(b):
            piece.append((float(a), float(b)))
        elif piece:
            yield piece
            piece = []
    if piece:
        yield piece


def _patterns() -> str:
    return ("<defs><pattern id='lb-s0' width='8' height='8' patternUnits='userSpaceOnUse' patternTransform='rotate(45)'>"
            "<rect width='8' height='8' fill='#dbeefb'/><line x1='0' x2='0' y1='0' y2='8' stroke='#0072b2' stroke-width='2'/>"
            "</pattern><pattern id='lb-s1' width='8' height='8' patternUnits='userSpaceOnUse' patternTransform='rotate(-45)'>"
            "<rect width='8' height='8' fill='#fdeedd'/><line x1='0' x2='0' y1='0' y2='8' stroke='#d55e00' stroke-width='2'/>"
            "</pattern></defs>")


def _stroked(n: int) -> str:
    return f"fill='url(#lb-s{n % 2})' stroke='{COLOURS[n % 2]}' stroke-width='0.7'"


def bars(values: Mapping[str, Numbers], *, unit: str, title: str, names: Sequence[str] = (), least: str = "",
         told: Sequence[str] = (), digits: int = 2, width: float = WIDE) -> Picture:
    """Groups of bars, one group below the other, all on one scale; each bar carries its figure.

    values: name of the group → its bars, from 0.  names: of the bars, '1', '2' … unless said.  least: what is written
    at the smallest bar of a group.  Raises ValueError where there is none, one is no figure, or names do not fit.
    """
    count = max((len(row) for row in values.values()), default=0)
    names = list(names) or [str(n + 1) for n in range(count)]
    flat = [float(v) for row in values.values() for v in row]
    if not flat or not all(isfinite(v) and v >= 0.0 for v in flat) or any(len(row) != len(names) for row in values.values()):
        raise ValueError("bars need figures from 0 on, and a name each")
    left = 24.0 + LETTER * max(len(name) for name in names)
    most, long = max(max(flat), 1e-12), width - left - 90.0 - LETTER * (len(least) + 1 if least else 0)
    body, y, said = [_patterns(), _text(12.0, 24.0, title, more=" font-weight='bold' font-size='17'")], 46.0, []
    for n, (group, row) in enumerate(values.items()):
        body.append(_text(12.0, y + 12.0, group, more=" font-weight='bold'"))
        y += 22.0
        low = min(row)
        for name, value in zip(names, row):
            wide = value / most * long
            mark = f" {least}" if least and value - low < 10.0 ** -(digits + 2) * max(low, 1.0) and max(row) - low > 1e-9 else ""
            body.append(_text(left - 8.0, y + 14.0, name, "end"))
            body.append(f"<rect x='{left:.1f}' y='{y:.1f}' width='{wide:.1f}' height='18' {_stroked(n)}/>")
            body.append(_text(left + wide + 6.0, y + 14.0, f"{value:.{digits}f} {unit}{mark}"))
            y += 23.0
        y += 8.0
        said.append(f"{group}: {', '.join(f'{name}: {value:.{digits}f}' for name, value in zip(names, row))} {unit}.")
    alt = "\n".join([title, *said, *told])
    return Picture(_page(width, y + 4.0, "".join(body), alt), alt)


__all__ = ["Picture", "bars", "lines"]
