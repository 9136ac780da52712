"""The chart of a day, or of several days beside each other on the same scales."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Protocol

import numpy as np

from figures.plant.units import Units, converted, figure, unit_name

from .charts import BLACK, BLUE, GREEN, ORANGE, PURPLE, RED, SKY, SMALL, Chart, dress, new_figure

BIN_H = 0.25
Line = tuple[Any, str, str, Any, np.ndarray, np.ndarray]
DASHES = ("-", (0, (6, 2)), (0, (1.5, 1.5)), (0, (6, 2, 1.5, 2)))


class DayLines(Protocol):
    """What a day has to offer: arrays of one length, mappings by tag. Units stand in the names."""

    @property
    def hour(self) -> np.ndarray: ...
    @property
    def outdoor_c(self) -> np.ndarray: ...
    @property
    def supply_c(self) -> np.ndarray: ...
    @property
    def room_c(self) -> Mapping[str, np.ndarray]: ...
    @property
    def tank_c(self) -> Mapping[str, np.ndarray]: ...
    @property
    def firing_kw(self) -> np.ndarray: ...
    @property
    def held(self) -> np.ndarray: ...
    @property
    def short(self) -> np.ndarray: ...


def _binned(hour: np.ndarray, values: np.ndarray, least: float = 0.0) -> tuple[np.ndarray, np.ndarray]:
    """Means of a quarter of an hour; NaN where there is none, or for less than `least` of the time."""
    bin_of = np.floor(hour / BIN_H + 1e-9).astype(int)
    count = int(bin_of.max()) + 1
    good = ~np.isnan(values)
    number = np.bincount(bin_of[good], minlength=count)
    total = np.bincount(bin_of[good], np.asarray(values, dtype=float)[good], count)
    whole = np.bincount(bin_of, minlength=count)
    mean = np.where(number > least * whole, total / np.maximum(number, 1), np.nan)
    return (np.arange(count) + 0.5) * BIN_H, mean


def _spans(hour: np.ndarray, flag: np.ndarray) -> list[tuple[float, float]]:
    """From when to when a flag is up."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], np.asarray(flag, dtype=bool), [False]]).astype(int)))
    step = float(hour[1] - hour[0]) if len(hour) > 1 else 0.0
    return [(float(hour[a]), float(hour[b - 1]) + step) for a, b in zip(edges[::2], edges[1::2])]


def day_chart(days: Mapping[str, DayLines] | DayLines, *, units: Units = "si", tap_c: float = 45.0) -> Chart:
    """Days beside each other: tanks and supply, rooms and outdoors, burners.

    days: title → day, or one day.  tap_c: below it hot water counts as missing [°C].
    Shaded with strokes: DHW holds the heating off. Crossed: somebody draws and it comes too cold.
    """
    each: Mapping[str, DayLines] = days if isinstance(days, Mapping) else {"": days}
    if not each:
        raise ValueError("a chart of days needs one day or more")
    made = new_figure(2.4 + 5.6 * len(each) + (2.0 if len(each) == 1 else 0.0), 10.5)
    grid = made.subplots(3, len(each), sharex=True, sharey="row", squeeze=False, height_ratios=(1.25, 1.0, 0.8))
    degree = unit_name("c", units)
    told = []
    for column, (title, one) in enumerate(each.items()):
        top, middle, bottom = grid[:, column]
        for axes, name in zip((top, middle, bottom), (f"water, {degree}", f"air, {degree}", _power_name(units))):
            dress(axes, "hour of the day" if axes is bottom else "", name if column == 0 else "", title if axes is top else "")
            axes.set_xlim(float(one.hour[0]), float(one.hour[-1]) + 0.01)
        if one.hour[-1] <= 24.0:
            bottom.set_xticks(range(0, 25, 4))
        _mark_spans(top, middle, one)
        lines: list[Line] = [(top, "system supply", RED, "-", *_binned(one.hour, one.supply_c, 0.2))]
        lines += [(top, f"tank {tag}", BLUE, DASHES[1 + n % 3], *_binned(one.hour, c))
                  for n, (tag, c) in enumerate(one.tank_c.items())]
        coldest = min(one.room_c, key=lambda tag: float(one.room_c[tag].min()), default=None)
        if coldest is not None:
            name = "room" if len(one.room_c) == 1 else f"coldest room, {coldest}"
            lines.append((middle, name, GREEN, "-", *_binned(one.hour, one.room_c[coldest])))
        lines.append((middle, "outdoors", PURPLE, DASHES[1], *_binned(one.hour, one.outdoor_c)))
        for axes, name, colour, dash, x, y in lines:
            y = np.array([converted(float(v), "c", units) for v in y])
            axes.plot(x, y, color=colour, linestyle=dash, linewidth=2.8, label=name)
        if one.tank_c:
            top.axhline(converted(tap_c, "c", units), color=BLACK, linewidth=1.4, linestyle=":")
            top.text(0.2, converted(tap_c, "c", units), "taps want this", ha="left", va="top", fontsize=SMALL)
        x, kw = _binned(one.hour, one.firing_kw)
        bottom.fill_between(x, _power(kw, units), step="mid", color=ORANGE, edgecolor=BLACK, linewidth=1.0)
        told.append(_told(title, one, units, coldest))
    grid[2][0].set_ylim(bottom=0.0)
    for row in grid[:2]:
        low, high = row[0].get_ylim()
        row[0].set_ylim(low, high + 0.35 * (high - low))
        for axes in row:
            axes.legend(fontsize=SMALL, loc="upper left", ncols=2, frameon=True, handlelength=2.6, borderpad=0.3)
    return Chart(made, f"{'A day' if len(each) == 1 else f'{len(each)} days beside each other'}: water, air and burners.\n"
                 + "\n".join(told))


def _mark_spans(top: object, middle: object, one: DayLines) -> None:
    from matplotlib.axes import Axes

    assert isinstance(top, Axes) and isinstance(middle, Axes)
    first = True
    for a, b in _spans(one.hour, one.held):
        middle.axvspan(a, b, facecolor=SKY, alpha=0.35, hatch="//", edgecolor=BLUE, linewidth=0.0,
                       label="DHW first, heating waits" if first else None)
        first = False
    first = True
    for a, b in _spans(one.hour, one.short):
        top.axvspan(a, b, facecolor=ORANGE, alpha=0.30, hatch="xx", edgecolor=RED, linewidth=0.0,
                    label="hot water missed" if first else None)
        first = False


def _power_name(units: Units) -> str:
    return "burners, kW" if units == "si" else "burners, 1000 Btu/h"


def _power(kw: np.ndarray, units: Units) -> np.ndarray:
    return kw if units == "si" else kw * converted(1.0, "kw", "us") / 1000.0


def _told(title: str, one: DayLines, units: Units, coldest: str | None) -> str:
    hours = float(one.hour[1] - one.hour[0]) if len(one.hour) > 1 else 0.0
    said = []
    if one.tank_c:
        least = min(float(c.min()) for c in one.tank_c.values())
        said.append(f"the coldest that a tank gets is {figure(least, 'c', units)}, and hot water is missed for "
                    f"{float(np.sum(one.short)) * hours * 60.0:.0f} min")
    if coldest is not None:
        said.append(f"the coldest that a room gets is {figure(float(one.room_c[coldest].min()), 'c', units)}")
    said.append(f"DHW holds the heating off for {float(np.sum(one.held)) * hours * 60.0:.0f} min" if np.any(one.held)
                else "nothing holds the heating off")
    low, high = (figure(float(c), "c", units) for c in (one.outdoor_c.min(), one.outdoor_c.max()))
    said.append(f"outdoors it is {low} to {high}")
    return f"{title + ': ' if title else ''}{'; '.join(said)}."


__all__ = ["DayLines", "day_chart"]
