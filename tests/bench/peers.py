"""Other programs at work of the same size, in the same run: what ours costs over what they cost.

The flow peers (EPANET in process, scipy, pandapipes) stand beside our solver in `tests.bench.physics`. Here: schemdraw alone
with as many elements as our drawing has parts and pipes; pandapipes on as many pipes; nbval on a notebook of one empty cell.
"""

from __future__ import annotations

import tempfile
import warnings
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path

import nbformat

from figures.drawing import Diagram
from figures.physics import Prepared
from figures.plant import Plant
from figures.plant.scheme import Scheme
from figures.reading import read

from .ladder import ladder
from .measure import Row, peer, started, timed


def plain_schemdraw(elements: int) -> bytes:
    """A drawing of so many elements in rows of ten, as SVG, by schemdraw's own hand."""
    import schemdraw
    from schemdraw.elements import Line, Resistor

    drawing = schemdraw.Drawing(canvas="svg", show=False)
    for number in range(elements):
        element = (Line if number % 2 else Resistor)().at((3 * (number % 10), -2 * (number // 10))).right().label(f"T{number}")
        drawing.add(element)
    return bytes(drawing.get_imagedata("svg"))


def drawings() -> Iterator[Row]:
    """Ours and the plain one."""
    for count in (1, 8):
        plant = Scheme(boilers=count, tank="system loop", emitters=min(6, count)).plant()
        seen, elements = read(plant), len(plant.parts) + len(plant.runs)
        ours = timed(f"drawing of {count} boiler{'s' * (count > 1)} as SVG, {elements} parts and pipes",
                     lambda plant=plant, seen=seen: Diagram(plant, seen).svg())
        plain = timed(f"plain schemdraw, {elements} elements in rows", lambda many=elements: plain_schemdraw(many), runs=10)
        yield ours
        yield peer(ours, plain)


def in_pandapipes(plant: Plant) -> object:
    """A net with a pipe for each run of a ladder: as many pipes, its junctions in the same places, loads as sinks."""
    import pandapipes

    net = pandapipes.create_empty_network(fluid="water")
    at: dict[str, int] = {}
    for run in plant.runs:
        for end in (run.through[0], run.through[-1]):
            if end not in at:
                at[end] = pandapipes.create_junction(net, pn_bar=4.0, tfluid_k=333.0)
        pandapipes.create_pipe_from_parameters(net, at[run.through[0]], at[run.through[-1]], length_km=run.length_m / 1000.0,
                                               inner_diameter_mm=1000.0 * run.bore.inside_m, k_mm=1000.0 * run.bore.roughness_m)
    first, last = at[plant.runs[0].through[0]], at[plant.runs[0].through[-1]]
    pandapipes.create_ext_grid(net, last, p_bar=4.0, t_k=333.0)
    pandapipes.create_ext_grid(net, first, p_bar=3.2, t_k=333.0)
    return net


def flows() -> Iterator[Row]:
    """pandapipes on the pipes of ladders, where it is installed: pipes alone, two pressures given, no pump and no valves."""
    if find_spec("pandapipes") is None:
        yield Row("pandapipes", float("nan"), "ms", "not installed")
        return
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import pandapipes

        for zones in (3, 33, 333):
            plant = ladder(zones)
            prepared, net, many = Prepared(plant), in_pandapipes(plant), len(plant.runs)
            ours = timed(f"flow of {many} pipes, cold", prepared.solve, runs=10)
            theirs = timed(f"pandapipes, {many} pipes", lambda net=net: pandapipes.pipeflow(net, max_iter_hyd=100), runs=5)
            yield ours
            yield peer(ours, theirs)


def notebooks() -> Iterator[Row]:
    """nbval on a notebook of one empty cell: what any lesson costs before its first line."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "empty.ipynb"
        kernel = {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
        nbformat.write(nbformat.v4.new_notebook(metadata=kernel, cells=[nbformat.v4.new_code_cell("")]), path)
        yield started("nbval on an empty notebook", "-m", "pytest", "-q", "-p", "no:cacheprovider", "--override-ini=addopts=",
                      "--nbval-lax", "--nbval-current-env", str(path), runs=5)


def rows() -> Iterator[Row]:
    """Drawing, flow, notebooks."""
    yield from drawings()
    yield from flows()
    yield from notebooks()
