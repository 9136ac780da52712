"""Who gets heat: every configuration × arrangement × call, as a table to be read by eye.

`python -m tests.bench.operation_table [SAMPLE | SEED …]`; without names, sound samples of every kind. One line a load:
what it wanted, what it got, its flow as a share of what it has when it is meant to run, and why.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

from figures.physics.because import ENOUGH, share_words
from figures.physics.operation import ARRANGEMENTS, CALLS, CONFIGURATIONS, Operator, Served
from figures.plant import read_plant
from figures.plant.scheme import Scheme

FOLDER = Path(__file__).parents[1] / "plants"
SOUND = ("tees-tank-on-system", "tees-tank-on-boiler", "tees-diverting-valve", "separator-zone-pumps", "buffer-tank-on-boiler",
         "tees-per-boiler", "tees-per-load", "tees-four-boilers", "single-loop-two-boilers-tank", "single-loop-four-boilers")


def verdict(row: Served) -> str:
    """'heat', 'short', 'none', or for a load that has not called 'quiet' or 'unasked'."""
    if row.wanted_kw == 0.0:
        return "unasked" if abs(row.given_kw) > 0.5 else "quiet"
    return "heat" if row.given_kw >= ENOUGH * row.wanted_kw else "none" if row.given_kw < 0.5 else "short"


def lines(name: str) -> Iterator[str]:
    """The table of one plant."""
    plant = Scheme.random(int(name)).plant() if name.isdigit() else read_plant(FOLDER / f"{name}.toml")
    ready = Operator(plant)
    yield f"\n{name}: {ready.reading.arrangement}, {ready.reading.control}"
    for arrangement in sorted(ARRANGEMENTS, key=lambda a: a != ready.reading.arrangement):
        for configuration in CONFIGURATIONS:
            for call in CALLS:
                for priority in (False, True) if call == "both" and configuration == CONFIGURATIONS[1] else (False,):
                    done = ready.operate(ready.setting(configuration, call, arrangement, None, priority))
                    right = configuration == ready.reading.control and arrangement == ready.reading.arrangement
                    yield f"  {'=' if right else '!'} {arrangement}, {configuration}, {call}{' with priority' * priority}: " \
                          f"runs {' '.join(done.sequence.running) or '-'}; opens {' '.join(done.sequence.open) or '-'}" \
                          f"{'; turns ' * bool(done.sequence.diverted)}{' '.join(done.sequence.diverted)}"
                    for row in done.loads:
                        yield f"      {row.part:5} {verdict(row):8} {row.given_kw:6.1f} of {row.wanted_kw:5.1f} kW  " \
                              f"{share_words(row.share):9} {row.share:6.2f}  {row.because}"


def main(names: list[str]) -> int:
    """Prints the tables."""
    for name in names or SOUND:
        for line in lines(name):
            print(line, flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
