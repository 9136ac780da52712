"""Darcy friction factor: laminar, turbulent after Colebrook and White, and a smooth bridge between them."""

from __future__ import annotations

from math import log

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

LAMINAR_UP_TO = 2000.0
TURBULENT_FROM = 4000.0
PER_DECADE = 2.0 / log(10.0)
LONG = 5000


def inner(a: Array, b: Array) -> float:
    """Σ a·b. BLAS shares long ones out to threads, which on a busy machine costs more than it saves.

    >>> inner(np.array([1.0, 2.0]), np.array([3.0, 4.0]))
    11.0
    """
    return float(a.dot(b) if len(a) < LONG else np.einsum("i,i", a, b))


def colebrook_root(re: ArrayLike, rel_roughness: ArrayLike) -> Array:
    """1/√f of the Colebrook–White equation, 1/√f = −2·log10(ε/(3.7·D) + 2.51/(Re·√f)).

    re: Reynolds number [-], 4000 or more.  rel_roughness: roughness / inside diameter [-], 0 to 0.05.
    Starts from Swamee and Jain (1976) and takes three Newton steps, which leave less than 1e-12 of error.
    Source: Colebrook (1939); tests/oracles compares it with `fluids.friction_factor`.

    >>> float(round(colebrook_root(1e5, 1e-3) ** -2.0, 6))   # computed with fluids: 0.022175
    0.022175
    """
    re, rough = np.asarray(re, dtype=float), np.asarray(rel_roughness, dtype=float) / 3.7
    root = -PER_DECADE * np.log(rough + 5.74 / re**0.9)
    for _ in range(3):
        inside = rough + 2.51 * root / re
        root = root - (root + PER_DECADE * np.log(inside)) / (1.0 + PER_DECADE * 2.51 / (re * inside))
    return root


def bridge(rel_roughness: ArrayLike) -> tuple[Array, Array, Array, Array]:
    """Coefficients of the cubic in u = (Re − 2000)/2000 that leads from laminar to turbulent flow.

    It meets 64/Re at Re 2000 and Colebrook at Re 4000 in value and in slope, so that Newton meets no step; its
    form is the one EPANET uses (Dunlop's cubic, as told by Rossman 2000, from memory). Head loss rises with
    flow all along it.
    """
    rel = np.asarray(rel_roughness, dtype=float)
    root = colebrook_root(TURBULENT_FROM, rel)
    share = PER_DECADE * 2.51 / (TURBULENT_FROM * (rel / 3.7 + 2.51 * root / TURBULENT_FROM))
    span = TURBULENT_FROM - LAMINAR_UP_TO
    first, last = np.full_like(root, 64.0 / LAMINAR_UP_TO), root**-2.0
    slope_first = np.full_like(root, -64.0 / LAMINAR_UP_TO**2 * span)
    slope_last = -2.0 * last * share / (1.0 + share) / TURBULENT_FROM * span
    rise = last - first
    return first, slope_first, 3.0 * rise - 2.0 * slope_first - slope_last, slope_first + slope_last - 2.0 * rise


def friction_factor(re: ArrayLike, rel_roughness: ArrayLike) -> Array:
    """Darcy friction factor of a full round pipe [-].

    re: Reynolds number [-], more than 0.  rel_roughness: roughness / inside diameter [-], 0 to 0.05.
    Laminar 64/Re up to 2000, Colebrook–White from 4000, bridged smoothly between.
    Raises ValueError naming the first entry that is out of range.

    >>> [float(round(f, 6)) for f in friction_factor([640.0, 4e3, 1e5], [0.0, 1e-3, 1e-4])]
    [0.1, 0.04091, 0.018514]
    """
    re, rel = np.broadcast_arrays(np.asarray(re, dtype=float), np.asarray(rel_roughness, dtype=float))
    bad = ~((re > 0.0) & np.isfinite(re) & (rel >= 0.0) & (rel <= 0.05))
    if bad.any():
        where = int(np.flatnonzero(bad)[0])
        raise ValueError(f"entry {where}: Reynolds number {re.flat[where]:g}, relative roughness "
                         f"{rel.flat[where]:g}; write more than 0, and 0 to 0.05")
    a, b, c, d = bridge(rel)
    u = (re - LAMINAR_UP_TO) / (TURBULENT_FROM - LAMINAR_UP_TO)
    between = a + u * (b + u * (c + u * d))
    turbulent = colebrook_root(np.maximum(re, TURBULENT_FROM), rel) ** -2.0
    factor = np.where(re < LAMINAR_UP_TO, 64.0 / re, np.where(re < TURBULENT_FROM, between, turbulent))
    return np.asarray(factor, dtype=float)
