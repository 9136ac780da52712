"""The kernels of a room: kept warm before anybody asks, one for each lesson that somebody looks at, ended when idle.

A warm kernel has everything imported and no lesson in it; so any lesson of any seed opens from the same pool.  What
somebody will most likely open next is run ahead in one of them, and whoever opens it first has it.  The cells run one
after another while the page is still being put together, and what they show is kept, so that a page that was lost
comes back to the same kernel with every answer in it.
"""

from __future__ import annotations

import asyncio
import os
import time
from collections.abc import AsyncIterator, Coroutine
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
AHEAD = 2
"""Lessons run ahead: the next one of who presents, and one more for the room."""
CALM_S = 2.0
"""So long a page is left to put itself together, before others are made ready."""
BROKEN = ("This part of the lesson could not be shown ({name}: {says}). Go on with the next step; taking another plant "
          "(N) or opening the lesson anew may help.")
log = getLogger("loopbook.present")


class RoomFull(Exception):
    """No more kernels are to be started. The message is one line for who asked."""


@dataclass(eq=False)
class Live:
    """One lesson with one seed in one kernel, for one browser or one presenter.

    who: '' while it is run ahead and nobody's yet.  outputs: what each cell shows, by its place in the notebook, as soon as
    it was run.  pause: the cell after which the rest waits until its page shows something, for a page loads every widget
    that is there before it shows the first.  opened: it does.
    """

    kernel: str
    lesson: Lesson
    seed: int
    who: str
    outputs: dict[int, list[dict[str, Any]]] = field(default_factory=dict)
    seen: float = 0.0
    running: asyncio.Task[None] | None = None
    news: asyncio.Condition = field(default_factory=asyncio.Condition)
    pause: int | None = None
    opened: asyncio.Event = field(default_factory=asyncio.Event)

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

    kernels: starts and ends kernels, jupyter_server's.  warm: how many wait, everything imported; 0 runs nothing ahead
    either.  most: of all lessons; beyond that the idle end first, and then whoever comes is told.  cwd: where lessons run.
    """

    def __init__(self, kernels: Any, *, warm: int, most: int, cwd: Path) -> None:
        self.kernels, self.warm, self.most, self.cwd = kernels, warm, most, cwd
        self.lives: list[Live] = []
        self._warm: list[asyncio.Task[_Kernel]] = []
        self._begun: dict[tuple[str, int], asyncio.Task[None]] = {}
        self._tasks: set[asyncio.Task[None]] = set()

    # -- what a page asks for --------------------------------------------------------------------------------

    async def live(self, who: str, lesson: Lesson, seed: int, step: str = "", then: Lesson | None = None) -> Live:
        """The lesson of this seed for this browser: the one it had, one that was run ahead, or a new one.

        step: at which it is opened.  then: what is run ahead once this one stands.  Raises RoomFull.
        """
        if begun := self._begun.get((lesson.name, seed)):
            await asyncio.wait([begun])
        self._bury()
        live = self._found(who, lesson, seed) or self._found("", lesson, seed)
        if live is None:
            await self._make_room(who)
            live = await self._begin(who, lesson, seed, step)
        live.who, live.seen = who, time.monotonic()
        self._touch(live.kernel)
        asyncio.get_running_loop().call_later(CALM_S, live.opened.set)     # a page that shows nothing must not hold it up
        self._in_background(self._afterwards(live, then))
        return live

    async def ahead(self, lesson: Lesson, seed: int, step: str = "") -> None:
        """Run a lesson before anybody opens it, where there is room; of others run for nothing the eldest ends.

        step: at which it will be opened, '' for the first; it is run as far as that step shows something.
        """
        key = (lesson.name, seed)
        if not self.warm or key in self._begun or self._found("", lesson, seed):
            return
        waiting = [live for live in self.lives if not live.who]
        for live in waiting[:max(0, len(waiting) - AHEAD + 1)]:
            await self._end(live)
        if len(self.lives) < self.most:
            self._begun[key] = self._in_background(self._begin_for_nobody(lesson, seed, step))

    def of_kernel(self, kernel: str) -> Live | None:
        """What runs in a kernel."""
        return next((live for live in self.lives if live.kernel == kernel and kernel in self.kernels), None)

    def fill(self) -> None:
        """Start what is wanting of the warm kernels, in the background."""
        while len(self._warm) < self.warm:
            self._warm.append(asyncio.create_task(self._start()))

    async def tend(self, every_s: float) -> None:
        """As long as anybody looks at a lesson, what is ready for them does not count as idle."""
        while True:
            await asyncio.sleep(every_s)
            self._bury()
            if any(self._watched(live) for live in self.lives):
                warm = [task.result() for task in self._warm if task.done() and not (task.cancelled() or task.exception())]
                for name in [*(kernel.name for kernel in warm), *(live.kernel for live in self.lives if not live.who)]:
                    self._touch(name)

    async def close(self) -> None:
        """End everything."""
        for task in [*self._tasks, *(live.running for live in self.lives)]:
            if task:
                task.cancel()
        for kernel in await asyncio.gather(*self._warm, return_exceptions=True):
            if isinstance(kernel, _Kernel):
                kernel.warm.cancel()

    # -- what is ready ---------------------------------------------------------------------------------------

    def _found(self, who: str, lesson: Lesson, seed: int) -> Live | None:
        return next((live for live in self.lives if (live.who, live.lesson.name, live.seed) == (who, lesson.name, seed)), None)

    async def _begin(self, who: str, lesson: Lesson, seed: int, step: str) -> Live:
        """A lesson that begins to run in the first warm kernel."""
        kernel = await self._warm_one()
        live = Live(kernel.name, lesson, seed, who, pause=lesson.first_shown(step))
        self.lives.append(live)
        live.running = asyncio.create_task(self._run(live, kernel))
        return live

    async def _begin_for_nobody(self, lesson: Lesson, seed: int, step: str) -> None:
        try:
            await self._begin("", lesson, seed, step)
        finally:
            del self._begun[lesson.name, seed]
        self.fill()

    async def _afterwards(self, live: Live, then: Lesson | None) -> None:
        """When a lesson stands, and its page has had the machine for itself, make ready what comes next."""
        await asyncio.sleep(CALM_S)
        if live.running:
            await asyncio.wait([live.running])
        self.fill()
        if then is not None and live in self.lives:
            await self.ahead(then, live.seed)

    def _in_background(self, work: Coroutine[Any, Any, None]) -> asyncio.Task[None]:
        task = asyncio.create_task(work)
        self._tasks.add(task)               # a task that nobody holds may be thrown away before its end
        task.add_done_callback(self._tasks.discard)
        return task

    def _touch(self, kernel: str) -> None:
        """It is in use, and not to be ended as idle."""
        if kernel in self.kernels:
            self.kernels.get_kernel(kernel).last_activity = datetime.now(UTC)

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
                self._touch(kernel.name)
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
            if place == live.pause:
                await live.opened.wait()
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
