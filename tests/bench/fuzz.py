"""Spoilt files of every kind through every command's function: `python -m tests.bench.fuzz [HOW_MANY [SEED]]`.

Plant files, label sheets, answer files, blueprints and records are spoilt by bytes and by words (absurd figures, hostile
titles and tags, tables twice), and go through `widgets.command.main` in this process; one in a hundred also through
a process of its own. Each must end with exit 0 to 3 and no traceback within two seconds of work; nothing may be written outside
the folder that was given; drawings and sheets must be well-formed, and no hostile word may have become markup.
"""

from __future__ import annotations

import contextlib
import io
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from html.parser import HTMLParser
from pathlib import Path
from types import FrameType
from typing import NoReturn
from xml.etree import ElementTree

from tests.bench.spoil import HOSTILE_ELEMENT, spoilt
from widgets.command import main
from widgets.learn.exam_form import BadBlueprint, parse_blueprint

TOP = Path(__file__).parents[2]
PATIENCE_S = 2.0
SHARES = {"plant": 70, "labels": 10, "blueprint": 8, "record": 6, "answers": 6}
CALLS = ("heat", "dhw", "both")
CONFIGURATIONS = ("heating only", "DHW on the system loop", "DHW on the boiler loop")


class Hangs(Exception):
    """A command took more than two seconds of processor time."""


class Elements(HTMLParser):
    """The elements and attributes of a page, as a browser takes them apart."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.found: set[str] = set()
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found |= {tag, *(f"@{name}" for name, _ in attrs)}


def markup_faults(name: str, text: str) -> list[str]:
    """What is wrong with a drawing or page: not well-formed, or a hostile word became an element or a handler."""
    faults = []
    if name.endswith(".svg"):
        try:
            ElementTree.fromstring(text)
        except ElementTree.ParseError as error:
            faults.append(f"{name}: not well-formed: {error}")
    found = Elements(text).found
    if HOSTILE_ELEMENT in found or "script" in found:
        faults.append(f"{name}: a hostile word became markup")
    faults += [f"{name}: a handler {handler}" for handler in found if handler.startswith("@on")]
    return faults


class Sandbox:
    """A folder in which commands are run, and that tells what they wrote outside of `out`."""

    def __init__(self, home: Path) -> None:
        self.home, self.out = home, home / "out"
        self.given = home / "given"
        for folder in (self.out, self.given):
            folder.mkdir(parents=True)
        self.before = self._files()

    def _files(self) -> set[str]:
        return {str(path.relative_to(self.home)) for path in self.home.rglob("*") if path.is_file()
                and not path.is_relative_to(self.out) and not path.is_relative_to(self.given)}

    def strays(self) -> list[str]:
        """Files written where none was asked for."""
        return sorted(self._files() - self.before)

    def products(self) -> Iterator[Path]:
        """What commands wrote, each once."""
        for path in sorted(self.out.rglob("*")):
            if path.is_file():
                yield path
                path.unlink()


def commands(kind: str, chance: random.Random, box: Sandbox, file: Path) -> list[list[str]]:
    """The words of the commands that a file of a kind goes through."""
    plant, out = str(file), str(box.out)
    sample = str(chance.choice(SAMPLES))
    if kind == "plant":
        call = ["--as", chance.choice(CONFIGURATIONS), "--call", chance.choice(CALLS)]
        every = [["read", plant, "--json"], ["read", plant], ["draw", plant, "--out", f"{out}/d.svg", "--findings"],
                 ["draw", plant, "--out", f"{out}/b.svg", "--blank", "--missing"], ["solve", plant, "--json"],
                 ["operate", plant, *call, "--json"], ["operate", plant, *call], ["sheet", plant, "--out", f"{out}/s.html"],
                 ["sheet", plant, "--out", f"{out}/s.txt"]]
        return chance.sample(every, 2)
    if kind == "labels":
        return [chance.choice([["sheet", sample, "--labels", plant, "--out", f"{out}/l.html"],
                               ["draw", sample, "--labels", plant, "--out", f"{out}/l.svg"]])]
    if kind == "record":
        folder = ["--folder", plant.rpartition(os.sep)[0]]
        return [chance.choice([["record", "show", *folder], ["record", "export", *folder, "--out", f"{out}/r.csv",
                               "--format", "csv"], ["record", "back-up", *folder, "--out", f"{out}/copy.db"]])]
    if kind == "answers":
        return [["mark", str(box.given), "--out", out, "--force"]]
    return []


SAMPLES = sorted((TOP / "tests" / "plants").glob("*.toml"))


def _too_long(_number: int, _frame: FrameType | None) -> NoReturn:
    raise Hangs


def in_process(words: list[str], patience_s: float | None = None) -> tuple[int | str, str]:
    """The exit of a command run here, or what it died of; and what it said on stderr."""
    said, errors = io.TextIOWrapper(io.BytesIO(), "utf-8"), io.TextIOWrapper(io.BytesIO(), "utf-8")
    signal.signal(signal.SIGPROF, _too_long)
    signal.setitimer(signal.ITIMER_PROF, patience_s or PATIENCE_S)
    try:
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(errors):
            code: int | str = main(words)
    except Hangs:
        code = f"more than {patience_s or PATIENCE_S:g} s"
    except BaseException as error:          # whatever it is, it is the finding
        code = f"{type(error).__name__}: {error}"
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
    for stream in (said, errors):
        stream.flush()
    return code, errors.buffer.getvalue().decode("utf-8", "replace")      # type: ignore[attr-defined]


def as_process(words: list[str]) -> tuple[int | str, str]:
    """The same as a learner types it."""
    try:
        ended = subprocess.run([sys.executable, "-m", "widgets.command", *words], cwd=TOP, capture_output=True, timeout=300)
    except subprocess.TimeoutExpired:
        return "more than 300 s", ""
    return ended.returncode, ended.stderr.decode("utf-8", "replace")


def make_record(folder: Path) -> None:
    """A small record of a learner: the database and whatever stands beside it."""
    from widgets.learn import Record

    record = Record(folder)
    for number in range(12):
        record.add("answer", exercise="fuzz", item="control", answer=chr(233) * number, points=number % 2, of=1.0)


def make_answers(folder: Path) -> None:
    """A small test that a class has sat: the key, two forms filled in, and the class's table."""
    words = ["paper", "--seed", "4711", "--questions", "3", "--copies", "2", "--out", str(folder)]
    code, errors = in_process(words, patience_s=600)
    if code != 0:
        raise RuntimeError(errors)
    for unused in ("papers", "key/key.pdf"):
        path = folder / unused
        shutil.rmtree(path) if path.is_dir() else path.unlink()
    for n, form in enumerate(sorted((folder / "answers").glob("*.toml"))):
        form.write_text(form.read_text("utf-8").replace('name = ""', f'name = "Kim {n}"').replace('= ""', '= "a"'), "utf-8")


def one(kind: str, chance: random.Random, box: Sandbox, originals: dict[str, list[bytes]], alone: bool) -> Iterator[str]:
    """Spoil one file, run its commands, and tell what must not be."""
    shutil.rmtree(box.given)
    box.given.mkdir()
    file = box.given / f"{kind}.toml"
    if kind in ("record", "answers"):
        shutil.copytree(box.home / kind, box.given, dirs_exist_ok=True)
        file = chance.choice(sorted(path for path in box.given.rglob("*") if path.is_file()))
    data = spoilt(file.read_bytes() if kind in ("record", "answers") else chance.choice(originals[kind]), chance)
    file.write_bytes(data)
    if kind == "blueprint":
        try:
            parse_blueprint(data.decode("utf-8", "surrogateescape"))
        except BadBlueprint:
            pass
        except Exception as error:          # whatever it is, it is the finding
            yield f"blueprint: {type(error).__name__}: {error}"
        return
    for words in commands(kind, chance, box, file):
        for run in (in_process, as_process) if alone else (in_process,):
            code, errors = run(words)
            if code not in (0, 1, 2, 3) or "Traceback" in errors or (code == 2 and not errors.strip()):
                yield f"{' '.join(words[:2])}: {code}: {errors[-300:]}"
            for product in box.products():
                if product.suffix in (".svg", ".html"):
                    yield from markup_faults(product.name, product.read_text("utf-8"))
    yield from (f"{kind}: wrote {stray}" for stray in box.strays())


def run(many: int, seed: int = 0, tell: Callable[[str], object] = print, kinds: Sequence[str] = tuple(SHARES)) -> Counter[str]:
    """Spoil and run that many files. Returns how many of each kind, and under 'faults' how many must not be."""
    count: Counter[str] = Counter()
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as home, contextlib.chdir(home):
        os.environ["LOOPBOOK_DATA"] = str(Path(home) / "data")      # whatever goes astray, it is nobody's record
        make_record(Path(home) / "box" / "record")
        if "answers" in kinds:
            make_answers(Path(home) / "box" / "answers")
        box = Sandbox(Path(home) / "box")
        originals = files_to_spoil(Path(home) / "made")
        for number in range(many):
            chance = random.Random(f"fuzz {seed} {number}")
            kind = chance.choices(kinds, [SHARES[kind] for kind in kinds])[0]
            count[kind] += 1
            for fault in one(kind, chance, box, originals, alone=number % 100 == 99):
                count["faults"] += 1
                kept = Path(tempfile.gettempdir()) / f"loopbook-fuzz-{seed}-{number}-{kind}"
                shutil.copytree(box.given, kept, dirs_exist_ok=True)
                tell(f"{number}: {fault} (kept as {kept})")
            if number % 1000 == 999:
                peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
                tell(f"{number + 1} of {many}, {count['faults']} faults, {time.monotonic() - began:.0f} s, {peak:.0f} MB at most")
    return count


def files_to_spoil(folder: Path) -> dict[str, list[bytes]]:
    """Sound files of every kind, made or shipped."""
    from figures.plant import write_plant
    from figures.plant.scheme import Scheme
    from widgets.learn import exam_form

    folder.mkdir(parents=True)
    plants = [path.read_bytes() for path in SAMPLES]
    plants += [write_plant(Scheme.random(seed).plant()).encode() for seed in range(20)]
    return {
        "plant": plants,
        "labels": [(TOP / "lessons" / "labels-example.toml").read_bytes()],
        "blueprint": [Path(exam_form.__file__).with_name("blueprint.toml").read_bytes()],
        "record": [b"made for each"],
        "answers": [b"made for each"],
    }


def rows(many: int = 500) -> Iterator[tuple[str, float, str, str]]:
    """What was measured: (what, value, unit, note)."""
    began = time.perf_counter()
    count = run(many)
    kinds = ", ".join(f"{number} {kind}" for kind, number in sorted(count.items()) if kind != "faults")
    yield "spoilt files that went wrong", count["faults"], "of", f"{many}: {kinds}; {time.perf_counter() - began:.0f} s"


if __name__ == "__main__":
    total = run(int(sys.argv[1]) if len(sys.argv) > 1 else 1000, int(sys.argv[2]) if len(sys.argv) > 2 else 0)
    print(dict(total))
    sys.exit(1 if total["faults"] else 0)
