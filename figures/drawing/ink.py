"""The colours and line styles of a drawing, as one style sheet, and the same without colour.

Colours by Okabe and Ito, Color Universal Design, 2008 (from memory). Nothing is told by colour alone: supply is a solid
line and return a dashed one; a loop's band has an edge of a line style of its own and the loop is named; a highlight
has an outline. Every colour that carries a meaning on white has the contrast that WCAG 2.2 asks for (SC 1.4.3 text
4.5:1, SC 1.4.11 graphics 3:1); one that has not is an inner fill with an edge that has.
"""

from __future__ import annotations

from typing import Literal

Ink = Literal["colour", "black"]
INKS: tuple[Ink, ...] = ("colour", "black")
FONT = "Arial,Helvetica,'DejaVu Sans',sans-serif"
LAYERS = ("tags", "tints", "figures", "temperatures", "evidence", "findings")
STYLES = ("right", "wrong", "look")
HIDES = {"tags": "tag", "evidence": "hl"}                  # what a layer hides, where it is no group of its own
LOOP_CLASS = {"boiler loop": "lb", "system loop": "ls", "single loop": "l1", "separation": "lx"}

TEXT = {"words": "#1a1a1a", "tags of tees": "#555555", "ghosts": "#595959"}
"""Colours of text on white."""
LINES = {"supply": "#d55e00", "return": "#0072b2", "dead ends": "#444444", "symbols": "#1a1a1a", "sensor wires": "#555555",
         "right": "#009e73", "wrong": "#cc79a7", "look, its edge": "#1a1a1a", "keyboard focus": "#000000", "ghosts": "#595959",
         "boiler loop, its edge": "#a86400", "system loop, its edge": "#2277a8", "single loop, its edge": "#767676",
         "separation, its edge": "#a8558a"}
"""Colours of lines and symbols on white that carry a meaning."""
FILLS = {"look": "#f0e442", "boiler loop": "#f7debb", "system loop": "#c9e6f6", "single loop": "#e4e4e4",
         "separation": "#f0d9e5"}
"""Light colours inside an edge, on which words and pipes still read."""

_LOOPS = (("lb", "boiler loop", "none"), ("ls", "system loop", "7 3"), ("l1", "single loop", "none"),
          ("lx", "separation", "1.5 3"))
_CSS = f"""
.lbk text{{font-family:{FONT};fill:{TEXT["words"]}}}.lbk text.t{{fill:{TEXT["tags of tees"]}}}
.lbk .p{{fill:none;stroke-width:2.6;stroke-linejoin:round}}
.lbk .supply .p{{stroke:{LINES["supply"]}}}.lbk .return .p{{stroke:{LINES["return"]};stroke-dasharray:9 4.5}}
.lbk .stub .p{{stroke:{LINES["dead ends"]};stroke-width:1.8}}
.lbk .hit{{fill:none;stroke:none;pointer-events:all}}.lbk path.hit{{stroke:#000;stroke-opacity:0;stroke-width:24}}
.lbk .w{{fill:#fff;stroke:{LINES["symbols"]};stroke-width:1.7;stroke-linejoin:round}}
.lbk .b{{fill:{LINES["symbols"]};stroke:none}}
.lbk .n{{fill:none;stroke:{LINES["symbols"]};stroke-width:1.7;stroke-linejoin:round}}
.lbk .wire{{fill:none;stroke:{LINES["sensor wires"]};stroke-width:1.3;stroke-dasharray:1.5 2.5;stroke-linecap:round}}
.lbk .hl{{fill:none;stroke:none}}
.lbk .right>.hl{{stroke:{LINES["right"]};stroke-width:4}}.lbk .right>path.ed{{stroke-width:16}}
.lbk .wrong>.hl{{stroke:{LINES["wrong"]};stroke-width:4;stroke-dasharray:8 5}}.lbk .wrong>path.ed{{stroke-width:16}}
.lbk .right>path.in,.lbk .wrong>path.in{{stroke:#fff;stroke-width:9;stroke-opacity:.6;stroke-dasharray:none}}
.lbk .look>.hl{{stroke:{LINES["look, its edge"]};stroke-width:2;stroke-dasharray:2 3;fill:{FILLS["look"]};fill-opacity:.75}}
.lbk .look>path.hl{{stroke-width:16.5;stroke-dasharray:none;fill:none}}
.lbk .look>path.in{{stroke:{FILLS["look"]};stroke-width:13.5}}
.lbk [tabindex]{{outline:none}}.lbk [tabindex]:focus-visible>.hl{{stroke:{LINES["keyboard focus"]};stroke-width:3}}
.lbk [tabindex]:focus-visible>path.ed{{stroke-width:15}}.lbk [tabindex]:focus-visible>path.in{{stroke:#56b4e9;stroke-width:11}}
.lbk .halo{{fill:none;stroke-width:14;stroke-linejoin:round}}.lbk .halo.e{{stroke-width:16}}
{"".join(f'.lbk .{css}{{stroke:{FILLS[role]}}}.lbk .{css}.e{{stroke:{LINES[role + ", its edge"]};stroke-dasharray:{dash}}}'
         for css, role, dash in _LOOPS)}
.lbk .fig,.lbk text.tag{{stroke:#fff;stroke-width:3;paint-order:stroke}}
.lbk .tag.look,.lbk .tag.right,.lbk .tag.wrong{{stroke-width:2;stroke-opacity:.8}}
.lbk .dim{{opacity:.16}}.lbk .dim.look,.lbk .dim.right,.lbk .dim.wrong{{opacity:1}}
.lbk .ghost .w,.lbk .ghost .n{{stroke:{LINES["ghosts"]};stroke-width:1.3;stroke-dasharray:3 2.5;fill:#fff}}
.lbk .ghost .n{{fill:none}}.lbk .ghost .b{{fill:none;stroke:{LINES["ghosts"]};stroke-width:1.2;stroke-dasharray:3 2.5}}
.lbk .ghost .way{{fill:none;stroke:{LINES["ghosts"]};stroke-width:1.2;stroke-dasharray:3 4}}
.lbk .ghost text{{fill:{TEXT["ghosts"]}}}
{"".join(f'.lbk[data-hide~="{name}"] .{HIDES.get(name, "layer-" + name)}{{display:none}}' for name in (*LAYERS, "missing"))}
""".replace("\n", "")

# Without colour: pipes black, bands white or light grey between black edges, highlights by outline alone.
_BLACK = """
.lbk .p,.lbk .supply .p,.lbk .return .p,.lbk .stub .p{stroke:#000}
.lbk .hl,.lbk .right>.hl,.lbk .wrong>.hl{stroke-width:3}
.lbk .right>.hl,.lbk .wrong>.hl,.lbk .look>.hl{stroke:#000}.lbk .look>.hl{fill:#ececec}.lbk .look>path.hl{fill:none}
.lbk .right>path.ed,.lbk .wrong>path.ed,.lbk .look>path.ed{stroke-width:17}
.lbk .look>path.in{stroke:#ececec}.lbk .right>path.in,.lbk .wrong>path.in{stroke:#fff;stroke-opacity:1;stroke-width:11}
.lbk text.t{fill:#000}.lbk .halo{stroke:#fff}.lbk .lb{stroke:#dcdcdc}.lbk .lx{stroke:#dcdcdc}.lbk .halo.e{stroke:#000}
""".replace("\n", "").replace(".lbk ", ".lbk.lbk-black ")


def style(ink: Ink = "colour") -> str:
    """The style sheet.

    >>> "#d55e00" in style(), ".lbk-black" in style("black"), ".lbk-black" in style()
    (True, True, False)
    """
    return _CSS + (_BLACK if ink == "black" else "")
