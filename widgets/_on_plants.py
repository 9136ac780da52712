"""The commands that take plants, or make one. Each calls one function of another room for each plant.

Of several plants the worst exit counts, 2 before 3 before 1.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from widgets import _flags, _text
from widgets._outcome import BAD_INPUT, DONE, FINDINGS, NO_SOLUTION, Failed, Progress, print_json, put, writing

if TYPE_CHECKING:
    from figures.plant import Plant
    from widgets.paper.labels import Labels

_WORSE = {DONE: 0, FINDINGS: 1, NO_SOLUTION: 2, BAD_INPUT: 3}
STDIN = "-"
Said = tuple[int, "dict[str, object] | str"]
"""Of one plant: the exit, and what to print: a row of JSON, or text."""


def _load(file: str) -> Plant:
    from figures.plant import BadPlant, parse_plant, read_plant
    from figures.plant.file import LARGEST_FILE, decode
    try:
        if file == STDIN:
            return parse_plant(decode(sys.stdin.buffer.read(LARGEST_FILE + 1), ""))
        return read_plant(file)
    except BadPlant as bad:
        raise Failed(BAD_INPUT, map(str, bad.refusals)) from None


def _each(options: argparse.Namespace, do: Callable[[int, Plant], Said]) -> int:
    """Take the plants in the order given; `do` gives the exit for the nth and what to print of it."""
    worst = DONE
    progress = Progress(len(options.plant))
    for n, file in enumerate(options.plant):
        progress.at(n)
        said: dict[str, object] | str
        try:
            code, said = do(n, _load(file))
        except Failed as failed:
            code = failed.exit_code
            for line in failed.lines:
                print(_text.plain(f"{_name(file)}: {line}"), file=sys.stderr)
            key = "refusals" if code == BAD_INPUT else "no_solution"
            said = {key: failed.lines} if options.json else ""
        if isinstance(said, dict):
            print_json({"file": file, **said})
        elif said:
            print(f"\n{said}" if n and "\n" in said else said)
        worst = max(worst, code, key=_WORSE.__getitem__)
    progress.end()
    return worst


def _name(file: str) -> str:
    return "standard input" if file == STDIN else file


def read(options: argparse.Namespace) -> int:
    from figures.reading import read as read_piping

    def one(n: int, plant: Plant) -> Said:
        reading = read_piping(plant)
        code = FINDINGS if any(f.severity == "must fix" for f in reading.findings) else DONE
        return code, reading.as_dict() if options.json else _text.reading(_name(options.plant[n]), reading, options.units)
    return _each(options, one)


def draw(options: argparse.Namespace) -> int:
    targets, labels = _targets(options), _labels(options)
    from figures.drawing import Diagram
    from figures.drawing.paint import LAYERS
    from figures.reading import read as read_piping

    def one(n: int, plant: Plant) -> Said:
        seen = read_piping(plant)
        diagram, target = Diagram(plant, seen, words=labels), targets[n]
        marked = [*options.highlight, *(name for key in options.evidence for reason in seen.about(key)
                                        for name in (*reason.parts, *reason.pipes))]
        layers = None if not options.hide else [layer for layer in LAYERS if layer not in options.hide]
        findings = seen.findings if options.findings else ()
        look = {"missing": options.missing, "blank": options.blank, "size": options.size, "ink": options.ink}
        try:
            if target is None:
                return DONE, diagram.svg(marked, layers, findings=findings, **look)
            with writing(str(target)):
                diagram.save(target, marked, layers, findings=findings, **look)
        except ValueError as wrong:
            raise Failed(BAD_INPUT, str(wrong).splitlines()) from None
        row: dict[str, object] = {"out": str(target), "description": diagram.description}
        return DONE, row if options.json else _text.plain(f"{_name(options.plant[n])}: drawn in {target}")
    return _each(options, one)


def _targets(options: argparse.Namespace, endings: tuple[str, ...] = (".svg", ".png", ".pdf")) -> list[Path | None]:
    """Where each drawing or sheet goes: the file of --out, or files in its folder named after the plants."""
    out, count = options.out, len(options.plant)
    if out is None:
        if count > 1 or options.json:
            raise Failed(BAD_INPUT, ["say with --out where the drawings go: a folder, or a file for one plant"])
        return [None]
    path = Path(out)
    folder = path.is_dir() or out.endswith(("/", os.sep)) or (count > 1 and not path.suffix)
    if not folder and count > 1:
        raise Failed(BAD_INPUT, [f"--out {out}: {count} plants need a folder; name one"])
    if not folder and path.suffix.lower() not in endings:
        raise Failed(BAD_INPUT, [f"--out {out}: write a name that ends in {', '.join(endings[:-1])} or {endings[-1]}"])
    if not folder:
        return [path]
    with writing(out):
        path.mkdir(parents=True, exist_ok=True)
    names: dict[Path, None] = {}
    for file in options.plant:
        stem = "plant" if file == STDIN else Path(file).stem
        free = (path / f"{stem}{n}.{options.format}" for n in ("", *(f"-{n}" for n in range(2, count + 2))))
        names[next(name for name in free if name not in names)] = None
    return [*names]


def sheet(options: argparse.Namespace) -> int:
    from widgets.paper.sheet import ENDINGS, sheet
    targets = _targets(options, ENDINGS) if options.out is not None else [None] * len(options.plant)
    labels = _labels(options)

    def one(n: int, plant: Plant) -> Said:
        made, target = sheet(plant, units=options.units, paper=options.paper, labels=labels), targets[n]
        if target is None:
            return DONE, dict(made.content.as_dict()) if options.json else made.text()
        with writing(str(target)):
            try:
                made.save(target, options.force)
            except FileExistsError:
                raise Failed(BAD_INPUT, [f"{target}: is there already; --force writes over it"]) from None
        return DONE, {"out": str(target)} if options.json else _text.plain(f"{_name(options.plant[n])}: sheet in {target}")
    return _each(options, one)


def _labels(options: argparse.Namespace) -> Labels | None:
    """The label sheet of --labels."""
    if not options.labels:
        return None
    from widgets.paper.labels import BadLabels, read_labels
    try:
        return read_labels(options.labels)
    except BadLabels as bad:
        raise Failed(BAD_INPUT, bad.lines()) from None


def make(options: argparse.Namespace) -> int:
    from figures.plant import write_plant
    from figures.plant.scheme import Scheme
    given = _flags.scheme_fields(options)
    if options.ask:
        return _asked(options, given)
    try:
        if options.seed is None:
            if {"control", "size"} & set(given):
                raise Failed(BAD_INPUT, ["--control and --size choose among random plants; give a --seed too"])
            scheme = Scheme(**given)
        else:
            kept = {name: given.pop(name) for name in ("title", "faults") if name in given}
            wrong = sorted(set(given) - {"control", "arrangement", "boilers", "size"})
            if wrong:
                flags = ", ".join(f"--{name.replace('_', '-')}" for name in wrong)
                raise Failed(BAD_INPUT, [f"{flags}: not beside --seed, which picks these itself; "
                                         "leave out the one or the other"])
            scheme = replace(Scheme.random(options.seed, **given), **kept)
        plant = scheme.plant()
    except ValueError as wrong_layout:
        raise Failed(BAD_INPUT, str(wrong_layout).splitlines()) from None
    text = write_plant(plant)
    if options.json:
        row = {key: value for key, value in scheme.expected().items() if value is not None or key == "lead"}
        text = json.dumps({"title": plant.title, "expected": row, "toml": text}, ensure_ascii=False) + "\n"
    return put(options, text)


def _asked(options: argparse.Namespace, given: dict[str, object]) -> int:
    """Questions and reading on stderr, so that the plant file alone goes to standard output."""
    from figures.plant import write_plant
    from figures.reading import read
    from widgets._ask import Stopped, ask
    if given or options.seed is not None or options.json:
        raise Failed(BAD_INPUT, ["--ask asks for all of it; give it no other flags than --out, --force and --units"])
    if options.out is not None and Path(options.out).exists() and not options.force:
        raise Failed(BAD_INPUT, [f"{options.out}: is there already; --force writes over it"])

    def say(words: str) -> None:
        print(words, file=sys.stderr, flush=True)

    def hear(prompt: str) -> str:
        print(prompt, end="", file=sys.stderr, flush=True)
        line = sys.stdin.readline()
        if not line:
            raise EOFError
        return line
    try:
        plant = ask(hear, say, options.units)
    except Stopped as stopped:
        raise Failed(BAD_INPUT, [str(stopped)]) from None
    say(f"\n{_text.reading(options.out or 'not saved', read(plant), options.units)}")
    if options.out is not None:
        say(f"\nSaved as {Path(options.out).resolve()}. What the questions cannot say, the file can: change it in a text editor "
            f"(`loopbook parts` lists all kinds and keys), then `loopbook read {options.out}`.")
    return put(options, write_plant(plant))


def parts(options: argparse.Namespace) -> int:
    from figures.plant import KINDS, describe_kinds
    from figures.plant.refusal import near
    unknown = [name for name in options.kind if name not in KINDS]
    if unknown:
        raise Failed(BAD_INPUT, [f"'{name}' is no kind of part; {near(name, KINDS) or '`loopbook parts` lists them'}"
                                 for name in unknown])
    rows = [row for row in describe_kinds() if not options.kind or row["kind"] in options.kind]
    if options.json:
        for row in rows:
            print_json(row)
    else:
        print(_text.kinds(rows, options.units, sizes=not options.kind))
    return DONE


def solve(options: argparse.Namespace) -> int:
    from figures.physics import NoSolution, State, solve

    def one(n: int, plant: Plant) -> Said:
        state = State(off=options.off, shut=options.shut, divert=options.divert, idle=options.idle,
                      speed=dict(options.speed), position=dict(options.position), load=dict(options.load),
                      water_c=options.water_c)
        try:
            solved = solve(plant, state).as_dict()
        except NoSolution as none:
            raise Failed(NO_SOLUTION, [f"{none.part}: {none.says}"]) from None
        except ValueError as wrong:
            raise Failed(BAD_INPUT, str(wrong).splitlines()) from None
        return DONE, solved if options.json else _text.solution(_name(options.plant[n]), plant, solved, options.units)
    return _each(options, one)


def operate(options: argparse.Namespace) -> int:
    from figures.physics import NoSolution
    from figures.physics.operation import operate

    def one(n: int, plant: Plant) -> Said:
        try:
            done = operate(plant, options.configuration, options.call, arrangement=options.arrangement,
                           boilers=options.boilers, priority=options.priority).as_dict()
        except NoSolution as none:
            raise Failed(NO_SOLUTION, [f"{none.part}: {none.says}"]) from None
        except ValueError as wrong:
            raise Failed(BAD_INPUT, str(wrong).splitlines()) from None
        return DONE, done if options.json else _text.operation(_name(options.plant[n]), plant, done, options.units)
    return _each(options, one)
