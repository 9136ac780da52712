"""Coverage with branches, room by room: `python -m tests.bench.coverage_by_room [TESTS …]`.

Runs these tests (all but those of browsers, hubs and lessons, unless given) under coverage.py, processes that they start
included, and prints for each room the share of statements and branches that ran, then for each file the lines that did not.
Needs `pip install -e ".[long]"`.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from collections import defaultdict
from importlib.metadata import version
from pathlib import Path

from .measure import TOP

TESTS = ("tests/figures", "tests/oracles", "tests/widgets", "tests/test_rooms.py", "figures", "widgets")
SETTINGS = """
[run]
branch = true
parallel = true
source = figures, widgets
data_file = {folder}/data
patch = subprocess
[report]
exclude_also =
    if TYPE_CHECKING:
    raise AssertionError
    @overload
"""


def room_of(path: str) -> str:
    """`figures/reading/rules/loads.py` is of figures/reading; what stands beside the rooms is of `widgets` or `figures`."""
    folders = Path(path).parts[:-1]
    return "/".join(folders[:2])


def measured(tests: list[str]) -> dict[str, dict[str, object]]:
    """coverage.py's own report of each file, after the tests ran folder by folder in processes of their own."""
    with tempfile.TemporaryDirectory() as name:
        settings = Path(name) / "settings"
        settings.write_text(SETTINGS.format(folder=name), encoding="utf-8")
        tool = [sys.executable, "-m", "coverage"]
        at = f"--rcfile={settings}"
        for path in tests:
            done = subprocess.run([*tool, "run", at, "-m", "pytest", "-q", "-p", "no:cacheprovider", "--override-ini=addopts=",
                                   "--doctest-modules", path], cwd=TOP, env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
                                  stdout=subprocess.PIPE, text=True)
            print(f"{path}: {(done.stdout.strip().splitlines() or ['nothing'])[-1]}", flush=True)
        subprocess.run([*tool, "combine", "-q", at], cwd=TOP, check=True)
        subprocess.run([*tool, "json", "-q", at, "-o", f"{name}/report.json"], cwd=TOP, check=True)
        files: dict[str, dict[str, object]] = json.loads((Path(name) / "report.json").read_text(encoding="utf-8"))["files"]
        return files


def spans(lines: list[int]) -> str:
    """Line numbers, neighbours drawn together.

    >>> spans([3, 4, 5, 9])
    '3-5, 9'
    """
    rows: list[list[int]] = []
    for line in sorted(lines):
        if rows and line == rows[-1][-1] + 1:
            rows[-1].append(line)
        else:
            rows.append([line])
    return ", ".join(f"{row[0]}-{row[-1]}" if len(row) > 1 else f"{row[0]}" for row in rows)


def main(tests: list[str]) -> int:
    """Prints rooms, then what is not covered; 0 whatever the shares, since they are for people to judge."""
    files = measured(tests or list(TESTS))
    rooms: dict[str, list[dict[str, int]]] = defaultdict(list)
    for path, said in files.items():
        rooms[room_of(path)].append(said["summary"])                 # type: ignore[arg-type]
    print(f"\ncoverage {version('coverage')}, Python {sys.version.split()[0]}\n{'room':20} {'statements':>16} {'branches':>16}")
    for room, sums in sorted(rooms.items()):
        total = {key: sum(one[key] for one in sums) for key in ("num_statements", "covered_lines", "num_branches",
                                                                "covered_branches")}
        shares = [f"{100 * total[part] / max(1, total[whole]):.1f} % of {total[whole]}" for part, whole in (
            ("covered_lines", "num_statements"), ("covered_branches", "num_branches"))]
        print(f"{room:20} {shares[0]:>16} {shares[1]:>16}")
    print("\nnot covered: lines; branches as from->to, a negative number being the end of what begins there")
    for path, said in sorted(files.items()):
        lines, branches = said["missing_lines"], said["missing_branches"]
        gone = set(lines)                                               # type: ignore[call-overload]
        alone = [f"{a}->{b}" for a, b in branches if a not in gone and b not in gone]    # type: ignore[attr-defined]
        if lines or alone:
            print(f"{path}: {'; '.join(filter(None, (spans(lines), ', '.join(alone))))}")     # type: ignore[arg-type]
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
