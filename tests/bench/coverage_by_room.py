"""Coverage with branches, room by room: `python -m tests.bench.coverage_by_room [ROOM …]`, such as `figures/plant`.

Each room's own tests and doctests run under coverage.py, processes that they start included, those of browsers left out; what
other rooms' tests happen to run does not count.  Printed are a table of the rooms, then every place that did not run, by the
function that it stands in.  Needs `pip install -e ".[long]"`; all rooms take half an hour.
"""

from __future__ import annotations

import ast
import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

from .measure import TOP

ROOMS: Mapping[str, tuple[str, ...]] = {
    "figures/plant": ("tests/figures/plant", "figures/plant"),
    "figures/reading": ("tests/figures/reading", "figures/reading"),
    "figures/physics": ("tests/figures/physics", "tests/oracles", "figures/physics"),
    "figures/drawing": ("tests/figures/drawing", "figures/drawing"),
    "widgets/learn": ("tests/widgets/learn", "widgets/learn"),
    "widgets/show": ("tests/widgets/show", "widgets/show"),
    "widgets/paper": ("tests/widgets/paper", "widgets/paper"),
    "widgets/serve": ("tests/widgets/serve", "widgets/serve"),
    "widgets": ("tests/widgets/test_command.py", "tests/widgets/test_everywhere.py", "tests/test_fuzz.py",
                "tests/widgets/learn/test_keeping.py", "tests/widgets/paper/test_marking.py", "tests/widgets/paper/test_sheet.py",
                "tests/widgets/show/test_form.py", "widgets/command.py", "widgets/course_own.py", "widgets/own_plant.py",
                "widgets/_text.py"),
}
"""Each room, its tests, and where its doctests stand; `widgets` is what stands beside the rooms there."""
SETTINGS = """
[run]
branch = true
parallel = true
source_pkgs = {package}
omit = {omit}
data_file = {folder}/data
patch = subprocess
[report]
exclude_also =
    if TYPE_CHECKING:
    raise AssertionError
    @overload
"""


@dataclass(frozen=True)
class Part:
    """What ran of one file: statements and branches, how many of each ran, lines that did not, branches that were not taken."""

    file: str
    statements: int
    ran: int
    branches: int
    taken: int
    lines: tuple[int, ...]
    untaken: tuple[tuple[int, int], ...]


def measured(room: str) -> list[Part]:
    """coverage.py's own report of each file of a room, after the room's tests ran. Raises SystemExit where a file was changed
    meanwhile, for then lines are not those that ran."""
    before = written(room)
    with tempfile.TemporaryDirectory() as name:
        settings = Path(name) / "settings"
        inner = ", ".join(f"*/{other}/*" for other in ROOMS if other.startswith(f"{room}/"))
        settings.write_text(SETTINGS.format(package=room.replace("/", "."), omit=inner, folder=name), encoding="utf-8")
        tool, at = [sys.executable, "-m", "coverage"], f"--rcfile={settings}"
        done = subprocess.run([*tool, "run", at, "-m", "pytest", "-q", "-p", "no:cacheprovider", "--override-ini=addopts=",
                               "--doctest-modules", *ROOMS[room]], cwd=TOP,
                              env={**os.environ, "OPENBLAS_NUM_THREADS": "1"}, stdout=subprocess.PIPE, text=True)
        print(f"{room}: {(done.stdout.strip().splitlines() or ['nothing'])[-1]}", file=sys.stderr, flush=True)
        subprocess.run([*tool, "combine", "-q", at], cwd=TOP, check=True)
        subprocess.run([*tool, "json", "-q", at, "-o", f"{name}/report.json"], cwd=TOP, check=True)
        files = json.loads((Path(name) / "report.json").read_text(encoding="utf-8"))["files"]
    if changed := sorted(path for path, text in written(room).items() if before.get(path) != text):
        raise SystemExit(f"{room}: {', '.join(changed)} changed while the tests ran; run it again where nobody works")
    found = []
    for file, said in sorted(files.items()):
        sums, gone = said["summary"], set(said["missing_lines"])
        alone = tuple((a, b) for a, b in said["missing_branches"] if a not in gone and b not in gone)
        found.append(Part(file, sums["num_statements"], sums["covered_lines"], sums["num_branches"], sums["covered_branches"],
                          tuple(said["missing_lines"]), alone))
    return found


def written(room: str) -> dict[str, str]:
    """The text of every file of a room."""
    return {str(path.relative_to(TOP)): path.read_text(encoding="utf-8") for path in (TOP / room).rglob("*.py")}


def places(part: Part) -> Iterator[str]:
    """Every place of a file that did not run: its function, lines, and the first of them as it is written."""
    text = (TOP / part.file).read_text(encoding="utf-8")
    lines, owner = text.splitlines(), owners(text)
    for first, last in spans(part.lines):
        yield f"{part.file}:{first}{f'-{last}' if last > first else ''} {owner.get(first, '')}: {lines[first - 1].strip()}"
    for a, b in part.untaken:
        goes = f"never goes on to line {b}" if b > 0 else "never ends there"
        yield f"{part.file}:{a} {owner.get(a, '')}: {goes}: {lines[a - 1].strip()}"


def owners(text: str) -> dict[int, str]:
    """The function that each line of a module stands in, the innermost one.

    >>> owners("class A:\\n    def b(self):\\n        return 1\\n")[3]
    'A.b'
    """
    found: dict[int, str] = {}

    def walk(node: ast.AST, name: str) -> None:
        for child in ast.iter_child_nodes(node):
            inner = name
            if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
                inner = f"{name}.{child.name}".lstrip(".")
                found.update(dict.fromkeys(range(child.lineno, (child.end_lineno or child.lineno) + 1), inner))
            walk(child, inner)

    walk(ast.parse(text), "")
    return found


def spans(lines: tuple[int, ...]) -> list[tuple[int, int]]:
    """Line numbers, neighbours drawn together.

    >>> spans((3, 4, 5, 9))
    [(3, 5), (9, 9)]
    """
    rows: list[list[int]] = []
    for line in sorted(lines):
        if rows and line == rows[-1][-1] + 1:
            rows[-1].append(line)
        else:
            rows.append([line])
    return [(row[0], row[-1]) for row in rows]


def share(some: int, of: int) -> str:
    """Like '98.7 % of 1234'."""
    return f"{100 * some / max(1, of):.1f} % of {of}"


def main(wanted: list[str]) -> int:
    """Prints the table and the places; 0 whatever the shares, since they are for people to judge."""
    if strange := [room for room in wanted if room not in ROOMS]:
        print(f"{strange[0]}: is no room; name some of {', '.join(ROOMS)}", file=sys.stderr)
        return 2
    found = {room: measured(room) for room in wanted or ROOMS}
    print(f"coverage {version('coverage')}, Python {sys.version.split()[0]}\n")
    print("| room | statements | branches | files with all of both |\n| --- | --- | --- | --- |")
    for room, parts in found.items():
        whole = sum(not part.lines and not part.untaken for part in parts)
        print(f"| {room} | {share(sum(p.ran for p in parts), sum(p.statements for p in parts))} | "
              f"{share(sum(p.taken for p in parts), sum(p.branches for p in parts))} | {whole} of {len(parts)} |")
    for room, parts in found.items():
        print(f"\n{room}: what its own tests do not run")
        for part in parts:
            for place in places(part):
                print(f"  {place[:170]}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
