"""SVG text to files: .svg as it is; .png and .pdf through typst, with a face that comes with matplotlib."""

from __future__ import annotations

import importlib.util
import re
import tempfile
from pathlib import Path
from typing import Any

from .sizes import MARGIN_MM, PAPER_MM, Size, extent

FACE = "DejaVu Sans"
DOTS_PER_INCH = 192.0


def font_folder() -> Path | None:
    """The folder of matplotlib's DejaVu faces; matplotlib itself is not imported."""
    found = importlib.util.find_spec("matplotlib")
    if found is None or not found.submodule_search_locations:
        return None
    folder = Path(found.submodule_search_locations[0]) / "mpl-data" / "fonts" / "ttf"
    return folder if folder.is_dir() else None


def save(svg: str, path: Path, description: str = "", size: Size = "screen") -> Path:
    """Write a drawing; of size 'a4' or 'letter' on such a page, landscape, as large as it goes.

    Raises ValueError for an ending that is not known, OSError where it cannot be written.
    """
    ending = path.suffix.lower()
    if ending == ".svg":
        path.write_text(svg, encoding="utf-8")
        return path
    if ending not in (".png", ".pdf"):
        raise ValueError(f"{path.name}: a drawing is saved as .svg, .png or .pdf")
    import typst

    kind: Any = ending[1:]
    box = re.search(r'viewBox="0 0 ([0-9.]+) ([0-9.]+)"', svg)
    assert box is not None
    wide, high = (float(v) * 0.75 for v in box.groups())          # CSS pixels to points
    page, across = f"width: {wide}pt, height: {high}pt, margin: 0pt", "100%"
    if size in PAPER_MM:
        page = f"width: {PAPER_MM[size][0]}mm, height: {PAPER_MM[size][1]}mm, margin: {MARGIN_MM}mm"
        across = extent(wide, high, size, None)[0]
    shown = re.sub(r"font-family:[^;}]+", f"font-family:'{FACE}'", svg, count=1)
    alt = description.replace("\\", "\\\\").replace('"', '\\"').replace("\n", " ")
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        (root / "drawing.svg").write_text(shown, encoding="utf-8")
        (root / "page.typ").write_text(
            f'#set page({page})\n#image("drawing.svg", width: {across}, alt: "{alt}")\n', encoding="utf-8")
        faces = font_folder()
        made = typst.compile(root / "page.typ", format=kind, ppi=DOTS_PER_INCH,
                             font_paths=[faces] if faces else [])
    assert isinstance(made, bytes)
    path.write_bytes(made)
    return path
