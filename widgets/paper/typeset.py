"""Pages with many drawings, through typst: tests, keys, drawings to colour.

A page is made of blocks, plain mappings made by the functions below.  Words go to typst as data, never as its markup, so
that nothing in a plant file or a name can become a command.
"""

from __future__ import annotations

import json
import re
import shutil
import tempfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from figures.drawing.paper import FACE, font_folder
from figures.plant.refusal import plain_text

from .as_pdf import NoFace
from .drawn import Cut

TEMPLATE = Path(__file__).with_name("paper.typ")
PAPERS = {"a4": "a4", "letter": "us-letter"}
Block = dict[str, Any]
SHORT = 34      # letters of an answer up to which two stand side by side


@dataclass(frozen=True)
class Group:
    """Pages of one direction. turned: landscape.  apart: they begin on a page of their own even where it is not turned."""

    blocks: tuple[Block, ...]
    turned: bool = False
    apart: bool = True


def head(text: str, level: int = 1) -> Block:
    """A heading, of level 1 to 3."""
    return {"type": "head", "text": plain_text(text), "level": level}


def para(text: str, tone: str = "plain") -> Block:
    """A paragraph. tone: 'plain', 'strong' or 'caution'."""
    return {"type": "para", "text": plain_text(text), "tone": tone}


def table(heads: Sequence[str], rows: Iterable[Sequence[str]], shares: Sequence[float], *, whole: bool = False,
          roomy: bool = False, small: bool = False) -> Block:
    """Rows, under a head where there is one. shares: widths against each other.  roomy: high enough to write in."""
    return {"type": "table", "head": [plain_text(cell) for cell in heads], "shares": list(shares), "whole": whole, "roomy": roomy,
            "small": small, "rows": [[plain_text(cell) for cell in row] for row in rows]}


def boxes(count: int, across: int = 6) -> Block:
    """Numbered boxes to write answers in."""
    return {"type": "boxes", "count": count, "across": across}


def image(cut: Cut, alt: str) -> Block:
    """A drawing of a given width, with its caption."""
    return {"type": "image", "svg": cut.svg, "width_mm": round(cut.width_mm, 2), "caption": plain_text(cut.caption),
            "note": plain_text(cut.note), "alt": alt}


def fill(svg: str, alt: str) -> Block:
    """A drawing that takes what is left of the page."""
    return {"type": "fill", "svg": svg, "alt": alt}


def question(number: int, text: str, how: str, figures: Iterable[Block], beside: str,
             options: Sequence[tuple[str, str]], side: bool = False, apart: bool = False) -> Block:
    """A question that is not split over pages, unless it has several drawings, each of which stays whole.

    side: its words stand beside its drawing.  apart: its drawing needs a page of its own, after the words.
    """
    across = 1 if side else 2 if options and max(len(label) for _, label in options) <= SHORT else 1
    if options and not any(label for _, label in options):
        across = len(options)
    return {"type": "question", "number": number, "text": plain_text(text), "how": plain_text(how), "figures": list(figures),
            "beside": plain_text(beside), "options": [[a, plain_text(b)] for a, b in options], "across": across,
            "side": side and not apart, "apart": apart}


def together(*blocks: Block) -> Block:
    """Blocks that stay on one page."""
    return {"type": "together", "blocks": list(blocks)}


def pdf(title: str, foot: str, groups: Iterable[Group], paper: str) -> bytes:
    """The PDF's bytes. Raises NoFace where the face that comes with matplotlib is missing."""
    import typst

    faces = font_folder()
    if faces is None:
        raise NoFace(f"the face {FACE} is missing: install matplotlib, which brings it")
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        files: dict[str, str] = {}
        data = {"title": plain_text(title), "foot": plain_text(foot), "paper": PAPERS[paper], "face": FACE,
                "groups": [{"flipped": group.turned, "apart": group.apart, "blocks": [_filed(block, root, files)
                            for block in group.blocks]} for group in groups]}
        (root / "paper.json").write_text(json.dumps(data, ensure_ascii=False), encoding="utf-8")
        shutil.copyfile(TEMPLATE, root / "paper.typ")
        made = typst.compile(str(root / "paper.typ"), font_paths=[str(faces)], ignore_system_fonts=True)
    assert isinstance(made, bytes)
    return made


def _filed(block: Block, root: Path, files: dict[str, str]) -> Block:
    """The block with its drawings written to files, each drawing once."""
    found = {key: value for key, value in block.items() if key != "svg"}
    if "svg" in block:
        svg = re.sub(r"font-family:[^;}]+", f"font-family:'{FACE}'", block["svg"], count=1)
        name = files.setdefault(svg, f"drawing-{len(files)}.svg")
        (root / name).write_text(svg, encoding="utf-8")
        found["file"] = name
    for key in ("figures", "blocks"):
        if key in block:
            found[key] = [_filed(one, root, files) for one in block[key]]
    return found
