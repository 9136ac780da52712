"""What the lessons cost: each in a kernel of its own, its work and its memory; and all of them under nbval on two workers."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from unittest import mock

import nbformat
from nbclient import NotebookClient

from tests.lessons.runs import own_kernel
from widgets.learn.lessons import lessons_dir, shipped_lessons

from .measure import TOP, Row

ASK = """
import resource as _resource
_used = _resource.getrusage(_resource.RUSAGE_SELF)
_rss = next(line.split()[1] for line in open("/proc/self/status") if line.startswith("VmRSS"))
print(_used.ru_utime + _used.ru_stime, int(_rss) / 1024)
"""


def cost(path: Path) -> tuple[float, float, float]:
    """Seconds by the clock, seconds of work of the kernel, and megabytes that it holds when the lesson has run once."""
    lesson = nbformat.read(path, as_version=4)
    lesson.cells.append(nbformat.v4.new_code_cell(ASK))
    with tempfile.TemporaryDirectory() as home, mock.patch.dict(os.environ, own_kernel(Path(home))):
        start = time.perf_counter()
        done = NotebookClient(lesson, timeout=120, kernel_name="python3",
                              resources={"metadata": {"path": home}}).execute()
        seconds = time.perf_counter() - start
    work, held = map(float, done.cells[-1].outputs[0].text.split())
    return seconds, work, held


def rows() -> Iterator[Row]:
    """A row for each lesson and one for all."""
    worked = 0.0
    for path in shipped_lessons():
        seconds, work, held = cost(path)
        worked += work
        yield Row(f"memory of a kernel after {path.stem}", held, "MB",
                  f"at most 110, 150 once a chart was drawn; {work:.1f} s of work (at most 8), {seconds:.1f} s by the clock")
    start, before = time.perf_counter(), os.times()
    done = subprocess.run([sys.executable, "-m", "pytest", "-q", "-n", "2", "--dist", "loadfile", str(lessons_dir())], cwd=TOP,
                          stdout=subprocess.DEVNULL, env={**os.environ, "OPENBLAS_NUM_THREADS": "1"})
    after = os.times()
    work = after.children_user + after.children_system - before.children_user - before.children_system
    held_all = "" if done.returncode == 0 else "; not all of them held"
    yield Row("all lessons under nbval on two workers", time.perf_counter() - start, "s",
              f"at most 240; {work:.0f} s of work, {worked:.0f} of it in the cells{held_all}")
