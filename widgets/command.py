"""The command line, `loopbook`. Nothing is decided here: each command calls one function of another room.

Exits: 0 done, 1 findings that must be fixed (`read` only), 2 bad input, 3 no solution; of several plants the
worst, 2 before 3 before 1. Rooms are opened by the command that needs them, so that a bare start stays quick.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from widgets import _flags, _text

if TYPE_CHECKING:
    from figures.plant import Plant
    from widgets.paper.labels import Labels

DONE, FINDINGS, BAD_INPUT, NO_SOLUTION, STOPPED = 0, 1, 2, 3, 130
_WORSE = {DONE: 0, FINDINGS: 1, NO_SOLUTION: 2, BAD_INPUT: 3}
STDIN = "-"
Said = tuple[int, "dict[str, object] | str"]
"""Of one plant: the exit, and what to print: a row of JSON, or text."""


class Failed(Exception):
    """A command, or one plant of many, that came to nothing: the exit, and the lines for stderr."""

    def __init__(self, exit_code: int, lines: Iterable[str]) -> None:
        self.exit_code = exit_code
        self.lines = list(lines)
        super().__init__("\n".join(self.lines))


class _Parser(argparse.ArgumentParser):
    """argparse, but a mistake is one line, and a near word is offered."""

    def error(self, message: str) -> NoReturn:
        word = message.split("'")[1] if "'" in message else ""
        near = get_close_matches(word, [*COMMANDS, *self._option_string_actions], 1)
        mend = f"did you mean '{near[0]}'?" if near and near[0] != word else f"`{self.prog} --help` tells more"
        self.exit(BAD_INPUT, _text.plain(f"{self.prog}: {message}; {mend}") + "\n")


# -- the plants that a command is given ------------------------------------------------------------------

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
    progress = _Progress(len(options.plant))
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
            _print_json({"file": file, **said})
        elif said:
            print(f"\n{said}" if n and "\n" in said else said)
        worst = max(worst, code, key=_WORSE.__getitem__)
    progress.end()
    return worst


def _name(file: str) -> str:
    return "standard input" if file == STDIN else file


def _print_json(row: dict[str, object]) -> None:
    print(json.dumps(row, ensure_ascii=False, allow_nan=False))


class _Progress:
    """Says on a terminal's stderr how far a long batch has come; silent in the first second."""

    def __init__(self, total: int) -> None:
        self.total, self.next, self.shown = total, time.monotonic() + 1.0, False
        self.wanted = total > 1 and sys.stderr.isatty() and not sys.stdout.isatty()

    def at(self, done: int) -> None:
        if self.wanted and time.monotonic() > self.next:
            print(f"\r{done} of {self.total}", end="", file=sys.stderr, flush=True)
            self.next, self.shown = time.monotonic() + 0.5, True

    def end(self) -> None:
        if self.shown:
            print(f"\r{self.total} of {self.total}", file=sys.stderr)


# -- the commands ----------------------------------------------------------------------------------------

def _read(options: argparse.Namespace) -> int:
    from figures.reading import read

    def one(n: int, plant: Plant) -> Said:
        reading = read(plant)
        code = FINDINGS if any(f.severity == "must fix" for f in reading.findings) else DONE
        return code, reading.as_dict() if options.json else _text.reading(_name(options.plant[n]), reading, options.units)
    return _each(options, one)


def _draw(options: argparse.Namespace) -> int:
    targets, labels = _targets(options), _labels(options)
    from figures.drawing import Diagram
    from figures.drawing.paint import LAYERS
    from figures.reading import read

    def one(n: int, plant: Plant) -> Said:
        seen = read(plant)
        diagram, target = Diagram(plant, seen, words=labels), targets[n]
        marked = [*options.highlight, *(name for key in options.evidence for reason in seen.about(key)
                                        for name in (*reason.parts, *reason.pipes))]
        layers = None if not options.hide else [layer for layer in LAYERS if layer not in options.hide]
        findings = seen.findings if options.findings else ()
        look = {"missing": options.missing, "blank": options.blank, "size": options.size, "ink": options.ink}
        try:
            if target is None:
                return DONE, diagram.svg(marked, layers, findings=findings, **look)
            with _writing(str(target)):
                diagram.save(target, marked, layers, findings=findings, **look)
        except ValueError as wrong:
            raise Failed(BAD_INPUT, str(wrong).splitlines()) from None
        row: dict[str, object] = {"out": str(target), "description": diagram.description}
        return DONE, row if options.json else f"{_name(options.plant[n])}: drawn in {target}"
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
    with _writing(out):
        path.mkdir(parents=True, exist_ok=True)
    names: dict[Path, None] = {}
    for file in options.plant:
        stem = "plant" if file == STDIN else Path(file).stem
        free = (path / f"{stem}{n}.{options.format}" for n in ("", *(f"-{n}" for n in range(2, count + 2))))
        names[next(name for name in free if name not in names)] = None
    return [*names]


def _sheet(options: argparse.Namespace) -> int:
    from widgets.paper.sheet import ENDINGS, sheet
    targets = _targets(options, ENDINGS) if options.out is not None else [None] * len(options.plant)
    labels = _labels(options)

    def one(n: int, plant: Plant) -> Said:
        made, target = sheet(plant, units=options.units, paper=options.paper, labels=labels), targets[n]
        if target is None:
            return DONE, dict(made.content.as_dict()) if options.json else made.text()
        with _writing(str(target)):
            try:
                made.save(target, options.force)
            except FileExistsError:
                raise Failed(BAD_INPUT, [f"{target}: is there already; --force writes over it"]) from None
        return DONE, {"out": str(target)} if options.json else f"{_name(options.plant[n])}: sheet in {target}"
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


class _writing:
    """Turns what the system says against writing a file into one line and exit 2."""

    def __init__(self, name: str) -> None:
        self.name = name

    def __enter__(self) -> None:
        pass

    def __exit__(self, _kind: object, error: BaseException | None, _trace: object) -> None:
        if isinstance(error, OSError) and not isinstance(error, BrokenPipeError):
            raise Failed(BAD_INPUT, [f"{self.name}: cannot be written: {error.strerror or error}"]) from None


def _make(options: argparse.Namespace) -> int:
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
    return _put(options, text)


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
    return _put(options, write_plant(plant))


def _put(options: argparse.Namespace, text: str) -> int:
    """The plant file to --out, or to standard output."""
    if options.out is None:
        sys.stdout.write(text)
        return DONE
    with _writing(options.out):
        try:
            with open(options.out, "w" if options.force else "x", encoding="utf-8", newline="\n") as file:
                file.write(text)
        except FileExistsError:
            raise Failed(BAD_INPUT, [f"{options.out}: is there already; --force writes over it"]) from None
    return DONE


def _parts(options: argparse.Namespace) -> int:
    from figures.plant import KINDS, describe_kinds
    from figures.plant.refusal import near
    unknown = [name for name in options.kind if name not in KINDS]
    if unknown:
        raise Failed(BAD_INPUT, [f"'{name}' is no kind of part; {near(name, KINDS) or '`loopbook parts` lists them'}"
                                 for name in unknown])
    rows = [row for row in describe_kinds() if not options.kind or row["kind"] in options.kind]
    if options.json:
        for row in rows:
            _print_json(row)
    else:
        print(_text.kinds(rows, options.units, sizes=not options.kind))
    return DONE


def _study(options: argparse.Namespace) -> int:
    from widgets.serve.study import study
    return study(options.folder, browser=not options.no_browser, port=options.port, lesson=options.lesson)


def _solve(options: argparse.Namespace) -> int:
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


def _operate(options: argparse.Namespace) -> int:
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


def _record(options: argparse.Namespace) -> int:
    from widgets._record import told
    from widgets.learn import RecordTrouble
    try:
        sys.stdout.write(told(options))
    except RecordTrouble as trouble:
        raise Failed(BAD_INPUT, [str(trouble)]) from None
    return DONE


def _paper(options: argparse.Namespace) -> int:
    from widgets.learn.bank import as_row, paper_items
    progress = _Progress(options.questions)
    for n, item in enumerate(paper_items(options.seed, options.questions)):
        progress.at(n)
        if options.json:
            _print_json(as_row(item))
        else:
            print(_text.question(n + 1, item))
    progress.end()
    return DONE


COMMANDS: dict[str, tuple[Callable[[argparse.Namespace], int], str]] = {
    "study": (_study, "put the lessons into a folder of yours and open them in JupyterLab"),
    "read": (_read, "read plants: what separates the loops, how the control is set, what must be mended"),
    "draw": (_draw, "draw plants as SVG, PNG or PDF"),
    "sheet": (_sheet, "the settings sheet and commissioning checklist of plants, as text, HTML or PDF"),
    "make": (_make, "make a plant file from a layout or a seed"),
    "parts": (_parts, "list the kinds of part, their keys, units, defaults and ranges"),
    "solve": (_solve, "flows, pressures and heat of plants under a given state"),
    "record": (_record, "your own record: show it, export it, back it up, forget it"),
    "paper": (_paper, "print the questions of a test from a seed, with their keys"),
    "operate": (_operate, "what runs, flows and gets heat under a configuration and a call"),
}


def _options(words: Sequence[str]) -> argparse.Namespace:
    """What the words of a command line ask for. Exits, by argparse, on a mistake and for `--help`.

    Only the chosen command gets its flags: `make` has to open a room to know its own.
    """
    chosen = next((word for word in words if not word.startswith("-")), None)
    parser = _Parser(prog="loopbook", description="Loopbook teaches heating technicians to read a hot-water boiler "
                     "plant and to set its control. " + _text.CAUTION, allow_abbrev=False)
    mine: argparse.ArgumentParser = parser
    parser.add_argument("--version", action="version", version=f"loopbook {_flags.VERSION}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True, parser_class=_Parser)
    for name, (_, says) in COMMANDS.items():
        command = commands.add_parser(name, help=says, description=f"{says[0].upper()}{says[1:]}.",
                                      epilog=_flags.EPILOGS.get(name), allow_abbrev=False,
                                      formatter_class=argparse.RawDescriptionHelpFormatter)
        if name == chosen:
            _flags.add(name, command)
            mine = command
    options, unknown = parser.parse_known_args(words)
    if unknown:
        mine.error(f"'{unknown[0]}' is not understood here")
    return options


def _speak_utf8() -> None:
    """What is piped is UTF-8 everywhere; a terminal that cannot show a letter gets '?' for it."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            if stream.isatty():
                stream.reconfigure(errors="replace")
            else:
                stream.reconfigure(encoding="utf-8", errors="backslashreplace")


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command. `argv`: its words, those of the process unless given. Returns the exit.

    >>> main(["parts", "--json", "drain"])
    {"kind": "drain", "shape": "end", "ports": [], "says": "lets water out", "keys": []}
    0
    """
    words = list(sys.argv[1:] if argv is None else argv)
    chosen = next((word for word in words if not word.startswith("-")), None)
    command = f"loopbook {chosen}" if chosen in COMMANDS else "loopbook"
    try:
        _speak_utf8()
        options = _options(words)
        code = COMMANDS[options.command][0](options)
        sys.stdout.flush()
        return code
    except SystemExit as stop:      # argparse has said all there is to say
        return stop.code if isinstance(stop.code, int) else DONE
    except Failed as failed:
        for line in failed.lines:
            print(_text.plain(f"{command}: {line}"), file=sys.stderr)
        return failed.exit_code
    except KeyboardInterrupt:
        print(f"\n{command}: stopped", file=sys.stderr)
        return STOPPED
    except BrokenPipeError:         # whoever read the output has had enough, such as `head`
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115  or Python complains as it ends
        return DONE


if __name__ == "__main__":
    sys.exit(main())
