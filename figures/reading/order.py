"""Reverse or direct return: in which order the boilers' water meets, on its way out and on its way back."""

from __future__ import annotations

from collections import Counter, deque
from dataclasses import dataclass
from itertools import combinations

from .loops import Loops
from .record import ReturnOrder


@dataclass(frozen=True, slots=True)
class Way:
    """A boiler's way to the first point that all boilers' water shares: tees of other boilers' water that it
    passes, and metres of pipe."""

    tees: int
    metres: float


@dataclass(frozen=True, slots=True)
class BoilerOrder:
    """The order of return, the boilers on the way out and on the way back, nearest to the shared point first, and the points
    that all boilers' water shares there."""

    order: ReturnOrder
    out: tuple[str, ...] = ()
    back: tuple[str, ...] = ()
    meet_out: str = ""
    meet_back: str = ""


def return_order(loops: Loops, boilers: tuple[str, ...]) -> BoilerOrder:
    """The order of return of a plant's boilers.

    Boilers that each have a loop of their own have no order: 'not applicable'. Boilers in a row on one
    chain, or in loops of several boilers each, are 'undetermined'.
    """
    if len(boilers) == 1:
        return BoilerOrder("single boiler")
    graph = loops.graph
    chain_of = {tag: n for n, tags in enumerate(graph.boilers) for tag in tags}
    if any(tag not in chain_of for tag in boilers):
        return BoilerOrder("undetermined")
    homes = [loops.loop_of.get(chain_of[tag]) for tag in boilers]
    if len(set(homes)) == len(boilers):
        return BoilerOrder("not applicable")
    if len(set(homes)) > 1 or len({chain_of[tag] for tag in boilers}) < len(boilers):
        return BoilerOrder("undetermined")
    out, meet_out = _ways(loops, chain_of, boilers, outward=True)
    back, meet_back = _ways(loops, chain_of, boilers, outward=False)
    if not out or not back:
        return BoilerOrder("undetermined")
    opposite, same = True, True
    for a, b in combinations(boilers, 2):
        turn = _nearer(out[a], out[b]) * _nearer(back[a], back[b])
        opposite, same = opposite and turn < 0, same and turn > 0
        if not (opposite or same):
            break
    order: ReturnOrder = "reverse" if opposite else "direct" if same else "undetermined"

    def rank(ways: dict[str, Way]) -> tuple[str, ...]:
        return tuple(sorted(boilers, key=lambda tag: (ways[tag].tees, round(ways[tag].metres, 6), tag)))

    return BoilerOrder(order, rank(out), rank(back), meet_out, meet_back)


def _nearer(a: Way, b: Way) -> int:
    """-1 where a is nearer to the shared point, 1 where b is, 0 where neither tees nor metres tell."""
    if a.tees != b.tees:
        return -1 if a.tees < b.tees else 1
    if abs(a.metres - b.metres) <= 1e-6 * max(1.0, a.metres):
        return 0
    return -1 if a.metres < b.metres else 1


def _ways(loops: Loops, chain_of: dict[str, int], boilers: tuple[str, ...],
          outward: bool) -> tuple[dict[str, Way], str]:
    """Each boiler's way along the water (outward) or against it, and the tee where all have met; none where the water does
    not meet, or at several tees as near, between which the order differs."""
    walks = {tag: _walk(loops, chain_of[tag], tag, outward) for tag in boilers}
    shared = set.intersection(*(set(walk) for walk in walks.values()))
    if not shared:
        return {}, ""
    reach = Counter(node for walk in walks.values() for node in walk)

    def far(node: str) -> tuple[int, float]:
        return (sum(len(walk[node][1]) for walk in walks.values()),
                round(sum(walk[node][0] for walk in walks.values()), 6))

    def ways(node: str) -> dict[str, Way]:
        # a tee that only this boiler's water passes lies on its own branch and tells nothing of the order
        return {tag: Way(sum(1 for passed in walk[node][1] if reach[passed] > 1), walk[node][0])
                for tag, walk in walks.items()}

    least = min(map(far, shared))
    meets = sorted(node for node in shared if far(node) == least)
    orders = {tuple(_nearer(found[a], found[b]) for a, b in combinations(boilers, 2)) for found in map(ways, meets)}
    return (ways(meets[0]), meets[0]) if len(orders) == 1 else ({}, "")      # points as near tell different orders


def _walk(loops: Loops, number: int, boiler: str, outward: bool) -> dict[str, tuple[float, tuple[str, ...]]]:
    """Every tee that a boiler's water passes before a load, a boiler or a separation: metres, tees passed."""
    graph = loops.graph
    chain = graph.chains[number]
    ends = {node for joint in loops.joints for node in joint.nodes}
    start = chain.v if outward else chain.u
    metres = chain.length_m - chain.at_m[boiler] if outward else chain.at_m[boiler]
    found: dict[str, tuple[float, tuple[str, ...]]] = {start: (metres, (start,))}
    queue = deque([start])
    while queue:
        node = queue.popleft()
        if node in ends:
            continue
        metres, passed = found[node]
        for n, far in (graph.out_of(node) if outward else graph.into(node)):
            if graph.loads[n] or graph.boilers[n] or loops.loop_of.get(n) != loops.loop_of[number]:
                continue
            if any(graph.kind[p] == "bypass valve" for p in graph.chains[n].parts):
                continue
            way = (metres + graph.chains[n].length_m, (*passed, far))
            if far not in found:
                found[far] = way
                queue.append(far)
            elif len(found[far][1]) == len(way[1]) and way[0] < found[far][0]:
                found[far] = way
    return found
