"""How a command ends: the exits, what came to nothing and why, how far a long one has come, and what is written where."""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterable

DONE, FINDINGS, BAD_INPUT, NO_SOLUTION, STOPPED = 0, 1, 2, 3, 130


class Failed(Exception):
    """A command, or one plant of many, that came to nothing: the exit, and the lines for stderr."""

    def __init__(self, exit_code: int, lines: Iterable[str]) -> None:
        self.exit_code = exit_code
        self.lines = list(lines)
        super().__init__("\n".join(self.lines))


def print_json(row: dict[str, object]) -> None:
    from figures.plant.refusal import plain_json
    print(plain_json(row))


class Progress:
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


class writing:
    """Turns what the system says against writing a file into one line and exit 2."""

    def __init__(self, name: str) -> None:
        self.name = name

    def __enter__(self) -> None:
        pass

    def __exit__(self, _kind: object, error: BaseException | None, _trace: object) -> None:
        if isinstance(error, OSError) and not isinstance(error, BrokenPipeError):
            raise Failed(BAD_INPUT, [f"{self.name}: cannot be written: {error.strerror or error}"]) from None


def put(options: argparse.Namespace, text: str) -> int:
    """The plant file to --out, or to standard output."""
    if options.out is None:
        sys.stdout.write(text)
        return DONE
    with writing(options.out):
        try:
            with open(options.out, "w" if options.force else "x", encoding="utf-8", newline="\n") as file:
                file.write(text)
        except FileExistsError:
            raise Failed(BAD_INPUT, [f"{options.out}: is there already; --force writes over it"]) from None
    return DONE
