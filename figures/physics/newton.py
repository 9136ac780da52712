"""Steady flow of a network: the global gradient method with a line search and an active set.

Todini and Pilati (1988): Newton's method on flows and heads together, so that after the first step every
iterate balances at every junction. All laws rise with flow, so the answer is where a convex function, the
content (Σ ∫ loss d flow over flows that balance), is least; the line search follows its slope along each step.
Links that water can pass one way only are shut or open; which, is found on the way, and where that goes round in
circles, by letting one link at a time change, the least first (Murty's rule, which ends for monotone problems).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .elimination import DENSE_UP_TO, Dense, Rounds, islands
from .friction import Array
from .links import LEAST_SLOPE, PipeLaw

CLOSE_ENOUGH_M3S = 1e-9
"""Largest change of any flow in a last step, 1e-6 L/s. Newton's steps shrink by their square, so the solve also ends
where the next step, about change³/before², would be smaller than this."""
LEFT_OVER_M = 1e-7
ROOT_CHANGE = 1e-4
"""Largest change of any 1/√f (some 3 to 12) in a last step; what is left of it then is about its square."""
BACKFLOW_M3S = 1e-11
"""Water coming back through an open check below which it is rounding, 1e-8 L/s; it is then set to none."""
OPENING_HEAD_M = 1e-9
ITERATIONS = 60


@dataclass(frozen=True)
class Bypass:
    """Differential-pressure valves: link, +1 or −1, loss per squared flow when full open, head they hold [m]."""

    link: np.ndarray
    sign: Array
    fall: Array
    held_m: Array

    def add(self, flow: Array, ratio: Array, slope: Array) -> None:
        """Adds what a full-open valve loses beyond the head that it holds (that one is in the constant)."""
        through = np.maximum(flow[self.link] * self.sign, 0.0)
        more = self.fall * through * through - self.held_m
        wide = more > 0.0
        if wide.any():
            at = self.link[wide]
            ratio[at] += more[wide] / through[wide]
            slope[at] += 2.0 * self.fall[wide] * through[wide]


@dataclass
class Case:
    """What one solve is asked: constants and squares of the links' laws, and which are shut or one way.

    constant_m: loss at no flow (less the pumps' lift).  fall: loss per squared flow.  shut: no water passes.
    one_way: +1, −1 where water passes along or against the link only, else 0.  inflow: m³/s into each junction.
    """

    law: PipeLaw
    constant_m: Array
    fall: Array
    shut: np.ndarray
    one_way: np.ndarray
    bypass: Bypass | None
    inflow: Array | float = 0.0


@dataclass
class Answer:
    """Flows of the links [m³/s], heads of the junctions [m], 1/√f of the pieces, which links are shut, and flow per
    head of each link at the end [m²/s]."""

    flow: Array
    head: Array
    root: Array
    closed: np.ndarray
    conductance: Array
    iterations: int


class Unbalanced(ArithmeticError):
    """The solve did not settle; `link` is the one that moved most in the last step."""

    def __init__(self, link: int, change_m3s: float) -> None:
        super().__init__(f"link {link} still moves by {change_m3s:.2g} m³/s")
        self.link = link


@dataclass(frozen=True)
class Islands:
    """Junctions that open links join. anchor: what holds one junction of each at 0.  label: of each junction.
    bridging: shut one-way links between two of them."""

    ground: np.ndarray
    anchor: np.ndarray
    label: np.ndarray
    bridging: np.ndarray


def _straight(slope: Array, flow: Array, step: Array) -> bool:
    """True where no link's curve bends by more than the limit over the last step: that much head is left over."""
    size = np.abs(step)
    return float((slope * step * step / (np.abs(flow) + size + 1e-15)).max(initial=0.0)) < LEFT_OVER_M


class Network:
    """Junctions and links, ready to be solved for any case."""

    def __init__(self, start: np.ndarray, end: np.ndarray, junctions: int, one_way: np.ndarray,
                 reference: int = 0) -> None:
        self.start, self.end, self.junctions, self.links = start, end, junctions, len(start)
        self.reference = reference
        self.one_way_links = np.flatnonzero(one_way)
        self._way_start, self._way_end = start[self.one_way_links], end[self.one_way_links]
        self._sign = self._lift = np.zeros(0)
        self._free = np.zeros(0, dtype=bool)
        self.busy = np.full(self.links, 1.0)
        self.algebra: Dense | Rounds = (Dense if junctions <= DENSE_UP_TO else Rounds)(start, end, junctions)
        self._islands: dict[bytes, Islands] = {}

    def islands(self, closed: np.ndarray, shut: np.ndarray) -> Islands:
        """Grounded junctions while `closed` links are shut; one for each island, the reference for its own."""
        key = closed.tobytes() + shut.tobytes()
        found = self._islands.get(key)
        if found is None:
            label = islands(self.start, self.end, ~closed, self.junctions)
            ground = np.unique(label)
            if self.junctions:
                ground[ground == label[self.reference]] = self.reference
            free = closed & ~shut
            bridging = np.flatnonzero(free & (label[self.start] != label[self.end]))
            found = Islands(ground, self.algebra.anchor(ground), label, bridging)
            if len(self._islands) > 1024:
                self._islands.clear()
            self._islands[key] = found
        return found

    def solve(self, case: Case, flow: Array, root: Array, before: np.ndarray | None = None) -> Answer:
        """The steady flow of `case`, starting from `flow`. Raises Unbalanced where it does not settle.

        before: the links that were shut in an earlier answer whose flow and root these are."""
        closed = case.shut.copy() if before is None else (before & (case.one_way != 0)) | case.shut
        balanced = before is not None and bool((closed == before).all())
        try:
            answer = self._iterate(case, flow, root, closed, True, balanced)
            if answer is not None:
                return answer
            return self._one_at_a_time(case, flow, root)
        except np.linalg.LinAlgError:
            raise Unbalanced(int(np.argmax(np.abs(flow))) if len(flow) else 0, float("nan")) from None

    def _iterate(self, case: Case, flow: Array, root: Array, closed: np.ndarray, toggling: bool,
                 feasible: bool = False) -> Answer | None:
        algebra, law, bypass = self.algebra, case.law, case.bypass
        constant, fall, inflow, busy = case.constant_m, case.fall, case.inflow, self.busy
        toggling = toggling and len(self.one_way_links) > 0
        if toggling:
            self._prepare_toggling(case)
        any_closed = bool(closed.any())
        if any_closed:
            flow = np.where(closed, 0.0, flow)
        here = self.islands(closed, case.shut)
        patience = 4 * self.links + 8
        toggles, slope_before, before = 0, 0.0, 0.0
        step = flow
        for iteration in range(1, ITERATIONS + 1):
            # a shut link's law does not matter, so it is asked at a flow at which asking is quick
            rough_root = root
            ratio, slope, root = law(np.where(closed, busy, flow) if any_closed else flow, root)
            loss, slope = self._laws(flow, ratio, slope, constant, fall, bypass)
            if feasible and slope_before < 0.0 and float(loss.dot(step)) > -0.5 * slope_before:
                flow, loss, slope, root = self._search(case, flow, step, loss, slope, root, slope_before)
                before = 0.0
            conductance = 1.0 / slope
            if any_closed:
                conductance[closed] = 0.0
            head = algebra.heads(conductance, algebra.net(conductance * loss - flow) + inflow, here.anchor)
            step = conductance * (algebra.drop(head) - loss)
            slope_before = float(loss.dot(step))
            change = float(np.maximum.reduce(np.abs(step), initial=0.0))
            flow = flow + step
            if toggling:
                changed = self._toggle(case, flow, head, closed, any_closed, here)
                if changed is not None:
                    toggles += len(changed)
                    if toggles > patience:
                        return None
                    closed[changed] = ~closed[changed]
                    flow[closed] = 0.0
                    any_closed, feasible, before = bool(closed.any()), False, 0.0
                    here = self.islands(closed, case.shut)
                    continue
            if (change < CLOSE_ENOUGH_M3S or (change < 0.05 * before and change**3 < CLOSE_ENOUGH_M3S * before**2)) \
                    and _straight(slope, flow, step) and np.abs(root - rough_root).max(initial=0.0) < ROOT_CHANGE:
                if len(here.bridging):
                    head = self._lifted(case, head, here)
                return Answer(flow, head, root, self._stopped(case, flow, closed) if toggling else closed,
                              conductance, iteration)
            before, feasible = (change if feasible else 0.0), True
        if toggling:
            return None
        raise Unbalanced(int(np.argmax(np.abs(step))), change)

    def _laws(self, flow: Array, ratio: Array, slope: Array, constant: Array, fall: Array,
              bypass: Bypass | None) -> tuple[Array, Array]:
        square = np.abs(flow)
        square *= fall
        square += LEAST_SLOPE
        ratio += square
        slope += square
        slope += square
        if bypass is not None:
            bypass.add(flow, ratio, slope)
        return ratio * flow + constant, slope

    def _search(self, case: Case, flow: Array, step: Array, loss: Array, slope: Array, root: Array,
                slope_before: float) -> tuple[Array, Array, Array, Array]:
        """Steps back where the content's slope along the last step has turned up by more than half."""
        share = 1.0
        slope_here = float(loss.dot(step))
        low, slope_low = 0.0, slope_before
        for _ in range(8):
            if slope_here <= 0.5 * abs(slope_before):
                break
            back = share
            share = low + (share - low) * min(max(slope_low / (slope_low - slope_here), 0.1), 0.9)
            flow = flow - (back - share) * step
            ratio, slope, root = case.law(flow, root)
            loss, slope = self._laws(flow, ratio, slope, case.constant_m, case.fall, case.bypass)
            slope_here = float(loss.dot(step))
        return flow, loss, slope, root

    def _prepare_toggling(self, case: Case) -> None:
        ways = self.one_way_links
        self._sign = case.one_way[ways].astype(float)
        self._lift = self._sign * case.constant_m[ways] + OPENING_HEAD_M
        self._free = ~case.shut[ways]

    def _toggle(self, case: Case, flow: Array, head: Array, closed: np.ndarray, any_closed: bool,
                here: Islands) -> np.ndarray | None:
        """One-way links that must change: open with water coming back, or shut with head to open them."""
        ways = self.one_way_links
        wrong = flow[ways] * self._sign < -BACKFLOW_M3S
        if any_closed:
            lifted = self._lifted(case, head, here) if len(here.bridging) else head
            push = self._sign * (lifted[self._way_start] - lifted[self._way_end])
            wrong = np.where(closed[ways], self._free & (push > self._lift), wrong)
        return ways[wrong] if np.count_nonzero(wrong) else None

    def _stopped(self, case: Case, flow: Array, closed: np.ndarray) -> np.ndarray:
        """Shuts one-way links in which nothing but rounding comes back; sets their flow to none."""
        ways = self.one_way_links
        back = ways[flow[ways] * self._sign < 0.0]
        flow[back] = 0.0
        closed[back] = True
        return closed

    def _lifted(self, case: Case, head: Array, found: Islands) -> Array:
        """Heads with islands behind shut one-way links set where a small leak through these would put them."""
        bridging = found.bridging
        home = found.label[self.reference]
        names = [label for label in np.unique(found.label[np.r_[self.start[bridging], self.end[bridging]]])
                 if label != home]
        column = {label: n for n, label in enumerate(names)}
        matrix = np.zeros((len(bridging), len(names)))
        push = np.zeros(len(bridging))
        for row, link in enumerate(bridging):
            a, b = self.start[link], self.end[link]
            push[row] = head[a] - head[b] - case.constant_m[link]
            for junction, sign in ((a, 1.0), (b, -1.0)):
                if found.label[junction] != home:
                    matrix[row, column[found.label[junction]]] += sign
        lift = np.linalg.lstsq(matrix, -push, rcond=None)[0]
        lifted = head.copy()
        for label, n in column.items():
            lifted[found.label == label] += lift[n]
        return lifted

    def _one_at_a_time(self, case: Case, flow: Array, root: Array) -> Answer:
        closed, last = case.shut.copy(), 0
        for _ in range(40 + 20 * len(self.one_way_links)):
            answer = self._iterate(case, flow, root, closed.copy(), False)
            assert answer is not None          # without toggling it returns an answer or raises
            here = self.islands(closed, case.shut)
            self._prepare_toggling(case)
            wrong = self._toggle(case, answer.flow, answer.head, closed, bool(closed.any()), here)
            if wrong is None:
                self._stopped(case, answer.flow, answer.closed)
                return answer
            last = int(wrong[0])
            closed[last] = not closed[last]
            flow, root = answer.flow, answer.root
        raise Unbalanced(last, float("nan"))
