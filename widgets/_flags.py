"""The flags of each command of `loopbook`."""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable
from difflib import get_close_matches
from importlib.metadata import PackageNotFoundError, version
from typing import Any

CONFIGURATIONS = ("heating only", "DHW on the system loop", "DHW on the boiler loop")
ARRANGEMENTS = ("single loop", "separated loops")
EVIDENCE = ("arrangement", "separations", "loops", "dhw", "control", "dhw_priority", "boilers", "lead", "return")
LAYERS = ("tags", "tints", "figures", "temperatures", "evidence", "findings")
EPILOGS = {
    "read": "Exit: 0 done, 1 something must be fixed, 2 bad input. A '-' reads the plant from standard input.",
    "draw": "One plant without --out goes to standard output as SVG. Exit: 0 done, 2 bad input.",
    "sheet": "Without --out the sheet goes to standard output as text. Exit: 0 done, 2 bad input.",
    "make": "Without flags: one boiler, closely spaced tees, one emitter. What is left out is chosen to suit.\n"
            "With --seed: a random sound plant, the same for the same seed; --arrangement, --boilers, --control and\n"
            "--size choose among them. Exit: 0 done, 2 bad input.",
    "parts": "What a plant file leaves out gets the default that stands here. Exit: 0 done, 2 bad input.",
    "paper": "Without --copies, --out or a sheet the questions go to standard output, with their keys, the same for the same\n"
             "seed; with --json one a line, its plant a plant file's text, its key counting the options from 0. With --copies\n"
             "come papers, forms for the answers and, in a folder of its own, the key: no paper and no form holds any of it.\n"
             "It is practice for a certificate and not one. Exit: 0 done, 2 bad input.",
    "mark": "Writes report.html, report.pdf and three tables. What is damaged, double or of another test is named and set\n"
            "aside, and the rest is marked. Without a key.json only examinations sat on a screen can be marked.\n"
            "Exit: 0 done, 2 bad input, or nothing that can be marked.",
    "record": "The record is your own, made on your machine; it is practice for a certificate and not one.\n"
              "Exit: 0 done, 2 bad input.",
    "answers": "Without --address it asks; phones need the address of this machine in their own network. Nothing leaves this\n"
               "machine but to the devices that join, nothing is kept without --keep, and no account is needed. Where the\n"
               "network lets no device through, hands are counted on the projector's page. Exit: 0 done, 2 bad input.",
    "hub": "Needs a system with users (Linux), `pip install loopbook[hub]` and configurable-http-proxy (npm). Nothing is\n"
           "started by it. Exit: 0 done, 2 bad input, or something to mend.",
    "present": "Without LESSON: the contents page, with the plans for 90 minutes and for a day. What is shown listens on this\n"
               "machine only; --host 0.0.0.0 lets tablets in the room in, who need the address that is printed. The step and\n"
               "the class number are found again next time. In a lesson '?' lists the keys. To stop: Ctrl+C.",
    "study": "What you changed in a lesson is kept. To stop: Ctrl+C.",
    "solve": "Pumps run unless --off, valves are open unless --shut. Exit: 0 done, 2 bad input, 3 no solution.",
    "operate": "Setting a plant wrongly on purpose shows what the mistake does to the building.\n"
               "Exit: 0 done, 2 bad input, 3 no solution.",
}


FIELDS = {
    "separation": "where two loops meet", "boilers": "how many, 1 to 8", "tank": "the loop that its coil lies in",
    "emitters": "how many, 1 to 6", "return_order": "of the boilers", "lead": "number of the lead boiler",
    "tank_by": "what sends water through the coil", "tank_joins": "how the tank is joined",
    "dhw_by": "what heats the DHW", "boilers_by": "what drives or closes each boiler",
    "zones_by": "what drives or closes each emitter", "system_pump": "where it stands",
    "bypass": "across the boilers", "load_bypass": "a second bypass, across the loads",
    "spacing_diameters": "of closely spaced tees, in inside diameters", "header_ends": "how headers end",
    "boiler_pump_on": "the side of the boiler", "vessel_turned": "the boilers on the vessel's b ports",
    "exchangers": "numbers of the emitters that are heat exchangers",
    "low_temperature": "numbers of the emitters that are heated floors", "outputs_kw": "of each boiler, kW",
    "loads_kw": "of each emitter, kW", "coil_kw": "of the tank, kW", "fittings": "any of, or none",
    "sensors": "any of, or none", "condensing": "boilers built to condense", "supply_c": "design supply, °C",
    "return_c": "design return, °C", "height_m": "of the building, for pressures, m", "title": "of the plant",
    "faults": "faults to build in",
}


def _version() -> str:
    try:
        return version("loopbook")
    except PackageNotFoundError:
        return "(not installed)"


VERSION = _version()


def add(command: str, parser: argparse.ArgumentParser) -> None:
    """Give a command's parser its flags, where it has any."""
    flags: dict[str, Callable[[argparse.ArgumentParser], None]] = {
        "study": _study, "present": _present, "read": _read, "draw": _draw, "sheet": _sheet, "make": _make, "parts": _parts,
        "solve": _solve, "record": _record, "paper": _paper, "mark": _mark, "answers": _answers, "hub": _hub, "operate": _operate}
    if command in flags:
        flags[command](parser)


def _plants(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("plant", nargs="+", metavar="PLANT", help="a plant file (TOML)")
    parser.add_argument("--json", action="store_true", help="one JSON object a line, in the order given")


def _units(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--units", choices=("si", "us"), default="si",
                        help="units of what is shown (--json is always SI)")


def _read(parser: argparse.ArgumentParser) -> None:
    _plants(parser)
    _units(parser)


def _draw(parser: argparse.ArgumentParser) -> None:
    _plants(parser)
    parser.add_argument("--out", metavar="FILE", help="a .svg, .png or .pdf file; a folder for several plants")
    parser.add_argument("--format", choices=("svg", "png", "pdf"), default="svg", help="of drawings in a folder")
    parser.add_argument("--highlight", metavar="TAG", action="append", default=[],
                        help="mark a part, or a pipe by its name A>Z; may be repeated")
    parser.add_argument("--evidence", metavar="KEY", action="append", default=[], type=_one_of(EVIDENCE),
                        help=f"mark what shows one thing of the reading: {', '.join(EVIDENCE)}; may be repeated")
    parser.add_argument("--findings", action="store_true", help="number the findings on the drawing")
    parser.add_argument("--missing", action="store_true", help="show lightly what is missing, where it would be")
    parser.add_argument("--blank", action="store_true", help="without tags and names, for a test or to colour")
    parser.add_argument("--size", choices=("screen", "projector", "phone", "a4", "letter"), default="screen",
                        help="what it is made to be read on")
    parser.add_argument("--ink", choices=("colour", "black"), help="black needs no colour; paper is black unless said")
    _own_words(parser)
    parser.add_argument("--hide", metavar="LAYER", action="append", default=[], type=_one_of(LAYERS),
                        help=f"leave out a layer: {', '.join(LAYERS)}; may be repeated")


def _sheet(parser: argparse.ArgumentParser) -> None:
    _plants(parser)
    _units(parser)
    parser.add_argument("--out", metavar="FILE", help="a .pdf, .html or .txt file; a folder for several plants")
    parser.add_argument("--format", choices=("pdf", "html", "txt"), default="pdf", help="of sheets in a folder")
    parser.add_argument("--paper", choices=("a4", "letter"), default="a4", help="size of the paper")
    _own_words(parser)
    parser.add_argument("--force", action="store_true", help="write over files that are there already")


def _own_words(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--labels", metavar="FILE", help="a label sheet (TOML): your own words beside ours")


def _parts(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("kind", nargs="*", metavar="KIND", help="these kinds only")
    parser.add_argument("--json", action="store_true", help="one JSON object a line")
    _units(parser)


def _record(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("do", choices=("show", "export", "back-up", "forget"), help="what to do with it")
    parser.add_argument("--learner", default="me", metavar="NAME", help="whose rows, where several share a machine (me)")
    parser.add_argument("--folder", metavar="FOLDER", help="where the record lies (your data folder)")
    parser.add_argument("--out", metavar="FILE", help="the file to export or back up to, which must be new")
    parser.add_argument("--format", choices=("jsonl", "csv"), default="jsonl", help="of an export (jsonl)")
    parser.add_argument("--everyone", action="store_true", help="export everybody's rows")
    parser.add_argument("--yes", action="store_true", help="forget for good, without asking again")


def _paper(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--seed", type=_whole(0, 2**63 - 1), metavar="N",
                        help="a test, by its number; of questions 0, of printed papers a secret one, unless said")
    parser.add_argument("--questions", type=_whole(1, 10_000), metavar="K", help="how many (20)")
    parser.add_argument("--json", action="store_true", help="one question a line as a JSON object, with plant and key")
    parser.add_argument("--copies", type=_whole(1, 500), metavar="N", help="print N papers, each about other plants, and one key")
    parser.add_argument("--size", choices=("a4", "letter"), default="a4", help="size of the paper (a4)")
    parser.add_argument("--out", metavar="FOLDER", help="where the files go (papers)")
    parser.add_argument("--force", action="store_true", help="write over files that are there already")
    parser.add_argument("--plant", metavar="FILE", action="append", default=[],
                        help="ask about a plant of your own, from its file; may be repeated, and papers take them in turn")
    parser.add_argument("--blueprint", metavar="FILE", help="what is asked, from a blueprint of your own (TOML)")
    parser.add_argument("--blank", type=_whole(1, 100), metavar="M", help="drawings to colour, of the numbered plants 1 to M")
    parser.add_argument("--plants", type=_whole(1, 100), metavar="M", help="the numbered plants 1 to M, on paper and as files")
    parser.add_argument("--rubric", action="store_true", help="a rubric for a walk along a real rig, from the objectives")


def _mark(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("folder", metavar="FOLDER", help="the answers: forms (TOML), tables (CSV), exports of records")
    parser.add_argument("--key", metavar="FILE", help="the key.json of the test; looked for in and beside the folder")
    parser.add_argument("--out", metavar="FOLDER", help="where the report goes (report in the folder)")
    parser.add_argument("--size", choices=("a4", "letter"), default="a4", help="size of the report's paper (a4)")
    parser.add_argument("--force", action="store_true", help="write over a report that is there already")


def _present(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("lesson", nargs="?", metavar="LESSON", help="the lesson to show, or a part of its name")
    _class_number(parser)
    parser.add_argument("--host", default="127.0.0.1", metavar="ADDRESS", help="where to listen (127.0.0.1: this machine only)")
    parser.add_argument("--port", type=_whole(1, 65535), help="of the server; the first free one unless given")
    parser.add_argument("--no-browser", action="store_true", help="print the address instead of opening a browser")


def _class_number(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--class", dest="class_number", type=_whole(0, 999_999), metavar="N",
                        help="the class's number: the same on every machine, and everybody has the same plants")


def _study(parser: argparse.ArgumentParser) -> None:
    _class_number(parser)
    parser.add_argument("folder", nargs="?", metavar="FOLDER", help="where your lessons are kept (~/Loopbook)")
    parser.add_argument("--lesson", metavar="NAME", help="the one to open, or a part of its name")
    parser.add_argument("--port", type=_whole(1, 65535), help="of the server, on this machine only")
    parser.add_argument("--no-browser", action="store_true", help="print the address instead of opening a browser")


def _answers(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--address", metavar="ADDRESS", help="the address of this machine to listen on; asked for unless given")
    parser.add_argument("--list", action="store_true", help="list the addresses of this machine, and stop")
    parser.add_argument("--port", type=_whole(1, 65535), help="to listen on (the first free one from 8960 on)")
    parser.add_argument("--objective", metavar="CODE", action="append", default=[],
                        help="prepare questions of the bank on an objective, R7 say; may be repeated")
    parser.add_argument("--seed", type=_whole(0, 2**63 - 1), default=1, metavar="N", help="number of the first question (1)")
    parser.add_argument("--questions", type=_whole(1, 100), default=3, metavar="K", help="how many of each (3)")
    parser.add_argument("--plant", metavar="FILE", action="append", default=[],
                        help="prepare questions about a plant of your own; may be repeated")
    parser.add_argument("--text", metavar="TEXT", help="prepare a question of your own")
    parser.add_argument("--option", metavar="TEXT", action="append", default=[], help="an answer to it; 2 to 6 of them")
    parser.add_argument("--right", type=_whole(1, 6), metavar="N", help="which of them is right, from 1; none unless given")
    parser.add_argument("--keep", metavar="FILE", help="a new file for questions and counts; nothing is kept without it")
    parser.add_argument("--one-address", action="store_true",
                        help="for a network that shows all devices under one address: limits count for all of them together")
    parser.add_argument("--no-browser", action="store_true", help="print the address instead of opening a browser")


def _hub(parser: argparse.ArgumentParser) -> None:
    does = parser.add_subparsers(dest="do", metavar="DO", required=True, help="what to do; each has --help",
                                 parser_class=type(parser))

    def one(name: str, says: str) -> argparse.ArgumentParser:
        return does.add_parser(name, help=says, description=f"{says[0].upper()}{says[1:]}.", allow_abbrev=False)

    def whose(command: argparse.ArgumentParser) -> None:
        command.add_argument("--learner", metavar="NAME", action="append", default=[], help="a learner's system user; repeat")
        command.add_argument("--group", metavar="NAME", action="append", default=[], help="a group of system users; repeat")

    def idle_and_most(command: argparse.ArgumentParser) -> None:
        command.add_argument("--idle-minutes", type=_whole(1, 10_000), default=60, metavar="N",
                             help="kernels and servers that nobody uses end after this (60)")
        command.add_argument("--most", type=_whole(0, 100_000), default=0, metavar="N", help="learners at once")
        command.add_argument("--out", metavar="FOLDER", required=True, help="the folder to write into")
        command.add_argument("--force", action="store_true", help="write over files that are there already")

    host = one("host", "write a JupyterHub configuration for one machine with system users")
    whose(host)
    idle_and_most(host)
    host.add_argument("--address", metavar="ADDRESS", default="127.0.0.1", help="to listen on (127.0.0.1)")
    host.add_argument("--port", type=_whole(1, 65535), default=8000, help="to listen on (8000)")
    host.add_argument("--certificate", metavar="FILE", default="", help="for https")
    host.add_argument("--key", metavar="FILE", default="", help="of the certificate")
    host.add_argument("--plain-http", action="store_true", help="let passwords travel unencrypted, in a network that you trust")
    host.add_argument("--domain", metavar="NAME", default="", help="each learner's pages under a name of their own below this "
                      "one (needs https and *.NAME): no page can then read another's cookies")
    host.add_argument("--memory-mib", type=_whole(0, 10**6), default=2048, metavar="N",
                      help="memory of each of a learner's processes, MiB; 0 sets no limit (2048)")
    host.add_argument("--state", metavar="FOLDER", default="/var/lib/loopbook-hub", help="the hub's own folder")
    host.add_argument("--sockets", metavar="FOLDER", default="/run/loopbook-hub", help="the folder of the sockets")
    host.add_argument("--python", metavar="FILE", default="", help="what learners' servers run with (this Python)")
    host.add_argument("--proxy", metavar="FILE", default="", help="the program configurable-http-proxy")
    cluster = one("kubernetes", "write values for a JupyterHub on Kubernetes, and what its image is built from")
    idle_and_most(cluster)
    cluster.add_argument("--image", metavar="NAME", required=True, help="where the image is kept")
    cluster.add_argument("--tag", metavar="TAG", default="1", help="of the image (1)")
    cluster.add_argument("--host", metavar="NAME", required=True, help="the host's name in the browser")
    cluster.add_argument("--volume", metavar="SIZE", default="2Gi", help="of each learner's home (2Gi)")
    cluster.add_argument("--memory", metavar="SIZE", default="2G", help="the most that a learner's seat may take (2G)")
    out = one("hand-out", "put files or folders into each learner's lessons, never over what is there; as root")
    out.add_argument("source", nargs="+", metavar="FILE", help="a file or folder")
    whose(out)
    out.add_argument("--as", dest="place", metavar="NAME", default="handed-out", help="the folder in the lessons (handed-out)")
    back = one("collect", "copy a file or folder of each learner's lessons into a new folder of yours; as root")
    back.add_argument("what", metavar="PATH", help="a path in the learners' lessons")
    whose(back)
    back.add_argument("--to", metavar="FOLDER", required=True, help="a new folder of yours")
    for command in (out, back):
        command.add_argument("--most-mib", type=_whole(1, 10_000), default=20, metavar="N", help="the most to copy, MiB (20)")
    check = one("check", "see whether learners' homes are closed to others; as root")
    whose(check)
    check.add_argument("--mend", action="store_true", help="close those that are open")


def _solve(parser: argparse.ArgumentParser) -> None:
    _plants(parser)
    _units(parser)
    for flag, says in (("--off", "a pump that stands still"), ("--shut", "a valve that is shut"),
                       ("--divert", "a diverting valve turned to its port b"),
                       ("--idle", "a boiler that gives no heat")):
        parser.add_argument(flag, metavar="TAG", action="append", default=[], help=f"{says}; may be repeated")
    for flag, metavar, says in (("--speed", "TAG=SHARE", "a pump's share of its full speed"),
                                ("--position", "TAG=SHARE", "a valve's share of its full opening"),
                                ("--load", "TAG=KW", "heat that a load wants")):
        parser.add_argument(flag, metavar=metavar, action="append", default=[], type=_setting,
                            help=f"{says}; may be repeated")
    parser.add_argument("--water-c", metavar="C", type=_figure, default=60.0,
                        help="temperature at which the water's properties are taken, °C (60)")


def _operate(parser: argparse.ArgumentParser) -> None:
    _plants(parser)
    _units(parser)
    parser.add_argument("--as", dest="configuration", required=True, metavar="CONFIGURATION",
                        type=_one_of(CONFIGURATIONS), help=", ".join(f"'{name}'" for name in CONFIGURATIONS))
    parser.add_argument("--call", required=True, choices=("heat", "dhw", "both"), help="what is called for")
    parser.add_argument("--arrangement", metavar="ARRANGEMENT", type=_one_of(ARRANGEMENTS),
                        help="what the control is told, if not as the plant is piped: "
                             + " or ".join(f"'{name}'" for name in ARRANGEMENTS))
    parser.add_argument("--boilers", type=_whole(1, 20_000), metavar="N", help="how many boilers fire (all)")
    parser.add_argument("--priority", action="store_true", help="DHW first, where that is a choice")


# -- the layout of `make` --------------------------------------------------------------------------------

def _make(parser: argparse.ArgumentParser) -> None:
    from figures.plant.faults import FAULTS
    from figures.plant.scheme import CHOICES, FITTINGS, SENSORS, Scheme
    parser.add_argument("--seed", type=_whole(0, 2**63 - 1), metavar="N", help="a random plant, by its number")
    parser.add_argument("--out", metavar="FILE", help="the plant file to write (standard output)")
    parser.add_argument("--force", action="store_true", help="write over a file that is there already")
    parser.add_argument("--ask", action="store_true", help="ask for the plant before you, question by question")
    parser.add_argument("--units", choices=("si", "us"), default="si", help="with --ask: units of what you write and read")
    parser.add_argument("--json", action="store_true", help="one JSON object: the plant file's text and what it was "
                        "built to be")
    parser.add_argument("--control", type=_one_of(CONFIGURATIONS), default=argparse.SUPPRESS, metavar="CONFIGURATION",
                        help="with --seed: only plants of this configuration")
    parser.add_argument("--size", choices=("any", "small"), default=argparse.SUPPRESS, help="with --seed: 'small' "
                        "for one boiler, one emitter, few tags")
    known = {name: tuple(str(one) for one in all_of if one is not None) for name, all_of in CHOICES.items()}
    known |= {"fittings": FITTINGS, "sensors": SENSORS, "faults": tuple(FAULTS)}
    for name, default in _defaults(Scheme).items():
        _field(parser, name, default, known.get(name, ()))


def _defaults(scheme: Any) -> dict[str, Any]:
    from dataclasses import fields
    return {field.name: field.default for field in fields(scheme)}


def _field(parser: argparse.ArgumentParser, name: str, default: Any, known: tuple[str, ...]) -> None:
    """One flag for one field of a scheme; a list takes commas, and may be given several times."""
    flag = "--fault" if name == "faults" else f"--{name.replace('_', '-')}"
    said = [FIELDS.get(name, ""), " | ".join(known), "" if isinstance(default, tuple | bool) or not default
            else f"{default:g} unless said" if isinstance(default, float) else f"{default} unless said"]
    words: dict[str, Any] = {"dest": name, "default": argparse.SUPPRESS, "help": "; ".join(filter(None, said))}
    if isinstance(default, bool):
        parser.add_argument(flag, action=argparse.BooleanOptionalAction, **words)
        return
    one: Any = str
    if known:
        one = _one_of((*known, "none") if default and isinstance(default, tuple) else known)
    elif name.endswith("_kw") or isinstance(default, float):
        one = _figure
    elif isinstance(default, int) or name in ("exchangers", "low_temperature"):
        one = _whole(0, 100)
    if isinstance(default, tuple):
        parser.add_argument(flag, action="append", metavar="LIST", type=lambda text: [
            one(part.strip()) for part in text.split(",")], **words)
    else:
        parser.add_argument(flag, metavar=name.rpartition("_")[2].upper(), type=one, **words)


def scheme_fields(options: argparse.Namespace) -> dict[str, Any]:
    """Of the flags of `make`, those that were given and that say how the plant is laid out."""
    own = {"command", "seed", "out", "force", "json", "ask", "units"}
    given = {name: value for name, value in vars(options).items() if name not in own}
    return {name: tuple(one for part in value for one in part if one != "none") if isinstance(value, list) else value
            for name, value in given.items()}


# -- what may follow a flag ------------------------------------------------------------------------------

def _figure(text: str) -> float:
    try:
        number = float(text)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise argparse.ArgumentTypeError(f"'{text[:40]}' is no figure")
    return number


def _whole(low: int, high: int) -> Any:
    def whole(text: str) -> int:
        if not text.isascii() or not text.isdigit() or len(text) > 20 or not low <= int(text) <= high:
            raise argparse.ArgumentTypeError(f"'{text[:40]}' is no whole number from {low} to {high}")
        return int(text)
    return whole


def _setting(text: str) -> tuple[str, float]:
    tag, sign, share = text.partition("=")
    if not sign or not tag:
        raise argparse.ArgumentTypeError(f"'{text[:40]}' is no setting; write for example P1=0.8")
    return tag, _figure(share)


def _one_of(known: tuple[str, ...]) -> Any:
    """Takes a name of several words in any case, with hyphens or underscores in place of spaces."""
    plain = {_plain(name): name for name in known}

    def one(text: str) -> str:
        if _plain(text) not in plain:
            near = get_close_matches(_plain(text)[:60], plain, 1)
            mend = f"did you mean '{plain[near[0]]}'?" if near else f"use one of {', '.join(known)}"
            raise argparse.ArgumentTypeError(f"'{text[:40]}' is not known; {mend}")
        return plain[_plain(text)]
    return one


def _plain(name: str) -> str:
    return " ".join(name.casefold().replace("-", " ").replace("_", " ").split())
