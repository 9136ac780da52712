"""A sheet as one HTML file: nothing to load, every word escaped, printed on A4 or Letter."""

from __future__ import annotations

from html import escape

from figures.plant.refusal import plain_text

from .layout import ROOMY, Para, Picture, Section, Table
from .pages import MARGIN_MM, drawn_size, windows

STYLE = """
:root { color-scheme: light; }
body { font: 10pt/1.35 "DejaVu Sans", Verdana, Arial, sans-serif; color: #000; background: #fff; max-width: 190mm;
  margin: 0 auto; padding: 4mm; }
h1 { font-size: 16pt; margin: 0 0 1mm; } h2 { font-size: 12.5pt; margin: 7mm 0 2mm; border-bottom: 1.2pt solid #000; }
h3 { font-size: 10.5pt; margin: 4mm 0 1mm; } h1, h2, h3, p, td, th { overflow-wrap: anywhere; }
p { margin: 1mm 0 2mm; } .strong { font-weight: bold; border: 1.2pt solid #000; padding: 1.5mm 2mm; }
.caution { border-left: 3pt double #000; padding-left: 2mm; }
table { border-collapse: collapse; width: 100%; table-layout: fixed; margin: 1mm 0 3mm; }
th, td { border: 0.5pt solid #555; padding: 0.8mm 1.4mm; text-align: left; vertical-align: top; font-size: 9pt; }
th { background: #eee; } td:first-child, .tick + td { font-weight: 600; } .steps td { font-weight: normal; }
.tick { width: 5mm; text-align: center; } .tick span { display: inline-block; width: 3mm; height: 3mm; border: 0.8pt solid #000; }
.sign td { height: 11mm; } figure { margin: 0; overflow-x: auto; } figure svg { max-width: 100%; height: auto; display: block; }
details { font-size: 9pt; } details p { white-space: pre-line; } .large { display: none; }
footer { margin-top: 6mm; font-size: 8.5pt; border-top: 0.5pt solid #000; padding-top: 1mm; }
@media screen { figure svg { min-width: 680px; } .wide { overflow-x: auto; } .wide table { min-width: 680px; } }
@media print {
  body { max-width: none; padding: 0; } details { display: none; } thead { display: table-header-group; }
  tr, .whole, figure { break-inside: avoid; } h2, h3, .caution { break-after: avoid; } figure { overflow: visible; }
  .large { display: block; page: large; break-before: page; } .large svg { width: 100%; height: 160mm; }
  .large h2 { margin-top: 0; }
}
"""
MANY_COLUMNS = 6        # of a table that scrolls on a narrow screen, so that words stay whole
_SIZES = {"a4": "A4", "letter": "letter"}


def html(title: str, under: str, parts: tuple[Section, ...], foot: str, svg: str, paper: str) -> str:
    """The whole page. `svg`: the drawing, escaped already; '' for a page without one."""
    page = (f"@page {{ size: {_SIZES[paper]}; margin: {MARGIN_MM:g}mm; }}\n"
            f"@page large {{ size: {_SIZES[paper]} landscape; margin: {MARGIN_MM:g}mm; }}")
    drawing = svg.replace("<svg ", '<svg id="drawing" ', 1)
    body = "\n".join(_section(part, drawing) for part in parts)
    return (f'<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8"/>'
            f'<meta name="viewport" content="width=device-width, initial-scale=1"/><title>{_say(title)}</title>\n'
            f"<style>{STYLE}{page}</style></head>\n<body><main>\n<h1>{_say(title)}</h1>\n<p>{_say(under)}</p>\n{body}\n"
            f"<footer>{_say(foot)}</footer>\n{_large(svg, paper)}</main></body></html>\n")


def _say(words: str) -> str:
    return escape(plain_text(words))


def _section(part: Section, svg: str) -> str:
    level = part.level + 1
    blocks = "".join(_block(block, svg, part) for block in part.blocks)
    whole = ' class="whole"' if part.whole else ""
    return f"<section{whole}><h{level}>{_say(part.title)}</h{level}>{blocks}</section>"


def _block(block: Para | Table | Picture, svg: str, part: Section) -> str:
    if isinstance(block, Para):
        tone = "" if block.tone == "plain" else f' class="{block.tone}"'
        return f"<p{tone}>{_say(block.text)}</p>"
    if isinstance(block, Picture):
        words = "\n".join(_say(line) for line in block.description.split("\n"))
        return f"<figure>{svg}</figure><details><summary>The drawing in words</summary><p>{words}</p></details>"
    tick = '<th class="tick" scope="col"><abbr title="to tick">✓</abbr></th>' if block.tick else ""
    head = tick + "".join(f'<th scope="col" style="width:{share / sum(block.shares):.1%}">{_say(cell)}</th>'
                          for cell, share in zip(block.head, block.shares))
    box = '<td class="tick"><span></span></td>' if block.tick else ""
    rows = "".join(f"<tr>{box}{''.join(f'<td>{_say(cell)}</td>' for cell in row)}</tr>" for row in block.rows)
    kind = "steps" if part.level == 2 else "sign" if part.title in ROOMY else ""
    table = f'<table class="{kind}"><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>'
    if len(block.head) < MANY_COLUMNS:
        return table
    return f'<div class="wide" role="region" tabindex="0" aria-label="{_say(part.title)}">{table}</div>'


def _large(svg: str, paper: str) -> str:
    """The drawing once more for print, on pages turned, where an upright page makes it too small to read."""
    if not svg:
        return ""
    wide, high = drawn_size(svg)
    cuts = windows(wide, high, paper)
    return "".join(
        f'<section class="large" aria-hidden="true"><h2>Drawing, large{f", part {n} of {len(cuts)}" if len(cuts) > 1 else ""}'
        f'</h2><svg viewBox="{left:.1f} 0 {width:.1f} {high:g}"><use href="#drawing" width="{wide:g}" height="{high:g}"/></svg>'
        "</section>\n" for n, (left, width) in enumerate(cuts, 1))


