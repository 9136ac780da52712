"""The sample plants read as their expected files say."""

import json
from pathlib import Path

import pytest

from figures import read, read_plant
from figures.reading.rules import FURTHER

SAMPLES = sorted((Path(__file__).parents[2] / "plants").glob("*.toml"))


@pytest.mark.parametrize("path", SAMPLES, ids=lambda p: p.stem)
def test_sample_is_read_as_expected(path):
    """Every key of the expected file, and the set of rules that fire, the further ones left aside."""
    expected = json.loads(path.with_name(f"{path.stem}.expected.json").read_text())
    rules = set(expected.pop("rules"))
    reading = read(read_plant(path)).as_dict()
    assert {key: reading[key] for key in expected} == expected
    assert {finding["rule"] for finding in reading["findings"]} - FURTHER == rules


def test_there_are_samples():
    """An empty folder would make the test above pass without looking at anything."""
    assert len(SAMPLES) >= 24
