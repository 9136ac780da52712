"""Where loops meet, and which loop each part lies in."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from figures.plant.kinds import VALVES

from .graph import VESSELS, PipeGraph, blocks

IN_COMMON_PIPE = VALVES | {"pump", "air separator"}
"""Kinds that may stand in a pipe and still leave it a common pipe, though a blocked one."""
MOST_SPACING = 4.0
"""Inside diameters up to which two tees are closely spaced. Common practice, no source with authority."""
LARGE = 1500
"""Chains from which on a common pipe is looked for only between tees where water both comes and goes."""
MANY = 300
"""Chains from which on the same holds for the common pipe that a straddling load would hide: looking costs all of the plant
for each pair of tees."""


@dataclass(frozen=True, slots=True)
class Joint:
    """A place where loops may meet: the nodes that become one point, and the chains of its common pipe.

    vessel: its tag, or '' for tees.  chains: parallel twins, the shortest open one first.
    """

    nodes: tuple[str, ...]
    chains: tuple[int, ...] = ()
    vessel: str = ""


@dataclass
class Loops:
    """The loops of a plant, its straddling loads already taken away.

    graph: without the straddling chains.  joints: where loops meet.  straddling: tags of loads fed from one
    loop and returned to another.  groups: for each loop the numbers of its chains.  loop_of: chain → index
    in `groups`.  touching: for each joint, the loops that meet there.  merged: node of a joint → its point.
    fired: for each loop, whether a boiler lies in it.
    """

    graph: PipeGraph
    joints: list[Joint]
    straddling: tuple[str, ...] = ()
    straddling_parts: frozenset[str] = frozenset()
    groups: list[list[int]] = field(default_factory=list)
    loop_of: dict[int, int] = field(default_factory=dict)
    touching: list[set[int]] = field(default_factory=list)
    merged: dict[str, str] = field(default_factory=dict)
    fired: list[bool] = field(default_factory=list)

    def point(self, node: str) -> str:
        """The point that a node has become once every separation is drawn together; itself elsewhere."""
        return self.merged.get(node, node)


def find_loops(graph: PipeGraph) -> Loops:
    """Joints that separate loops, loads that straddle them, and the loops themselves."""
    straddling: list[str] = []
    taken: set[str] = set()
    joints = _accepted(graph)
    while chains := _straddling(graph, joints):
        straddling += [tag for n in chains for tag in graph.loads[n]]
        taken |= {p for n in chains for p in graph.chains[n].parts}
        graph = graph.without(chains)
        joints = _accepted(graph)
    loops = Loops(graph, joints, tuple(sorted(straddling)), frozenset(taken))
    _split(loops)
    return loops


# -- candidates ----------------------------------------------------------------------------------------


def candidates(graph: PipeGraph) -> Iterator[Joint]:
    """Every place where loops might meet: vessels, and pipes between two tees that hold no part but valves,
    pumps or air separators. Parallel twins make one candidate."""
    twins: dict[frozenset[str], list[int]] = {}
    for number, chain in enumerate(graph.chains):
        if (chain.u != chain.v and graph.kind.get(chain.u) == "tee" and graph.kind.get(chain.v) == "tee"
                and all(graph.kind[p] in IN_COMMON_PIPE for p in chain.parts)):
            twins.setdefault(frozenset(chain.ends()), []).append(number)
    large = len(graph.chains) > LARGE
    for numbers in twins.values():
        numbers.sort(key=lambda n: (bool(graph.chains[n].parts), graph.chains[n].diameters, graph.chains[n].parts))
        joint = Joint(graph.chains[numbers[0]].ends(), tuple(numbers))
        if not large or _comes_and_goes(graph, joint):
            yield joint
    for tag, part in graph.plant.parts.items():
        if part.kind in VESSELS and tag in graph.incident:
            yield Joint((tag,), (), tag)


def _comes_and_goes(graph: PipeGraph, joint: Joint) -> bool:
    """Besides the common pipe, water both reaches and leaves each of the tees. True of every sound common
    pipe, and of few header pipes: it keeps the search short in a plant of thousands of parts."""
    for node in joint.nodes:
        if not any(n not in joint.chains for n, _ in graph.out_of(node)):
            return False
        if not any(n not in joint.chains for n, _ in graph.into(node)):
            return False
    return True


def separates(graph: PipeGraph, joint: Joint) -> bool:
    """With the joint's nodes taken out, boilers lie in one of the parts and loads in another.

    All parts are walked at once, a step each. As soon as one is walked to its end, what it holds and what is
    left over may settle the matter; when only one is left unfinished, it is whatever the others are not. So
    the cost is that of the smaller parts.
    """
    nodes, own = set(joint.nodes), set(joint.chains)
    left_boilers = graph.total_boilers
    left_loads = graph.total_loads
    done_boilers = done_loads = False

    def finish(chains: set[int]) -> bool:
        """Takes a finished part into account; True where it settles that the joint separates."""
        nonlocal left_boilers, left_loads, done_boilers, done_loads
        boilers = sum(len(graph.boilers[n]) for n in chains)
        loads = sum(len(graph.loads[n]) for n in chains)
        left_boilers -= boilers
        left_loads -= loads
        settled = bool(boilers and (left_loads or done_loads)) or bool(loads and (left_boilers or done_boilers))
        done_boilers, done_loads = done_boilers or boilers > 0, done_loads or loads > 0
        return settled

    leader: list[int] = []
    seen: list[set[int]] = []
    queues: list[deque[str]] = []
    owner: dict[str, int] = {}
    active: set[int] = set()

    def root(k: int) -> int:
        while leader[k] != k:
            leader[k] = leader[leader[k]]
            k = leader[k]
        return k

    def merge(a: int, b: int) -> int:
        if len(seen[a]) < len(seen[b]):
            a, b = b, a
        leader[b] = a
        seen[a] |= seen[b]
        queues[a].extend(queues[b])
        active.discard(b)
        return a

    loose: set[int] = set()
    for node in joint.nodes:
        for number in graph.incident[node]:
            far = graph.chains[number].other(node)
            if number in own or number in loose:
                continue
            if far in nodes:
                loose.add(number)
            elif far in owner:
                seen[owner[far]].add(number)
            else:
                owner[far] = len(leader)
                active.add(len(leader))
                leader.append(len(leader))
                seen.append({number})
                queues.append(deque([far]))
    if len(loose) + len(active) < 2:
        return False
    for number in loose:
        if finish({number}):
            return True
    while len(active) > 1:
        for k in list(active):
            if k not in active:
                continue
            if not queues[k]:
                active.discard(k)
                if finish(seen[k]):
                    return True
                continue
            node = queues[k].popleft()
            for number in graph.incident[node]:
                seen[k].add(number)
                far = graph.chains[number].other(node)
                if far in nodes:
                    continue
                if far not in owner:
                    owner[far] = k
                    queues[k].append(far)
                elif root(owner[far]) != k:
                    k = merge(k, root(owner[far]))
            if len(active) <= 1:
                break
    return bool(done_boilers and left_loads) or bool(done_loads and left_boilers)


# -- which candidates separate ---------------------------------------------------------------------------


def is_wide(graph: PipeGraph, joint: Joint) -> bool:
    """Tees too far apart to be told from a bypass by their place alone."""
    return not joint.vessel and graph.chains[joint.chains[0]].diameters > MOST_SPACING + 1e-6


def _accepted(graph: PipeGraph) -> list[Joint]:
    """Joints that separate loops. Wide tees count only if pumps on each side move water through them."""
    joints = [joint for joint in candidates(graph) if separates(graph, joint)]
    while True:
        failing = [j for j in joints if is_wide(graph, j) and not _pumped_from_each_side(graph, joints, j)]
        if not failing:
            return joints
        worst = max(failing, key=lambda j: (graph.chains[j.chains[0]].diameters, sorted(graph.chains[j.chains[0]].runs)))
        joints = [j for j in joints if j is not worst]


def _pumped_from_each_side(graph: PipeGraph, joints: list[Joint], joint: Joint) -> bool:
    """Each side has a pump that moves its water through the common pipe, and at least one side moves it
    through a boiler without passing a load. A plain bypass pipe fails this."""
    trial = Loops(graph, joints)
    _split(trial)
    here = joints.index(joint)
    free = {n for j in joints for n in j.chains}
    through_boiler = False
    for loop in trial.touching[here]:
        allowed = set(trial.groups[loop]) | free
        if not _moves(graph, joint, allowed, boiler=False):
            return False
        through_boiler = through_boiler or _moves(graph, joint, allowed, boiler=True)
    return through_boiler


def _moves(graph: PipeGraph, joint: Joint, allowed: set[int], boiler: bool) -> bool:
    """Is there a way, as the runs are written, from one end of the common pipe round to the other that
    passes a pump; and, where `boiler` is asked for, a boiler but no load?"""
    for start, goal in (joint.nodes, joint.nodes[::-1]):
        first = (start, False, not boiler)
        seen = {first}
        queue = deque([first])
        while queue:
            node, pumped, fired = queue.popleft()
            for number, far in graph.out_of(node):
                if number not in allowed or number in joint.chains or (boiler and graph.loads[number]):
                    continue
                step = (far, pumped or bool(graph.pumps[number]), fired or bool(graph.boilers[number]))
                if far == goal and step[1] and step[2]:
                    return True
                if far not in joint.nodes and step not in seen:
                    seen.add(step)
                    queue.append(step)
    return False


# -- straddling loads ----------------------------------------------------------------------------------


def _straddling(graph: PipeGraph, joints: list[Joint]) -> list[int]:
    """Chains with loads that join two sides of a place which would separate loops without them; the fewest
    that do. Empty where there are none."""
    if len(graph.chains) > LARGE:
        return []
    known = {joint.nodes for joint in joints}
    best: list[int] = []
    many = len(graph.chains) > MANY
    for joint in candidates(graph):
        if joint.nodes in known or (many and not joint.vessel and not _comes_and_goes(graph, joint)):
            continue
        chains = _across(graph, joint)
        if not chains or (best and len(chains) >= len(best)):
            continue
        # the straddling load is at neither tee, so that both must still branch without it
        if any(set(j.nodes) == set(joint.nodes) for j in _accepted(graph.without(chains))):
            best = chains
    return best


def _across(graph: PipeGraph, joint: Joint) -> list[int]:
    """Chains with a load that reach from the boilers' side of the joint to another side.

    Sides are told by the pipes alone, loads left out: whatever pipe joins to a boiler is the boilers' side.
    """
    nodes = set(joint.nodes)
    parent: dict[str, str] = {}

    def root(node: str) -> str:
        parent.setdefault(node, node)
        while parent[node] != node:
            parent[node] = parent[parent[node]]
            node = parent[node]
        return node

    for n, chain in enumerate(graph.chains):
        if n in joint.chains or (graph.loads[n] and not graph.boilers[n]):
            continue
        if chain.u not in nodes and chain.v not in nodes:
            parent[root(chain.u)] = root(chain.v)
    fired = {root(end) for n, chain in enumerate(graph.chains) if graph.boilers[n] for end in chain.ends()
             if end not in nodes}
    across, beyond = [], False
    for n, chain in enumerate(graph.chains):
        if graph.loads[n] and not graph.boilers[n]:
            hot = [end not in nodes and root(end) in fired for end in chain.ends()]
            if hot[0] != hot[1] and not nodes & set(chain.ends()):
                across.append(n)
            beyond = beyond or not any(hot)
    return across if beyond else []     # a separation needs a load that lies wholly beyond it


# -- loops ---------------------------------------------------------------------------------------------


def _split(loops: Loops) -> None:
    """Fills `groups`, `loop_of` and `touching`: the biconnected components once every joint is one point,
    joined again wherever they meet at a point that is no joint."""
    graph = loops.graph
    merged: dict[str, str] = {}

    def point(node: str) -> str:
        while merged.get(node, node) != node:
            node = merged[node]
        return node

    for joint in loops.joints:
        first = point(joint.nodes[0])
        for node in joint.nodes[1:]:
            merged[point(node)] = first
    common = {n for joint in loops.joints for n in joint.chains}
    places = {point(joint.nodes[0]) for joint in loops.joints}
    edges = [(n, point(c.u), point(c.v)) for n, c in enumerate(graph.chains) if n not in common]
    parts = blocks(edges)
    leader = list(range(len(parts)))

    def root(k: int) -> int:
        while leader[k] != k:
            leader[k] = leader[leader[k]]
            k = leader[k]
        return k

    at: dict[str, int] = {}
    for k, block in enumerate(parts):
        for n in block:
            for node in graph.chains[n].ends():
                node = point(node)
                if node not in places:
                    leader[root(at.setdefault(node, k))] = root(k)
    groups: dict[int, list[int]] = {}
    for k, block in enumerate(parts):
        groups.setdefault(root(k), []).extend(block)
    loops.groups = [sorted(g) for g in groups.values() if any(graph.chains[n].parts for n in g)]
    loops.groups.sort(key=lambda g: (not any(graph.boilers[n] for n in g), _first_tag(graph, g)))
    loops.fired = [any(graph.boilers[n] for n in group) for group in loops.groups]
    loops.loop_of = {n: k for k, group in enumerate(loops.groups) for n in group}
    loops.merged = {node: point(node) for joint in loops.joints for node in joint.nodes}
    at_point: dict[str, set[int]] = {}
    for k, group in enumerate(loops.groups):
        for n in group:
            for end in graph.chains[n].ends():
                at_point.setdefault(point(end), set()).add(k)
    loops.touching = [at_point.get(point(joint.nodes[0]), set()) for joint in loops.joints]


def _first_tag(graph: PipeGraph, group: Iterable[int]) -> str:
    return min((p for n in group for p in graph.chains[n].parts), default="")
