"""Invented plants, each beside the reading that it must have: `NAME.toml` and `NAME.expected.json`.

A key that the expectation leaves out is open. `rules` is the set of rules that fire. Nothing here is a real
building.
"""

import json
from pathlib import Path

HERE = Path(__file__).parent
SAMPLES = sorted(HERE.glob("*.toml"))


def sample(name: str) -> str:
    """The text of one sample plant."""
    return (HERE / f"{name}.toml").read_text(encoding="utf-8")


def expected(path: Path) -> dict[str, object]:
    """What the reading of the sample at `path` must say."""
    return json.loads(path.with_suffix(".expected.json").read_text(encoding="utf-8"))
