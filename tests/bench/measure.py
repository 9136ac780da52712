"""How a figure is taken: the median of several runs, with the middle half of them beside it."""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

TOP = Path(__file__).parents[2]


class Row(NamedTuple):
    """One line of the table. note: the spread, the limit that the design sets.  ratio: this over that limit; in the row
    of another program, what ours costs over it."""

    what: str
    value: float
    unit: str
    note: str
    ratio: float | None = None


def peer(ours: Row, theirs: Row) -> Row:
    """Another program's row, in the same unit, with what ours costs over it."""
    return theirs._replace(ratio=ours.value / theirs.value)


def spread(seconds: list[float], factor: float) -> str:
    """The middle half of the runs, and how many there were."""
    low, _, high = statistics.quantiles(seconds, n=4, method="inclusive")
    return f"{low * factor:.3g} to {high * factor:.3g}, {len(seconds)} runs"


def timed(what: str, call: Callable[[], object], at_most_ms: float | None = None, runs: int = 30) -> Row:
    """Milliseconds of one call in this process, after one that warms up; the quickest stands in the note."""
    call()
    seconds = []
    for _ in range(runs):
        start = time.perf_counter()
        call()
        seconds.append(time.perf_counter() - start)
    limit = "" if at_most_ms is None else f"; at most {at_most_ms:g}"
    median_ms = statistics.median(seconds) * 1e3
    return Row(what, median_ms, "ms", f"{spread(seconds, 1e3)}; quickest {min(seconds) * 1e3:.3g}{limit}",
               None if at_most_ms is None else median_ms / at_most_ms)


def started(what: str, *words: str, at_most_s: float | None = None, runs: int = 7) -> Row:
    """Seconds of a whole process of this Python; its work on the processor, which a busy machine changes less."""
    seconds, worked = [], []
    for _ in range(runs):
        start, before = time.perf_counter(), os.times()
        subprocess.run([sys.executable, *words], cwd=TOP, check=True, stdout=subprocess.DEVNULL)
        after = os.times()
        seconds.append(time.perf_counter() - start)
        worked.append(after.children_user + after.children_system - before.children_user - before.children_system)
    limit = "" if at_most_s is None else f"; at most {at_most_s:g}"
    median_s = statistics.median(seconds)
    return Row(what, median_s, "s", f"{spread(seconds, 1.0)}; {statistics.median(worked):.2g} of work{limit}",
               None if at_most_s is None else median_s / at_most_s)
