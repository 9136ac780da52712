"""The sample plants read as their expected files say."""

import pytest

from figures import read, read_plant
from tests.plants import FIXED, SAMPLES, expected


@pytest.mark.parametrize("path", SAMPLES, ids=lambda p: p.stem)
def test_sample_is_read_as_expected(path):
    """Every key of the expected file, and which of the rules on which it speaks fire."""
    wanted = expected(path)
    rules = set(wanted.pop("rules"))
    reading = read(read_plant(path)).as_dict()
    assert {key: reading[key] for key in wanted} == wanted
    assert {finding["rule"] for finding in reading["findings"]} & FIXED == rules


def test_there_are_samples():
    """An empty folder would make the test above pass without looking at anything."""
    assert len(SAMPLES) >= 24
