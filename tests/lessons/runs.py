"""Running a lesson's cells in a kernel for many seeds, and taking its text apart."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Iterator
from pathlib import Path
from unittest import mock

import nbformat
from nbclient import NotebookClient

from widgets.serve import study


def in_kernel_with_seeds(path: Path, seeds: Iterable[int], home: Path) -> int:
    """Run all code cells of a lesson once for each seed, in one kernel. Returns how many cells ran.

    home: an empty folder that stands in for the learner's, so that nobody's record is touched.
    Raises nbclient's CellExecutionError; its text shows the cell and the seed.
    """
    lesson = nbformat.read(path, as_version=4)
    long = nbformat.v4.new_notebook(metadata=lesson.metadata)
    ran = 0
    for seed in seeds:
        long.cells.append(nbformat.v4.new_code_cell(f"import os; os.environ['LOOPBOOK_SEED'] = '{seed}'"))
        for cell in lesson.cells:
            if cell.cell_type == "code":
                long.cells.append(nbformat.v4.new_code_cell(f"# seed {seed}, cell {cell.id}\n{cell.source}"))
                ran += 1
    with mock.patch.dict(os.environ, own_kernel(home)):
        NotebookClient(long, timeout=120, kernel_name="python3", resources={"metadata": {"path": str(home)}}).execute()
    return ran


def own_kernel(home: Path) -> dict[str, str]:
    """Environment variables with which a kernel named python3 is this Python, at home in an empty folder."""
    kernels = str(Path(study.__file__).resolve().parent / "lab")
    return {"JUPYTER_PATH": kernels, "HOME": str(home), "LOOPBOOK_DATA": str(home / "data")}


def sentences_of(markdown: str) -> Iterator[str]:
    """The sentences of a text cell; a row of a table, a heading and a point of a list end one each."""
    rows = re.findall(r"^\|.*\|$", markdown, flags=re.M)
    rest = re.sub(r"^\|.*\|$", "\n", markdown, flags=re.M)
    plain = re.sub(r"<[^>]+>|[*_`>#]", " ", rest)
    cells = [cell for row in rows for cell in row.split("|")]
    for block in [*cells, *re.split(r"\n\s*\n|\n\s*(?:-|\d+\.)\s", plain)]:
        for sentence in re.split(r"(?<=[.!?:;])\s+", " ".join(block.split())):
            if sentence:
                yield sentence
