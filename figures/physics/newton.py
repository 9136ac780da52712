"""Steady flow of a network: Newton's method with a second-order correction, a line search and an active set.

The global gradient method of Todini and Pilati (1988): Newton's method on flows and heads together, so that after the
first step every iterate balances at every junction. Two ways to solve its equations stand in `circuits` (small plants)
and `elimination` (large ones). The laws bend, mostly as squares do; what a step leaves over for that reason is known
beforehand, so each step carries a second one, with the same matrix, that takes most of it away (Chebyshev's method;
shortened as Halley's would be along the step, or it would run too far). That saves two steps in five.

All laws rise with flow, so the answer is where a convex function, the content (Σ ∫ loss d flow over flows that
balance), is least; the line search follows its slope along each step. Links that water can pass one way only are shut
or open; which, is found on the way, and where that goes round in circles, by letting one link at a time change, the
least first (Murty's rule, which ends for monotone problems).
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from .circuits import Dense, Islands, Linear, forest
from .elimination import Eliminated, Rounds
from .friction import Array, inner
from .links import LEAST_SLOPE, PipeLaw

DENSE_UP_TO = 200
"""Junctions up to which circuits, with full matrices, are quicker than rounds of elimination (measured: tests/bench)."""
CLOSE_ENOUGH_M3S = 2e-10
"""Size of a last correction of the flows, 2e-7 L/s (root of the sum of squares, so no flow's is greater)."""
LEFT_OVER_M = 1e-7
"""Head that a last step may leave over because the laws bend, before its correction takes most of that away."""
LEAST_SIZE_M3S = 1e-12
"""What a flow counts for at least where something is divided by it."""
BACKFLOW_M3S = 1e-11
"""Water coming back through an open check below which it is rounding, 1e-8 L/s; it is then set to none."""
OPENING_HEAD_M = 1e-9
ITERATIONS = 60
KEPT_NUMBERS = 2_000_000
"""Entries of the largest matrices that a network keeps for sets of shut links met before, 16 MB in all."""


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


class Friction(NamedTuple):
    """Friction as it was last asked for: at which flows; loss per flow and slope of each link; root of each piece."""

    flow: Array
    ratio: Array
    slope: Array
    root: Array


@dataclass
class Case:
    """What one solve is asked: constants and squares of the links' laws, and which are shut.

    constant_m: loss at no flow (less the pumps' lift).  fall: loss per squared flow.  shut: no water passes.
    inflow: m³/s into each junction.
    """

    law: PipeLaw
    constant_m: Array
    fall: Array
    shut: np.ndarray
    bypass: Bypass | None
    inflow: Array | float = 0.0


@dataclass
class Answer:
    """Flows of the links [m³/s], heads of the junctions [m], and which links are shut.

    law, fall, friction, linear: of the case, and as they were for the last step, from which the solve of a like case
    can go on; linear is None where links were shut after that step."""

    flow: Array
    head: Array
    closed: np.ndarray
    law: PipeLaw
    fall: Array
    friction: Friction
    linear: Linear | Eliminated | None


class Unbalanced(ArithmeticError):
    """The solve did not settle; `link` is the one that moved most in the last step."""

    def __init__(self, link: int, change_m3s: float) -> None:
        super().__init__(f"link {link} still moves by {change_m3s:.2g} m³/s")
        self.link = link


class _Step(NamedTuple):
    """change: of the flows.  left: head that Newton's part of it leaves over.  share: of that, what the second part takes
    away.  falls: slope of the content along it.  small: so little is left after it that it may be the last."""

    change: Array
    left: Array
    share: float
    falls: float
    small: bool

    def loss(self, loss: Array, slope: Array) -> Array:
        """What links lose after it by the laws that it was made with; these losses close round every circuit."""
        return loss + slope * self.change + self.share * self.left


def _step(linear: Linear | Eliminated, flow: Array, loss: Array, slope: Array, bend: Array,
          excess: Array | None, balanced: bool, toggled: bool) -> _Step:
    """Newton's step, and with the same matrix a second one for what the first leaves over since the laws bend.

    Along the first the second is shortened as Halley's method would; where that fails, or the second would be the longer
    one, it is left out. So it is just after links were shut or opened (toggled): too far from the answer to foresee much."""
    first = linear.step(loss, excess)
    left = bend * first
    left *= first
    if toggled and not balanced:
        return _Step(first, left, 0.0, 0.0, False)
    second = linear.step(left)
    if balanced and inner(second, second) < CLOSE_ENOUGH_M3S**2 and inner(left, left) < LEFT_OVER_M**2 \
            and _straight(slope, flow, first):
        return _Step(first + second, left, 1.0, 0.0, True)
    spent = -inner(loss, first) if balanced else inner(slope * first, first)
    longer = inner(left, first) / spent if spent > 0.0 else 0.0
    share = 1.0 / (1.0 + longer) if longer > -0.5 else 0.0
    if share * share * inner(second, second) > inner(first, first):
        share = 0.0
    # along a step that also has to make flows balance the content does not tell how far to go
    falls = -spent * (share or 1.0) if balanced else 0.0
    return _Step(first + share * second, left, share, falls, False)


def _straight(slope: Array, flow: Array, step: Array) -> bool:
    """True where no link's curve can bend by more than the limit over the step, were it as a square's, though it is
    straight where the step begins: laminar flow may turn turbulent on the way."""
    most = slope * step
    most *= step
    most /= np.abs(flow) + np.abs(step) + LEAST_SIZE_M3S
    return float(most.max(initial=0.0)) < LEFT_OVER_M


class Network:
    """Junctions and links, ready to be solved for any case."""

    def __init__(self, start: np.ndarray, end: np.ndarray, junctions: int, one_way: np.ndarray,
                 reference: int = 0, resistance: Array | None = None) -> None:
        """one_way: +1, −1 where water passes along or against the link only, else 0.  resistance: of each link, roughly,
        in any unit: circuits are well told apart where each link that loses much lies in one alone."""
        self.start, self.end, self.junctions, self.links = start, end, junctions, len(start)
        self.reference = reference
        self.one_way_links = np.flatnonzero(one_way)
        self._way_start, self._way_end = start[self.one_way_links], end[self.one_way_links]
        self._sign, self._is_way = one_way[self.one_way_links].astype(float), one_way != 0
        self._busy, self._least = np.full(self.links, 1.0), np.full(self.links, LEAST_SIZE_M3S)
        self._least_slope = np.full(self.links, LEAST_SLOPE)
        self._order = np.arange(self.links) if resistance is None else np.argsort(resistance, kind="stable")
        self.algebra: Dense | Rounds = (Dense if junctions <= DENSE_UP_TO else Rounds)(start, end, junctions)
        self._islands: dict[bytes, Islands] = {}
        self._most_kept = min(max(KEPT_NUMBERS // max(self.links * junctions, 1), 16), 1024)

    def islands(self, closed: np.ndarray, shut: np.ndarray) -> Islands:
        """What open links join while `closed` ones are shut; the reference is the grounded junction of its island."""
        key = closed.tobytes() + shut.tobytes()
        found = self._islands.get(key)
        if found is None:
            label, tree, chords = forest(self.start, self.end, self._order[~closed[self._order]].tolist(), self.junctions)
            ground = np.unique(label)
            if self.junctions:
                ground[ground == label[self.reference]] = self.reference
            bridging = np.flatnonzero(closed & ~shut & (label[self.start] != label[self.end]))
            found = Islands(closed.copy(), bool(closed.any()), ground, label, bridging, tree, chords, self.start, self.end)
            if len(self._islands) >= self._most_kept:
                self._islands.clear()
            self._islands[key] = found
        return found

    def settled(self, flow: Array, closed: np.ndarray, inflow: Array | float = 0.0) -> Array:
        """Flows with what a solve left over at the junctions (some 1e-10 m³/s at most) taken away, to rounding, so that
        heat that rides on them closes. `closed` links stay without flow."""
        excess = inflow - self.algebra.net(flow)
        if not excess.any():
            return flow
        return self.algebra.settled(flow, excess, self.islands(closed, closed))

    def solve(self, case: Case, flow: Array, root: Array, near: Answer | None = None,
              friction: Friction | None = None) -> Answer:
        """The steady flow of `case`, starting from `flow`. Raises Unbalanced where it does not settle.

        near: an earlier answer to go on from instead.  friction: at the start's flow, where the law is the same."""
        first_flow, first_root = flow, root
        linear, balanced, closed = None, False, case.shut.copy()
        if near is not None:
            closed |= near.closed & self._is_way
            flow, root, friction = near.flow, near.friction.root, None
            balanced = near.linear is not None and closed.tobytes() == near.closed.tobytes()
            if balanced and near.law is case.law:
                flow, friction = near.friction.flow, near.friction
                linear = near.linear if near.fall is case.fall and case.bypass is None else None
        answer = None
        with suppress(np.linalg.LinAlgError):        # links that toggle may lead astray, as far as flows without end
            answer = self._iterate(case, flow, root, closed, True, balanced, friction, linear)
        if answer is not None:
            return answer
        try:
            return self._one_at_a_time(case, first_flow, first_root)
        except np.linalg.LinAlgError:
            raise Unbalanced(int(np.argmax(np.abs(flow))) if len(flow) else 0, float("nan")) from None

    def _iterate(self, case: Case, flow: Array, root: Array, closed: np.ndarray, toggling: bool, balanced: bool = False,
                 friction: Friction | None = None, linear: Linear | Eliminated | None = None) -> Answer | None:
        """Steps until one is small; None where links toggle for ever. balanced: `flow` balances at the junctions with
        `closed` links shut.  friction, linear: at `flow`, where they are known."""
        algebra, ways, least = self.algebra, self.one_way_links, 0.0
        toggling = toggling and len(ways) > 0
        here = self.islands(closed, case.shut)
        if here.any_closed:
            flow = np.where(closed, 0.0, flow)
        toggles, patience = 0, 4 * self.links + 8
        step = None
        for _ in range(ITERATIONS):
            if friction is None:
                friction = self._asked(case, flow, root, here)
            loss, slope, bend = self._laws(case, flow, friction)
            if step is not None and step.falls < 0.0 and inner(loss, step.change) > -0.5 * step.falls:
                flow, friction = self._search(case, flow, step, loss, friction, here)
                loss, slope, bend = self._laws(case, flow, friction)
            if linear is None:
                linear = algebra.linear(slope, here)
            excess = None if balanced and algebra.keeps_balance else case.inflow - algebra.net(flow)
            step = _step(linear, flow, loss, slope, bend, excess, balanced, toggles > 0)
            flow = flow + step.change
            if toggling:
                least = min((flow[ways] * self._sign).tolist())
                head = linear.heads(step.loss(loss, slope)) if here.any_closed else None
                changed = self._toggle(case, flow, head, closed, here) if least < -BACKFLOW_M3S or here.any_closed else None
                if changed is not None:
                    toggles += len(changed)
                    if toggles > patience:
                        return None
                    closed[changed] = ~closed[changed]
                    flow[closed] = 0.0
                    here = self.islands(closed, case.shut)
                    root, friction, linear, step, balanced = friction.root, None, None, None, False
                    continue
            if step.small:
                head = linear.heads(step.loss(loss, slope))
                if len(here.bridging):
                    head = self._lifted(case, head, here)
                stopped = toggling and least < 0.0 and self._stop(flow, closed)
                return Answer(flow, head, closed, case.law, case.fall, friction, None if stopped else linear)
            root, friction, linear, balanced = friction.root, None, None, True
        if toggling:
            return None
        moved = np.abs(flow if step is None else step.change)
        raise Unbalanced(int(np.argmax(moved)), float(moved.max()))

    def _asked(self, case: Case, flow: Array, root: Array, here: Islands) -> Friction:
        """Friction at these flows; that of a shut link does not matter, so it is asked at a flow that is answered
        quickly."""
        return Friction(flow, *case.law(np.where(here.closed, self._busy, flow) if here.any_closed else flow, root))

    def _laws(self, case: Case, flow: Array, friction: Friction) -> tuple[Array, Array, Array]:
        """Loss and slope of every link, and half of how fast its slope grows, about."""
        size = np.abs(flow)
        square = size * case.fall
        square += self._least_slope
        ratio = friction.ratio + square
        slope = friction.slope + square
        slope += square
        if case.bypass is not None:
            case.bypass.add(flow, ratio, slope)
        bend = slope - ratio
        bend /= np.copysign(np.maximum(size, self._least, out=size), flow)
        loss = ratio * flow
        loss += case.constant_m
        return loss, slope, bend

    def _search(self, case: Case, flow: Array, step: _Step, loss: Array, friction: Friction,
                here: Islands) -> tuple[Array, Friction]:
        """Steps back where the content's slope along the last step has turned up by more than half."""
        share = 1.0
        slope_here = inner(loss, step.change)
        low, slope_low = 0.0, step.falls
        for _ in range(8):
            if slope_here <= 0.5 * abs(step.falls):
                break
            back = share
            share = low + (share - low) * min(max(slope_low / (slope_low - slope_here), 0.1), 0.9)
            flow = flow - (back - share) * step.change
            friction = self._asked(case, flow, friction.root, here)
            slope_here = inner(self._laws(case, flow, friction)[0], step.change)
        return flow, friction

    def _toggle(self, case: Case, flow: Array, head: Array | None, closed: np.ndarray,
                here: Islands) -> np.ndarray | None:
        """One-way links that must change: open with water coming back, or shut with head to open them."""
        ways, sign = self.one_way_links, self._sign
        wrong = flow[ways] * sign < -BACKFLOW_M3S
        if head is not None:
            lifted = self._lifted(case, head, here) if len(here.bridging) else head
            push = sign * (lifted[self._way_start] - lifted[self._way_end] - case.constant_m[ways])
            wrong = np.where(closed[ways], (push > OPENING_HEAD_M) & ~case.shut[ways], wrong)
        return ways[wrong] if np.count_nonzero(wrong) else None

    def _stop(self, flow: Array, closed: np.ndarray) -> bool:
        """Shuts one-way links in which nothing but rounding comes back, and sets their flow to none; True where any."""
        ways = self.one_way_links
        back = ways[flow[ways] * self._sign < 0.0]
        flow[back] = 0.0
        closed[back] = True
        return len(back) > 0

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
            wrong = self._toggle(case, answer.flow, answer.head, closed, here)
            if wrong is None:
                if self._stop(answer.flow, answer.closed):
                    answer.linear = None
                return answer
            last = int(wrong[0])
            closed[last] = not closed[last]
            flow, root = answer.flow, answer.friction.root
        raise Unbalanced(last, float("nan"))
