"""Mutation testing by mutmut: `python -m tests.bench.mutants ROOM [HOW_MANY [SEED [PROCESSES]]]`, ROOM being reading or physics.

It copies the tree to a scratch folder, has mutmut change `figures/ROOM` in every place that it knows how to change, one place a
mutant, and runs for each mutant those tests of the room that call the changed function. Of all mutants HOW_MANY are drawn by
SEED (0: all; 1 unless said) and run by PROCESSES (1 unless said). Another seed draws another sample; the same seed on the same
tree draws the same one. Names or patterns in place of HOW_MANY run just those, to look at a survivor again:
`python -m tests.bench.mutants reading 'figures.reading.loops.*split*'`.

Needs `pip install -e ".[long]"`, and time: two minutes to write the mutants, then half a second for one that is killed and for a
survivor as long as all tests of its function. How far it is is told on stderr once a minute. Stopped by Ctrl-C it tells of what
it has, a smaller sample.

It prints each survivor with its diff and then a table by file: how many mutants there are, were drawn, fell to a failing test,
fell because a test took more than ten times its time (an endless loop: their diffs are printed too), survived, and the share
killed with its 95 % interval (Wilson), which is what a sample says of all. Mutants of wording (a sentence changed, nothing else)
are counted with the rest and once more apart. Survivors are for people to judge: some change nothing that anyone could see.
mutmut leaves functions with a decorator and tables outside functions alone.
"""

from __future__ import annotations

import json
import os
import random
import re
import shutil
import signal
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterable, Mapping
from fnmatch import fnmatch
from importlib.metadata import version
from math import sqrt
from pathlib import Path

from .mutants_loop import ENDS as ENDS_FILE
from .mutants_loop import NO_TEST

TOP = Path(__file__).parents[2]
TESTS = {"reading": ["tests/figures/reading"], "physics": ["tests/figures/physics", "tests/oracles"]}
ARGUMENTS = ["--rootdir=.", "--override-ini=addopts=", "-p", "no:cacheprovider", "-p", "no:xdist", "-p", "no:nbval", "-q",
             "--tb=short", "--hypothesis-seed=0"]
CONFIG = """
[tool.mutmut]
source_paths = ["figures"]
only_mutate = ["figures/{room}/*"]
also_copy = ["widgets", "lessons", "README.md", "DEVELOPERS.md"]
pytest_add_cli_args = {arguments}
pytest_add_cli_args_test_selection = {tests}
track_dependencies = false
"""
# What the copy's conftest.py gets besides. Processor time, unlike the clock, does not mind what else the machine has to do.
TIMED = '''

import json
import resource
import signal
import time
from pathlib import Path

import pytest

TIMES = Path("times.json")
USUAL = json.loads(TIMES.read_text()) if TIMES.exists() else {}
resource.setrlimit(resource.RLIMIT_DATA, (4 << 30, 4 << 30))


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item):
    """A test that takes far longer than usual never ends: the signal kills the process."""
    start = time.process_time()
    signal.setitimer(signal.ITIMER_VIRTUAL, 10 + 10 * USUAL.get(item.nodeid, 10.0))
    try:
        return (yield)
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        if os.environ.get("MUTANT_UNDER_TEST") == "stats":
            USUAL[item.nodeid] = time.process_time() - start


def pytest_sessionfinish():
    """How long each test takes, with setting up."""
    if os.environ.get("MUTANT_UNDER_TEST") == "stats":
        TIMES.write_text(json.dumps(USUAL))
'''
ENDS = {0: "survived", NO_TEST: "survived", 1: "killed", 3: "killed", -26: "by time", None: "not run"}
"""How a mutant's process exits. The rest are crashes."""
DEAD = ("killed", "by time", "by crash")
COLUMNS = (*DEAD, "survived", "not run")
WORDS = re.compile(r"""["'][^"']* [^"']*["']""")
DIFFS = """
import json, sys
from mutmut.mutation.diff_apply import get_diff_for_mutant
json.dump({name: get_diff_for_mutant(name, path=path) for name, path in json.load(sys.stdin)}, sys.stdout)
"""


def environment(folder: Path) -> dict[str, str]:
    """One thread each, chance that repeats, and the mutated tree before any other."""
    return {**os.environ, "PYTHONPATH": str(folder / "mutants"), "OPENBLAS_NUM_THREADS": "1", "CI": "1"}


def generated(folder: Path) -> dict[str, str]:
    """Each mutant with the file that it changes."""
    top = folder / "mutants"
    return {name: str(meta.relative_to(top))[:-len(".meta")] for meta in sorted(top.rglob("*.meta"))
            for name in json.loads(meta.read_text(encoding="utf-8"))["exit_code_by_key"]}


def run(folder: Path, tests: list[str], names: list[str], processes: int) -> dict[str, int]:
    """Runs mutants and returns the exit of each that was run; progress goes to stderr. Ctrl-C returns what there is."""
    given = {"arguments": [*ARGUMENTS, *tests], "names": names, "processes": processes}
    with (folder / "run.log").open("w", encoding="utf-8") as log:
        process = subprocess.Popen([sys.executable, "-m", "tests.bench.mutants_loop"], cwd=folder / "mutants", text=True,
                                   env=environment(folder), stdin=subprocess.PIPE, stdout=log, stderr=subprocess.STDOUT)
        try:
            assert process.stdin is not None
            process.stdin.write(json.dumps(given))
            process.stdin.close()
            while process.poll() is None:
                try:
                    process.wait(60)
                except subprocess.TimeoutExpired:
                    counts = Counter(map(end, results(folder).values()))
                    print(f"{counts.total()} of {len(names)}: {dict(counts)}", file=sys.stderr, flush=True)
        except KeyboardInterrupt:
            print("stopped: this is what there is", file=sys.stderr)
        finally:
            process.terminate()
            process.wait()
    return results(folder)


def results(folder: Path) -> dict[str, int]:
    """The exit of each mutant that was run."""
    ends = folder / "mutants" / ENDS_FILE
    return dict(json.loads(line) for line in ends.read_text(encoding="utf-8").splitlines()) if ends.exists() else {}


def end(code: int | None) -> str:
    """How a mutant ended, in a word of `COLUMNS`."""
    return ENDS.get(code, "by crash")


def prepare(folder: Path, room: str, tests: list[str]) -> str:
    """A copy of the tree with all mutants written by mutmut and none run, and which tests call what; what mutmut said."""
    for name in ("figures", "widgets", "lessons", "tests"):
        shutil.copytree(TOP / name, folder / name, ignore=shutil.ignore_patterns("__pycache__", ".*"))
    for name in ("README.md", "DEVELOPERS.md", "pyproject.toml"):
        shutil.copy(TOP / name, folder / name)
    with (folder / "pyproject.toml").open("a", encoding="utf-8") as file:
        file.write(CONFIG.format(room=room, tests=json.dumps(tests), arguments=json.dumps(ARGUMENTS)))
    # A test that fails is not made smaller first: the mutant is dead already.
    conftest = folder / "tests" / "conftest.py"
    conftest.write_text(conftest.read_text(encoding="utf-8").replace(
        "derandomize=True", "derandomize=True, phases=(Phase.explicit, Phase.generate)").replace(
        "import settings", "import Phase, settings") + TIMED, encoding="utf-8")
    (folder / "mutants").mkdir()      # Python never looks again at a place that was not there when it started
    told = subprocess.run([sys.executable, "-m", "mutmut", "run", "--max-children", "2", "no such mutant"], cwd=folder,
                          check=False, env=environment(folder), stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    return told.stdout


def diffs(folder: Path, home: Mapping[str, str], names: Iterable[str]) -> dict[str, str]:
    """What each mutant changes."""
    told = subprocess.run([sys.executable, "-c", DIFFS], cwd=folder, env=environment(folder), check=True, capture_output=True,
                          text=True, input=json.dumps([(name, home[name]) for name in names]))
    return json.loads(told.stdout)


def is_wording(diff: str) -> bool:
    """Whether all that a mutant changes is a string with a blank in it."""
    gone, come = (re.findall(rf"^\{sign}(?!\{sign})(.*)$", diff, re.MULTILINE) for sign in "-+")
    return bool(gone) and [WORDS.sub('""', line) for line in gone] == [WORDS.sub('""', line) for line in come]


def interval(hits: int, of: int) -> tuple[float, float]:
    """Between which shares the true one lies with 95 %. Source: Wilson, Journal of the ASA 22, 1927.

    >>> [round(share, 3) for share in interval(90, 100)]
    [0.826, 0.945]
    """
    z = 1.959964
    middle, spread = (hits + z * z / 2) / (of + z * z), z * sqrt(hits * (of - hits) / of + z * z / 4) / (of + z * z)
    return middle - spread, middle + spread


def table(rows: Mapping[str, Counter[str]], everything: Mapping[str, int]) -> None:
    """How many of each file ended how, and the share killed."""
    print(f"\n{'':28}{'mutants':>8}{'drawn':>7}" + "".join(f"{column:>10}" for column in COLUMNS) + "    killed")
    for name, ends in rows.items():
        dead = sum(ends[column] for column in DEAD)
        run = dead + ends["survived"]
        share = f"{100 * dead / run:8.1f} %" if run else ""
        print(f"{name:28}{everything.get(name, ''):>8}{sum(ends.values()):7}"
              + "".join(f"{ends[column]:10}" for column in COLUMNS) + share)


def report(room: str, home: Mapping[str, str], found: Mapping[str, int], changes: Mapping[str, str], how: str) -> None:
    """Survivors and what fell to time, then the table, then the share with its interval. `changes` has the diff of each drawn."""
    rows: dict[str, Counter[str]] = {}
    kinds: dict[str, Counter[str]] = {"all": Counter(), "of these wording": Counter()}
    for name, diff in changes.items():
        what, file = end(found.get(name)), home[name].removeprefix(f"figures/{room}/")
        if what not in ("killed", "not run"):
            print(f"\n{what}{' (wording)' if is_wording(diff) else ''}: {name}\n{diff}")
        rows.setdefault(file, Counter())[what] += 1
        kinds["all"][what] += 1
        if is_wording(diff):
            kinds["of these wording"][what] += 1
    everything = Counter(file.removeprefix(f"figures/{room}/") for file in home.values())
    table({**dict(sorted(rows.items())), **kinds}, {**everything, "all": len(home)})
    dead, ran = sum(kinds["all"][column] for column in DEAD), kinds["all"].total() - kinds["all"]["not run"]
    low, high = interval(dead, ran)
    print(f"\nmutmut {version('mutmut')}, figures/{room}: {dead} of {ran} killed, {100 * dead / ran:.1f} % (95 % interval "
          f"{100 * low:.1f} to {100 * high:.1f} %), of {len(home)} mutants; {how}")


def main(room: str, *words: str) -> int:
    """Prints survivors and shares; 0 whatever survives, since survivors are for people to judge. 2 where it cannot be asked."""
    if room not in TESTS:
        print(f"no such room: {room}; known are {', '.join(TESTS)}", file=sys.stderr)
        return 2
    for number in (signal.SIGINT, signal.SIGTERM):       # in the background a shell has Ctrl-C ignored
        signal.signal(number, signal.default_int_handler)
    numbers = [int(word) for word in words if word.isdigit()]
    patterns = [word for word in words if not word.isdigit()]
    many, seed, processes = (*numbers, *(0, 1, 1)[len(numbers):])[:3]
    with tempfile.TemporaryDirectory(prefix="mutants-") as top:
        folder = Path(top)
        told = prepare(folder, room, TESTS[room])
        home = generated(folder)
        wanted = sorted(name for name in home if not patterns or any(fnmatch(name, pattern) for pattern in patterns))
        drawn = random.Random(seed).sample(wanted, min(many or len(wanted), len(wanted)))
        if not drawn or not (folder / "mutants" / "times.json").exists():
            print(f"no mutant is called {' or '.join(patterns)}, or mutmut could not begin:\n{told[-2000:]}", file=sys.stderr)
            return 2
        found = run(folder, TESTS[room], ["", *drawn], processes)
        if found.pop("", 0) or not found:
            log = (folder / "run.log").read_text(encoding="utf-8")
            print(f"the tests of the unchanged tree fail, or were stopped:\n{log[-2000:]}", file=sys.stderr)
            return 2
        how = f"patterns {' '.join(patterns)}" if patterns else f"seed {seed}"
        report(room, home, found, diffs(folder, home, sorted(drawn)), how)
    return 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]) if len(sys.argv) > 1 else main(""))
