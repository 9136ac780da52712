"""Spoilt files of every kind through every command's function: `python -m tests.bench.fuzz [HOW_MANY [SEED [FROM]]]`.

Plant files, label sheets, answer files, blueprints and records are spoilt as text (`spoil`), as trees (`bent`), as plants
(`spoil_plants`) and as folders (`spoil_folders`), and go through `widgets.command.main` in this process and through the functions
that make pages of them (`fuzz_calls`); one in a hundred also through a process of its own. Each must end with exit 0 to 3 and no
traceback within two seconds of work and `MOST_MB` of memory, and what it leaves is judged by `fuzz_judge`: pages and drawings
well-formed, of our elements alone; tables without formulas; nothing printed that moves a cursor; nothing written, begun or
called outside the folder that was given. Typesetting costs most and knows data from markup by itself: of the reports of a class
it makes one in twenty.
"""

from __future__ import annotations

import contextlib
import gc
import io
import json
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import tomllib
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import FrameType
from typing import Any, NoReturn
from unittest import mock

from tests.bench.fuzz_calls import SAMPLES, TOP, Call, calls
from tests.bench.fuzz_judge import Watch, control_faults, json_faults, product_faults
from tests.bench.spoil import as_toml, bent, spoilt, worded
from tests.bench.spoil_folders import spoil_answers, spoil_record
from tests.bench.spoil_plants import turned
from widgets.command import main

PATIENCE_S = 2.0
WALL_S = 120.0
"""A command that waits for something, and works on nothing."""
MOST_MB, MOST_MORE_MB = 350, 120
"""Memory that a run may add to what its process had; and what one file may add to the most there was, once every command has
run."""
WARM, SELDOM = 400, 25
SHARES = {"plant": 56, "labels": 11, "blueprint": 11, "record": 11, "answers": 11}
KEPT = 300
watch: Watch | None = None      # a hook cannot be taken away again, so there is one


class Hangs(BaseException):
    """A command took more than two seconds of processor time. No command's own `except` may keep it."""


@dataclass
class Box:
    """The folders of a run. given: what was spoilt.  out: where commands may write.  outside: where nobody has any business."""

    home: Path
    given: Path = field(init=False)
    out: Path = field(init=False)
    outside: Path = field(init=False)

    def __post_init__(self) -> None:
        self.given, self.out, self.outside = self.home / "given", self.home / "out", self.home / "outside"
        for folder in (self.given, self.out, self.outside, self.home / "tmp"):
            folder.mkdir(parents=True)
        (self.outside / "secret.toml").write_text('format = 1\ncode = "BCDF-3467"\nlearner = "S3CRET"\n[answers]\n1 = "A"\n')
        (self.outside / "kept.txt").write_text("kept\n")

    def empty(self) -> None:
        """Nothing of the last file is left."""
        for folder in (self.given, self.out):
            shutil.rmtree(folder)
            folder.mkdir()

    def products(self) -> Iterator[Path]:
        """What commands wrote."""
        yield from (path for path in sorted(self.out.rglob("*")) if path.is_file() and "full" not in path.parts)


@dataclass(frozen=True)
class Original:
    """A sound file, and the tree that it holds."""

    data: bytes
    tree: dict[str, Any]


@dataclass
class Tally:
    """What was done, and how it ended."""

    count: Counter[str] = field(default_factory=Counter)
    ends: Counter[str] = field(default_factory=Counter)
    work_s: Counter[str] = field(default_factory=Counter)
    slowest: tuple[float, str] = (0.0, "")


def _too_long(_number: int, _frame: FrameType | None) -> NoReturn:
    raise Hangs


def guarded(act: Callable[[], int], stdin: bytes = b"", patience_s: float | None = None) -> tuple[int | str, str, str]:
    """The exit of what is run here, or what it died of; what it printed, and what it said on stderr."""
    said, errors = (io.TextIOWrapper(io.BytesIO(), "utf-8") for _ in range(2))
    patience_s = patience_s or PATIENCE_S
    signal.signal(signal.SIGPROF, _too_long)
    signal.signal(signal.SIGALRM, _too_long)
    began = time.process_time()
    try:
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(errors), \
                mock.patch.object(sys, "stdin", io.TextIOWrapper(io.BytesIO(stdin), "utf-8")):
            signal.setitimer(signal.ITIMER_PROF, patience_s)
            signal.setitimer(signal.ITIMER_REAL, max(WALL_S, patience_s))
            try:
                code: int | str = act()
            finally:
                signal.setitimer(signal.ITIMER_PROF, 0)
                signal.setitimer(signal.ITIMER_REAL, 0)
    except Hangs:
        code = f"more than {patience_s:g} s of work"
    except BaseException as error:          # whatever it is, it is the finding
        code = f"{type(error).__name__}: {error}"[:300]
    if time.process_time() - began > patience_s:
        code = f"{time.process_time() - began:.1f} s of work"
    for stream in (said, errors):
        stream.flush()
    return code, *(stream.buffer.getvalue().decode("utf-8", "replace") for stream in (said, errors))  # type: ignore[attr-defined,return-value]


def in_process(call: Call, patience_s: float | None = None) -> tuple[int | str, str, str]:
    """A call, here."""
    patch = contextlib.nullcontext() if call.typeset else mock.patch("widgets.paper.report.pdf", lambda *_: b"%PDF-1.7\n%%EOF")
    with patch:
        return guarded(call.act or (lambda: main(call.words)), call.stdin, (patience_s or PATIENCE_S) * call.patience)


class Alone:
    """The same as a learner types it, in a process of its own, on a copy of the file, while this one goes on. One at a time."""

    def __init__(self, number: int, kind: str, call: Call, box: Box, home: Path) -> None:
        self.number, self.kind, self.box = number, kind, Box(home)
        for folder, copy in ((box.given, self.box.given), (box.out, self.box.out)):
            shutil.copytree(folder, copy, dirs_exist_ok=True, symlinks=True, ignore=pipes)
        self.call = replace(call, words=tuple(word.replace(str(box.home), str(home)) for word in call.words))
        (home / "stdin").write_bytes(call.stdin)
        self.before = resource.getrusage(resource.RUSAGE_CHILDREN)
        with (home / "stdin").open("rb") as typed, (home / "said").open("wb") as said, (home / "errors").open("wb") as errors:
            self.child = subprocess.Popen([sys.executable, "-m", "widgets.command", *self.call.words], cwd=TOP, stdin=typed,
                                          stdout=said, stderr=errors)

    def faults(self) -> Iterator[str]:
        """Wait for its end, and tell what must not be. The work of starting counts as well."""
        try:
            code: int | str = self.child.wait(300)
        except subprocess.TimeoutExpired:
            self.child.kill()
            self.child.wait()
            code = "more than 300 s"
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        work_s = after.ru_utime + after.ru_stime - self.before.ru_utime - self.before.ru_stime
        if work_s > (PATIENCE_S + 2.0) * self.call.patience:
            code = f"{work_s:.1f} s of work"
        said, errors = ((self.box.home / name).read_bytes().decode("utf-8", "replace") for name in ("said", "errors"))
        yield from (f"{' '.join(self.call.words)[:300]}, alone: {fault}"
                    for fault in faults_of(self.call, code, said, errors, self.box))


def pipes(at: str, names: list[str]) -> list[str]:
    """Those of the names that cannot be copied."""
    return [name for name in names if Path(at, name).is_fifo()]


def faults_of(call: Call, code: int | str, said: str, errors: str, box: Box) -> Iterator[str]:
    """What must not be: of one call, of what it printed, and of what it wrote."""
    if code not in (0, 1, 2, 3) or "Traceback" in errors or (code == 2 and not call.act and not errors.strip()):
        yield f"{code}: {errors[-300:]}"
        return
    if call.act is None:
        yield from control_faults("stderr", errors)
        if "--json" in call.words:
            plants = call.words.index("--json") - 1
            one_each = call.words[0] in ("read", "solve", "operate", "sheet") and call.words.index("--json") in (2, 5)
            yield from json_faults("stdout", said.splitlines(), plants if one_each else None)
        elif call.words[0] == "record" and "csv" in call.words and "--out" not in call.words and code == 0:
            (box.out / "printed.csv").write_text(said, "utf-8")
        elif call.words[0] == "draw" and said.startswith("<svg"):
            (box.out / "printed.svg").write_text(said, "utf-8")
        else:
            yield from control_faults("stdout", said)
    if "S3CRET" in said + errors:
        yield "tells what stands outside the folder"
    for product in box.products():
        yield from product_faults(product)
        if b"S3CRET" in product.read_bytes():
            yield f"{product.name}: tells what stands outside the folder"


def run_call(call: Call, box: Box, tally: Tally) -> Iterator[str]:
    """One call, here, and what must not be."""
    assert watch is not None
    name = " ".join(call.words[:2 if call.words[0] in ("record",) else 1])
    began = time.process_time()
    watch.on = True
    code, said, errors = in_process(call)
    watch.on = False
    work_s = time.process_time() - began
    tally.ends[f"{name}: {code if isinstance(code, int) else 'fault'}"] += 1
    tally.work_s[name] += work_s
    tally.slowest = max(tally.slowest, (work_s, " ".join(call.words)[:200]))
    found = (*faults_of(call, code, said, errors, box), *watch.faults())
    yield from (f"{' '.join(call.words)[:300]}: {fault}" for fault in found)
    shutil.rmtree(box.out)
    box.out.mkdir()


def put_spoilt(kind: str, chance: random.Random, box: Box, originals: dict[str, list[Original]],
               folders: dict[str, dict[str, bytes]]) -> bytes:
    """A spoilt file of a kind into the folder that is given; its content."""
    if kind in folders:
        for name, data in folders[kind].items():
            (box.given / name).parent.mkdir(exist_ok=True)
            (box.given / name).write_bytes(data)
        (spoil_record if kind == "record" else spoil_answers)(box.given, box.outside, chance)
        return b""
    some = originals[kind]
    original = chance.choices(some, [len(one.data) ** -1.5 for one in some])[0]      # the larger, the dearer and the rarer
    way = chance.random()
    if way < 0.3:
        data = spoilt(original.data, chance)
    elif kind == "plant" and way < 0.85:
        data = as_toml(turned(original.tree, chance)).encode()
        data = spoilt(data, chance) if chance.random() < 0.1 else data
    elif kind == "labels" and way < 0.75:
        data = as_toml(worded(original.tree, chance)).encode("utf-8", "replace")
    else:
        tree = original.tree
        for _ in range(chance.choice((1, 1, 2, 3))):
            tree = bent(tree, chance)
        data = as_toml(tree).encode("utf-8", "replace")
    (box.given / f"{kind}.toml").write_bytes(data)
    return data


def run(many: int, seed: int = 0, tell: Callable[[str], object] = print, kinds: Sequence[str] = tuple(SHARES),
        first: int = 0) -> Counter[str]:
    """Spoil and run that many files, or those from a number on. Returns how many of each kind, and under 'faults' how many
    must not be."""
    global watch
    watch = watch or Watch()
    tally = Tally()
    began = time.monotonic()
    memory = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None
    with tempfile.TemporaryDirectory(dir=memory) as name, contextlib.chdir(name), contextlib.ExitStack() as after:
        home = Path(name).resolve()
        box = Box(home / "box")
        os.environ["LOOPBOOK_DATA"] = str(home / "data")        # whatever goes astray, it is nobody's record
        after.callback(setattr, tempfile, "tempdir", tempfile.tempdir)
        after.enter_context(mock.patch("argparse._", str))      # it looks for its own words in other languages on the disk
        kept_in = Path(tempfile.gettempdir())
        originals, folders = files_to_spoil(), {"record": record_files(home / "made"), "answers": answer_files()}
        tempfile.tempdir = str(box.home / "tmp")
        watch.may = tuple(str(folder) for folder in (box.out, box.given, box.home / "tmp"))
        watch.may_not_read = str(box.outside)
        gc.freeze()     # what stands now stays: it need not be looked through again
        after.callback(gc.unfreeze)
        before = most = peak_mb()
        alone, alone_next = None, False

        def told(number: int, kind: str, found: Iterable[str], box: Box) -> None:
            for fault in found:
                tally.count["faults"] += 1
                kept = kept_in / f"loopbook-fuzz-{seed}-{number}-{kind}"
                if tally.count["faults"] <= KEPT:
                    shutil.copytree(box.given, kept, dirs_exist_ok=True, symlinks=True, ignore=pipes)
                tell(f"{number}: {fault} (kept as {kept})")

        for number in range(first, many):
            chance = random.Random(f"fuzz {seed} {number}")
            kind = chance.choices(kinds, [SHARES[kind] for kind in kinds])[0]
            tally.count[kind] += 1
            box.empty()
            data = put_spoilt(kind, chance, box, originals, folders)
            todo = calls(kind, chance, box.given, box.out, data)
            if (number % 100 == 99 or alone_next) and alone is None and todo[0].act is None:
                alone, alone_next = Alone(number, kind, todo[0], box, home / f"alone-{number}"), False
                tally.count["alone"] += 1
            elif number % 100 == 99:
                alone_next = True
            found = [fault for call in todo for fault in run_call(call, box, tally)]
            if kind not in folders and (box.given / f"{kind}.toml").read_bytes() != data:
                found.append("the file that was given is another now")
            if (box.outside / "kept.txt").read_text() != "kept\n":
                found.append("a file outside the folder was written")
                (box.outside / "kept.txt").write_text("kept\n")
            if number % SELDOM == 0:        # it costs a millisecond
                now = peak_mb()
                if now - before > MOST_MB or (number > WARM and now - most > MOST_MORE_MB):
                    found.append(f"{now:.0f} MB of memory, {now - most:.0f} MB more than before, in one of {SELDOM} files")
                most = now
            told(number, kind, found, box)
            if alone is not None and (number == many - 1 or alone.child.poll() is not None):
                told(alone.number, alone.kind, alone.faults(), alone.box)
                shutil.rmtree(alone.box.home)
                alone = None
            if number % 1000 == 999 or number == many - 1:
                gc.collect()
                tell_how_far(tell, number + 1, many, tally, time.monotonic() - began)
    return tally.count


def peak_mb() -> float:
    """The most memory that this process has had."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def tell_how_far(tell: Callable[[str], object], done: int, many: int, tally: Tally, wall_s: float) -> None:
    """How many are done, what that cost, and, at the end, how everything ended."""
    told = Path("/proc/self/statm")
    now_mb = int(told.read_text().split()[1]) * resource.getpagesize() / 2**20 if told.exists() else 0.0
    kinds = ", ".join(f"{count} {kind}" for kind, count in sorted(tally.count.items()))
    row = (f"{done} of {many}: {kinds}; {wall_s:.0f} s, {time.process_time():.0f} s of work; {now_mb:.0f} MB now, "
           f"{peak_mb():.0f} MB at most; slowest {tally.slowest[0]:.2f} s: {tally.slowest[1]}")
    if done == many and many > WARM:
        work = {name: round(work_s, 1) for name, work_s in tally.work_s.most_common()}
        tell(json.dumps({"ends": dict(sorted(tally.ends.items())), "work_s": work}))
    if many > WARM:
        tell(row)


# -- sound files of every kind, made or shipped -------------------------------------------------------------

FEW_QUESTIONS = '''format = 1
title = "Three questions"
minutes = 10
pass_share = 0.7
must_pass_share = 0.8
[objectives]
R7 = {share = 6, questions = 1, difficulty = [1], must_pass = true}
P1 = {share = 3, questions = 1, difficulty = [1], kinds = ["arrange"]}
C4 = {share = 3, questions = 1, difficulty = [1], kinds = ["missing"]}
'''


def files_to_spoil() -> dict[str, list[Original]]:
    """Plants, label sheets and blueprints."""
    from figures.plant import write_plant
    from figures.plant.scheme import Scheme
    from widgets.learn import exam_form

    plants = [path.read_bytes() for path in SAMPLES]
    plants += [write_plant(Scheme.random(seed).plant()).encode() for seed in range(20)]
    labels = (TOP / "lessons" / "labels-example.toml").read_bytes()
    blueprints = [Path(exam_form.__file__).with_name("blueprint.toml").read_bytes(), FEW_QUESTIONS.encode()]
    return {kind: [Original(data, tomllib.loads(data.decode())) for data in some]
            for kind, some in (("plant", plants), ("labels", [labels]), ("blueprint", blueprints))}


def record_files(folder: Path) -> dict[str, bytes]:
    """The record of a learner who has practised and sat an examination, with its second copy."""
    from widgets.learn import Record
    from widgets.learn.exam import Exam
    from widgets.learn.exam_form import parse_blueprint

    record = Record(folder, "me")
    for number in range(6):
        record.add("answer", exercise="fuzz", item="control", objective="R7", plant=SAMPLES[0].read_text("utf-8"), seed=number,
                   answer=chr(233) * number, points=number % 2, of=1.0, more={"try": 1, "misconception": 2})
    Record(folder, "Kim").add("hint", exercise="fuzz", item="control", objective="R7", answer=["a", "b"])
    exam = Exam.begin(record, 4711, parse_blueprint(FEW_QUESTIONS))
    for number, (_, item) in enumerate(zip(exam.slots, (exam.item(n) for n in range(len(exam.slots))))):
        exam.answer(number, item.right)
    exam.finish()
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.name.startswith("record.")}


def answer_files() -> dict[str, bytes]:
    """A small test that a class has sat: the key, two forms filled in, the class's table, an examination from a screen."""
    from widgets.learn import Record, keeping
    from widgets.learn.exam_form import parse_blueprint
    from widgets.paper.answer_forms import class_form, toml_form
    from widgets.paper.keyfile import written
    from widgets.paper.papers import make_test

    test = make_test(4711, 2, 3, parse_blueprint(FEW_QUESTIONS))
    found = {"key/key.json": written(test).encode(), "answers/class.csv": class_form(test).replace("\r\n,", "\r\nKim,").encode()}
    for one, name in zip(test.papers, ("Ann", "Zoë")):
        form = toml_form(one).replace('learner = ""', f'learner = "{name}"').replace('= ""', '= "a"')
        found[f"answers/paper-{one.number:02}.toml"] = form.encode()
    with tempfile.TemporaryDirectory() as folder:
        for name, data in record_files(Path(folder)).items():
            Path(folder, name).write_bytes(data)
        found["answers/me.jsonl"] = keeping.as_json_lines(Record(folder).rows()).encode()
    return found


def rows(many: int = 500) -> Iterator[tuple[str, float, str, str]]:
    """What was measured: (what, value, unit, note)."""
    began = time.perf_counter()
    count = run(many)
    kinds = ", ".join(f"{number} {kind}" for kind, number in sorted(count.items()) if kind != "faults")
    yield "spoilt files that went wrong", count["faults"], "of", f"{many}: {kinds}; {time.perf_counter() - began:.0f} s"


if __name__ == "__main__":
    numbers = [int(word) for word in sys.argv[1:]] + [1000, 0, 0][len(sys.argv) - 1:]
    total = run(numbers[0], numbers[1], lambda line: print(line, flush=True), first=numbers[2])
    sys.exit(1 if total["faults"] else 0)
