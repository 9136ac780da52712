"""Ten thousand random schemes, read and judged: `python -m tests.bench.schemes [HOW_MANY]`.

Each must read as what it was built to be, in every key, and get no finding that must or should be mended;
each with up to three faults must show the rule of every one of them.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator

from figures.plant.faults import FAULTS
from figures.plant.scheme import Scheme
from figures.reading import read
from tests.figures.plant.test_scheme import difference

MANY = 10_000
FAULTS_AT_ONCE = 3


def wrong_readings(seeds: range) -> list[str]:
    """What the readings of sound schemes say otherwise than they were built, or find where nothing is."""
    wrong = []
    for seed in seeds:
        scheme = Scheme.random(seed)
        wrong += [f"seed {seed}: {key} is {was!r}, read as {said!r}"
                  for key, (was, said) in difference(scheme).items()]
        wrong += [f"seed {seed}: {finding.rule} ({finding.severity}): {finding.says}"
                  for finding in read(scheme.plant()).findings if finding.severity in ("must fix", "should fix")]
    return wrong


def missed_faults(seeds: range) -> list[str]:
    """Faults made on purpose whose rule does not fire."""
    missed = []
    for seed in seeds:
        scheme = Scheme.with_random_faults(seed, FAULTS_AT_ONCE)
        rules = {finding.rule for finding in read(scheme.plant()).findings}
        missed += [f"seed {seed}: {name} is not seen among {scheme.faults}" for name in scheme.faults
                   if FAULTS[name].rule not in rules]
    return missed


def rows(many: int = MANY) -> Iterator[tuple[str, float, str, str]]:
    """What was measured: (what, value, unit, note)."""
    began = time.process_time()
    for seed in range(many // 10):
        Scheme.random(seed).plant()
    each = (time.process_time() - began) / (many // 10) * 1000.0
    yield "a random scheme made into a checked plant", each, "ms", f"of processor time, mean of {many // 10}"
    wrong = wrong_readings(range(many))
    yield "random schemes read otherwise than built, or unsound", len(wrong), "of", f"{many}; {'; '.join(wrong[:3])}"
    missed = missed_faults(range(many))
    yield "faults on purpose that no rule saw", len(missed), "of", \
        f"{FAULTS_AT_ONCE * many}, {FAULTS_AT_ONCE} at once; {'; '.join(missed[:3])}"


if __name__ == "__main__":
    for what, value, unit, note in rows(int(sys.argv[1]) if len(sys.argv) > 1 else MANY):
        print(f"{what}: {value:.3g} {unit} {note}")
