"""Ghost flow: a branch that stays open when its own pump is off."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from figures.reading.evidence import listed
from figures.reading.record import Finding

from .context import Context

LOAD, PIPE = 1.0, 1e-5
PUSHED = 0.01
"""Share of a pump's pressure between a branch's ends from which on the branch counts as pushed: far above
what plain pipe loses (PIPE), far below what one load or boiler among many loses (LOAD)."""


def ghost_flow(c: Context) -> Iterator[Finding]:
    """A tank's branch, or in separated loops one of several boilers' branches, stays open when its pump is off.

    Source: common practice, no source. A spring-loaded check valve, a motorised
    or a diverting valve closes it; where another pump pushes the branch forwards a check valve opens, and only
    a motorised or diverting valve, or a separation of its own, does.
    """
    for tank in c.found.tanks:
        number = c.chain_at.get(tank)
        if number is None or number not in c.loops.loop_of or tank in c.loops.straddling:
            continue
        branch = _tank_branch(c, number)
        if not branch or tank in c.found.diverted or _has(c, branch, "motorised valve") or _diverted(c, branch):
            continue
        yield from _judge(c, tank, branch, f"the branch of {tank}")
    if not c.separated or len(c.boilers) < 2:
        return
    for boiler in c.boilers:
        home = c.chain_at.get(boiler)
        if home is None or home not in c.loops.loop_of or c.own(boiler, "motorised valve"):
            continue
        branch = {home, *(c.chain_at[p] for p in c.own(boiler, "check valve", "pump"))}
        if not _diverted(c, branch):
            yield from _judge(c, boiler, branch, f"the branch of boiler {boiler}")


def _tank_branch(c: Context, number: int) -> set[int]:
    """Chains in a row with a coil that carry water for DHW and nothing else. Empty for a coil in a boiler's own row."""
    if c.graph.boilers[number]:
        return set()
    branch = {number}
    for onward in (False, True):
        node = c.graph.chains[number].v if onward else c.graph.chains[number].u
        while node not in c.loops.merged:
            ahead = [n for n, _ in (c.graph.out_of(node) if onward else c.graph.into(node))]
            aside = [n for n, _ in (c.graph.into(node) if onward else c.graph.out_of(node))]
            if (len(ahead) != 1 or ahead[0] in branch or c.graph.boilers[ahead[0]] or c.graph.loads[ahead[0]]
                    or not all(_only_dhw(c, n, not onward) for n in aside)):
                break
            branch.add(ahead[0])
            node = c.graph.chains[ahead[0]].other(node)
    return branch


def _only_dhw(c: Context, number: int, outward: bool) -> bool:
    """Along the water (or against it) a chain leads to coils before anything else."""
    seen: set[str] = set()
    waiting = [number]
    while waiting:
        n = waiting.pop()
        if c.graph.boilers[n]:
            return False
        if c.graph.loads[n]:
            if not all(c.plant.is_dhw(t) for t in c.graph.loads[n]):
                return False
            continue
        node = c.graph.chains[n].v if outward else c.graph.chains[n].u
        if node in c.loops.merged:
            return False
        if node not in seen:
            seen.add(node)
            waiting += [m for m, _ in (c.graph.out_of(node) if outward else c.graph.into(node))]
    return True


def _has(c: Context, branch: Iterable[int], kind: str) -> bool:
    return any(c.kind(p) == kind for n in branch for p in c.graph.chains[n].parts)


def _diverted(c: Context, branch: Iterable[int]) -> bool:
    """The branch hangs on port a or b of a diverting valve, which closes it. No other part has ports of these names."""
    return any(port in ("a", "b") for n in branch for port in (c.graph.chains[n].u_port, c.graph.chains[n].v_port))


def _judge(c: Context, tag: str, branch: set[int], what: str) -> Iterator[Finding]:
    pushing = _pushed_by(c, branch)
    checked = _has(c, branch, "check valve")
    if checked and not pushing:
        return
    own = sorted(p for n in branch for p in c.graph.pumps[n])
    off = f"when {listed(own)} {'is' if len(own) == 1 else 'are'} off" if own else "at all times"
    if checked:
        push = "pushes" if len(pushing) == 1 else "push"
        says = (f"{what[0].upper()}{what[1:]} stays open {off}: {listed(pushing)} {push} its check valve open, and water goes "
                "through uncalled.")
        fix = f"Close {what} by a motorised or a diverting valve, or give it a separation of its own."
    else:
        says = f"Nothing closes {what} {off}: water goes through uncalled."
        fix = (f"Fit a motorised valve in {what}" if pushing else f"Fit a spring-loaded check valve in {what}") + "."
    yield Finding("ghost-flow", "should fix", (tag, *own), says, fix, c.pipes(branch))


def _pushed_by(c: Context, branch: set[int]) -> list[str]:
    """Other pumps of the loop that push the branch forwards.

    The loop without the branch is taken as a net of resistances, loads and boilers weighing far more than
    pipe, and each pump in turn as the only source: the sign and size of the difference between the branch's
    ends then tell. Separations are drawn together, so that ends joined by one do not differ.
    """
    loop = c.loops.loop_of[next(iter(branch))]
    ends = _ends(c, branch)
    if ends is None or ends[0] == ends[1]:
        return []
    rest = c.edges(loop, branch)
    movers = [n for n, _, _ in rest if c.graph.pumps[n]]
    points = {p: k for k, p in enumerate(dict.fromkeys(p for _, u, v in rest for p in (u, v)))}
    if not movers or ends[0] not in points or ends[1] not in points:
        return []
    import numpy as np

    size = len(points)
    net = np.zeros((size, size))
    drive = np.zeros((size, len(movers)))
    for n, u, v in rest:
        a, b = points[u], points[v]
        chain = c.graph.chains[n]
        if any(c.kind(p) == "bypass valve" for p in chain.parts):
            continue
        if "cold" in (chain.u_port, chain.v_port):
            continue               # no water passes a mixing valve from hot to cold
        weight = 1.0 / (PIPE + LOAD * (len(c.graph.loads[n]) + len(c.graph.boilers[n])))
        net[a, a] += weight
        net[b, b] += weight
        net[a, b] -= weight
        net[b, a] -= weight
        if n in movers:
            drive[a, movers.index(n)] -= weight
            drive[b, movers.index(n)] += weight
    net += 1e-9 * np.eye(size)     # holds the level, and lone points that the branch alone had joined
    level = np.linalg.solve(net, drive)
    push = level[points[ends[0]]] - level[points[ends[1]]]
    return sorted(p for k, n in enumerate(movers) if push[k] > PUSHED for p in c.graph.pumps[n])


def _ends(c: Context, branch: set[int]) -> tuple[str, str] | None:
    """The points where a branch takes its water and gives it back."""
    inlets, outlets = [], []
    for n in branch:
        chain = c.graph.chains[n]
        inlets.append(c.loops.point(chain.u))
        outlets.append(c.loops.point(chain.v))
    starts = [p for p in inlets if p not in outlets]
    goals = [p for p in outlets if p not in inlets]
    if len(set(starts)) == 1 and len(set(goals)) == 1:
        return starts[0], goals[0]
    return None


