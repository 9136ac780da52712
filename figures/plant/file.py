"""Plant files: TOML, checked whole, and written so that they read back equal."""

from __future__ import annotations

import math
from dataclasses import fields
from pathlib import Path

from .check import plant_from_data
from .kinds import Value
from .model import Design, Plant
from .refusal import BadPlant, Refusal
from .toml import NotToml, read_toml

LARGEST_FILE = 32 * 1024 * 1024


def parse_plant(text: str, file: str = "") -> Plant:
    """A plant from the text of a plant file. Raises BadPlant with every refusal at once.

    >>> parse_plant("format = 1")
    Traceback (most recent call last):
    figures.plant.refusal.BadPlant: parts: no parts; write [parts.B1] and below it kind = "boiler"
    runs: no runs; write [[runs]] and below it through = ["B1", "…"]
    """
    if not text.strip():
        raise _refused(file, "", "is empty", "a plant file begins with 'format = 1'")
    try:
        return plant_from_data(read_toml(text))
    except BadPlant as error:
        raise BadPlant(error.refusals, file) from None
    except NotToml as error:
        raise _refused(file, error.place, error.says, error.mend) from None


def read_plant(path: str | Path) -> Plant:
    """The plant in a file. Raises BadPlant: also for a file that is not there, or is not text."""
    name = str(path)
    try:
        with open(path, "rb") as file:
            raw = file.read(LARGEST_FILE + 1)
    except IsADirectoryError:
        raise _refused(name, "", "is a folder", "name the plant file in it") from None
    except FileNotFoundError:
        raise _refused(name, "", "no such file", "mend the path") from None
    except OSError as error:
        raise _refused(name, "", f"cannot be read: {error.strerror or error}", "mend the path") from None
    except ValueError:
        raise _refused(name, "", "is no path", "mend the path") from None
    return parse_plant(decode(raw, name), name)


def decode(raw: bytes, name: str) -> str:
    """The text of a plant file's bytes: UTF-8, a byte order mark or not, any line ends. Raises BadPlant."""
    if len(raw) > LARGEST_FILE:
        raise _refused(name, "", f"is larger than {LARGEST_FILE // 2**20} MiB", "is it a plant file?")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        what = "is UTF-16 text" if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else "is not UTF-8 text"
        raise _refused(name, f"line {line}", what, "save it as UTF-8") from None


def _refused(file: str, place: str, says: str, mend: str) -> BadPlant:
    return BadPlant([Refusal(place, "", says, mend)], file)


def _text(value: Value) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        number = float(value)
        if not math.isfinite(number):
            raise ValueError(f"{number} cannot stand in a plant file")
        return repr(number)
    quoted = value.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{quoted}"'


def write_plant(plant: Plant) -> str:
    """The text of a plant file that reads back equal to `plant`."""
    lines = ["format = 1", f"title = {_text(plant.title)}"]
    design = [(f.name, getattr(plant.design, f.name)) for f in fields(Design)
              if getattr(plant.design, f.name) != f.default]
    if design:
        lines += ["", "[design]", *(f"{name} = {_text(value)}" for name, value in design)]
    for tag, part in plant.parts.items():
        lines += ["", f"[parts.{tag}]", f"kind = {_text(part.kind)}",
                  *(f"{key} = {_text(value)}" for key, value in part.given.items())]
    for run in plant.runs:
        through = ", ".join(_text(end) for end in run.through)
        lines += ["", "[[runs]]", f"through = [{through}]"]
        if run.size is not None:
            lines.append(f"size = {_text(run.size)}")
        else:
            assert run.inside_mm is not None and run.roughness_mm is not None
            lines += [f"inside_mm = {_text(run.inside_mm)}", f"roughness_mm = {_text(run.roughness_mm)}"]
        lines.append(f"length_m = {_text(run.length_m)}")
        if run.k:
            lines.append(f"k = {_text(run.k)}")
    return "\n".join(lines) + "\n"
