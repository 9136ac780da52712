"""What is laid over a drawing: flow figures with arrows, temperatures, numbers of findings.

Every figure has a place of its own, found once for a drawing where it covers nothing. `patches` gives what a screen
has to change, by name, so that a slider never redraws.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from html import escape
from itertools import pairwise

from figures.plant.model import Plant
from figures.reading.record import Finding

from .placed import Box, Piece, Placed, Taken, meet, obstacles
from .symbols import text_width

SIZE = 11.0


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a figure is written (middle of its baseline), and for a run where its arrow stands and which way a
    positive flow goes (degrees, 0 right). `fits` is False where no place was free."""

    x: float
    y: float
    arrow: tuple[float, float, float] | None
    fits: bool


class Overlay:
    """Places for figures over one placed drawing. `names`: room that the names of loops and ghosts take."""

    def __init__(self, plant: Plant, placed: Placed, names: Iterable[Box] = ()) -> None:
        self.plant, self.placed = plant, placed
        self.names = list(names)
        self.taken = [*obstacles(placed), *self.names]
        self._spots: dict[frozenset[str], dict[str, Spot]] = {}

    @property
    def spots(self) -> dict[str, Spot]:
        """A place for the figure of every run that is no dead end, and for the temperature of every part."""
        return self.spots_for([*self.plant.run_names, *self.plant.parts])

    def spots_for(self, names: Iterable[str]) -> dict[str, Spot]:
        """Places for the figures of these runs and parts, found together and kept."""
        key = frozenset(names)
        if key not in self._spots:
            self._spots[key] = self._find(key)
        return self._spots[key]

    def _find(self, names: frozenset[str]) -> dict[str, Spot]:
        taken = Taken(self.taken)
        found: dict[str, Spot] = {}
        pieces: dict[str, list[Piece]] = defaultdict(list)
        for piece in self.placed.pieces:
            pieces[piece.run].append(piece)
        half, high = text_width("88.88 L/s", SIZE) / 2, SIZE
        for name in self.plant.run_names:
            if name not in names:
                continue
            segments = []
            for piece in pieces[name]:
                if piece.style != "stub":
                    for a, b in pairwise(piece.points):
                        segments.append((abs(a[0] - b[0]) + abs(a[1] - b[1]), a, b, piece.along))
            segments.sort(key=lambda s: -s[0])
            if segments:
                found[name] = self._beside(segments, half, high, taken)
                if found[name].fits:
                    x, y = found[name].x, found[name].y
                    taken.add((x - half, y - high, x + half, y + 3))
        half = text_width("188 °C", SIZE) / 2
        for mark in self.placed.marks:
            if mark.tag not in names or self.plant.parts[mark.tag].what.shape in ("end", "instrument"):
                continue
            found[mark.tag] = self._around(mark.box, half, high, taken)
            if found[mark.tag].fits:
                x, y = found[mark.tag].x, found[mark.tag].y
                taken.add((x - half, y - high, x + half, y + 3))
        return found

    def _beside(self, segments: list[tuple[float, tuple[float, float], tuple[float, float], bool]], half: float,
                high: float, taken: Taken) -> Spot:
        for _, (x0, y0), (x1, y1), along in [s for s in segments if s[0] >= 14]:
            flat = y0 == y1
            turn = (0.0 if x1 > x0 else 180.0) if flat else (90.0 if y1 > y0 else 270.0)
            if not along:
                turn = (turn + 180) % 360
            for part in (0.5, 0.35, 0.65, 0.2, 0.8):
                x, y = x0 + (x1 - x0) * part, y0 + (y1 - y0) * part
                for off in (0.0, 12.0, 24.0, 36.0, 48.0):
                    sides = ((x, y - 11 - off), (x, y + 20 + off)) if flat else (
                        (x + half + 9 + off, y + 4), (x - half - 9 - off, y + 4))
                    for sx, sy in sides:
                        box = (sx - half, sy - high, sx + half, sy + 3)
                        if taken.is_free(box):
                            return Spot(sx, sy, (x, y, turn), True)
        _, (x0, y0), (x1, y1), along = segments[0]
        turn = (0.0 if x1 > x0 else 180.0) if y0 == y1 else (90.0 if y1 > y0 else 270.0)
        x, y = (x0 + x1) / 2, (y0 + y1) / 2
        return Spot(x, y, (x, y, turn if along else (turn + 180) % 360), False)

    def _around(self, box: Box, half: float, high: float, taken: Taken) -> Spot:
        x, y = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
        for gap in (4.0, 14.0, 26.0):
            for sx, sy in ((box[2] + gap + half, box[1] + high), (box[0] - gap - half, box[1] + high),
                           (box[2] + gap + half, box[3]), (box[0] - gap - half, box[3]),
                           (x, box[1] - gap), (x, box[3] + gap + high), (box[2] + gap + half, y + 4),
                           (box[0] - gap - half, y + 4)):
                at = (sx - half, sy - high, sx + half, sy + 3)
                if taken.is_free(at):
                    return Spot(sx, sy, None, True)
        return Spot(x, y, None, False)

    def patches(self, flows: Mapping[str, float] | None = None,
                temperatures: Mapping[str, float | None] | None = None) -> dict[str, dict[str, object]]:
        """What a screen changes, by run name or tag: the text of the figure, and of a flow which way its arrow points.

        flows: L/s by run name, against the run where negative.  temperatures: °C by tag, None where water stands.
        """
        found: dict[str, dict[str, object]] = {}
        spots = self.spots_for([*(flows or {}), *(temperatures or {})])
        for name, flow in (flows or {}).items():
            spot = spots.get(name)
            if spot and spot.arrow:
                still = abs(flow) < 0.005
                found[name] = {"text": "0" if still else f"{abs(flow):.2f} L/s", "turn": (
                    spot.arrow[2] + (180 if flow < 0 else 0)) % 360, "still": still}
        for tag, value in (temperatures or {}).items():
            if tag in spots and value is not None:
                found[tag] = {"text": f"{value:.0f} °C"}
        return found

    def svg(self, flows: Mapping[str, float], temperatures: Mapping[str, float], findings: Iterable[Finding]) -> str:
        """The layers as SVG."""
        out = []
        patches = self.patches(flows, temperatures) if flows or temperatures else {}
        spots = self.spots_for([*flows, *temperatures])
        for layer, names in (("figures", flows), ("temperatures", temperatures)):
            rows = []
            for name in names:
                if name not in patches:
                    continue
                spot, patch = spots[name], patches[name]
                if spot.arrow and not patch.get("still"):
                    x, y, _ = spot.arrow
                    rows.append(f'<path class="b" d="M-6 -5L7 0L-6 5Z" transform="translate({x:.1f} {y:.1f}) '
                                f'rotate({patch["turn"]})"/>')
                if spot.fits:
                    rows.append(f'<text class="fig" data-figure="{escape(name)}" x="{spot.x:.1f}" y="{spot.y:.1f}" '
                                f'text-anchor="middle" font-size="{SIZE:g}">{escape(str(patch["text"]))}</text>')
            out.append(f'<g class="layer-{layer}">{"".join(rows)}</g>')
        out.append(f'<g class="layer-findings">{self.numbers(findings)}</g>')
        return "".join(out)

    def numbers(self, findings: Iterable[Finding]) -> str:
        """A numbered mark at the first part of each finding, where it covers no tag and no other part."""
        rows: list[str] = []
        taken = [m.box for m in self.placed.marks] + [w.box for w in self.placed.words] + self.names
        for number, finding in enumerate(findings, 1):
            mark = next((m for tag in finding.parts for m in self.placed.marks if m.tag == tag), None)
            if mark is None:
                continue
            x, y = self._corner(mark.box, [b for b in taken if b is not mark.box])
            taken.append((x - 11, y - 11, x + 11, y + 11))
            rows.append(f'<g class="finding" data-finding="{number}" role="img"><title>{number}: {escape(finding.says)}'
                        f'</title><circle cx="{x:.1f}" cy="{y:.1f}" r="10" fill="#1a1a1a" stroke="#fff" '
                        f'stroke-width="2"/><text x="{x:.1f}" y="{y + 4:.1f}" text-anchor="middle" font-size="12" '
                        f'font-weight="700" style="fill:#fff">{number}</text></g>')
        return "".join(rows)

    def _corner(self, box: Box, taken: list[Box]) -> tuple[float, float]:
        """The first free place for a number at the corners of a part, then further along its sides."""
        x0, y0, x1, y1 = box[0] - 3, box[1] - 3, box[2] + 3, box[3] + 3
        places = [(x0, y0), (x1, y0), (x0, y1), (x1, y1)]
        for k in range(1, 5):
            far = 24.0 * k
            places += [(x0 - far, y0), (x1 + far, y0), (x0 - far, y1), (x1 + far, y1), (x0, y0 - far), (x1, y0 - far),
                       (x0, y1 + far), (x1, y1 + far), (x0 - far, y0 - far), (x1 + far, y1 + far)]
        for x, y in places:
            if x > 12 and y > 40 and not any(meet((x - 11, y - 11, x + 11, y + 11), other) for other in taken):
                return x, y
        return places[0]
