"""Head lost along links and how it grows with flow, for one state or for many at once.

A *link* is what lies between two junctions: pieces of pipe, and everything on them whose loss grows with the
square of the flow (fittings, valves by Kv, the falling part of a pump's curve). All laws are odd and strictly
rising, so that the whole network has one answer.
"""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass
from math import pi

import numpy as np

from .friction import LAMINAR_UP_TO, PER_DECADE, TURBULENT_FROM, Array, bridge, colebrook_root, inner
from .water import GRAVITY_MS2

_SPAN = TURBULENT_FROM - LAMINAR_UP_TO
LEAST_SLOPE = 2e-5
"""Head per flow [m/(m³/s)] that every link adds: 0.2 µm at 10 L/s, and no link's slope is ever zero."""
ROOT_STEPS, ROOT_CHANGE = 4, 1e-3
"""Newton steps on a root (4 to 14) at most, and its change below which one was the last: what is left of it then is
less than a hundredth of the change's square, 1e-8."""


def kv_coefficient(kv_m3h: float) -> float:
    """Head loss per squared flow [m/(m³/s)²] of a part with a flow coefficient Kv [m³/h at 1 bar].

    IEC 60534: Δp[bar] = (ρ/1000)·(Q/Kv)², so as head of the water that flows the density cancels.

    >>> round(kv_coefficient(12.0) * (5.12 / 3600) ** 2, 3)   # by arithmetic: 1.856 m
    1.856
    """
    return 1e5 / (1000.0 * GRAVITY_MS2) * (3600.0 / kv_m3h) ** 2


def k_coefficient(k: float, inside_m: float) -> float:
    """Head loss per squared flow [m/(m³/s)²] of loss coefficient `k` on inside diameter `inside_m` [m].

    >>> round(k_coefficient(12.0, 0.04094) * 0.00142291**2, 4)   # facts H1: 0.7148 m
    0.7148
    """
    area = pi * inside_m**2 / 4.0
    return k / (2.0 * GRAVITY_MS2 * area**2)


@dataclass(frozen=True)
class Pieces:
    """Straight pipe, one row for each bore on each link, sorted by link.

    link: index of its link.  length_m, inside_m, roughness_m: of the piece.  links: how many links there are.
    """

    link: np.ndarray
    length_m: Array
    inside_m: Array
    roughness_m: Array
    links: int


class PipeLaw:
    """Friction of all pieces at one viscosity: `self(flow, root)` gives loss per flow, and slope, of each link.

    Flows are in m³/s. `root` is 1/√f of each piece times ln(10)/2, with which Colebrook's equation reads
    root = −ln(rough + viscous·root). Each call betters the root of the last one by Newton steps, one logarithm each:
    for a single state until the next step would not show, for a batch a single one.

    >>> pipe = Pieces(np.array([0]), np.array([10.0]), np.array([0.0525]), np.array([4.5e-5]), 1)     # 10 m of NPS 2 steel
    >>> law, flow = PipeLaw(pipe, 4.74e-7), np.array([0.002])
    >>> ratio, slope, root = law(flow, law.guess(flow))
    >>> round(float(ratio[0] * flow[0]), 4), 1.8 < float(slope[0] / ratio[0]) < 2.0      # fluids: 0.1793 m
    (0.1793, True)
    """

    def __init__(self, pieces: Pieces, viscosity_m2s: float | Array, many: bool = False) -> None:
        """viscosity_m2s: one figure, or with `many` also one for each scenario of a batch, whose flows then have
        shape (links, scenarios)."""

        def column(values: Array) -> Array:
            return values[:, None] if many else values

        inside, rel = pieces.inside_m, pieces.roughness_m / pieces.inside_m
        area = pi * inside**2 / 4.0
        self.many = many
        self.re_per_flow = column(4.0 / (pi * inside)) / viscosity_m2s
        self.loss = column(pieces.length_m / (inside * 2.0 * GRAVITY_MS2 * area**2))
        self.loss_per_root = self.loss / PER_DECADE**2
        self.rough = column(rel / 3.7)
        self.viscous = 2.51 * PER_DECADE / self.re_per_flow
        self.laminar = 64.0 * self.loss / self.re_per_flow
        self.bridge = np.array(bridge(rel)).reshape(4, -1)
        self.edge = TURBULENT_FROM / self.re_per_flow
        self.one = 1.0 if many else np.ones_like(inside)     # what numpy adds most quickly
        self.link = pieces.link
        self.one_each = len(pieces.link) == pieces.links and bool((pieces.link == np.arange(pieces.links)).all())
        self.links = pieces.links
        self.starts = np.flatnonzero(np.r_[True, np.diff(pieces.link) > 0]) if len(pieces.link) else pieces.link
        self.owners = pieces.link[self.starts]
        number = {int(owner): n for n, owner in enumerate(self.owners)}
        begins = set(self.starts.tolist())
        self.further = [(row, number[int(link)]) for row, link in enumerate(pieces.link) if row not in begins]
        self.bare = len(self.owners) < pieces.links

    def columns(self, keep: np.ndarray) -> PipeLaw:
        """The same law for some of a batch's scenarios."""
        if self.edge.shape[-1] == 1:
            return self
        some = copy(self)
        for name in ("re_per_flow", "viscous", "laminar", "edge"):
            setattr(some, name, getattr(self, name)[:, keep])
        return some

    def guess(self, flow: Array) -> Array:
        """The root of each piece at `flow`, by the full equation."""
        re = np.maximum(self.re_per_flow * np.abs(flow)[self.link], TURBULENT_FROM)
        return colebrook_root(re, self.rough * 3.7) / PER_DECADE

    def __call__(self, flow: Array, root: Array) -> tuple[Array, Array, Array]:
        """Loss per flow and slope of each link [m/(m³/s)], and the bettered root of each piece."""
        asked = np.abs(flow if self.one_each else flow[self.link])
        size = np.maximum(asked, self.edge)
        viscous = self.viscous / size
        for _ in range(1 if self.many else ROOT_STEPS):
            inside = viscous * root
            inside += self.rough
            whole = viscous / inside
            whole += self.one
            off = np.log(inside, out=inside)
            off += root
            off /= whole
            root = root - off
            if self.many or inner(off, off) < ROOT_CHANGE**2:
                break
        ratio = self.loss_per_root * size
        ratio /= root * root
        slope = (ratio + ratio) / whole
        low = asked < self.edge
        if np.count_nonzero(low):
            at = low.nonzero()
            ratio[at], slope[at] = self._low(at, asked[at])
        if self.one_each:
            return ratio, slope, root
        return self._gather(ratio), self._gather(slope), root

    def _low(self, at: tuple[np.ndarray, ...], size: Array) -> tuple[Array, Array]:
        """Loss per flow, and slope, of the pieces `at` that are not turbulent."""
        wide = at if self.edge.shape[-1] > 1 or not self.many else (at[0], 0)
        laminar = self.laminar[wide]
        re = size * (TURBULENT_FROM / self.edge[wide])
        u = re * (1.0 / _SPAN) - LAMINAR_UP_TO / _SPAN
        bridging = u > 0.0
        if not bridging.any():
            return laminar, laminar
        row = at[0]
        a, b, c, d = self.bridge.take(row, axis=1)
        loss = (self.loss[row, 0] if self.many else self.loss[row]) * size
        factor = a + u * (b + u * (c + u * d))
        per_re = (b + u * (2.0 * c + u * 3.0 * d)) / _SPAN
        return (np.where(bridging, loss * factor, laminar),
                np.where(bridging, loss * (2.0 * factor + re * per_re), laminar))

    def _gather(self, values: Array) -> Array:
        if not len(self.starts):
            return np.zeros((self.links, *values.shape[1:]))
        if self.many:                          # reduceat is slow on columns
            sums = values[self.starts]
            for row, owner in self.further:
                sums[owner] += values[row]
        else:
            sums = np.add.reduceat(values, self.starts)
        if not self.bare:
            return sums
        whole = np.zeros((self.links, *values.shape[1:]))
        whole[self.owners] = sums
        return whole
