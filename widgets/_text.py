"""What `loopbook` prints for people: plain text, wrapped to the terminal, units as asked for."""

from __future__ import annotations

import shutil
import textwrap
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from figures.plant import Plant
    from figures.plant.units import Units
    from figures.reading import Reading
    from widgets.learn import Item

CAUTION = ("Loopbook reads a drawing, not a boiler room: local codes, the makers' instructions and licensed people prevail. "
           "Hot water, gas and pressure kill.")
LABEL = 24


def plain(text: str) -> str:
    """Text as it may go to a terminal; loaded late, for a bare start has nothing to print."""
    from figures.plant.refusal import plain_text
    return plain_text(text)


def _width() -> int:
    return max(60, min(110, shutil.get_terminal_size((100, 24)).columns))


def _row(label: str, text: str) -> str:
    return textwrap.fill(text, _width(), initial_indent=f"{label:<{LABEL}}", subsequent_indent=" " * LABEL,
                         break_on_hyphens=False)


def _bullet(text: str, mark: str = "- ", indent: str = "  ") -> str:
    return textwrap.fill(text, _width(), initial_indent=indent + mark,
                         subsequent_indent=indent + " " * len(mark), break_on_hyphens=False)


def table(head: Sequence[str], rows: Iterable[Sequence[str]], right: Iterable[int] = ()) -> list[str]:
    """Lines of a table in plain columns; the columns of `right` are set flush right.

    >>> table(["part", "L/s"], [["B1", "1.2"], ["PB1", "12"]], right=[1])
    ['part  L/s', 'B1    1.2', 'PB1    12']
    """
    rows = [list(head), *(list(row) for row in rows)]
    widths = [max(len(row[n]) for row in rows) for n in range(len(head))]
    flush = set(right)
    return ["  ".join(cell.rjust(width) if n in flush else cell.ljust(width)
                      for n, (cell, width) in enumerate(zip(row, widths))).rstrip() for row in rows]


# -- read ------------------------------------------------------------------------------------------------

def reading(file: str, of: Reading, units: Units) -> str:
    """A reading in the order in which a technician reads a plant: what is there, so how it is set, why, what is wrong."""
    from figures.plant.units import figure
    from figures.reading.settings import settings
    plant = of.plant
    lines = [plain(f"{of.title or 'A plant without a title'}  ({file})"), ""]
    lines.append(_row("Arrangement", of.arrangement))
    lines.append(_row("What separates them" if of.separations else "Separation", "; ".join(
        f"{s.kind}: {', '.join(s.parts)}" + ("" if s.spacing_diameters is None else
                                             f" ({s.spacing_diameters:.1f} inside diameters apart)")
        for s in of.separations) or "none"))
    for loop in of.loops:
        lines.append(_row(loop.role.capitalize(), ", ".join(loop.parts)))
    tanks = f" ({', '.join(of.tanks)})" if of.tanks else ""
    lines.append(_row("DHW", f"on the {of.dhw}{tanks}" if of.dhw.endswith("loop") else f"{of.dhw}{tanks}"))
    for line in settings(of).lines()[1:]:
        if line.name == "boilers":
            each = ", ".join(f"{tag} {figure(plant.parts[tag].number('output_kw'), 'kw', units)}" for tag in of.boilers)
            lines.append(_row("Boilers", f"{line.value}: {each}"))
        else:
            lines.append(_row(f"{line.name[0].upper()}{line.name[1:]}", line.value))
    lines.append(_row("Return", of.return_order))
    lines += ["", "Why", *(_bullet(evidence.says) for evidence in of.evidence), ""]
    if of.findings:
        lines.append(f"Findings: {len(of.findings)}")
        for n, finding in enumerate(of.findings, 1):       # the numbers that `draw --findings` writes
            lines.append(_bullet(f"{finding.severity}: {finding.says} [{finding.rule}]", f"{n:>2}. "))
            lines.append(_bullet(finding.fix, "Mend: ", "      "))
    else:
        lines.append("Findings: none")
    lines += ["", _bullet(CAUTION, "", "")]
    return "\n".join(lines)


# -- parts -----------------------------------------------------------------------------------------------

def kinds(rows: Sequence[Mapping[str, Any]], units: Units, sizes: bool) -> str:
    """The table of kinds, and of pipe sizes, for whoever writes a plant file. Keys are SI whatever is shown."""
    lines: list[str] = []
    for row in rows:
        ports = f"; ports {', '.join(row['ports'])}" if row["ports"] else ""
        lines += [_bullet(f"{row['kind']}: {row['says']} ({row['shape']}{ports})", "", "")]
        keys = [[key["key"], *_key(key, units)] for key in row["keys"]]
        lines += [f"    {line}" for line in table(("", "", "", ""), keys)[1:]] + [""]
    if sizes:
        from figures.plant import SIZES
        from figures.plant.units import figure
        lines.append("pipe sizes: steel to ASME B36.10M schedule 40 (NPS), copper to ASTM B88 type L (CU); inside")
        lines += [f"    {line}" for line in table(("", ""), (
            (name, figure(bore.inside_m * 1000, "mm", units)) for name, bore in SIZES.items()))[1:]]
    return "\n".join(lines).rstrip()


def _key(key: Mapping[str, Any], units: Units) -> tuple[str, str, str]:
    from figures.plant.units import figure
    if key["type"] == "number":
        ending = key["key"].rpartition("_")[2]
        low, high, default = (figure(key[name], ending, units) for name in ("low", "high", "default"))
        span = f"{low} to {high}" if key["high"] is not None else f"{low} or more"
        return ("no default" if key["default"] is None else default), span, key["says"]
    if key["type"] == "flag":
        return "false", "true or false", key["says"]
    if key["type"] == "choice":
        default = "must be said" if key.get("required") else key["default"] or "no default"
        return default, " | ".join(key["choices"]), key["says"]
    return "must be said" if key.get("required") else "no default", "a tag", key["says"]


# -- solve and operate -----------------------------------------------------------------------------------

def solution(file: str, plant: Plant, solved: Mapping[str, Any], units: Units) -> str:
    """Flows and temperatures of every part that water passes, and the warnings."""
    from figures.plant.units import figure
    lines = [plain(f"{plant.title or 'A plant without a title'}  ({file})"), ""]
    head = ("part", "kind", "flow", "in", "out", "heat", "head")
    rows = [(tag, plant.parts[tag].kind, figure(part.get("flow_lps"), "lps", units),
             figure(part.get("inlet_c"), "c", units), figure(part.get("outlet_c"), "c", units),
             figure(part["heat_kw"], "kw", units) if part.get("heat_kw") else "",
             figure(part["head_m"], "m", units) if part.get("head_m") else "")
            for tag, part in solved["parts"].items()]
    lines += table(head, rows, right=range(2, len(head)))
    lines += _warnings(solved.get("warnings", ()))
    return "\n".join(lines)


def operation(file: str, plant: Plant, done: Mapping[str, Any], units: Units) -> str:
    """What runs and which loads get their heat, and why not."""
    from figures.plant.units import figure
    lines = [plain(f"{plant.title or 'A plant without a title'}  ({file})"), "",
             _row("Set as", f"{done['configuration']}, {done['arrangement']}"), _row("Call", done["call"]),
             _row("Running", ", ".join(done["running"]) or "nothing"),
             _row("Firing", ", ".join(done.get("firing", ())) or "nothing"),
             _row("Open", ", ".join(done["open"]) or "nothing")]
    if done.get("diverted"):
        lines.append(_row("Turned to port b", ", ".join(done["diverted"])))
    lines.append("")
    head = ("load", "wanted", "given", "flow")
    loads = [(load["part"], figure(load["wanted_kw"], "kw", units), figure(load["given_kw"], "kw", units),
              "still" if load["still"] else figure(load["flow_lps"], "lps", units)) for load in done["loads"]]
    lines += [*table(head, loads, right=(1, 2, 3)), ""]
    lines += [_bullet(f"{load['part']}: {load['because']}") for load in done["loads"] if load["because"]]
    lines += _warnings(done.get("warnings", ()))
    return "\n".join(lines).rstrip()


def _warnings(warnings: Iterable[str]) -> list[str]:
    told = [_bullet(warning) for warning in warnings]
    return ["", "Warnings", *told] if told else []


def question(number: int, item: Item) -> str:
    """A question as text: its options, the key, and the reason."""
    from string import ascii_uppercase

    letters = dict(zip((option.value for option in item.options), ascii_uppercase))
    rows = [f"{number}. {item.text}", *(f"   {letters[o.value]}  {o.label}" for o in item.options)]
    rows.append(f"   Key: {', '.join(letters[value] for value in item.key)}. {item.because}")
    return "\n".join(plain(row) for row in rows)
