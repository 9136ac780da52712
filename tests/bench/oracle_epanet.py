"""200 random plants in six states each against EPANET: `python -m tests.bench.oracle_epanet [HOW_MANY]`."""

from __future__ import annotations

import random
import sys
import time

from figures.plant.scheme import Scheme
from tests.oracles.test_epanet import compared


def main(many: int) -> int:
    """Prints what disagrees, then how much was compared; 1 where anything disagrees."""
    asked, wrong, began = 0, [], time.perf_counter()
    for seed in range(1000, 1000 + many):
        more, lines = compared(Scheme.random(seed).plant(), random.Random(seed), 6)
        asked += more
        wrong += [f"seed {seed}: {line}" for line in lines]
    print(*wrong, sep="\n")
    print(f"{many} plants, {asked} states compared with EPANET, {len(wrong)} runs beyond 1 % and 0.015 L/s, "
          f"{time.perf_counter() - began:.0f} s")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 200))
