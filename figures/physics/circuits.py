"""Solving for flows round circuits: the equations of a small network in as few unknowns as it has.

The open links of an island hold a tree that joins all its junctions. Each link beside the tree closes one circuit with
it, and water that goes round circuits balances at every junction, however much it is: so flows have only to close
the heads round each circuit (Kirchhoff's second law; Newton's method on all circuits at once after Epp and Fowler
1970, from memory). A plant with four boilers has 18 links and 12 junctions, and 7 circuits. Its 7 by 7 matrix is
inverted once a step, for every product with the inverse costs next to nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .friction import Array


def forest(start: np.ndarray, end: np.ndarray, links: Iterable[int],
           junctions: int) -> tuple[np.ndarray, list[int], list[int]]:
    """For each junction the least index of the junctions that `links` join to it; then those of `links`, in their
    order, that join what was apart, which make a tree of each island, and those that do not.

    >>> label, tree, chords = forest(np.array([0, 1, 0, 3]), np.array([1, 2, 2, 4]), [0, 1, 2], 5)     # 3>4 is shut
    >>> label.tolist(), tree, chords
    ([0, 0, 0, 3, 4], [0, 1], [2])
    """
    root = list(range(junctions))
    starts, ends = start.tolist(), end.tolist()
    tree, chords = [], []
    for link in links:
        a, b = starts[link], ends[link]
        while root[a] != a:
            root[a] = root[root[a]]
            a = root[a]
        while root[b] != b:
            root[b] = root[root[b]]
            b = root[b]
        if a == b:
            chords.append(link)
        else:
            tree.append(link)
            root[max(a, b)] = min(a, b)
    for v in range(junctions):                 # a root is never greater than what hangs on it
        root[v] = root[root[v]]
    return np.array(root, dtype=np.intp), tree, chords


@dataclass(frozen=True)
class Islands:
    """Junctions that open links join, while `closed` ones are shut.

    ground: one junction of each, at which its head is 0.  label: of each junction.  tree, chords: the open links.
    bridging: shut one-way links between two of them.  start, end: junctions of each link."""

    closed: np.ndarray
    any_closed: bool
    ground: np.ndarray
    label: np.ndarray
    bridging: np.ndarray
    tree: list[int]
    chords: list[int]
    start: np.ndarray
    end: np.ndarray

    @cached_property
    def circuits(self) -> Circuits:
        """The circuits of all islands."""
        return Circuits.of(self)


@dataclass(frozen=True)
class Linear:
    """A network's equations for one set of slopes, ready for any losses."""

    circuits: Circuits
    slope: Array
    inverse: Array

    def step(self, loss: Array, excess: Array | None = None) -> Array:
        """Change of the links' flows that takes away the heads left over round every circuit, and `excess` [m³/s]
        at the junctions."""
        circuits = self.circuits
        if excess is None:
            return circuits.back.dot(self.inverse.dot(circuits.across.dot(loss)))
        aside = circuits.aside(excess)
        return aside + self.step(loss + self.slope * aside)

    def heads(self, loss: Array) -> Array:
        """Heads of the junctions, where links lose `loss`."""
        return self.circuits.path.dot(loss)


@dataclass(frozen=True)
class Circuits:
    """The circuits of a network while some of its links are open, for one scenario.

    across: circuits × links, +1 or −1 where the link lies in the circuit.  back: the same turned about, with the other
    sign.  path: junctions × links, +1 or −1 where the link lies on the tree's way from the junction to the grounded one
    of its island.
    """

    across: Array
    back: Array
    path: Array

    @classmethod
    def of(cls, here: Islands) -> Circuits:
        """The circuits that the links beside the trees close."""
        start, end = here.start, here.end
        beside: list[list[tuple[int, int, float]]] = [[] for _ in here.label]
        for link in here.tree:
            a, b = int(start[link]), int(end[link])
            beside[a].append((link, b, -1.0))
            beside[b].append((link, a, 1.0))
        path = np.zeros((len(beside), len(start)))
        reached = here.ground.tolist()
        seen = set(reached)
        for at in reached:
            for link, there, sign in beside[at]:
                if there not in seen:
                    seen.add(there)
                    path[there] = path[at]
                    path[there, link] = sign
                    reached.append(there)
        chords = np.array(here.chords, dtype=np.intp)
        across = path[end[chords]] - path[start[chords]]
        across[np.arange(len(chords)), chords] = 1.0
        return cls(across, np.ascontiguousarray(-across.T), path)

    def linear(self, slope: Array) -> Linear:
        """The equations for these slopes of the links."""
        return Linear(self, slope, np.linalg.inv((self.across * slope).dot(self.across.T)))

    def aside(self, excess: Array) -> Array:
        """Flows along the tree that take what is left over at each junction [m³/s] from its grounded one."""
        return excess.dot(self.path)


class Dense:
    """A small network, solved by its circuits."""

    keeps_balance = True

    def __init__(self, start: np.ndarray, end: np.ndarray, junctions: int) -> None:
        self.incidence = np.zeros((junctions, len(start)))
        np.add.at(self.incidence, (start, np.arange(len(start))), 1.0)
        np.add.at(self.incidence, (end, np.arange(len(end))), -1.0)

    def net(self, flow: Array) -> Array:
        """What leaves each junction by its links, less what comes in."""
        return self.incidence.dot(flow)

    def linear(self, slope: Array, here: Islands) -> Linear:
        """The equations for these slopes of the links."""
        return here.circuits.linear(slope)

    def settled(self, flow: Array, excess: Array, here: Islands) -> Array:
        """Flows with what is left over at the junctions brought away along the trees."""
        return flow + here.circuits.aside(excess)
