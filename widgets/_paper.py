"""What `loopbook paper` and `loopbook mark` do and say."""

from __future__ import annotations

import argparse
import secrets
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from filecmp import cmp
from pathlib import Path
from typing import TYPE_CHECKING

from widgets import _text
from widgets._outcome import BAD_INPUT, DONE, Failed, Progress, print_json, writing
from widgets.learn.whole import write_whole

if TYPE_CHECKING:
    from figures.plant import Plant
    from widgets.learn.exam_form import Blueprint
    from widgets.paper.papers import PrintedTest

QUESTIONS = 20
GUESSED = 10**9
"""Seeds below this can be tried through by whoever has Loopbook and a paper."""
PRIVATE = 0o600
"""Rights of the key's files: on a shared machine nobody else reads them."""
FOLDER, REPORT, KEY = "papers", "report", "key"


def paper(options: argparse.Namespace) -> int:
    """Questions as text or rows; or files: papers with their key, drawings to colour, numbered plants, a rubric."""
    printed = options.copies is not None or options.out is not None
    sheets = options.blank or options.plants or options.rubric
    if not printed and not sheets:
        return _questions(options)
    if options.json:
        raise Failed(BAD_INPUT, ["--json prints questions and writes no papers; leave it out, or --copies, --out and the sheets"])
    wanted = _Files(Path(options.out or FOLDER), options.force)
    if options.rubric:
        wanted.name("rubric.pdf")
    if options.blank:
        wanted.name("blank.pdf")
    if options.plants:
        wanted.name("plants.pdf", *(f"plants/plant-{number:03}.toml" for number in range(1, options.plants + 1)))
    copies = options.copies or (0 if sheets and not options.questions and not options.plant else 1)
    stems = [f"paper-{number:0{max(2, len(str(copies)))}}" for number in range(1, copies + 1)]
    if copies:
        wanted.name("key/key.json", "key/key.pdf", "answers/class.csv", *(f"papers/{stem}.pdf" for stem in stems),
                    *(f"answers/{stem}.toml" for stem in stems))
    plants, blueprint = [_load(file) for file in options.plant], _blueprint(options)
    wanted.refuse_what_is_there()
    if copies:
        _papers(options, wanted, stems, plants, blueprint)
    _sheets(options, wanted)
    print(f"Written to {_text.plain(str(wanted.folder))}: {', '.join(wanted.told)}.")
    return DONE


def _questions(options: argparse.Namespace) -> int:
    """The questions themselves, on standard output, with their keys."""
    from widgets.learn.bank import as_row, paper_items
    seed, count = options.seed or 0, options.questions or QUESTIONS
    if options.plant:
        from widgets.paper.papers import test_of_plants
        items = iter([asked.item for plant in map(_load, options.plant)
                      for asked in test_of_plants([plant], seed, 1, count).papers[0].questions])
        count = 0
    else:
        items = paper_items(seed, count)
    progress = Progress(count)
    for n, item in enumerate(items):
        progress.at(n)
        if options.json:
            row = as_row(item if item.key else replace(item, key=(item.options[0].value,)))
            if item.pick != "one":
                row |= {"pick": item.pick, "key": [[o.value for o in item.options].index(value) for value in item.key]}
            print_json(row)
        else:
            print(_text.question(n + 1, item))
    progress.end()
    return DONE


def _papers(options: argparse.Namespace, wanted: _Files, stems: Sequence[str], plants: Sequence[Plant],
            blueprint: Blueprint | None) -> None:
    from widgets.paper.answer_forms import class_form, toml_form
    from widgets.paper.keyfile import written
    from widgets.paper.papers import make_test, test_of_plants
    from widgets.paper.printed import key_pdf, paper_pdf

    seed = options.seed if options.seed is not None else secrets.randbits(62) | 1 << 62
    count = len(stems)
    with _Told("making the questions of paper", count) as tell:
        try:
            if plants:
                test: PrintedTest = test_of_plants(plants, seed, count, options.questions or QUESTIONS)
            else:
                test = make_test(seed, count, options.questions or QUESTIONS, blueprint, tell)
        except ValueError as wrong:
            raise Failed(BAD_INPUT, str(wrong).splitlines()) from None
    with _Told("typesetting paper", count) as tell:
        for n, (stem, one) in enumerate(zip(stems, test.papers), 1):
            wanted.put(f"papers/{stem}.pdf", paper_pdf(test, one, options.size))
            wanted.put(f"answers/{stem}.toml", toml_form(one).encode())
            tell(n, count)
    wanted.put("answers/class.csv", class_form(test).encode())
    wanted.put("key/key.json", written(test).encode())
    wanted.put("key/key.pdf", key_pdf(test, options.size))
    each = len(test.papers[0].questions)
    wanted.told += [f"{count} paper{'s' * (count > 1)} of {each} question{'s' * (each > 1)} in papers", "forms in answers",
                    "the key, for you alone, in key"]
    print(f"Test {test.code}. Keep the folder key from learners; without key.json the papers cannot be marked.")
    if options.seed is not None and seed < GUESSED:
        print(f"Whoever has Loopbook can guess seed {seed} and make these papers again with their key: leave --seed out for "
              "a test that counts.")
    if plants and count > len(plants):
        print(f"{count} papers share {len(plants)} plant{'s' * (len(plants) > 1)} in turn; each asks in another order, so that "
              "letters cannot be copied. For neighbours with different plants name more plant files.")


def _sheets(options: argparse.Namespace, wanted: _Files) -> None:
    if options.rubric:
        from widgets.paper.rubric import rubric_pdf
        wanted.put("rubric.pdf", rubric_pdf(options.size))
        wanted.told.append("a rubric for a walk along a rig")
    if options.blank or options.plants:
        from widgets.paper.numbered import plant_text
        from widgets.paper.sheets import blanks_pdf, plants_pdf
    if options.blank:
        wanted.put("blank.pdf", blanks_pdf(range(1, options.blank + 1), options.size))
        wanted.told.append(f"{options.blank} drawing{'s' * (options.blank > 1)} to colour")
    if options.plants:
        wanted.put("plants.pdf", plants_pdf(range(1, options.plants + 1), options.size))
        for number in range(1, options.plants + 1):
            wanted.put(f"plants/plant-{number:03}.toml", plant_text(number).encode())
        wanted.told.append(f"numbered plants 1 to {options.plants}")


def _load(file: str) -> Plant:
    from figures.plant import BadPlant, read_plant
    try:
        return read_plant(file)
    except BadPlant as bad:
        raise Failed(BAD_INPUT, bad.lines()) from None


def _blueprint(options: argparse.Namespace) -> Blueprint | None:
    """The instructor's own blueprint, followed as it stands."""
    if options.blueprint is None:
        return None
    if options.plant or options.questions:
        raise Failed(BAD_INPUT, ["--blueprint says itself what is asked; leave out --plant and --questions"])
    from widgets.learn.exam_form import BadBlueprint, read_blueprint
    try:
        return read_blueprint(options.blueprint)
    except BadBlueprint as bad:
        raise Failed(BAD_INPUT, str(bad).splitlines()) from None


# -- marking ------------------------------------------------------------------------------------------------

def mark(options: argparse.Namespace) -> int:
    """Mark a folder of answers and write the class report."""
    from widgets.paper import report
    from widgets.paper.answers import read_folder
    from widgets.paper.keyfile import NAME, BadKey, read_key
    from widgets.paper.marked import NothingToMark, mark_class

    folder = Path(options.folder)
    if not folder.exists():
        raise Failed(BAD_INPUT, [f"{folder}: is not there; name the folder with the answers"])
    beside = folder if folder.is_dir() else folder.parent
    wanted = _Files(Path(options.out) if options.out else beside / REPORT, options.force)
    if not options.out and wanted.folder.is_symlink():
        raise Failed(BAD_INPUT, [f"{wanted.folder}: is a link; say with --out where the report goes"])
    wanted.name("report.html", "report.pdf", "learners.csv", "questions.csv", "mistakes.csv")
    wanted.refuse_what_is_there()
    near = [path / NAME for path in (beside / KEY, beside, beside.parent / KEY) if (path / NAME).is_file()]
    if not options.key and any(not cmp(near[0], other, shallow=False) for other in near[1:]):
        # Whoever hands in a file of that name must not choose the key.
        raise Failed(BAD_INPUT, [f"there are several keys, {' and '.join(map(str, near))}; name yours with --key"])
    at = options.key or next(iter(near), None)
    try:
        key = read_key(at) if at is not None else None
    except BadKey as bad:
        raise Failed(BAD_INPUT, [str(bad)]) from None
    with _Told("reading file", 0) as tell:
        found = read_folder(folder, tell)
    with _Told("marking learner", len(found.handed) + len(found.sat)) as tell:
        try:
            of = mark_class(found, key, tell)
        except NothingToMark as nothing:
            lines = [f"{one.where}: {one.what}: {one.why}" for one in nothing.aside[:50]]
            help_ = "" if key else "; there is no key.json beside it: name it with --key"
            raise Failed(BAD_INPUT, [*lines, f"{folder}: {nothing}{help_}"]) from None
    for one in of.aside:
        if one.what != "not filled in":
            print(_text.plain(f"set aside: {one.where}: {one.what}: {one.why}"), file=sys.stderr)
    wanted.put("report.html", report.html(of, options.size).encode())
    wanted.put("report.pdf", report.pdf(of, options.size))
    wanted.put("learners.csv", report.learners_csv(of).encode())
    wanted.put("questions.csv", report.questions_csv(of).encode())
    wanted.put("mistakes.csv", report.mistakes_csv(of).encode())
    aside = sum(one.what != "not filled in" for one in of.aside)
    print(_text.plain(f"{len(of.learners)} marked, {of.passed} passed, on average {100 * of.mean:.0f} % of the points; "
                      f"{aside} set aside. Report in {wanted.folder}"))
    return DONE


# -- files ----------------------------------------------------------------------------------------------------

class _Files:
    """Files of one run in one folder. Nothing is written before all of them are known to be free, or --force is given."""

    def __init__(self, folder: Path, force: bool) -> None:
        self.folder, self.force = folder, force
        self.names: list[str] = []
        self.told: list[str] = []

    def name(self, *names: str) -> None:
        self.names += names

    def refuse_what_is_there(self) -> None:
        if self.folder.exists() and not self.folder.is_dir():
            raise Failed(BAD_INPUT, [f"{self.folder}: is a file; name a folder"])
        there = [name for name in self.names if (self.folder / name).exists()]
        if there and not self.force:
            more = f" and {len(there) - 1} more" if len(there) > 1 else ""
            raise Failed(BAD_INPUT, [f"{self.folder / there[0]}{more}: there already; name another folder with --out, or --force "
                                     "writes over it"])

    def put(self, name: str, what: bytes) -> None:
        path = self.folder / name
        with writing(str(path)):
            path.parent.mkdir(parents=True, exist_ok=True)
            write_whole(path, what, PRIVATE if path.parent.name == KEY else None)


class _Told(Progress):
    """Progress on a terminal, whether or not the output goes to a file."""

    def __init__(self, doing: str, total: int) -> None:
        super().__init__(max(total, 2))
        self.doing, self.wanted = doing, sys.stderr.isatty()

    def __enter__(self) -> Callable[[int, int], None]:
        return self.tell

    def tell(self, done: int, total: int) -> None:
        if self.wanted and time.monotonic() > self.next:
            print(f"\r{self.doing} {done} of {total}", end="", file=sys.stderr, flush=True)
            self.next, self.shown = time.monotonic() + 0.5, True

    def __exit__(self, *_: object) -> None:
        if self.shown:
            print("\r" + " " * 60 + "\r", end="", file=sys.stderr, flush=True)
