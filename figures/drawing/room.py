"""The room that items and what hangs on them take, before anything has a place."""

from __future__ import annotations

import itertools

from figures.plant.model import Plant

from .skeleton import Chain, Hanger, Item
from .symbols import shape, text_width

TAG_SIZE = 13.0
GAP = 16.0                     # between symbols in a row
LINK = 18.0                    # from a column to what hangs beside it
RISE = 24.0                    # from a level to what hangs above or below it
PITCH = 30.0                   # between lanes
CLEAR = 52.0                   # from a level to the nearest symbol of a column: labels of the level stand here


def wide(text: str) -> float:
    """Width [px] of a tag as it is written."""
    return text_width(text, TAG_SIZE)


class Room:
    """What each thing needs; the placer adds it up."""

    plant: Plant

    def hanger_reach(self, hanger: Hanger, labelled: bool) -> float:
        """How far a hanger goes out from where its symbols begin; `labelled`: along a row, tags above each."""
        total = 0.0
        for n, tag in enumerate(hanger.tags):
            form = shape(self.plant.parts[tag].kind)
            long = form.ahead if n == len(hanger.tags) - 1 else 2 * form.ahead + 8
            total += max(long, wide(tag) + 6) if labelled else long
        return total

    def hanger_side(self, hanger: Hanger) -> tuple[float, float]:
        """Left and right of a hanger that stands upright: its last tag is written on its end, others beside it."""
        left = right = 12.0
        for n, tag in enumerate(hanger.tags):
            form = shape(self.plant.parts[tag].kind)
            left, right = max(left, form.up), max(right, form.down)
            if n < len(hanger.tags) - 1:
                right = max(right, form.down + 6 + wide(tag))
            else:
                left, right = max(left, wide(tag) / 2), max(right, wide(tag) / 2)
        return left, right

    def hanger_row(self, hanger: Hanger) -> tuple[float, float]:
        """Above and below the line of a hanger beside a column; its tags are written above."""
        forms = [shape(self.plant.parts[tag].kind) for tag in hanger.tags]
        return max(f.up for f in forms) + 18, max(f.down for f in forms) + 3

    def item_half(self, item: Item) -> float:
        """Half of the height that an item takes in a column."""
        if item.kind == "tee" and len(item.hangers) == 1:
            return max(self.hanger_row(item.hangers[0]))
        return max(shape(item.kind).ahead, sum(sum(self.hanger_row(h)) for h in item.hangers) / 2, 8.0)

    def bodied(self, item: Item) -> bool:
        """True where the wide side of a symbol stands to the right of its column: tanks, and to leave a hanger room."""
        return item.kind in ("indirect tank", "mixing valve") or (bool(item.hangers) and item.kind != "tee")

    def item_sides(self, item: Item) -> tuple[float, float]:
        """Left and right of an item in a column: hangers to the left, its tag to the right."""
        form = shape(item.kind)
        left, right = (form.down, form.up) if self.bodied(item) else (form.up, form.down)
        for hanger in item.hangers:
            edge = 0.0 if item.kind == "tee" else form.down
            left = max(left, edge + LINK + self.hanger_reach(hanger, True) + 4)
        return left + 4, right + 10 + wide(item.tag)

    def hanger_spots(self, item: Item) -> list[float]:
        """x of an item's upright hangers, about the item."""
        sides = [self.hanger_side(h) for h in item.hangers]
        spots = [0.0]
        for a, b in itertools.pairwise(sides):
            spots.append(spots[-1] + a[1] + b[0] + 10)
        return [x - spots[-1] / 2 for x in spots]

    def item_width(self, item: Item) -> float:
        """Width that an item takes along a level: hangers outwards, its tag inwards."""
        half = max(shape(item.kind).ahead, wide(item.tag) / 2 + 2)
        if item.hangers:
            spots = self.hanger_spots(item)
            half = max(half, self.hanger_side(item.hangers[0])[0] - spots[0],
                       spots[-1] + self.hanger_side(item.hangers[-1])[1])
        return 2 * half + GAP

    def side_way(self, chain: Chain) -> float:
        """How far to the left of its column the way back to a mixing valve runs; 0 where there is none."""
        side = chain.side
        if side is None:
            return 0.0
        return max(self.item_sides(i)[0] for i in chain.items[side.high:side.low + 1]) + 8
