"""The command line, `loopbook`. Nothing is decided here: each command calls one function of another room.

Exits: 0 done, 1 findings that must be fixed (`read` only), 2 bad input, 3 no solution; of several plants the
worst, 2 before 3 before 1. Rooms are opened by the command that needs them, so that a bare start stays quick.
The commands that take plants are in `_on_plants.py`.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from difflib import get_close_matches
from typing import NoReturn

from widgets import _flags, _on_plants, _text
from widgets._outcome import BAD_INPUT, DONE, STOPPED, Failed


class _Parser(argparse.ArgumentParser):
    """argparse, but a mistake is one line, and a near word is offered."""

    def error(self, message: str) -> NoReturn:
        word = message.split("'")[1] if "'" in message else ""
        near = get_close_matches(word, [*COMMANDS, *self._option_string_actions], 1)
        mend = f"did you mean '{near[0]}'?" if near and near[0] != word else f"`{self.prog} --help` tells more"
        self.exit(BAD_INPUT, _text.plain(f"{self.prog}: {message}; {mend}") + "\n")


def _study(options: argparse.Namespace) -> int:
    from widgets.serve.study import study
    if options.class_number is not None:
        os.environ["LOOPBOOK_SEED"] = str(options.class_number)     # for the kernels of the lessons
    return study(options.folder, browser=not options.no_browser, port=options.port, lesson=options.lesson)


def _present(options: argparse.Namespace) -> int:
    from widgets.serve.present import present
    return present(options.lesson, browser=not options.no_browser, port=options.port, host=options.host,
                   seed=options.class_number)


def _answers(options: argparse.Namespace) -> int:
    from widgets.serve.answers_start import answers
    return answers(options)


def _hub(options: argparse.Namespace) -> int:
    from widgets.serve.hub_command import hub
    return hub(options)


def _record(options: argparse.Namespace) -> int:
    from widgets._record import told
    from widgets.learn import RecordTrouble
    try:
        sys.stdout.write(told(options))
    except RecordTrouble as trouble:
        raise Failed(BAD_INPUT, [str(trouble)]) from None
    return DONE


def _paper(options: argparse.Namespace) -> int:
    from widgets._paper import paper
    return paper(options)


def _mark(options: argparse.Namespace) -> int:
    from widgets._paper import mark
    return mark(options)


COMMANDS: dict[str, tuple[Callable[[argparse.Namespace], int], str]] = {
    "study": (_study, "put the lessons into a folder of yours and open them in JupyterLab"),
    "present": (_present, "show lessons to a class: large, step by step, without code, for projector and tablet"),
    "read": (_on_plants.read, "read plants: what separates the loops, how the control is set, what must be mended"),
    "draw": (_on_plants.draw, "draw plants as SVG, PNG or PDF"),
    "sheet": (_on_plants.sheet, "the settings sheet and commissioning checklist of plants, as text, HTML or PDF"),
    "make": (_on_plants.make, "make a plant file from a layout or a seed"),
    "parts": (_on_plants.parts, "list the kinds of part, their keys, units, defaults and ranges"),
    "solve": (_on_plants.solve, "flows, pressures and heat of plants under a given state"),
    "record": (_record, "your own record: show it, export it, back it up, forget it"),
    "paper": (_paper, "printed tests with their key, forms for the answers, drawings to colour, numbered plants, a rubric"),
    "mark": (_mark, "mark the answers of a class and write its report"),
    "answers": (_answers, "put questions to a class that answers on its own devices, in the same network"),
    "hub": (_hub, "a school's server: write its configuration, hand material out, collect answers"),
    "operate": (_on_plants.operate, "what runs, flows and gets heat under a configuration and a call"),
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


def _let_go() -> None:
    """Nothing more goes to an output that takes no more, or Python complains as it ends."""
    try:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)
    except (OSError, ValueError):   # an output without a number, in a test say
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115


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
        _let_go()
        return DONE
    except OSError as error:        # files of a command's own are told of by the command: here it is where the output goes
        says = f"{error.filename or 'the output'}: {(error.strerror or str(error)).lower()}"
        print(_text.plain(f"{command}: {says}; what was to be written is not all there"), file=sys.stderr)
        _let_go()
        return BAD_INPUT


if __name__ == "__main__":
    sys.exit(main())
