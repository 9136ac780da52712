"""How long plant files and readings take."""

from __future__ import annotations

from collections.abc import Iterator

from figures.plant import parse_plant, read_plant
from figures.reading import read
from tests.figures.plant.test_check import many_parts
from tests.plants import HERE

from .measure import Row, timed


def rows() -> Iterator[Row]:
    """Plants that are loaded already, and the way from a file's text to a checked plant."""
    for name in ("tees-four-boilers", "single-loop-four-boilers"):
        path = HERE / f"{name}.toml"
        plant, text = read_plant(path), path.read_text(encoding="utf-8")
        yield timed(f"reading of {name}, {len(plant.parts)} parts", lambda plant=plant: read(plant), at_most_ms=3.0)
        yield timed(f"its file parsed and checked, {len(text) // 1024} KiB", lambda text=text: parse_plant(text))
    text = many_parts(10_000)
    large = parse_plant(text)
    yield timed("10 000 parts parsed and checked", lambda: parse_plant(text), at_most_ms=2000.0, runs=4)
    yield timed("reading of 10 000 parts", lambda: read(large), at_most_ms=2000.0, runs=4)
