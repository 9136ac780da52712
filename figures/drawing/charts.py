"""Charts from plain arrays: pump and system curve, mixing at the common pipe, direct against reverse return.

matplotlib is loaded when a chart is made and not before, and none of its global state is touched. Colours are those
of Okabe and Ito (Color Universal Design, 2008); lines differ by dashes and are named where they end as well. Letters
are large enough for the back row of a class. Every chart says in words what it shows.

>>> chart = returns_by_branch([0.70, 0.61, 0.57], [0.57, 0.53, 0.57])
>>> print(chart)
Flow by branch, direct return against reverse return.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from figures.plant.units import Units, converted, figure, unit_name

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Numbers = Sequence[float] | np.ndarray
BLACK, ORANGE, SKY, GREEN, BLUE, RED, PURPLE = (
    "#1a1a1a", "#e69f00", "#56b4e9", "#009e73", "#0072b2", "#d55e00", "#cc79a7")
SIZE, SMALL = 17.0, 14.0
WIDE = 3.2
ENDINGS = ("svg", "png", "pdf")


class Chart:
    """A chart that shows itself in a notebook. alt: what it shows, in words; its first line is its name."""

    def __init__(self, figure: Figure, alt: str) -> None:
        self.figure, self.alt = figure, alt

    def __repr__(self) -> str:
        return self.alt.partition("\n")[0]

    def svg(self) -> str:
        """The chart as SVG text; the same chart gives the same text."""
        return self._bytes("svg").decode("utf-8")

    def _bytes(self, kind: str) -> bytes:
        import matplotlib

        out = io.BytesIO()
        with matplotlib.rc_context({"svg.fonttype": "none", "svg.hashsalt": "loopbook", "pdf.fonttype": 42}):
            data = {"svg": {"Date": None, "Title": repr(self)}, "pdf": {"CreationDate": None, "Title": repr(self)}}
            self.figure.savefig(out, format=kind, metadata=data.get(kind))
        return out.getvalue()

    def _repr_svg_(self) -> str:
        return self.svg()

    def save(self, path: str | Path) -> Path:
        """Write it as .svg, .png or .pdf. Raises ValueError for any other ending."""
        path = Path(path)
        kind = path.suffix.lower().lstrip(".")
        if kind not in ENDINGS:
            raise ValueError(f"{path.name}: a chart is saved as {', '.join('.' + e for e in ENDINGS)}")
        path.write_bytes(self._bytes(kind))
        return path


def new_figure(width: float = 10.0, height: float = 6.0) -> Figure:
    """An empty figure with a canvas of its own; inches."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    made = Figure(figsize=(width, height), dpi=100, layout="constrained", facecolor="white")
    FigureCanvasAgg(made)
    return made


def dress(axes: Axes, x: str, y: str, title: str = "") -> None:
    """Names, grid and letters of one pair of axes."""
    axes.set_xlabel(x, fontsize=SIZE)
    axes.set_ylabel(y, fontsize=SIZE)
    if title:
        axes.set_title(title, fontsize=SIZE + 2, loc="left", fontweight="bold")
    axes.tick_params(labelsize=SMALL)
    axes.grid(color="#cccccc", linewidth=0.8)
    axes.set_axisbelow(True)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def name_line(axes: Axes, x: float, y: float, text: str, colour: str, dx: float = 8.0, dy: float = 0.0,
              **more: Any) -> None:
    """A line's name beside one of its points; dx and dy in points."""
    axes.annotate(text, (x, y), (dx, dy), textcoords="offset points", fontsize=SIZE, color=colour, fontweight="bold",
                  va=more.pop("va", "center"), bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 1.0}, **more)


def same_length(**arrays: Numbers) -> list[np.ndarray]:
    """Arrays of floats, all of one length. Raises ValueError where they are not, or where they are empty."""
    found = {name: np.asarray(values, dtype=float) for name, values in arrays.items()}
    lengths = {name: len(values) for name, values in found.items()}
    if len(set(lengths.values())) != 1 or not next(iter(lengths.values())):
        told = ", ".join(f"{name} has {n}" for name, n in lengths.items())
        raise ValueError(f"a chart needs arrays of one length: {told}")
    return list(found.values())


def _units(values: np.ndarray, ending: str, units: Units) -> np.ndarray:
    return np.array([converted(float(v), ending, units) for v in values])


def pump_and_system(flow_lps: Numbers, pump_m: Numbers, system_m: Numbers, at_lps: float, at_m: float, *,
                    pump: str = "pump", units: Units = "si", title: str = "") -> Chart:
    """The pump's curve, what the pipes want at each flow, and where the two meet.

    flow_lps: [L/s].  pump_m, system_m: head that the pump adds and that the pipes take [m].  at_lps, at_m: the
    operating point.
    """
    flow, add, want = same_length(flow_lps=flow_lps, pump_m=pump_m, system_m=system_m)
    made = new_figure()
    axes = made.subplots()
    dress(axes, f"flow, {unit_name('lps', units)}", f"head, {unit_name('m', units)}", title or f"What {pump} does")
    x = _units(flow, "lps", units)
    add, want = _units(add, "m", units), _units(want, "m", units)
    top = max(float(add.max()), converted(at_m, "m", units)) * 1.12 or 1.0
    seen = want <= top
    axes.plot(x, add, color=BLUE, linewidth=WIDE)
    axes.plot(x[seen], want[seen], color=RED, linewidth=WIDE, linestyle=(0, (5, 2)))
    axes.set_xlim(0.0, float(x.max()) * 1.02 or 1.0)
    axes.set_ylim(0.0, top)
    px, py = converted(at_lps, "lps", units), converted(at_m, "m", units)
    axes.plot([px, px, 0.0], [0.0, py, py], color=BLACK, linewidth=1.2, linestyle=":")
    axes.plot([px], [py], "o", color="white", markeredgecolor=BLACK, markeredgewidth=2.5, markersize=13, zorder=5)
    first = max(0, len(x) // 12)
    name_line(axes, x[first], add[first], "what the pump adds", BLUE, 4, -30)
    last = int(np.flatnonzero(seen)[-1]) if seen.any() else 0
    low = max(1, last // 2)
    name_line(axes, x[low], want[low], "what the pipes take", RED, -10, 16, ha="right")
    point = f"{figure(at_lps, 'lps', units)} at {figure(at_m, 'm', units)}"
    right = px < 0.6 * float(x.max())
    name_line(axes, px, py, point, BLACK, 14 if right else -14, 20, ha="left" if right else "right")
    return Chart(made, f"Pump and system curve of {pump}.\nThe head that the pump adds falls as the flow grows, what the pipes "
                       f"take rises; they meet at {point}. No other flow is possible with these settings.")


def supply_against_ratio(ratio: Numbers, supply_c: Numbers, boiler_return_c: Numbers, *, boiler_c: float, return_c: float,
                         at: float | None = None, units: Units = "si", title: str = "") -> Chart:
    """What the system is supplied with, and what comes back to the boilers, against boiler flow over system flow.

    ratio: boiler flow / system flow.  supply_c, boiler_return_c [°C].  boiler_c: the boilers' outlet at ratio `at`.
    return_c: what the system sends back.  at: the ratio that is set now, marked.
    """
    x, supply, back = same_length(ratio=ratio, supply_c=supply_c, boiler_return_c=boiler_return_c)
    made = new_figure()
    axes = made.subplots()
    degree = unit_name("c", units)
    dress(axes, "boiler flow / system flow", f"temperature, {degree}", title or "Where two loops meet")
    supply, back = _units(supply, "c", units), _units(back, "c", units)
    axes.plot(x, supply, color=RED, linewidth=WIDE)
    axes.plot(x, back, color=BLUE, linewidth=WIDE, linestyle=(0, (5, 2)))
    low, high = float(np.nanmin([supply, back])), float(np.nanmax([supply, back]))
    room = max(high - low, 1.0) * 0.2
    axes.set_ylim(low - room, high + room)
    axes.set_xlim(0.0, float(x.max()) * 1.02)
    axes.axvline(1.0, color=BLACK, linewidth=1.2, linestyle=":")
    axes.text(0.98, high + 0.72 * room, "common pipe runs backwards", ha="right", va="center", fontsize=SMALL)
    axes.text(1.02, high + 0.72 * room, "runs forwards", ha="left", va="center", fontsize=SMALL)
    n = int(np.argmin(np.abs(x - 0.55 * x.max())))
    name_line(axes, x[n], supply[n], "system supply", RED, 0, -18, va="center")
    name_line(axes, x[n], back[n], "boiler return", BLUE, 30, -22, va="center")
    told = ""
    if at is not None:
        at_supply, at_back = (float(np.interp(at, x, y)) for y in (supply, back))
        axes.plot([at, at], [at_supply, at_back], "o", color="white", markeredgecolor=BLACK, markeredgewidth=2.5, markersize=12,
                  zorder=5)
        name_line(axes, at, at_supply, f"now {at_supply:.0f} {degree}", BLACK, 10, 20)
        name_line(axes, at, at_back, f"now {at_back:.0f} {degree}", BLACK, 10, -22)
        told = f" Now the ratio is {at:.2f}: {at_supply:.0f} {degree} go out and {at_back:.0f} {degree} come back to the boilers."
    return Chart(made, "Supply temperature against boiler flow over system flow.\nBelow 1 the system's own return dilutes the "
                       "supply. Above 1 the supply gets no hotter; the surplus only warms the boilers' return. "
                       f"The boilers send out {figure(boiler_c, 'c', units)}, the system sends back "
                       f"{figure(return_c, 'c', units)}.{told}")


def returns_by_branch(direct_lps: Numbers, reverse_lps: Numbers, *, labels: Sequence[str] = (), units: Units = "si",
                      title: str = "") -> Chart:
    """The flow of each branch with direct and with reverse return [L/s], nearest branch first."""
    direct, reverse = same_length(direct_lps=direct_lps, reverse_lps=reverse_lps)
    names = list(labels) or [f"branch {n}" for n in range(1, len(direct) + 1)]
    if len(names) != len(direct):
        raise ValueError(f"a chart needs a label for each of {len(direct)} branches, not {len(names)}")
    made = new_figure()
    axes = made.subplots()
    unit = unit_name("lps", units)
    dress(axes, "", f"flow, {unit}", title or "Same pump, same pipes, two ways home")
    x, wide = np.arange(len(direct)), 0.38
    both = (_units(direct, "lps", units), _units(reverse, "lps", units))
    looks = ((ORANGE, "//", "direct return"), (SKY, "", "reverse return"))
    for side, (values, (colour, hatch, name)) in zip((-1, 1), zip(both, looks)):
        bars = axes.bar(x + side * wide / 2, values, wide, color=colour, hatch=hatch, edgecolor=BLACK, linewidth=1.2, label=name)
        axes.bar_label(bars, [f"{v:.3g}" for v in values], fontsize=SMALL, padding=2)
    axes.set_xticks(x, names, fontsize=SIZE)
    axes.set_ylim(0.0, float(max(v.max() for v in both)) * 1.3)
    axes.legend(fontsize=SIZE, frameon=False, loc="upper center", ncols=2)
    axes.grid(axis="x", visible=False)
    spread = [float(v.max() / max(v.min(), 1e-9)) for v in (direct, reverse)]
    rows = "; ".join(f"{name} {d:.3g} and {r:.3g} {unit}" for name, d, r in zip(names, *both))
    return Chart(made, f"Flow by branch, direct return against reverse return.\n{rows}. The best fed branch has {spread[0]:.2f} "
                       f"times the flow of the worst fed with direct return, {spread[1]:.2f} times with reverse return.")
