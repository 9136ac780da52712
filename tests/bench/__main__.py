"""The figures of the design's cost table, measured here and now: `python -m tests.bench [MODULE …]`.

Every module of this folder that has `rows()` is asked for its rows. Nothing fails on a slow day. The ratio is what was measured
over the design's limit; in the row of another program, what ours costs over that one.
"""

from __future__ import annotations

import os
import pkgutil
import platform
import sys
from contextlib import suppress
from importlib import import_module
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import tests.bench

VERSIONS = ("numpy", "scipy", "schemdraw", "matplotlib", "ipywidgets", "anywidget", "jupyterlab", "voila", "nbval", "pytest",
            "typst", "wntr", "pandapipes", "mutmut")
"""Ours and the peers'; what is not installed is left out."""


def machine() -> str:
    """What the figures were taken on: system, processor, memory, load before, versions."""
    processor, memory = platform.machine(), ""
    if sys.platform == "linux":
        told = Path("/proc/cpuinfo").read_text(encoding="utf-8")
        processor = next((line.split(":")[1].strip() for line in told.splitlines() if line.startswith("model name")), processor)
        memory = f"{os.sysconf('SC_PAGE_SIZE') * os.sysconf('SC_PHYS_PAGES') / 2**30:.0f} GiB"
    load = f"load before {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    first = (f"{platform.system()} {platform.release()}", processor, f"{os.cpu_count()} cores", memory, load)
    versions = [f"Python {platform.python_version()}"]
    for name in VERSIONS:
        with suppress(PackageNotFoundError):
            versions.append(f"{name} {version(name)}")
    return f"{', '.join(filter(None, first))}\n{', '.join(versions)}"


def main(wanted: list[str]) -> int:
    """Print the table; 2 where a module is not known."""
    known = [found.name for found in pkgutil.iter_modules(tests.bench.__path__) if not found.name.startswith("__")]
    if unknown := [name for name in wanted if name not in known]:
        print(f"no such module: {', '.join(unknown)}; known are {', '.join(known)}", file=sys.stderr)
        return 2
    print(machine())
    print(f"{'what':58} {'median':>9}  unit  {'ratio':>6}  middle half of the runs, limit")
    for name in wanted or known:
        module = import_module(f"tests.bench.{name}")
        for what, value, unit, note, *ratio in module.rows() if hasattr(module, "rows") else ():
            over = f"{ratio[0]:6.2g}" if ratio and ratio[0] is not None else " " * 6
            print(f"{what:58} {value:9.3g}  {unit:4}  {over}  {note}", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
