"""The kernels of a room: kept warm before anybody asks, one for each lesson that somebody looks at, ended when idle.

A warm kernel has everything imported and no lesson in it; so any lesson of any seed opens from the same pool.  The
cells run one after another while the page is still being put together, and what they show is kept, so that a page
that was lost comes back to the same kernel with every answer in it.
"""

from __future__ import annotations

import asyncio
import os
import time
from collections.abc import AsyncIterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from logging import getLogger
from pathlib import Path
from typing import Any

import nbformat
from nbclient import NotebookClient
from nbclient.exceptions import CellExecutionError

from .present_steps import Lesson

WARM_UP = """
import figures, widgets
for room in (figures, widgets):
    for name in room.__all__:
        getattr(room, name)
from figures import Diagram, Scheme
Diagram(Scheme(boilers=2, tank="boiler loop").plant()).svg()
"""
CELL_S = 120
MOST_OF_ONE = 3
"""Lessons of one browser whose kernels wait to be looked at again; the one seen longest ago ends first."""
BROKEN = ("This part of the lesson could not be shown ({name}: {says}). Go on with the next step; taking another plant "
          "(N) or opening the lesson anew may help.")
log = getLogger("loopbook.present")


class RoomFull(Exception):
    """No more kernels are to be started. The message is one line for who asked."""


@dataclass(eq=False)
class Live:
    """One lesson with one seed in one kernel, for one browser or one presenter.

    outputs: what each cell shows, by its place in the notebook, as soon as it was run.
    """

    kernel: str
    lesson: Lesson
    seed: int
    who: str
    outputs: dict[int, list[dict[str, Any]]] = field(default_factory=dict)
    seen: float = 0.0
    running: asyncio.Task[None] | None = None
    news: asyncio.Condition = field(default_factory=asyncio.Condition)

    async def all_outputs(self) -> AsyncIterator[tuple[int, list[dict[str, Any]]]]:
        """The outputs of every cell in order, each as soon as it is there."""
        for place in self.lesson.code:
            async with self.news:
                await self.news.wait_for(lambda place=place: place in self.outputs)  # type: ignore[misc]
            yield place, self.outputs[place]


@dataclass(frozen=True)
class _Kernel:
    """Its name, and what comes once everything is imported in it."""

    name: str
    warm: asyncio.Task[NotebookClient]


class Room:
    """Who looks at which lesson, and the kernels for it.

    kernels: starts and ends kernels, jupyter_server's.  warm: how many wait, everything imported.  most: of all
    kernels; beyond that the idle end first, and then whoever comes is told.  cwd: where lessons run.
    """

    def __init__(self, kernels: Any, *, warm: int, most: int, cwd: Path) -> None:
        self.kernels, self.warm, self.most, self.cwd = kernels, warm, most, cwd
        self.lives: list[Live] = []
        self._warm: list[asyncio.Task[_Kernel]] = []

    # -- what a page asks for --------------------------------------------------------------------------------

    async def live(self, who: str, lesson: Lesson, seed: int) -> Live:
        """The lesson of this seed for this browser: the one it had, or a new one. Raises RoomFull."""
        self._bury()
        for live in self.lives:
            if (live.who, live.lesson.name, live.seed) == (who, lesson.name, seed):
                self.kernels.get_kernel(live.kernel).last_activity = datetime.now(UTC)
                live.seen = time.monotonic()
                return live
        await self._make_room(who)
        kernel = await self._warm_one()
        live = Live(kernel.name, lesson, seed, who, seen=time.monotonic())
        self.lives.append(live)
        live.running = asyncio.create_task(self._run(live, kernel))
        self.fill()
        return live

    def of_kernel(self, kernel: str) -> Live | None:
        """What runs in a kernel."""
        return next((live for live in self.lives if live.kernel == kernel and kernel in self.kernels), None)

    def fill(self) -> None:
        """Start what is wanting of the warm kernels, in the background."""
        while len(self._warm) < self.warm:
            self._warm.append(asyncio.create_task(self._start()))

    async def close(self) -> None:
        """End everything."""
        for live in self.lives:
            if live.running:
                live.running.cancel()
        for kernel in await asyncio.gather(*self._warm, return_exceptions=True):
            if isinstance(kernel, _Kernel):
                kernel.warm.cancel()

    # -- kernels ---------------------------------------------------------------------------------------------

    async def _start(self) -> _Kernel:
        """A kernel that has a name at once; a page can be on its way while it warms."""
        name = await self.kernels.start_kernel(kernel_name="python3", cwd=str(self.cwd), env=dict(os.environ))
        return _Kernel(name, asyncio.create_task(self._heat(self.kernels.get_kernel(name))))

    async def _heat(self, manager: Any) -> NotebookClient:
        client = NotebookClient(_book([WARM_UP]), km=manager, timeout=CELL_S, kernel_name="python3")
        client.kc = await client.async_start_new_kernel_client()
        await client.async_execute_cell(client.nb.cells[0], 0, store_history=False)
        return client

    async def _warm_one(self) -> _Kernel:
        """The first warm kernel that is still there; a fresh one where idle ones were ended."""
        while self._warm:
            kernel = await self._warm.pop(0)
            if kernel.name in self.kernels:
                self.kernels.get_kernel(kernel.name).last_activity = datetime.now(UTC)  # or it might be ended as idle now
                return kernel
        return await self._start()

    async def _run(self, live: Live, kernel: _Kernel) -> None:
        """Run a lesson's cells one by one; one that fails is told of in its place, and the rest still runs."""
        warm = await kernel.warm
        client = NotebookClient(_book(["", *live.lesson.code.values()]), km=warm.km, timeout=CELL_S, kernel_name="python3")
        client.kc = warm.kc
        client.nb.cells[0].source = f"import os; os.environ['LOOPBOOK_SEED'] = '{live.seed:d}'"
        await client.async_execute_cell(client.nb.cells[0], 0, store_history=False)
        for at, place in enumerate(live.lesson.code, start=1):
            cell = client.nb.cells[at]
            try:
                await client.async_execute_cell(cell, at, store_history=False)
                outputs = [dict(one) for one in cell.outputs if one.output_type != "stream"]
            except (CellExecutionError, TimeoutError, RuntimeError) as error:
                log.error("lesson %s, seed %s, cell %s: %s", live.lesson.name, live.seed, place, error)
                says = BROKEN.format(name=getattr(error, "ename", type(error).__name__), says=getattr(error, "evalue", "")
                                     or "the kernel ended or took too long")
                outputs = [{"output_type": "display_data", "data": {"text/plain": says}, "metadata": {}}]
            async with live.news:
                live.outputs[place] = outputs
                live.news.notify_all()
        if client.kc is not None:
            client.kc.stop_channels()

    def _bury(self) -> None:
        """Forget what idle kernels, ended by jupyter_server, had in them."""
        self.lives = [live for live in self.lives if live.kernel in self.kernels]

    async def _make_room(self, who: str) -> None:
        mine = sorted((live for live in self.lives if live.who == who), key=lambda live: live.seen)
        for live in mine[:max(0, len(mine) - MOST_OF_ONE + 1)]:
            await self._end(live)
        while len(self.lives) >= self.most:
            idle = [live for live in self.lives if not self._watched(live)]
            if not idle:
                raise RoomFull(f"{self.most} lessons are open on this machine, and that is all it will hold; close one, and in "
                               "a minute there is room")
            await self._end(min(idle, key=lambda live: live.seen))

    def _watched(self, live: Live) -> bool:
        """A page is connected to it."""
        return bool(self.kernels._kernel_connections.get(live.kernel, 0))

    async def _end(self, live: Live) -> None:
        self.lives.remove(live)
        if live.running:
            live.running.cancel()
        if live.kernel in self.kernels:
            await self.kernels.shutdown_kernel(live.kernel, now=True)


def _book(sources: list[str]) -> nbformat.NotebookNode:
    return nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(source) for source in sources])
