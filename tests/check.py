"""Everything that must hold, in one command: `python -m tests.check`. Lint, types, tests, lessons; seconds for each.

Stops at the first step that fails and prints the line that runs it again.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path

TOP = Path(__file__).parents[1]
PYTEST = ("-m", "pytest")
STEPS: dict[str, tuple[str, ...]] = {
    "start": ("-m", "widgets.command", "--help"),
    "lint": ("-m", "ruff", "check", "."),
    "types": ("-m", "mypy"),
    "tests": (*PYTEST, "tests", "figures", "widgets"),
    "lessons": (*PYTEST, "lessons"),
}
"""In the order in which they are cheapest to fail."""


def rerun(step: tuple[str, ...], output: str) -> str:
    """The line that runs again what failed: of pytest the first test, of others the step.

    >>> rerun((*PYTEST, "tests"), "..F\\nFAILED tests/test_rooms.py::test_arrows - assert 1 == 2\\n")
    'python -m pytest tests/test_rooms.py::test_arrows'
    """
    failed = re.search(r"^(?:FAILED|ERROR) (\S.*?)(?: - .*)?$", output, re.MULTILINE)
    if step[:2] == PYTEST and failed:
        test = failed[1] if " " not in failed[1] else f'"{failed[1]}"'
        return f"python -m pytest {test}"
    return f"python {' '.join(step)}"


def main() -> int:
    """Run the steps; 0 where all hold."""
    with tempfile.TemporaryDirectory(prefix="loopbook-check-") as records:
        return _run({**os.environ, "LOOPBOOK_DATA": records})     # nobody's own record is touched


def _run(env: dict[str, str]) -> int:
    for name, step in STEPS.items():
        start = time.monotonic()
        done = subprocess.run([sys.executable, *step], cwd=TOP, env=env, capture_output=True, text=True)
        seconds = time.monotonic() - start
        last = next((line for line in reversed(done.stdout.splitlines()) if line.strip(" =")), "")
        print(f"{name:8} {seconds:6.1f} s  {'holds' if done.returncode == 0 else 'FAILS'}  "
              f"{last.strip('= ') if step[:2] == PYTEST else ''}".rstrip(), flush=True)
        if done.returncode:
            print(done.stdout[-6000:], done.stderr[-2000:], sep="\n")
            print(f"Run it again: {rerun(step, done.stdout)}")
            return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
