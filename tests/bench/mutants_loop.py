"""Runs mutants that mutmut has written, each in a fork of one pytest session that `tests.bench.mutants` starts in their tree.

mutmut itself starts pytest anew for each mutant, which costs more than most mutants live. Tests are those that mutmut saw calling
the changed function: first those that killed other mutants of the same function, then of the same file, then any, then the quick
ones. The first that fails kills the mutant.
"""

from __future__ import annotations

import gc
import json
import os
import signal
import sys
from collections import Counter
from itertools import pairwise
from pathlib import Path

import pytest

ENDS = Path("ends.jsonl")
NO_TEST = 33


class Forks:
    """A pytest plugin: in place of the session's tests it runs those of each mutant, and writes how each ended."""

    def __init__(self, names: list[str], processes: int) -> None:
        self.names = names
        self.processes = processes
        self.running: dict[int, tuple[str, int]] = {}
        self.kills: Counter[tuple[str, str]] = Counter()

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Every mutant once; '' is the tree unchanged, of which nothing may fail."""
        callers = json.loads(Path("mutmut-stats.json").read_text(encoding="utf-8"))["tests_by_mangled_function_name"]
        usual = json.loads(Path("times.json").read_text(encoding="utf-8"))
        gc.freeze()      # or each fork would copy all of the memory at its first collection
        for name in self.names:
            called = set(callers.get(function(name), ()))
            tests = [item for item in session.items if not name or item.nodeid in called]
            tests.sort(key=lambda item: (*(-self.kills[place, item.nodeid] for place in (function(name), file(name), "")),
                                         usual.get(item.nodeid, 0.0)))
            if not tests:
                self.ended(name, NO_TEST)
                continue
            reading, writing = os.pipe()
            if not (pid := os.fork()):
                self.run(session, name, tests, writing)
            os.close(writing)
            self.running[pid] = name, reading
            while len(self.running) >= (self.processes if name else 1):
                if self.wait() and not name:
                    return True
        while self.running:
            self.wait()
        return True

    def run(self, session: pytest.Session, name: str, tests: list[pytest.Item], killer: int) -> None:
        """In the fork: never returns. Tells which test failed."""
        signal.signal(signal.SIGTERM, signal.SIG_DFL)
        try:
            from mutmut.mutation import trampoline

            trampoline.set_mutant_under_test(name)
            trampoline.get_mutant_under_test = lambda: name      # not the environment at each call: a third of all time
            for item, following in pairwise([*tests, None]):
                session.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
                if session.testsfailed:
                    os.write(killer, item.nodeid.encode())
                    os._exit(1)
            os._exit(0)
        finally:
            os._exit(3)

    def wait(self) -> int:
        """Until one of those that run has ended; its exit."""
        pid, status = os.wait()
        name, reading = self.running.pop(pid)
        killer = os.read(reading, 4096).decode()
        os.close(reading)
        if killer:
            self.kills.update((place, killer) for place in (function(name), file(name), ""))
        self.ended(name, os.waitstatus_to_exitcode(status))
        return os.waitstatus_to_exitcode(status)

    def stop(self, *_: object) -> None:
        """At once, with all forks: an exception might be caught on its way."""
        for pid in self.running:
            os.kill(pid, signal.SIGKILL)
        os._exit(1)

    def ended(self, name: str, code: int) -> None:
        """Written at once, so that a run that is stopped has told of what it did."""
        with ENDS.open("a", encoding="utf-8") as ends:
            ends.write(json.dumps([name, code]) + "\n")


def function(name: str) -> str:
    """The function that a mutant changes, as mutmut writes it."""
    return name.partition("__mutmut_")[0]


def file(name: str) -> str:
    """The module that a mutant changes."""
    return name.rpartition(".")[0]


def main() -> int:
    """Takes pytest's arguments, the number of processes and the mutants from stdin, as JSON."""
    given = json.load(sys.stdin)
    forks = Forks(given["names"], given["processes"])
    signal.signal(signal.SIGTERM, forks.stop)
    os.environ["PY_IGNORE_IMPORTMISMATCH"] = "1"
    return int(pytest.main(given["arguments"], plugins=[forks]))


if __name__ == "__main__":
    sys.exit(main())
