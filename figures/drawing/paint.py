"""A placed drawing as SVG text: groups that carry tags and run names, so that a click names them."""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from html import escape

from figures.plant.kinds import KINDS
from figures.plant.model import Plant
from figures.reading.record import Reading

from .describe import walk
from .ink import LAYERS as LAYERS
from .ink import LOOP_CLASS, Ink, style
from .placed import Box, Mark, Piece, Placed, Point, meet, obstacles, turned
from .sizes import Size, extent
from .symbols import n, shape, text_width

EDGE = 2.0                                                 # half of a highlight's outline [px]
ROUND = ' rx="5"'


def upright(kind: str) -> tuple[int, bool, Box]:
    """How the symbol of a kind is turned and mirrored where it stands by itself, and its box about its middle then."""
    form = shape(kind)
    back = 0.0 if KINDS[kind].shape in ("end", "instrument") else form.ahead
    return *form.stands, turned(form.ahead, back, form.up, form.down, *form.stands)


def path_of(piece: Piece) -> str:
    """The d of a pipe, with its bridges. Pieces joined to it may begin with their own M."""
    out = [f"M{n(piece.points[0][0])} {n(piece.points[0][1])}"]
    for (x0, y0), (x1, y1) in zip(piece.points, piece.points[1:]):
        if y0 == y1 and piece.hops:
            way = 1 if x1 > x0 else -1
            for x, y in sorted(piece.hops, key=lambda h: way * h[0]):
                if y == y0 and min(x0, x1) < x < max(x0, x1):
                    out.append(f"H{n(x - 6 * way)}a6 6 0 0 {1 if way > 0 else 0} {12 * way} 0")
            out.append(f"H{n(x1)}")
        elif x0 == x1:
            out.append(f"V{n(y1)}")
        else:
            out.append(f"L{n(x1)} {n(y1)}")
    return "".join(out)


def symbol(kind: str, x: float, y: float, turn: int, flip: bool, scale: float = 1.0) -> str:
    """The strokes of a symbol, its words upright."""
    form = shape(kind)
    turning = f" rotate({turn})" if turn else ""
    size = f" scale({n(scale)},{n(-scale if flip else scale)})" if flip or scale != 1 else ""
    text = f'<g transform="translate({n(x)} {n(y)}){turning}{size}">{form.strokes}</g>'
    if form.upright:
        grown = f" scale({n(scale)})" if scale != 1 else ""
        text += f'<g transform="translate({n(x)} {n(y)}){grown}">{form.upright}</g>'
    for wx, wy, word, high in form.words:
        wy = -wy * (-1 if flip else 1)
        wx, wy = {0: (wx, wy), 90: (-wy, wx), 180: (-wx, -wy), 270: (wy, -wx)}[turn]
        text += (f'<text x="{n(x + wx * scale)}" y="{n(y + wy * scale + high * scale * 0.36)}" text-anchor="middle" '
                 f'font-size="{n(high * scale)}">{escape(word)}</text>')
    return text


def vessel(mark: Mark) -> str:
    """A separator or a buffer between its ports."""
    x0, y0, x1, y1 = mark.box
    round_ = min((x1 - x0) / 2, 22)
    text = (f'<rect class="w" x="{n(x0)}" y="{n(y0)}" width="{n(x1 - x0)}" height="{n(y1 - y0)}" rx="{n(round_)}"/>')
    if mark.kind == "buffer tank":
        for part in (0.3, 0.42, 0.62, 0.74):
            y = y0 + (y1 - y0) * part
            text += f'<path class="n" stroke-dasharray="4 3" d="M{n(x0)} {n(y)}H{n(x1)}"/>'
    return text


@dataclass
class Frame:
    """Where the plant stands on the sheet: title above, legend below."""

    width: float
    height: float
    dx: float
    legend: str
    legend_y: float


def legend(kinds: Iterable[str], loops: Iterable[str], width: float, y: float,
           theirs: Mapping[str, str] | None = None) -> tuple[str, float]:
    """The legend: the lines, the loops, and the symbols that the drawing uses. Returns SVG and its height.

    theirs: somebody's own words for kinds of part, set beside ours.
    """
    x, row, size = 20.0, 0, 11.5
    out: list[str] = []

    def entry(text: str, draw: str, group: str = "") -> None:
        nonlocal x, row
        own = (theirs or {}).get(text, "")
        while own and 52 + text_width(f"{text} (“{own}”)", size) > width - 28:
            own = own[:-2].rstrip() + "…" if len(own) > 3 else ""
        text = f"{text} (“{own}”)" if own else text
        room = 52 + text_width(text, size) + 12
        if x + room > width - 8 and x > 20:
            x, row = 20.0, row + 1
        top = y + 24 + row * 34
        part = (f'<g transform="translate({n(x)} {n(top)})">{draw}<text x="48" y="4" font-size="{size}">'
                f'{escape(text)}</text></g>')
        out.append(f'<g class="{group}">{part}</g>' if group else part)
        x += room

    entry("supply", '<g class="supply"><path class="p" d="M4 0H40"/></g>')
    entry("return", '<g class="return"><path class="p" d="M4 0H40"/></g>')
    for kind in KINDS:
        if kind not in kinds:
            continue
        turn, flip, box = upright(kind)
        scale = round(min(0.75, 31 / (box[3] - box[1]), 42 / (box[2] - box[0])), 2)
        entry(kind, symbol(kind, 22 - (box[0] + box[2]) / 2 * scale, -(box[1] + box[3]) / 2 * scale, turn, flip, scale))
    for role in loops:                                      # last, so that hidden tints leave no gap
        css = LOOP_CLASS[role]
        entry(role, f'<path class="halo {css} e" d="M6 0H38"/><path class="halo {css}" d="M7 0H37"/>', "layer-tints")
    return "".join(out), (row + 1) * 34 + 16


def hit_box(box: Box) -> Box:
    """A box grown to 24 px each way (WCAG 2.2, 2.5.8)."""
    w, h = max(0.0, 24 - (box[2] - box[0])) / 2, max(0.0, 24 - (box[3] - box[1])) / 2
    return (box[0] - w, box[1] - h, box[2] + w, box[3] + h)


def rect(css: str, box: Box, pad: float = 0.0, more: str = "") -> str:
    """A rectangle from a box."""
    return (f'<rect class="{css}" x="{n(box[0] - pad)}" y="{n(box[1] - pad)}" width="{n(box[2] - box[0] + 2 * pad)}" '
            f'height="{n(box[3] - box[1] + 2 * pad)}"{more}/>')


def rings(placed: Placed) -> dict[str, Box]:
    """The box of each symbol's highlight: 5 px around it, less where its edge would cross a label."""
    found: dict[str, Box] = {}
    words = sorted((w.box[0] - EDGE, w.box[1] - EDGE, w.box[2] + EDGE, w.box[3] + EDGE) for w in placed.words)
    widest = max((c - a for a, _, c, _ in words), default=0.0)
    for mark in placed.marks:
        x0, y0, x1, y1 = mark.box
        left, top, right, bottom = x0 - 5, y0 - 5, x1 + 5, y1 + 5
        for a, b, c, d in words[bisect_left(words, (left - widest,)):bisect_left(words, (right,))]:
            if a >= right or c <= left or b >= bottom or d <= top:
                continue
            if a + EDGE > x0 and c - EDGE < x1 and b + EDGE > y0 and d - EDGE < y1:
                continue                                    # the name of a vessel stands inside it
            least = min(c - left, d - top, right - a, bottom - b)
            if least == c - left:
                left = c
            elif least == d - top:
                top = d
            elif least == right - a:
                right = a
            else:
                bottom = b
        found[mark.tag] = (left, top, right, bottom)
    return found


class Painter:
    """Paints one placed plant; what does not change between two calls is kept."""

    def __init__(self, plant: Plant, placed: Placed, title: str, theirs: Mapping[str, str] | None = None) -> None:
        self.plant, self.placed, self.title, self.theirs = plant, placed, title, theirs
        self.loop_of: dict[str, str] = {}
        self.pieces: dict[str, list[Piece]] = defaultdict(list)
        for piece in placed.pieces:
            self.pieces[piece.run or piece.tag].append(piece)
        tags, self.run_order = walk(plant)                  # the keyboard goes along the water
        place = {tag: n for n, tag in enumerate(tags)}
        self.marks = sorted(placed.marks, key=lambda m: place[m.tag])
        self.words = {w.tag: w for w in placed.words}
        self.wires = dict(placed.wires)
        self.rings = rings(placed)

    def set_loops(self, reading: Reading | None) -> None:
        """Which loop each part and run is in."""
        self.loop_of = {}
        self.named: list[tuple[str, int, float, float, Box]] = []
        if reading is not None:
            for loop in reading.loops:
                self.loop_of |= dict.fromkeys((*loop.parts, *loop.pipes), loop.role)
            for separation in reading.separations:
                self.loop_of |= dict.fromkeys(separation.pipes, "separation")
            names = [(str(loop.role), 700, self.wanted(loop.parts, loop.pipes)) for loop in reading.loops]
            names += [(s.kind, 400, self.wanted(s.parts, s.pipes, below=True)) for s in reading.separations]
            self.named = self.names(names)

    def frame(self) -> Frame:
        """The sheet."""
        width = max(self.placed.width, text_width(self.title, 17) + 110, 430.0)
        y = self.placed.height + 22
        roles = dict.fromkeys(r for name, r in self.loop_of.items() if name in self.pieces)
        text, high = legend({p.kind for p in self.plant.parts.values()}, sorted(roles), width, y, self.theirs)
        return Frame(width, y + high, (width - self.placed.width) / 2, text, y)

    def tints(self, css: Mapping[str, str]) -> str:
        """Halos of the loops and separations, and their names."""
        paths: dict[str, list[str]] = defaultdict(list)
        for name, pieces in self.pieces.items():
            role = self.loop_of.get(name)
            if role:
                paths[role] += [path_of(p) for p in pieces if p.style != "stub"]
        for role, (x, y) in self.corners():
            paths[role].append(f"M{n(x - 7.5)} {n(y)}h15")

        def faint(role: str) -> str:
            return " dim" if role in css else ""

        out = [f'<path class="halo {LOOP_CLASS[role]}{edge}{faint(role)}" data-band="{role}" d="{"".join(d)}"/>'
               for edge in (" e", "") for role, d in sorted(paths.items())]      # all edges, then what is within
        out += [f'<text class="name{faint(text)}" data-band="{escape(text)}" x="{n(x)}" y="{n(y)}" text-anchor="middle" '
                f'font-size="12.5" font-weight="{weight}">'
                f'{escape(text)}</text>' for text, weight, x, y, _ in self.named]
        return "".join(out)

    def corners(self) -> list[tuple[str, Point]]:
        """Where a level pipe and an upright one of one loop end together: their halos leave a notch there."""
        ends: dict[tuple[str, Point], set[bool]] = defaultdict(set)
        for name, pieces in self.pieces.items():
            role = self.loop_of.get(name)
            for piece in pieces if role else ():
                if piece.style != "stub" and role:
                    for (x, y), (_, y1) in ((piece.points[0], piece.points[1]), (piece.points[-1], piece.points[-2])):
                        ends[role, (round(x, 1), round(y, 1))].add(y == y1)
        return sorted(key for key, flats in ends.items() if len(flats) == 2)

    def wanted(self, parts: tuple[str, ...], pipes: tuple[str, ...], below: bool = False) -> list[Point]:
        """Where the name of a loop would best stand, best first: over its longest pipe near its top, in the strip
        above the plant, then close to the pipe; of a separation below the plant."""
        flat = [(abs(x1 - x0), (x0 + x1) / 2, y0) for name in (*pipes, *parts) for p in self.pieces.get(name, ())
                if p.style != "stub" for (x0, y0), (x1, y1) in zip(p.points, p.points[1:]) if y0 == y1 and x0 != x1]
        marks = [m for m in self.placed.marks if m.tag in parts and self.plant.parts[m.tag].what.shape != "end"]
        if not marks:
            return []
        middle = (min(m.x for m in marks) + max(m.x for m in marks)) / 2
        if below:
            y = self.placed.height + 8
            return [(middle, y), *((middle + way * 30 * k, y) for k in range(1, 12) for way in (1, -1))]
        top = min([y for _, _, y in flat], default=0.0)
        best = max([f for f in flat if f[2] < top + 1], default=(0.0, middle, top))
        first = min((y for p in self.placed.pieces for _, y in p.points), default=0.0)
        strip = [(x, 58.0) for x in (middle, best[1])] if not flat or top < first + 80 else []
        near = [(best[1] + k * 20, best[2] + dy) for dy in (-14, 26, -34) for k in (0, 1, -1, 2, -2, 3, -3)]
        rest = [(middle + way * 25 * k, 58.0) for k in range(1, 30) for way in (1, -1)]
        return [*strip, *near, *rest]

    def names(self, named: list[tuple[str, int, list[Point]]]) -> list[tuple[str, int, float, float, Box]]:
        """The names of loops and separations, each where it covers nothing; left out where no place is free."""
        taken = obstacles(self.placed)
        out = []
        for text, weight, places in named:
            half = text_width(text, 12.5) / 2 + 4
            for x, y in places:
                box = (x - half, y - 11, x + half, y + 4)
                if box[0] > 4 and box[2] < self.placed.width - 4 and not any(meet(box, b) for b in taken):
                    taken.append(box)
                    out.append((text, weight, x, y, box))
                    break
        return out

    def run_title(self, name: str, index: int, style: str, blank: bool) -> str:
        run = self.plant.runs[index]
        size = run.size or f"{run.inside_mm:g} mm inside"
        word = {"supply": "supply pipe", "return": "return pipe"}.get(style, "pipe")
        return word if blank else f"{word} {name}, {size}, {run.length_m:g} m"

    def runs(self, css: Mapping[str, str], blank: bool) -> str:
        """Every run as one group."""
        out = []
        for index in self.run_order:
            name = self.plant.run_names[index]
            pieces = self.pieces.get(name)
            if not pieces:
                continue
            styles: dict[str, list[str]] = defaultdict(list)
            for piece in pieces:
                styles[piece.style].append(path_of(piece))
            whole = "".join(d for row in styles.values() for d in row)
            first = next(iter(styles))
            marked = f" {css[name]}" if name in css else ""
            body = "".join(f'<g class="{style}"><path class="p" d="{"".join(row)}"/></g>' for style, row in styles.items())
            out.append(f'<g class="run{marked}" data-run="{escape(name)}" role="img" tabindex="0"><title>'
                       f'{escape(self.run_title(name, index, first, blank))}</title><path class="hl ed" d="{whole}"/>'
                       f'<path class="hl in" d="{whole}"/><path class="hit" d="{whole}"/>{body}</g>')
        return "".join(out)

    def parts(self, css: Mapping[str, str], blank: bool) -> str:
        """Every part as one group, in the order of the water."""
        out = []
        for mark in self.marks:
            tag, kind = mark.tag, mark.kind
            inner = []
            if tag in self.wires:
                points = self.wires[tag]
                inner.append('<path class="wire" d="M' + "L".join(f"{n(x)} {n(y)}" for x, y in points) + '"/>')
            for piece in self.pieces.get(tag, ()):
                inner.append(f'<g class="{piece.style}"><path class="p" d="{path_of(piece)}"/></g>')
            if kind == "tee":
                inner += [f'<circle class="b" cx="{n(x)}" cy="{n(y)}" r="4"/>' for x, y in mark.dots]
            elif kind in ("hydraulic separator", "buffer tank"):
                inner.append(vessel(mark))
            else:
                inner.append(symbol(kind, mark.x, mark.y, mark.turn, mark.flip))
            marked = f" {css[tag]}" if tag in css else ""
            more = ""
            if kind == "boiler" and self.plant.parts[tag]["lead"]:
                more = ", leads"
                middle = (mark.box[0] + mark.box[2]) / 2
                inner.append(f'<text class="lead" x="{n(middle)}" y="{n(mark.box[3] - 4)}" text-anchor="middle" '
                             'font-size="11" font-weight="700">lead</text>')
            if self.plant.parts[tag].given.get("reversed"):
                more = ", set against its run"
            name = kind if blank else f"{kind} {tag}{more}"
            out.append(f'<g class="part{marked}" data-tag="{escape(tag)}" role="img" tabindex="0"><title>{escape(name)}'
                       f'</title>{rect("hl", self.rings[tag], 0, ROUND)}'
                       f'{rect("hit", hit_box(mark.box))}{"".join(inner)}</g>')
        return "".join(out)

    def tags(self, css: Mapping[str, str]) -> str:
        """The tags, above all that could cover them. They carry the name of their part, so that a click on one counts."""
        return "".join(f'<text class="tag{" t" if self.plant.parts[w.tag].kind == "tee" else ""}'
                       f'{" " + css[w.tag] if w.tag in css else ""}" data-for="{escape(w.tag)}" aria-hidden="true" '
                       f'x="{n(w.x)}" y="{n(w.y)}" text-anchor="{w.anchor}" font-size="{n(w.size)}">{escape(w.text)}</text>'
                       for w in self.words.values())

    def svg(self, css: Mapping[str, str], hidden: Iterable[str], overlays: str, description: str,
            width: float | None, blank: bool, ink: Ink = "colour", size: Size = "screen", legend: bool = True) -> str:
        """The whole sheet; without the legend it ends where that would begin."""
        frame = self.frame()
        if not legend:
            frame = replace(frame, height=frame.legend_y, legend="")
        tints = self.tints(css)
        wide, high, shrinks = extent(frame.width, frame.height, size, width)
        hide = " ".join(hidden)
        title = "" if blank else f'<text x="20" y="30" font-size="17" font-weight="700">{escape(self.title)}</text>'
        kind = "lbk lbk-black" if ink == "black" else "lbk"
        rule = f'<path d="M20 {n(frame.legend_y)}H{n(frame.width - 20)}" stroke="#bbb" stroke-width="1"/>' if legend else ""
        return (f'<svg xmlns="http://www.w3.org/2000/svg" class="{kind}" data-hide="{hide}" width="{wide}" height="{high}" '
                f'viewBox="0 0 {n(frame.width)} {n(frame.height)}" role="group" '
                f'aria-label="{escape("boiler plant" if blank else self.title)}" '
                f'style="{"" if not shrinks else "max-width:100%;height:auto;"}background:#fff">'
                f'<desc>{escape("" if blank else description)}</desc><style>{style(ink)}</style>'
                f'<rect width="{n(frame.width)}" height="{n(frame.height)}" fill="#fff"/>{title}'
                f'<g transform="translate({n(frame.dx)} 0)"><g class="layer-tints">{tints}</g>'
                f'{self.runs(css, blank)}{self.parts(css, blank)}{"" if blank else self.tags(css)}{overlays}</g>'
                f'{rule}{frame.legend}</svg>')
