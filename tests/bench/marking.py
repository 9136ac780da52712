"""How long the answers of a class take to mark, and how much memory; and a class that a script invents, to look at.

`python -m tests.bench.marking FOLDER [N]` fills the forms of a test in FOLDER for N invented learners (all papers, unless
said), who hold some misconceptions: `loopbook mark FOLDER` then marks them.
"""

from __future__ import annotations

import json
import math
import random
import resource
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from time import perf_counter, process_time

from widgets.paper import report
from widgets.paper.answers import read_folder
from widgets.paper.keyfile import read_key
from widgets.paper.marked import mark_class

from .measure import Row

FIRST = ("Amal", "Bea", "Chidi", "Dörte", "Émile", "Fatma", "Giò", "Hye", "Ines", "Jörg", "Kim", "Łucja", "Máté", "Nia", "Oğuz")
LAST = ("Aström", "Blåberg", "Çelikel", "Dûval", "Ēriks", "Ferrôn")


def invented(count: int, seed: int = 1) -> Iterator[tuple[str, float, frozenset[int]]]:
    """Names that nobody has, an ability, and the misconceptions that each holds."""
    chance = random.Random(seed)
    for n in range(count):
        tail = f" {n // (len(FIRST) * len(LAST)) + 1}" if n >= len(FIRST) * len(LAST) else ""
        held = frozenset(number for number in range(1, 23) if chance.random() < (0.5 if number in (10, 20) else 0.12))
        yield f"{FIRST[n % len(FIRST)]} {LAST[n // len(FIRST) % len(LAST)]}{tail} (invented)", chance.gauss(0.4, 1.1), held


def answered(question: dict, ability: float, held: frozenset[int], chance: random.Random) -> str:
    """What such a learner writes to a question of a key."""
    tempting = [o["sign"] for o in question["options"] if o["misconception"] in held]
    if tempting and chance.random() < 0.6:
        return chance.choice(tempting)
    if chance.random() < 1 / (1 + math.exp(-(ability + 0.6 * (2 - question["difficulty"])))):
        return "".join(question["key"])
    return "" if chance.random() < 0.08 else chance.choice([o["sign"] for o in question["options"]])


def fill_in(folder: Path, count: int | None = None, seed: int = 1) -> int:
    """Fill in forms for invented learners, papers in turn. Returns how many."""
    papers = json.loads((folder / "key" / "key.json").read_text(encoding="utf-8"))["papers"]
    (folder / "answers").mkdir(exist_ok=True)
    chance = random.Random(seed)
    for n, (name, ability, held) in enumerate(invented(count or len(papers), seed)):
        paper = papers[n % len(papers)]
        stem = f"paper-{paper['number']:02}" if n < len(papers) else f"learner-{n:05}"
        rows = "".join(f'{q["number"]} = "{answered(q, ability, held, chance)}"\n' for q in paper["questions"])
        (folder / "answers" / f"{stem}.toml").write_text(
            f'format = 1\ncode = "{paper["code"]}"\nlearner = "{name}"\n\n[answers]\n{rows}', encoding="utf-8")
    return count or len(papers)


def rows() -> Iterator[Row]:
    """2,000 answer files to 12 questions: read, marked and reported here; then by the command, with the memory it took."""
    from widgets.paper.keyfile import written
    from widgets.paper.papers import make_test

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "key").mkdir()
        (folder / "key" / "key.json").write_text(written(make_test(1, 2, 12)), encoding="utf-8")
        count = fill_in(folder, 2000)
        start = process_time()
        of = mark_class(read_folder(folder / "answers"), read_key(folder / "key"))
        marked = process_time() - start
        assert len(of.learners) == count, of.aside[:3]
        start = process_time()
        text = report.html(of) + report.learners_csv(of) + report.questions_csv(of)
        told = process_time() - start
        yield Row(f"{count} answer files read and marked", marked, "s", "work on the processor")
        yield Row("their report as HTML and tables", told, "s", f"{len(text) / 1e6:.1f} MB")
        start_s = perf_counter()
        subprocess.run([sys.executable, "-m", "widgets.command", "mark", name], check=True, stdout=subprocess.DEVNULL)
        took = perf_counter() - start_s
        yield Row(f"loopbook mark, {count} files, with the PDF", took, "s", "of the clock, start of Python included")
        yield Row("memory of that command at most", resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024, "MB",
                  "resident, typst included")


if __name__ == "__main__":
    print(fill_in(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else None), "forms filled in")
