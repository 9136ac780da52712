"""A sheet as PDF, through typst, in a face that comes along, so that it looks the same everywhere."""

from __future__ import annotations

import json
import re
import shutil
import tempfile
from pathlib import Path

from figures.drawing.paper import FACE, font_folder
from figures.plant.refusal import plain_text

from .layout import ROOMY, Para, Picture, Section, Table
from .pages import drawn_size, window, windows

TEMPLATE = Path(__file__).with_name("sheet.typ")
_PAPERS = {"a4": "a4", "letter": "us-letter"}


class NoFace(RuntimeError):
    """The face that comes with matplotlib is not there; no sheet is made in another one."""


def pdf(title: str, under: str, parts: tuple[Section, ...], foot: str, svg: str, paper: str) -> bytes:
    """The PDF's bytes; `svg` is '' where no drawing stands in it. Raises NoFace where the face is missing.

    Words go to typst as data, never as its markup, so that nothing in a plant file can become a command.
    """
    import typst

    faces = font_folder()
    if faces is None:
        raise NoFace(f"the face {FACE} is missing: install matplotlib, which brings it")
    shown = re.sub(r"font-family:[^;}]+", f"font-family:'{FACE}'", svg, count=1)
    cuts = windows(*drawn_size(svg), paper) if svg else []
    large = [f"large-{n}.svg" for n in range(1, len(cuts) + 1)]
    data = {"title": plain_text(title), "under": plain_text(under), "foot": plain_text(foot), "paper": _PAPERS[paper],
            "face": FACE, "large": large, "parts": [_section(part) for part in parts]}
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        (root / "drawing.svg").write_text(shown, encoding="utf-8")
        for name, (left, width) in zip(large, cuts):
            (root / name).write_text(window(shown, left, width), encoding="utf-8")
        (root / "sheet.json").write_text(json.dumps(data, ensure_ascii=False), encoding="utf-8")
        shutil.copyfile(TEMPLATE, root / "sheet.typ")
        made = typst.compile(str(root / "sheet.typ"), font_paths=[str(faces)], ignore_system_fonts=True)
    assert isinstance(made, bytes)
    return made


def _section(part: Section) -> dict[str, object]:
    return {"title": plain_text(part.title), "level": part.level, "whole": part.whole, "sign": part.title in ROOMY,
            "blocks": [_block(block) for block in part.blocks]}


def _block(block: Para | Table | Picture) -> dict[str, object]:
    if isinstance(block, Para):
        return {"type": "para", "text": plain_text(block.text), "tone": block.tone}
    if isinstance(block, Picture):
        return {"type": "picture", "alt": "; ".join(plain_text(line) for line in block.description.split("\n")[:4])}
    return {"type": "table", "head": list(block.head), "shares": list(block.shares), "tick": block.tick, "whole": block.whole,
            "rows": [[plain_text(cell) for cell in row] for row in block.rows]}
