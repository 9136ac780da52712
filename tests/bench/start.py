"""How long a start takes, and how much memory a lesson's imports hold."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator

from tests.plants import SAMPLES

from .measure import TOP, Row, started

LESSON = """
import figures, widgets
for room in (figures, widgets):
    for name in room.__all__:
        getattr(room, name)
"""
MEMORY = LESSON + """
from figures import Diagram, Scheme, read
plant = Scheme.random(7).plant()
Diagram(plant, read(plant)).svg()
print(next(line.split()[1] for line in open("/proc/self/status") if line.startswith("VmRSS")))
"""


def rows() -> Iterator[Row]:
    """Whole processes of this Python; the first row is what Python itself takes."""
    yield started("start of Python alone", "-c", "pass")
    yield started("start and `import figures, widgets`", "-c", "import figures, widgets", at_most_s=0.4)
    yield started("start and every name that the two offer", "-c", LESSON, at_most_s=0.4)
    yield started("`loopbook --help`", "-m", "widgets.command", "--help", at_most_s=0.5)
    yield started("`loopbook read --json` of one sample", "-m", "widgets.command", "read", "--json",
                  str(next(path for path in SAMPLES if path.stem == "tees-one-boiler")), at_most_s=0.5)
    if sys.platform == "linux":
        done = subprocess.run([sys.executable, "-c", MEMORY], cwd=TOP, check=True, capture_output=True, text=True)
        yield Row("resident memory with every name and a drawing", int(done.stdout) / 1024, "MB",
                  "one process without a kernel; a kernel with a lesson at most 110")
