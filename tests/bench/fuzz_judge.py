"""What commands may leave behind: judged by the ending of a file, by what is printed, and by where anything was written."""

from __future__ import annotations

import csv
import io
import json
import os
import re
import socket
import sys
import tomllib
import zlib
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

from figures.plant.refusal import CONTROL

DRAWN = frozenset(re.findall(r"\w+", "svg g path rect circle line polyline polygon ellipse text tspan title desc style use defs"))
PAGE = DRAWN | frozenset(re.findall(r"\w+", """
    html head meta body main section header footer h1 h2 h3 h4 p table thead tbody tr th td figure figcaption details summary
    abbr span div ul ol li br a b em strong code button label input select option textarea fieldset legend form noscript script
    img progress caption iframe"""))
ATTRIBUTES = re.compile(
    r"(\{[^}]*\})?(xmlns|id|class|role|style|tabindex|lang|charset|name|content|scope|href|viewBox|width|height|x|y|x1|y1|x2|y2|cx|cy|r|rx|ry|d|"
    r"points|transform|fill|stroke|opacity|font-[a-z]+|text-anchor|dominant-baseline|textLength|lengthAdjust|paint-order|"
    r"stroke-[a-z]+|fill-[a-z]+|preserveaspectratio|preserveAspectRatio|focusable|open|title|alt|src|for|value|max|min|type|method|action|"
    r"nonce|inputmode|autocomplete|maxlength|required|rows|http-equiv|colspan|rowspan|hidden|data-[a-z-]+|aria-[a-z]+|"
    r"sandbox|srcdoc|xml:space|viewbox|textlength|lengthadjust|checked|selected|disabled|start|space)")
PLACES = re.compile(r"#[\w-]*\Z|/(show)?\Z|data:image/(svg\+xml|png)[;,]")
VOID = ("meta", "br", "img", "input")
ALLOWED_CONTROL = {"\n"}
FORMULA = ("=", "+", "-", "@")
BAD_IN_PDF = (b"/JavaScript", b"/JS", b"/Launch", b"/EmbeddedFile", b"/OpenAction", b"/SubmitForm", b"/URI", b"/GoToR")


class Elements(HTMLParser):
    """The elements and attributes of a page, as a browser takes them apart, and whether each is closed where it should be."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.found: set[str] = set()
        self.scripts, self.unclosed = 0, ""
        self.open: list[str] = []
        self.places: list[str] = []
        self.feed(text)
        self.close()
        self.unclosed = self.unclosed or " ".join(self.open)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_startendtag(tag, attrs)
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found |= {tag, *(f"@{name}" for name, _ in attrs)}
        self.scripts += tag == "script"
        self.places += [value or "" for name, value in attrs if name in ("href", "src", "action", "xlink:href", "formaction")]

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.unclosed = self.unclosed or f"</{tag}>"


def markup_faults(name: str, text: str) -> list[str]:
    """What is wrong with a drawing or page: not well-formed, what is no element of ours, a handler, a place outside.

    Drawings and sheets are XML, which has but one way to be taken apart as long as nothing but elements and text stands in it;
    other pages (.htm) are taken apart as a browser does.
    """
    faults = []
    if name.endswith(".htm"):
        seen = Elements(text)
        found, places = seen.found, seen.places
        if seen.unclosed or seen.scripts > 1:
            faults.append(f"{name}: {seen.unclosed or 'a script more'}")
    else:
        try:
            root = ElementTree.fromstring(text)
        except ElementTree.ParseError as error:
            return [f"{name}: not well-formed: {error}"]
        if text.count("<!") - text.startswith("<!DOCTYPE html>") or "<?" in text:
            faults.append(f"{name}: a comment, a section or an instruction")
        found, places = set(), []
        for one in root.iter():
            found.add(str(one.tag).rpartition("}")[2])
            for key, value in one.attrib.items():
                found.add(f"@{key}")
                if key.rpartition("}")[2] in ("href", "src", "action"):
                    places.append(value)
    known = DRAWN if name.endswith(".svg") else PAGE - (set() if name.endswith(".htm") else {"script"})
    faults += [f"{name}: a strange {one}" for one in sorted(found)
               if (not ATTRIBUTES.fullmatch(one[1:]) if one.startswith("@") else one not in known)]
    faults += [f"{name}: leads to {place[:60]!r}" for place in places if not PLACES.match(place)]
    return faults + control_faults(name, text)


def control_faults(name: str, text: str) -> list[str]:
    """Characters that move a cursor, turn the writing about, or cannot be seen."""
    found = sorted({hex(ord(one)) for one in CONTROL.findall(text)} - {hex(ord(one)) for one in ALLOWED_CONTROL})
    return [f"{name}: control characters {' '.join(found[:5])}"] if found else []


def table_faults(name: str, text: str) -> list[str]:
    """A cell that a spreadsheet program would take for a formula, whichever separator it goes by."""
    text = text.removeprefix("\ufeff")
    faults = []
    for separator in ",;\t":
        for row in csv.reader(io.StringIO(text, newline=""), delimiter=separator):
            faults += [f"{name}: a formula, {cell.strip()[:40]!r}" for cell in row if _formula(cell)]
    return faults[:3] + control_faults(name, re.sub(r"[\r\t]", "", text))


def _formula(cell: str) -> bool:
    bare = cell.strip().strip("\u00a0")
    return bare.startswith(FORMULA) and not re.fullmatch(r"-?\d+(\.\d+)?(e[+-]?\d+)?", bare)


def pdf_faults(name: str, data: bytes) -> list[str]:
    """What no page of ours does: run something, open something, carry a file along."""
    if not data.startswith(b"%PDF-") or not data.rstrip().endswith(b"%%EOF"):
        return [f"{name}: no whole PDF"]
    whole = [re.sub(rb"stream\r?\n.*?endstream", b"", data, flags=re.DOTALL)]
    for found in re.finditer(rb"/Type ?/ObjStm.*?stream\r?\n(.*?)\r?\nendstream", data, re.DOTALL):
        whole.append(zlib.decompressobj().decompress(found[1]))
    whole = [re.sub(rb"\((?:\\.|[^\\()])*\)", b"()", part, flags=re.DOTALL) for part in whole]     # a title's words are no keys
    return [f"{name}: holds {bad.decode()}" for bad in BAD_IN_PDF if any(re.search(bad + rb"\b", part) for part in whole)]


def product_faults(path: Path) -> list[str]:
    """What is wrong with a file that a command wrote."""
    data = path.read_bytes()
    name, ending = path.name, path.suffix
    if ending == ".pdf":
        return pdf_faults(name, data)
    if ending in (".png", ".db", ".sqlite3"):
        return [] if data.startswith((b"\x89PNG", b"SQLite format 3\0")) else [f"{name}: is none"]
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        return [f"{name}: is not UTF-8"]
    if ending in (".svg", ".html", ".htm"):
        return markup_faults(name, text)
    if ending == ".csv":
        return table_faults(name, text)
    if ending in (".json", ".jsonl"):
        return json_faults(name, text.splitlines() if ending == ".jsonl" else [text])
    if ending == ".toml":
        tomllib.loads(text)
    return control_faults(name, text)


def json_faults(name: str, rows: list[str], count: int | None = None) -> list[str]:
    """Rows that are no JSON objects, or not as many as they should be."""
    faults = [] if count is None or len(rows) == count else [f"{name}: {len(rows)} rows and not {count}"]
    for row in rows:
        try:
            if not isinstance(json.loads(row, parse_constant=_no_figure), dict):
                faults.append(f"{name}: a row that is no object")
        except ValueError as error:
            faults.append(f"{name}: {error}")
    return faults[:3] + control_faults(name, "\n".join(rows))


def _no_figure(word: str) -> None:
    raise ValueError(f"{word} is no JSON")


# -- where anything was written -----------------------------------------------------------------------------

WRITES = {"os.rename": (0, 1), "os.remove": (0,), "os.mkdir": (0,), "os.rmdir": (0,), "os.link": (1,), "os.symlink": (1,),
          "os.truncate": (0,), "os.chmod": (0,), "shutil.rmtree": (0,), "shutil.move": (0, 1), "sqlite3.connect": (0,)}
BY_NAME = ("os.truncate", "shutil.rmtree", "shutil.move", "sqlite3.connect")
NEVER = ("subprocess.Popen", "os.system", "os.exec", "os.posix_spawn", "os.fork", "socket.connect", "socket.bind",
         "webbrowser.open")
WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND


class Watch:
    """Hears of every file that this process opens, moves or deletes, and of every process and connection that it begins."""

    def __init__(self) -> None:
        self.on = False
        self.may: tuple[str, ...] = ()
        self.may_not_read = ""
        self.heard: list[str] = []
        sys.addaudithook(self._hook)

    def _hook(self, event: str, given: tuple[object, ...]) -> None:
        if not self.on:
            return
        if event == "open":
            path, _, flags = given
            if isinstance(path, str | bytes | os.PathLike):
                self._judge(path, bool(isinstance(flags, int) and flags & WRITING))
        elif event in WRITES and (event in BY_NAME or given[-1] == -1):        # else it names a file within an open folder
            for at in WRITES[event]:
                if isinstance(given[at], str | bytes | os.PathLike):
                    self._judge(given[at], True)  # type: ignore[arg-type]
        elif event in NEVER and getattr(given[0], "type", None) != socket.SOCK_DGRAM:      # of which connecting sends nothing
            self.heard.append(f"{event} {str(given)[:100]}")

    def _judge(self, path: str | bytes | os.PathLike[str], writes: bool) -> None:
        name = os.fsdecode(path)
        if not name or name == os.devnull or name == ":memory:":
            return
        if writes:
            folder, last = os.path.split(name.removeprefix("file:"))
            whole = os.path.join(os.path.realpath(folder), last)
            whole = os.path.realpath(whole) if os.path.islink(whole) else whole
            if not whole.startswith(self.may):
                self.heard.append(f"wrote {whole}")
        elif os.path.islink(name) and os.path.realpath(name).startswith(self.may_not_read):
            self.heard.append(f"read {name}, which leads to {os.path.realpath(name)}")

    def faults(self) -> Iterator[str]:
        """What was heard, once."""
        heard, self.heard = self.heard, []
        yield from dict.fromkeys(heard)
