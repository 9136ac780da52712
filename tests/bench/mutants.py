"""Mutation testing by mutmut: `python -m tests.bench.mutants ROOM [HOW_MANY [SEED]]`, ROOM being reading or physics.

Runs in a copy of the tree. Of all mutants of `figures/ROOM`, HOW_MANY (0: all) are drawn by SEED and run by one process, each
against those tests of the room that call the changed function. Prints the shares killed and the diff of each survivor.
Mutants of wording (a string in a sentence changed) are counted apart as well: sentences are judged by people, too.
Needs `pip install -e ".[long]"`.
"""

from __future__ import annotations

import json
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from importlib.metadata import version
from pathlib import Path

TOP = Path(__file__).parents[2]
TESTS = {"reading": ["tests/figures/reading"], "physics": ["tests/figures/physics", "tests/oracles"]}
CONFIG = """
[tool.mutmut]
source_paths = ["figures"]
only_mutate = ["figures/{room}/*"]
also_copy = ["widgets", "lessons", "README.md", "DEVELOPERS.md"]
pytest_add_cli_args = ["--override-ini=addopts=", "-p", "no:cacheprovider", "--hypothesis-seed=0"]
pytest_add_cli_args_test_selection = {tests}
timeout_multiplier = 4.0
timeout_constant = 2.0
track_dependencies = false
"""
ENDS = {0: "survived", 33: "survived", 1: "killed", 3: "killed", 24: "killed by time", -24: "killed by time", None: "not run"}
"""mutmut's exits; 33: no test calls the function. The rest are crashes."""
WORDS = re.compile(r"""["'][^"']* [^"']*["']""")


def mutmut(folder: Path, *words: str) -> str:
    """What mutmut prints; a mutant that survives is no failure of it."""
    environment = {**os.environ, "PYTHONPATH": str(folder / "mutants"), "OPENBLAS_NUM_THREADS": "1", "CI": "1"}
    return subprocess.run([sys.executable, "-m", "mutmut", *words], cwd=folder, env=environment, check=False,
                          stdout=subprocess.PIPE, text=True).stdout


def results(folder: Path) -> dict[str, int | None]:
    """Each mutant's exit, None where it was not run."""
    return {name: code for meta in sorted((folder / "mutants").rglob("*.meta"))
            for name, code in json.loads(meta.read_text(encoding="utf-8"))["exit_code_by_key"].items()}


def prepare(folder: Path, room: str, tests: list[str]) -> None:
    """A copy of the tree with mutmut's settings, all mutants written and none run."""
    for name in ("figures", "widgets", "lessons", "tests"):
        shutil.copytree(TOP / name, folder / name, ignore=shutil.ignore_patterns("__pycache__", ".*"))
    for name in ("README.md", "DEVELOPERS.md", "pyproject.toml"):
        shutil.copy(TOP / name, folder / name)
    with (folder / "pyproject.toml").open("a", encoding="utf-8") as file:
        file.write(CONFIG.format(room=room, tests=json.dumps(tests)))
    # A test that fails is not made smaller first: the mutant is dead already.
    conftest = folder / "tests" / "conftest.py"
    conftest.write_text(conftest.read_text(encoding="utf-8").replace(
        "derandomize=True", "derandomize=True, phases=(Phase.explicit, Phase.generate)").replace(
        "import settings", "import Phase, settings"), encoding="utf-8")
    mutmut(folder, "run", "--max-children", "1", "no such mutant")


def is_wording(diff: str) -> bool:
    """Whether all that a mutant changes is a string with a blank in it."""
    gone, come = (re.findall(rf"^\{sign}(?!\{sign})(.*)$", diff, re.MULTILINE) for sign in "-+")
    return bool(gone) and [WORDS.sub('""', line) for line in gone] == [WORDS.sub('""', line) for line in come]


def main(room: str, many: int = 0, seed: int = 1) -> int:
    """Prints shares and survivors; 0 whatever survives, since survivors are for people to judge."""
    with tempfile.TemporaryDirectory(prefix="mutants-") as top:
        folder = Path(top)
        prepare(folder, room, TESTS[room])
        names = sorted(results(folder))
        drawn = sorted(random.Random(seed).sample(names, many)) if 0 < many < len(names) else names
        told = mutmut(folder, "run", "--max-children", "1", *drawn)
        found = results(folder)
        if all(found[name] is None for name in drawn):
            raise SystemExit(f"mutmut could not run the tests:\n{told[-2000:]}")
        met: Counter[tuple[str, str]] = Counter()
        for name in drawn:
            diff = mutmut(folder, "show", name)
            end = ENDS.get(found[name], "killed by a crash")
            met["wording" if is_wording(diff) else "other", end] += 1
            if end != "killed":
                print(f"\n{end}: {diff}", flush=True)
    print(f"\nmutmut {version('mutmut')}, figures/{room}: {len(drawn)} of {len(names)} mutants, seed {seed}")
    for kind in ("other", "wording"):
        ends = {end: count for (of, end), count in met.items() if of == kind}
        dead = sum(count for end, count in ends.items() if end.startswith("killed"))
        print(f"{kind:8} {100 * dead / max(1, dead + ends.get('survived', 0)):.1f} % killed; {ends}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], *map(int, sys.argv[2:])))
