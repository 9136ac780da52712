"""Many scenarios of one plant in one call: the same method as `newton`, with a scenario in each column.

All columns take Newton steps together, from the solved base state; those that have settled drop out. The few
that do not settle quickly are handed, one by one, to the solver for single states, so that the answers are the same.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from .circuits import Islands
from .elimination import Columns
from .friction import Array
from .links import LEAST_SLOPE, PipeLaw
from .network import SHUT_POSITION, Prepared
from .newton import (
    BACKFLOW_M3S,
    CLOSE_ENOUGH_M3S,
    LEFT_OVER_M,
    OPENING_HEAD_M,
    Bypass,
    Case,
    Network,
    Unbalanced,
)
from .state import NoSolution, State
from .topology import WAYS, Where
from .water import water

AT_ONCE = 512
"""Scenarios that are worked on together: as many as keep the arrays within the processor's cache."""
ITERATIONS = 14
ROOT_CHANGE = 1e-4
"""Largest change of any root (see `PipeLaw`, some 3 to 12) in a last step; what is left of it then is about its square."""


@dataclass(frozen=True)
class Flows:
    """Answers of a sweep. flow_m3s: links × scenarios.  head_m: junctions × scenarios, before the shift to the
    expansion joint.  closed: links × scenarios.  base, changes, water_c: what was asked."""

    prepared: Prepared
    flow_m3s: Array
    head_m: Array
    closed: np.ndarray
    base: State
    changes: Mapping[str, Mapping[str, np.ndarray]]
    water_c: Array

    def runs(self, tag: str) -> np.ndarray:
        """Scenarios in which that pump runs."""
        still = self.changes["off"].get(tag, tag in self.base.off)
        speed = self.changes["speed"].get(tag, self.base.speed.get(tag, 1.0))
        return np.broadcast_to(~np.asarray(still) & (np.asarray(speed) > 0.0), self.flow_m3s.shape[1])

    def lps(self, tag: str) -> Array:
        """Flow through a part in every scenario [L/s], along its run."""
        t = self.prepared.topology
        kind = self.prepared.plant.parts[tag].kind
        if kind not in WAYS:
            return self._along(t.where[tag])
        trunk = f"{tag}.{WAYS[kind][0]}"
        for index, run in enumerate(self.prepared.plant.runs):
            if trunk in (run.through[0], run.through[-1]):
                return self.run_lps(index)
        return np.zeros(self.flow_m3s.shape[1])

    def run_lps(self, run: int) -> Array:
        """Flow in the run of that index in every scenario [L/s], along its writing."""
        return self._along(self.prepared.topology.edge_where[run])

    def _along(self, where: Where) -> Array:
        if where.link < 0:
            return np.zeros(self.flow_m3s.shape[1])
        return self.flow_m3s[where.link] * (where.sign * 1000.0)


@dataclass
class _Columns:
    """Laws of all links in every scenario; single rows of constant and fall where all scenarios share them."""

    law: PipeLaw
    constant: Array
    fall: Array
    shut: np.ndarray
    held_m: Array | None
    bypass_fall: Array | None

    def some(self, keep: np.ndarray) -> _Columns:
        return _Columns(self.law.columns(keep), self.constant[:, keep], self.fall[:, keep], self.shut[:, keep],
                        None if self.held_m is None else self.held_m[:, keep],
                        None if self.bypass_fall is None else self.bypass_fall[:, keep])


def sweep(prepared: Prepared, base: State | None = None, *, speed: Mapping[str, ArrayLike] | None = None,
          position: Mapping[str, ArrayLike] | None = None, off: Mapping[str, ArrayLike] | None = None,
          shut: Mapping[str, ArrayLike] | None = None, divert: Mapping[str, ArrayLike] | None = None,
          water_c: ArrayLike | None = None) -> Flows:
    """Steady flow of many scenarios that differ from `base` in what is given, each an array of one length.

    speed, position: tag → shares.  off, shut, divert: tag → booleans.  water_c: temperatures [°C].
    Raises ValueError where lengths differ or the plant has no such part, NoSolution where a scenario does not balance.

    >>> from figures.plant.scheme import Scheme
    >>> plant = Prepared(Scheme().plant())
    >>> flows = sweep(plant, speed={"PS": [0.5, 0.75, 1.0]}).lps("PS")
    >>> bool(flows[0] < flows[1] < flows[2])
    True
    """
    base = State() if base is None else base
    given = {"speed": speed or {}, "position": position or {}, "off": off or {}, "shut": shut or {},
             "divert": divert or {}}
    arrays = {name: {tag: np.atleast_1d(np.asarray(v, dtype=float if name in ("speed", "position") else bool))
                     for tag, v in values.items()} for name, values in given.items()}
    warm = None if water_c is None else np.atleast_1d(np.asarray(water_c, dtype=float))
    lengths = {len(v) for values in arrays.values() for v in values.values()} | ({len(warm)} if warm is not None else set())
    if len(lengths) > 1:
        raise ValueError(f"scenarios: arrays of {', '.join(map(str, sorted(lengths)))} entries; give all the same length")
    many = lengths.pop() if lengths else 1
    _check(prepared, arrays)
    flow = np.zeros((prepared.links, many))
    head = np.zeros((len(prepared.topology.junctions), many))
    closed = np.zeros((prepared.links, many), dtype=bool)
    first = prepared.solve(base)
    for begin in range(0, many, AT_ONCE):
        part = slice(begin, min(begin + AT_ONCE, many))
        columns = _columns(prepared, base, arrays, warm, part)
        start = (first.answer.flow, first.answer.friction.root, first.answer.closed)
        _Batch(prepared, columns, start).solve(flow[:, part], head[:, part], closed[:, part])
    return Flows(prepared, _balanced(prepared, flow, closed), head, closed, base, arrays,
                 np.array([base.water_c]) if warm is None else warm)


def _balanced(prepared: Prepared, flow: Array, closed: np.ndarray) -> Array:
    """Flows with what rounding left over at the junctions shared out along the open links of each column."""
    left = prepared.columns.net(flow)
    if not flow.size or float(np.abs(left).max()) < 1e-16:
        return flow
    for n in np.flatnonzero(np.abs(left).max(axis=0) > 1e-15):
        flow[:, n] = prepared.network.settled(np.ascontiguousarray(flow[:, n]), np.ascontiguousarray(closed[:, n]))
    return flow


def _check(prepared: Prepared, arrays: Mapping[str, Mapping[str, np.ndarray]]) -> None:
    def extreme(pick: Callable[[np.ndarray], float]) -> State:
        return State(off=arrays["off"], shut=arrays["shut"], divert=arrays["divert"],
                     speed={tag: float(pick(v)) for tag, v in arrays["speed"].items()},
                     position={tag: float(pick(v)) for tag, v in arrays["position"].items()})

    extremes = [extreme(np.min), extreme(np.max)]
    refused = dict.fromkeys(line for state in extremes for line in state.refusals(prepared.plant))
    if refused:
        raise ValueError("\n".join(refused))


def _columns(prepared: Prepared, base: State, arrays: Mapping[str, Mapping[str, np.ndarray]], warm: Array | None,
             part: slice) -> _Columns:
    many = part.stop - part.start
    wet = prepared.wet(base.water_c)
    case = prepared.case(base, wet)
    constant, fall = (np.repeat(values[:, None], many, axis=1) for values in (case.constant_m, case.fall))
    shut = np.repeat(case.shut[:, None], many, axis=1)
    held = bypass_fall = None
    viscosity: float | Array = wet.water.viscosity_m2s
    if case.bypass is not None:
        held, bypass_fall = (np.repeat(v[:, None], many, axis=1) for v in (case.bypass.held_m, case.bypass.fall))
    if warm is not None:
        different, which = np.unique(warm[part], return_inverse=True)
        waters = [water(float(t)) for t in different]
        viscosity = np.array([w.viscosity_m2s for w in waters])[which]
        if case.bypass is not None and held is not None:
            kpa = case.bypass.held_m * wet.water.density_kgm3
            density = np.array([w.density_kgm3 for w in waters])[which]
            change = kpa[:, None] / density - held
            np.add.at(constant, case.bypass.link, change * case.bypass.sign[:, None])
            held = held + change
    laws = prepared.laws

    def lift_and_fall(tag: str) -> tuple[Array, Array]:
        """Lift of a pump, and its part of the link's fall, in each scenario."""
        n = arrays["speed"][tag][part] if tag in arrays["speed"] else base.speed.get(tag, 1.0)
        still = arrays["off"][tag][part] if tag in arrays["off"] else tag in base.off
        runs = np.broadcast_to(~np.asarray(still) & (np.asarray(n) > 0.0), many)
        law = laws[tag]
        return np.where(runs, law.lift_m * np.square(n), 0.0), np.where(runs, law.fall, law.off_fall)

    for tag in {**arrays["speed"], **arrays["off"]}:
        law = laws[tag]
        if law.link < 0:
            continue
        still = tag in base.off or base.speed.get(tag, 1.0) == 0.0
        lift, falls = lift_and_fall(tag)
        constant[law.link] += (0.0 if still else law.lift_m * base.speed.get(tag, 1.0) ** 2) - lift
        fall[law.link] += falls - (law.off_fall if still else law.fall)
    for tag, values in arrays["position"].items():
        law, share = laws[tag], values[part]
        if law.link < 0:
            continue
        was = base.position.get(tag, 1.0)
        shut[law.link] |= share < SHUT_POSITION
        safe = np.maximum(share, SHUT_POSITION)
        if not law.set_kpa:
            fall[law.link] += law.fall * (1.0 / safe**2 - (0.0 if was < SHUT_POSITION else 1.0 / was**2))
        elif case.bypass is not None and bypass_fall is not None:
            bypass_fall[case.bypass.link == law.link] = law.fall / safe**2
    for tag, values in arrays["shut"].items():
        if laws[tag].link >= 0:
            shut[laws[tag].link] |= values[part]
    for tag, values in arrays["divert"].items():
        a, b = prepared.diverters[tag]
        for link, closes in ((a, values[part]), (b, ~values[part])):
            if link >= 0:
                shut[link] = closes
    return _Columns(PipeLaw(prepared.pieces, viscosity, many=True), constant, fall, shut, held, bypass_fall)


class _Batch:
    def __init__(self, prepared: Prepared, columns: _Columns, start: tuple[Array, Array, np.ndarray]) -> None:
        self.prepared, self.all = prepared, columns
        self.network: Network = prepared.network
        self.algebra: Columns = prepared.columns
        self.start = start
        self.which = np.zeros(0, dtype=np.intp)
        self.islands: list[Islands] = []
        self.ways = self.network.one_way_links
        self.way_start, self.way_end = self.network.start[self.ways], self.network.end[self.ways]
        self.sign = prepared.one_way[self.ways].astype(float)[:, None]
        bypass = prepared.wet(60.0).bypass
        self.bypass_link = None if bypass is None else bypass.link
        self.bypass_sign = None if bypass is None else bypass.sign[:, None]

    def solve(self, flow_out: Array, head_out: Array, closed_out: np.ndarray) -> None:
        """Fills the three arrays, column by column."""
        now, at = self.all, np.arange(flow_out.shape[1])
        flow, root, was = (np.repeat(v[:, None], len(at), axis=1) for v in self.start)
        closed = now.shut | (was & (self.prepared.one_way != 0)[:, None])
        flow = np.where(closed, 0.0, flow)
        self._patterns(closed, now.shut)
        anchor, loose = self._anchor()
        before = np.zeros(len(at))
        for _ in range(ITERATIONS):
            rough_root = root
            ratio, slope, root = now.law(np.where(closed, 1.0, flow), root)
            square = now.fall * np.abs(flow) + LEAST_SLOPE
            ratio += square
            slope += square
            slope += square
            self._bypass(now, flow, ratio, slope)
            loss = ratio * flow + now.constant
            conductance = 1.0 / slope
            conductance[closed] = 0.0
            head = self.algebra.heads(conductance, -self.algebra.net(flow - conductance * loss), anchor)
            step = conductance * (self.algebra.drop(head) - loss)
            flow = flow + step
            changed = self._toggle(now, flow, head, closed)
            change = np.abs(step).max(axis=0)
            done = (change < CLOSE_ENOUGH_M3S) | ((change < 0.05 * before) & (change**3 < CLOSE_ENOUGH_M3S * before**2))
            if done.any():
                left = (slope * step * step / (np.abs(flow) + np.abs(step) + 1e-15)).max(axis=0)
                done &= (left < LEFT_OVER_M) & (np.abs(root - rough_root).max(axis=0, initial=0.0) < ROOT_CHANGE)
            before = change
            if changed is not None:
                toggled = changed.any(axis=0)
                done &= ~toggled
                before[toggled] = 0.0
                closed[self.ways] ^= changed
                flow[closed] = 0.0
                self._patterns(closed, now.shut)
                anchor, loose = self._anchor()
            done &= ~loose
            if done.any():
                flow_out[:, at[done]], head_out[:, at[done]] = flow[:, done], head[:, done]
                closed_out[:, at[done]] = closed[:, done]
                keep = np.flatnonzero(~done)
                if not len(keep):
                    return
                at, now, before = at[keep], now.some(keep), before[keep]
                flow, root, closed = flow[:, keep], root[:, keep], closed[:, keep]
                self.which = self.which[keep]
                anchor, loose = self._anchor()
        for n, column in enumerate(at):
            self._alone(now.some(np.array([n])), int(column), flow_out, head_out, closed_out)

    def _patterns(self, closed: np.ndarray, shut: np.ndarray) -> None:
        """Finds the islands of every column; columns that are shut alike share them."""
        packed = np.ascontiguousarray(np.packbits(np.concatenate([closed, shut]), axis=0).T)
        if (packed == packed[0]).all():
            first, self.which = np.zeros(1, dtype=np.intp), np.zeros(len(packed), dtype=np.intp)
        else:
            key = packed.view(np.dtype((np.void, packed.shape[1]))).ravel()
            _, first, self.which = np.unique(key, return_index=True, return_inverse=True)
        self.islands = [self.network.islands(np.ascontiguousarray(closed[:, n]), np.ascontiguousarray(shut[:, n]))
                        for n in first]

    def _anchor(self) -> tuple[tuple[np.ndarray, np.ndarray], np.ndarray]:
        """Grounded junctions of each column, and the columns whose islands a shut check might yet join."""
        many = len(self.which)
        loose = np.array([len(found.bridging) > 0 for found in self.islands])[self.which]
        if len(self.islands) == 1:
            ground = self.islands[0].ground
            return (np.repeat(ground, many), np.tile(np.arange(many), len(ground))), loose
        rows = [self.islands[k].ground for k in self.which]
        return (np.concatenate(rows), np.repeat(np.arange(many), [len(r) for r in rows])), loose

    def _bypass(self, now: _Columns, flow: Array, ratio: Array, slope: Array) -> None:
        if self.bypass_link is None or now.held_m is None or now.bypass_fall is None:
            return
        through = np.maximum(flow[self.bypass_link] * self.bypass_sign, 0.0)
        more = now.bypass_fall * through * through - now.held_m
        wide = more > 0.0
        if wide.any():
            np.add.at(ratio, self.bypass_link, np.where(wide, more / np.maximum(through, 1e-12), 0.0))
            np.add.at(slope, self.bypass_link, np.where(wide, 2.0 * now.bypass_fall * through, 0.0))

    def _toggle(self, now: _Columns, flow: Array, head: Array, closed: np.ndarray) -> np.ndarray | None:
        if not len(self.ways):
            return None
        here = closed[self.ways]
        wrong = flow[self.ways] * self.sign < -BACKFLOW_M3S
        if here.any():
            push = self.sign * (head[self.way_start] - head[self.way_end] - now.constant[self.ways])
            wrong = np.where(here, ~now.shut[self.ways] & (push > OPENING_HEAD_M), wrong)
        return wrong if wrong.any() else None

    def _alone(self, now: _Columns, column: int, flow_out: Array, head_out: Array, closed_out: np.ndarray) -> None:
        prepared, whole = self.prepared, now.law.re_per_flow
        law = PipeLaw(prepared.pieces, float(prepared.wet(60.0).water.viscosity_m2s
                                             * prepared.wet(60.0).law.re_per_flow[0] / whole[0, 0])
                      if len(whole) else 1e-6)
        bypass = None
        if self.bypass_link is not None and now.held_m is not None and now.bypass_fall is not None \
                and self.bypass_sign is not None:
            bypass = Bypass(self.bypass_link, self.bypass_sign[:, 0], now.bypass_fall[:, 0], now.held_m[:, 0])
        case = Case(law, now.constant[:, 0], now.fall[:, 0], now.shut[:, 0].copy(), bypass)
        try:
            answer = prepared.network.solve(case, prepared.first_flow, law.guess(prepared.first_flow))
        except Unbalanced as unbalanced:
            part = prepared.place(unbalanced.link)
            raise NoSolution(part, f"Scenario {column}: the flow through {part} could not be balanced.") from None
        flow_out[:, column], head_out[:, column], closed_out[:, column] = answer.flow, answer.head, answer.closed


__all__ = ["Flows", "sweep"]
