"""The figures of the design's cost table, measured here and now: `python -m tests.bench [MODULE …]`.

Every module of this folder that has `rows()` is asked for its rows. Nothing fails on a slow day.
"""

from __future__ import annotations

import os
import pkgutil
import platform
import sys
from importlib import import_module
from importlib.metadata import version

import tests.bench


def machine() -> str:
    """What the figures were taken on."""
    parts = [platform.system(), platform.machine(), f"{os.cpu_count()} cores", f"Python {platform.python_version()}",
             *(f"{name} {version(name)}" for name in ("numpy", "schemdraw", "ipywidgets"))]
    return ", ".join(parts)


def main(wanted: list[str]) -> int:
    """Print the table; 2 where a module is not known."""
    known = [found.name for found in pkgutil.iter_modules(tests.bench.__path__) if not found.name.startswith("__")]
    if unknown := [name for name in wanted if name not in known]:
        print(f"no such module: {', '.join(unknown)}; known are {', '.join(known)}", file=sys.stderr)
        return 2
    print(machine())
    print(f"{'what':58} {'median':>9}  unit  spread and limit")
    for name in wanted or known:
        module = import_module(f"tests.bench.{name}")
        for what, value, unit, note in module.rows() if hasattr(module, "rows") else ():
            print(f"{what:58} {value:9.3g}  {unit:4}  {note}", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
