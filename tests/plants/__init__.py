"""Invented plants, each beside the reading that it must have: `NAME.toml` and `NAME.expected.json`.

A key that the expectation leaves out is open. `rules` is the set of rules of `FIXED` that fire. Nothing here is a real
building.
"""

import json
from pathlib import Path

HERE = Path(__file__).parent
SAMPLES = sorted(HERE.glob("*.toml"))
FIXED = frozenset({
    "tee-spacing", "common-pipe-blocked", "loop-pump", "load-straddles", "boiler-isolation", "boiler-isolation-local",
    "valve-fail-position", "reverse-return", "lead-boiler", "pump-bypass", "part-reversed", "relief-missing", "relief-isolated",
    "expansion-missing", "expansion-point", "supply-sensor", "mixing-valve", "ghost-flow"})
"""The rules on which the expectations speak. A later rule is tried on plants of its own, and does not join these."""


def sample(name: str) -> str:
    """The text of one sample plant."""
    return (HERE / f"{name}.toml").read_text(encoding="utf-8")


def expected(path: Path) -> dict[str, object]:
    """What the reading of the sample at `path` must say."""
    return json.loads(path.with_suffix(".expected.json").read_text(encoding="utf-8"))
