"""Plant files: TOML, read with `tomllib`, checked whole, and written so that they read back equal."""

from __future__ import annotations

import math
import tomllib
from dataclasses import fields
from pathlib import Path

from .check import BadPlant, Refusal, plant_from_data, shown
from .kinds import Value
from .model import Design, Plant

LARGEST_FILE = 32 * 1024 * 1024


def parse_plant(text: str, file: str = "") -> Plant:
    """A plant from the text of a plant file. Raises BadPlant with every refusal at once.

    >>> parse_plant("format = 1")
    Traceback (most recent call last):
    figures.plant.check.BadPlant: parts: no parts; write [parts.B1] and below it kind = "boiler"
    runs: no runs; write [[runs]] and below it through = ["B1", "…"]
    """
    try:
        return plant_from_data(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        raise BadPlant([Refusal("", "", f"is not TOML: {error}", "mend that line")], file) from None
    except RecursionError:
        raise BadPlant([Refusal("", "", "is nested too deeply", "a plant file has tables and lists one deep")],
                       file) from None
    except ValueError as error:
        if isinstance(error, BadPlant):
            raise BadPlant(error.refusals, file) from None
        raise BadPlant([Refusal("", "", f"holds a figure that cannot be read: {shown(str(error))}",
                                "write figures in plain digits")], file) from None


def read_plant(path: str | Path) -> Plant:
    """The plant in a file. Raises BadPlant: also for a file that is not there, or is not text."""
    path = Path(path)
    name = str(path)
    try:
        if path.stat().st_size > LARGEST_FILE:
            raise BadPlant([Refusal("", "", f"is larger than {LARGEST_FILE // 2**20} MiB", "is it a plant file?")], name)
        raw = path.read_bytes()
    except OSError as error:
        raise BadPlant([Refusal("", "", f"cannot be read: {error.strerror or error}", "mend the path")],
                       name) from None
    except ValueError:
        raise BadPlant([Refusal("", "", "is no path", "mend the path")], shown(name)) from None
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadPlant([Refusal("", "", f"is not UTF-8 text (byte {error.start})", "save it as UTF-8")], name) from None
    return parse_plant(text.replace("\r\n", "\n"), name)


def _text(value: Value) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        number = float(value)
        assert math.isfinite(number)
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
            lines += [f"inside_mm = {_text(run.inside_mm or 0.0)}", f"roughness_mm = {_text(run.roughness_mm or 0.0)}"]
        lines.append(f"length_m = {_text(run.length_m)}")
        if run.k:
            lines.append(f"k = {_text(run.k)}")
    return "\n".join(lines) + "\n"
