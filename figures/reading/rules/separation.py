"""Rules about the place where two loops meet, and about loads that reach across it."""

from __future__ import annotations

from collections.abc import Iterator

from figures.reading.dhw import is_boiler_loop
from figures.reading.evidence import listed, where
from figures.reading.loops import MOST_SPACING, Joint, is_wide
from figures.reading.record import Finding

from .context import Context


def tee_spacing(c: Context) -> Iterator[Finding]:
    """Tees of a separation that touches a boiler loop stand more than four inside diameters apart.

    Source: common practice: the loss along the common pipe must stay small, or one
    loop pushes water through the other. No source with authority found for the figure four.
    """
    for k, joint in enumerate(c.loops.joints):
        if not is_wide(c.graph, joint) or not any(is_boiler_loop(c.loops, loop) for loop in c.loops.touching[k]):
            continue
        chain = c.graph.chains[joint.chains[0]]
        inside_m = chain.length_m / chain.diameters
        yield Finding("tee-spacing", "should fix", tuple(sorted(joint.nodes)),
                      f"The {where(c.found, joint)} are {chain.diameters:.1f} inside diameters apart: the pressure lost "
                      "between them lets one loop push water through the other.",
                      f"Bring them within {MOST_SPACING:g} inside diameters, here {1000 * MOST_SPACING * inside_m:.0f} mm.",
                      c.pipes(joint.chains))


def common_pipe_blocked(c: Context) -> Iterator[Finding]:
    """A valve, pump or other part stands in the common pipe.

    Source: common practice, no source: the common pipe must let water pass either way at no cost.
    """
    for joint in c.loops.joints:
        parts = c.graph.chains[joint.chains[0]].parts if joint.chains else ()
        if parts:
            kinds = listed([f"the {c.kind(p)} {p}" for p in parts])
            yield Finding("common-pipe-blocked", "must fix", (*parts, *sorted(joint.nodes)),
                          f"{kinds[0].upper()}{kinds[1:]} stands in the common pipe of the {where(c.found, joint)}, where water "
                          "must pass freely either way.", f"Take {listed(parts)} out and leave plain pipe.",
                          c.pipes(joint.chains[:1]))


def load_straddles(c: Context) -> Iterator[Finding]:
    """A coil or an emitter is fed from one loop and returned to another.

    Source: common practice, no source: such a branch joins the loops at a second place, so that each pump
    pushes water through the other's loop.
    """
    for tag in c.loops.straddling:
        chain = next(chain for chain in c.found.whole.chains if tag in chain.parts)
        yield Finding("load-straddles", "must fix", (tag, *chain.ends()),
                      f"{tag} draws its water from one loop and gives it back to another. It is fed from {chain.u} and returns "
                      f"to {chain.v}.", f"Join both pipes of {tag} to the same loop.",
                      tuple(c.plant.run_names[r] for r in sorted(chain.runs)))


def loop_pump(c: Context) -> Iterator[Finding]:
    """Separated loops: a boiler or a load has a way round its loop that meets no pump.

    Source: common practice, no source: a separation passes no pressure on, so each loop needs a pump.
    """
    if not c.separated:
        return
    for loop, group in enumerate(c.loops.groups):
        pumped = [n for n in group if c.graph.pumps[n]]
        round_ = c.circling(loop, pumped)
        still = [n for n in group if (c.graph.boilers[n] or c.graph.loads[n]) and n in round_]
        tags = sorted({t for n in still for t in (*c.graph.boilers[n], *c.graph.loads[n])})
        if tags:
            role = "boiler loop" if is_boiler_loop(c.loops, loop) else "system loop"
            yield Finding("loop-pump", "must fix", tuple(tags),
                          f"Water can go round the {role} through {listed(tags)} without meeting a pump, and a separation "
                          "passes no pressure on.", f"Fit a pump that moves the water of {listed(tags)}.", c.pipes(still))


def ports_crossed(c: Context) -> Iterator[Finding]:
    """Supply and return are swapped on one side of a separation.

    Source: common practice, no source: crossed, both loops run the same way along the separation, so that
    the building's return is mixed into its supply.
    """
    for k, joint in enumerate(c.loops.joints):
        turns = {loop: _turn(c, joint, loop) for loop in c.loops.touching[k]}
        if joint.vessel:
            wrong = [loop for loop, turn in turns.items() if turn and turn != (1 if is_boiler_loop(c.loops, loop) else -1)
                     and _told_by_boilers(c, turns)]
        else:
            fired = [turn for loop, turn in turns.items() if turn and is_boiler_loop(c.loops, loop)]
            wrong = [loop for loop, turn in turns.items()
                     if turn and not is_boiler_loop(c.loops, loop) and fired and turn == fired[0]]
        for loop in wrong:
            loads = sorted(t for n in c.loops.groups[loop] for t in (*c.graph.boilers[n], *c.graph.loads[n]))
            side = f"the side of {listed(loads)}" if loads else "one side"
            yield Finding("ports-crossed", "must fix", joint.nodes,
                          f"Supply and return are swapped at the {where(c.found, joint)} on {side}.",
                          "Swap the two pipes there, so that the hottest water leaves for the building.",
                          c.pipes(n for n in c.loops.groups[loop]
                                  if {c.loops.point(e) for e in c.graph.chains[n].ends()} & {c.loops.point(joint.nodes[0])}))


def _told_by_boilers(c: Context, turns: dict[int, int]) -> bool:
    """Boilers stand on one side only, so that the other side is the system's."""
    return 0 < sum(is_boiler_loop(c.loops, loop) for loop in turns) < len(turns)


def _turn(c: Context, joint: Joint, loop: int) -> int:
    """Which way a loop runs past a joint: 1 where its water comes in at the first tee (or at a supply port)
    and leaves at the second (a return port), -1 the other way, 0 where its runs do not tell."""
    votes = set()
    for n in {n for node in joint.nodes for n in c.graph.incident[node]}:
        chain = c.graph.chains[n]
        if not chain.directed or c.loops.loop_of.get(n) != loop:
            continue
        for node, port, inward in ((chain.u, chain.u_port, False), (chain.v, chain.v_port, True)):
            if node in joint.nodes:
                first = port.endswith("supply") if joint.vessel else node == joint.nodes[0]
                votes.add(1 if first == inward else -1)
    return votes.pop() if len(votes) == 1 else 0
