"""Counts what is wrong with a drawing, from its placed geometry: overlaps, false joints, crossings without a bridge.

Usable on any drawing: `check(Diagram(plant))` or `check(placed, plant)`. `Counts.wrong` must be empty.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field, fields

from figures.drawing import Diagram
from figures.drawing.placed import Box, Piece, Placed, Point, obstacles
from figures.plant.model import Plant, tag_of

THICK = 1.3                                                # half of a pipe's stroke [px]
SCREEN = 1280.0
Segment = tuple[Point, Point, Piece]


@dataclass
class Counts:
    """What was counted. Lists hold what to look at; numbers are measures, not faults."""

    label_label: list[str] = field(default_factory=list)
    label_part: list[str] = field(default_factory=list)
    label_pipe: list[str] = field(default_factory=list)
    part_part: list[str] = field(default_factory=list)
    pipe_through_part: list[str] = field(default_factory=list)
    no_bridge: list[str] = field(default_factory=list)
    pipe_on_pipe: list[str] = field(default_factory=list)
    false_joint: list[str] = field(default_factory=list)
    loose_end: list[str] = field(default_factory=list)
    outside: list[str] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)
    crossings: int = 0
    bends: int = 0
    aspect: float = 0.0
    smallest_text: float = 0.0

    @property
    def wrong(self) -> dict[str, list[str]]:
        """All faults that are there, by name."""
        return {f.name: value for f in fields(self) if isinstance(value := getattr(self, f.name), list) and value}


def overlap(a: Box, b: Box, slack: float = 0.1) -> bool:
    """True where two boxes share more than a hair."""
    return a[0] < b[2] - slack and b[0] < a[2] - slack and a[1] < b[3] - slack and b[1] < a[3] - slack


def segments(placed: Placed) -> list[Segment]:
    """Every straight stretch of pipe."""
    return [(a, b, piece) for piece in placed.pieces for a, b in zip(piece.points, piece.points[1:])]


def around(a: Point, b: Point, pad: float) -> Box:
    return (min(a[0], b[0]) - pad, min(a[1], b[1]) - pad, max(a[0], b[0]) + pad, max(a[1], b[1]) + pad)


def shrunk(box: Box, by: float) -> Box:
    return (box[0] + by, box[1] + by, box[2] - by, box[3] - by)


def check(placed: Placed, plant: Plant) -> Counts:
    """Count everything."""
    out = Counts()
    bodies = [(m.tag, box) for m in placed.marks for box in (
        [(x - 4, y - 4, x + 4, y + 4) for x, y in m.dots] if m.kind == "tee" else [m.box])]
    pipes = segments(placed)
    everything(out, placed, plant)
    labels(out, placed, plant, bodies, pipes)
    thins = [(around(a, b, 0.2), p) for a, b, p in pipes]
    for n, (tag, box) in enumerate(bodies):
        for other, box2 in bodies[n + 1:]:
            if overlap(box, box2) and tag != other:
                out.part_part.append(f"{tag} {other}")
        if plant.parts[tag].kind != "tee":
            inside = shrunk(box, 1.5)
            out.pipe_through_part += [f"{p.run or p.tag} through {tag}" for thin, p in thins if overlap(thin, inside, 0)]
    for tag, points in placed.wires:
        for a, b in itertools.pairwise(points):
            out.pipe_through_part += [f"wire of {tag} through {other}" for other, box in bodies
                                      if other != tag and plant.parts[other].kind not in ("tee", "indirect tank")
                                      and overlap(around(a, b, 0.2), shrunk(box, 1.5), 0)]
    joints(out, placed, plant, pipes)
    out.bends = sum(max(0, len(p.points) - 2) for p in placed.pieces)
    out.aspect = round(placed.width / placed.height, 2)
    out.smallest_text = round(min([w.size for w in placed.words], default=13.0) * min(1.0, SCREEN / placed.width), 1)
    return out


def everything(out: Counts, placed: Placed, plant: Plant) -> None:
    """Each part, each run and each tag is drawn, once, and on the sheet."""
    tags = [m.tag for m in placed.marks]
    out.missing += [f"part {t}" for t in plant.parts if tags.count(t) != 1]
    runs = {p.run for p in placed.pieces}
    out.missing += [f"run {name}" for name in plant.run_names if name not in runs]
    words = [w.text for w in placed.words]
    out.missing += [f"tag {t}" for t in plant.parts if words.count(t) != 1]
    sheet = (0.0, 0.0, placed.width, placed.height)
    for tag, box in [(m.tag, m.box) for m in placed.marks] + [(f"tag {w.text}", w.box) for w in placed.words]:
        if box[0] < sheet[0] or box[1] < sheet[1] or box[2] > sheet[2] or box[3] > sheet[3]:
            out.outside.append(tag)


def labels(out: Counts, placed: Placed, plant: Plant, bodies: list[tuple[str, Box]], pipes: list[Segment]) -> None:
    """A label lies on no other label, part or pipe; that of a vessel stands inside it."""
    thick = [(around(a, b, THICK), p) for a, b, p in pipes]
    for n, word in enumerate(placed.words):
        out.label_label += [f"{word.text} {o.text}" for o in placed.words[n + 1:] if overlap(word.box, o.box)]
        inside = plant.parts[word.tag].kind in ("hydraulic separator", "buffer tank")
        out.label_part += [f"{word.text} on {tag}" for tag, box in bodies
                           if overlap(word.box, box) and not (inside and tag == word.tag)]
        out.label_pipe += [f"{word.text} on {p.run or p.tag}" for box, p in thick if overlap(word.box, box)]
        out.label_pipe += [f"{word.text} on the wire of {tag}" for tag, points in placed.wires
                           for a, b in itertools.pairwise(points) if overlap(word.box, around(a, b, 0.6))]


def joints(out: Counts, placed: Placed, plant: Plant, pipes: list[Segment]) -> None:
    """Pipes meet at tees that both belong to, and where they only cross there is a bridge."""
    through = {name: {tag_of(e) for e in run.through} for name, run in zip(plant.run_names, plant.runs)}
    dots = [(m.tag, d) for m in placed.marks if m.kind == "tee" for d in m.dots]
    bodies = [m for m in placed.marks if m.kind != "tee"]
    boxes = [(around(a, b, 0.3), piece) for a, b, piece in pipes]
    for box, piece in boxes:
        for tag, (x, y) in dots:
            if box[0] < x + 3 and x - 3 < box[2] and box[1] < y + 3 and y - 3 < box[3] and tag != piece.tag \
                    and tag not in through.get(piece.run, ()):
                out.false_joint.append(f"{piece.run or piece.tag} at {tag}")
    for piece in placed.pieces:
        for x, y in (piece.points[0], piece.points[-1]):
            out.false_joint += [f"{piece.run} at {m.tag}" for m in bodies if piece.run and m.tag not in through[piece.run]
                                and m.box[0] - 0.5 <= x <= m.box[2] + 0.5 and m.box[1] - 0.5 <= y <= m.box[3] + 0.5]
            if (any(abs(dx - x) < 1 and abs(dy - y) < 1 for _, (dx, dy) in dots)
                    or any(m.box[0] - 1 <= x <= m.box[2] + 1 and m.box[1] - 1 <= y <= m.box[3] + 1 for m in bodies)
                    or any(b[0] <= x <= b[2] and b[1] <= y <= b[3] and p is not piece for b, p in boxes)):
                continue
            out.loose_end.append(f"{piece.run or piece.tag} at {x:.0f},{y:.0f}")
    for flats in (True, False):
        row = [(box, piece) for (a, b, piece), (box, _) in zip(pipes, boxes) if (a[1] == b[1]) == flats]
        for n, (box, p) in enumerate(row):
            for box2, q in row[n + 1:]:
                low, high = (0, 2) if flats else (1, 3)
                if (abs(box[1 - low] - box2[1 - low]) < 1 and p is not q
                        and min(box[high], box2[high]) - max(box[low], box2[low]) > 1.2):
                    out.pipe_on_pipe.append(f"{p.run or p.tag} on {q.run or q.tag}")
    level = [(b, p) for (c, d, p), (b, _) in zip(pipes, boxes) if c[1] == d[1]]
    upright = [(b, p) for (c, d, p), (b, _) in zip(pipes, boxes) if c[1] != d[1]]
    for box, p in level:
        for box2, q in upright:
            if box[0] < box2[2] and box2[0] < box[2] and box[1] < box2[3] and box2[1] < box[3]:
                crossing(out, (box, p), (box2, q), dots)


def crossing(out: Counts, level: tuple[Box, Piece], upright: tuple[Box, Piece], dots: list[tuple[str, Point]]) -> None:
    """A level pipe and an upright one that share a point: a crossing with a bridge, a corner, or a joint at a tee."""
    (box, p), (box2, q) = level, upright
    x, y = (box2[0] + box2[2]) / 2, (box[1] + box[3]) / 2
    inside_p, inside_q = box[0] + 1.3 < x < box[2] - 1.3, box2[1] + 1.3 < y < box2[3] - 1.3
    if inside_p and inside_q:
        out.crossings += 1
        if not any(abs(hx - x) < 0.1 and abs(hy - y) < 0.1 for hx, hy in p.hops):
            out.no_bridge.append(f"{p.run or p.tag} and {q.run or q.tag}")
    elif (inside_p or inside_q) and not any(abs(dx - x) < 1 and abs(dy - y) < 1 for _, (dx, dy) in dots):
        out.false_joint.append(f"{p.run or p.tag} and {q.run or q.tag} at {x:.0f},{y:.0f}")


def check_ghosts(diagram: Diagram) -> list[str]:
    """What lies on a ghost of a missing part, or under its dashed way, or is off the sheet."""
    placed, wrong = diagram.placed, []
    taken = [(box, "something drawn") for box in obstacles(placed)] + [(box, text) for text, *_, box in diagram.painter.named]
    for n, ghost in enumerate(diagram.ghosts):
        name = ghost.missing.name
        others = [*taken, *((g.box, g.missing.name) for g in diagram.ghosts[:n])]
        wrong += [f"{name} on {what}" for box, what in others if overlap(ghost.box, box)]
        if ghost.way:
            wrong += [f"way of {name} on {what}" for box, what in others if overlap(around(*ghost.way, 0.4), box, 0.6)]
        if ghost.box[0] < 0 or ghost.box[1] < 36 or ghost.box[2] > placed.width or ghost.box[3] > placed.height:
            wrong.append(f"{name} off the sheet")
    return wrong
