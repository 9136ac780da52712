"""A class on a hub of this machine: memory a learner, time to the first widget, and what grows with ten thousand.

`python -m tests.bench.hub [LEARNERS [LESSON]]` makes that many system users (it needs root, JupyterHub and its proxy), has all of
them log in at once and run a lesson as a browser would, then answer exercises at their own pace, and takes the users away again.
Learners' browsers run elsewhere in a real class, so none runs here: each learner is a client of HTTP and WebSocket.
"""

from __future__ import annotations

import asyncio
import json
import math
import os
import random
import re
import sys
import time
import uuid
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from statistics import median
from typing import Any

from widgets.serve.hub import KEPT_BACK_MIB

from .measure import Row

LESSON = "12-which-configuration"
ANSWERS, THINK_S = 4, 8.0
WIDGET = "application/vnd.jupyter.widget-view+json"
EXERCISE = """
import time as _t
_began = _t.process_time()
from widgets import Exercise
_e = Exercise(seed={seed}, record=False)
_e.answer("control", _e.items["control"].right)
_mark = _e.check()
print(_t.process_time() - _began)
"""


@dataclass
class Learner:
    """What one learner's client measured, in seconds and MiB."""

    name: str
    server_s: float = math.nan
    widget_s: float = math.nan
    lesson_s: float = math.nan
    start_core_s: float = math.nan
    answers_s: list[float] = field(default_factory=list)
    work_s: list[float] = field(default_factory=list)
    server_mib: float = math.nan
    kernel_mib: float = math.nan


def pss_mib(pid: int) -> float:
    """A process's proportional share of memory [MiB]; 0 where it is gone."""
    try:
        text = Path(f"/proc/{pid}/smaps_rollup").read_text("utf-8")
    except OSError:
        return 0.0
    found = re.search(r"^Pss:\s+(\d+)", text, re.MULTILINE)
    return int(found[1]) / 1024 if found else 0.0


def _token(pids: list[int]) -> str:
    """The token of the server among a user's processes; '' while there is none."""
    for pid in pids:
        try:
            lines = Path(f"/proc/{pid}/environ").read_bytes().split(b"\0")
        except OSError:
            continue
        for line in lines:
            if line.startswith(b"JUPYTERHUB_API_TOKEN="):
                return line.partition(b"=")[2].decode()
    return ""


async def _one(hub: Any, user: Any, cells: list[str], told: Learner, seed: int) -> None:
    import aiohttp

    began = time.monotonic()
    jar = aiohttp.CookieJar(unsafe=True)
    async with aiohttp.ClientSession(cookie_jar=jar, timeout=aiohttp.ClientTimeout(total=600)) as web:
        async with web.get(f"{hub.address}/hub/login?next=%2Fhub%2Fspawn") as page:
            xsrf = re.search(r'name="_xsrf" value="([^"]*)"', await page.text())
        assert xsrf is not None
        async with web.post(f"{hub.address}/hub/login?next=%2Fhub%2Fspawn", data={
                "username": user.name, "password": user.password, "_xsrf": xsrf[1]}) as page:
            assert page.status == 200, page.status
        base, token = f"{hub.address}/user/{user.name}", ""
        while True:
            token = token or _token(hub.of(user))
            if token:
                async with web.get(f"{base}/api/status", headers={"Authorization": f"token {token}"}) as page:
                    if page.status == 200:
                        break
            await asyncio.sleep(0.5)
        told.server_s = time.monotonic() - began
        mine = {"Authorization": f"token {token}"}
        body = {"path": f"{LESSON}.ipynb", "name": LESSON, "type": "notebook", "kernel": {"name": "python3"}}
        async with web.post(f"{base}/api/sessions", json=body, headers=mine) as page:
            kernel = (await page.json())["kernel"]["id"]
        async with web.ws_connect(f"{base}/api/kernels/{kernel}/channels", headers=mine, max_msg_size=0) as wire:
            for cell in cells:
                if await _run(wire, cell) and math.isnan(told.widget_s):
                    told.widget_s = time.monotonic() - began
                    told.start_core_s = sum(map(_worked_s, hub.of(user)))
            told.lesson_s = time.monotonic() - began
            pace = random.Random(seed)
            for n in range(ANSWERS):
                await asyncio.sleep(pace.uniform(0, 2 * THINK_S))
                asked = time.monotonic()
                said = await _run(wire, EXERCISE.format(seed=100 * seed + n), text=True)
                told.answers_s.append(time.monotonic() - asked)
                told.work_s.append(float(said))
            for pid in hub.of(user):
                kind = Path(f"/proc/{pid}/cmdline").read_bytes()
                if b"ipykernel" in kind:
                    told.kernel_mib = pss_mib(pid)
                elif b"seat" in kind or b"singleuser" in kind:
                    told.server_mib = pss_mib(pid)


async def _run(wire: Any, code: str, text: bool = False) -> Any:
    """Run one cell; whether a widget was shown, or what was printed. Raises RuntimeError where the cell fails."""
    ident, shown, said = uuid.uuid4().hex, False, ""
    await wire.send_str(json.dumps({
        "header": {"msg_id": ident, "username": "", "session": ident, "msg_type": "execute_request", "version": "5.3",
                   "date": ""}, "parent_header": {}, "metadata": {}, "channel": "shell",
        "content": {"code": code, "silent": False, "store_history": True, "user_expressions": {}, "allow_stdin": False,
                    "stop_on_error": True}}))
    while True:
        message = json.loads((await wire.receive(timeout=300)).data)
        if message["parent_header"].get("msg_id") != ident:
            continue
        kind, content = message["header"]["msg_type"], message["content"]
        if kind in ("display_data", "execute_result"):
            shown = shown or WIDGET in content["data"]
        elif kind == "stream":
            said += content["text"]
        elif kind == "error":
            raise RuntimeError(f"{content['ename']}: {content['evalue']}")
        elif kind == "status" and content["execution_state"] == "idle":
            return said if text else shown


def run(count: int, lesson: str = LESSON) -> tuple[list[Learner], dict[str, float]]:
    """A class at once. Returns what each measured, and memory and load of the whole."""
    from tests.browser.hubs import TOP, Hub, forbidden, missing

    if reason := forbidden() or missing():
        raise SystemExit(reason)
    book = json.loads((TOP / "lessons" / f"{lesson}.ipynb").read_text("utf-8"))
    cells = ["".join(cell["source"]) for cell in book["cells"] if cell["cell_type"] == "code"]
    load = os.getloadavg()[0]
    hub = Hub(count, "--most", str(count))
    try:
        hub.start()
        assert hub.process is not None
        told = [Learner(user.name) for user in hub.users]

        async def everybody() -> None:
            await asyncio.gather(*(_one(hub, user, cells, one, n) for n, (user, one) in enumerate(zip(hub.users, told), 1)))

        asyncio.run(everybody())
        proxies = [pid for pid in map(int, filter(str.isdigit, os.listdir("/proc"))) if _parent(pid) == hub.process.pid]
        whole = {"load before": load, "hub_mib": pss_mib(hub.process.pid),
                 "proxy_mib": max((pss_mib(pid) for pid in proxies if b"proxy" in _command(pid)), default=math.nan)}
        return told, whole
    finally:
        hub.stop()


def _parent(pid: int) -> int:
    try:
        return int(Path(f"/proc/{pid}/stat").read_text("utf-8").rpartition(")")[2].split()[1])
    except OSError:
        return -1


def _worked_s(pid: int) -> float:
    """A process's work on the cores so far [s]."""
    try:
        words = Path(f"/proc/{pid}/stat").read_text("utf-8").rpartition(")")[2].split()
    except OSError:
        return 0.0
    return (int(words[11]) + int(words[12])) / os.sysconf("SC_CLK_TCK")


def _command(pid: int) -> bytes:
    try:
        return Path(f"/proc/{pid}/cmdline").read_bytes()
    except OSError:
        return b""


# -- growth ---------------------------------------------------------------------------------------------------

@dataclass(frozen=True, slots=True)
class Growth:
    """How many hosts a school needs. What is not said is as measured with 20 learners at once on two cores that others used
    too: a seat 183 MiB, 5.5 s of a core to the first widget, 0.06 s for an exercise (0.1 with what carries it).

    learners: who have an account.  at_once: share of them who work at the same time [-].  seat_mib: server and kernel of one
    who works [MiB].  start_core_s: work of a core to bring one to the first widget [s].  answer_core_s: work of a core for one
    exercise drawn and marked [s].  answers_a_minute: exercises of one learner in a minute.  within_s: a class that comes at
    once should be served within this [s].  class_size: how many come at once.  host_mib, cores: of a host.
    """

    learners: int = 10_000
    at_once: float = 0.2
    seat_mib: float = 183.0
    start_core_s: float = 5.5
    answer_core_s: float = 0.1
    answers_a_minute: float = 2.0
    within_s: float = 60.0
    class_size: int = 30
    host_mib: int = 24 * 1024
    cores: int = 8
    busy: float = 0.7
    """Share of the cores that may be used up: beyond it waiting grows fast (common practice, no source)."""

    @property
    def working(self) -> int:
        """Who work at the same time."""
        return math.ceil(self.learners * self.at_once)

    @property
    def by_memory(self) -> int:
        """Seats on one host, as far as memory goes."""
        return int((self.host_mib - KEPT_BACK_MIB) // self.seat_mib)

    @property
    def by_work(self) -> int:
        """Seats on one host, as far as its cores go while learners answer."""
        return int(self.cores * self.busy / (self.answer_core_s * self.answers_a_minute / 60))

    @property
    def hosts(self) -> int:
        """Hosts for all who work at once, the scarcer of memory and cores deciding.

        >>> Growth(learners=100, at_once=1.0).hosts, Growth(learners=10_000, at_once=0.2).hosts
        (1, 18)
        """
        return math.ceil(self.working / min(self.by_memory, self.by_work))

    @property
    def classes_at_once(self) -> int:
        """Classes that may come in the same minute, all hosts together, and have their first widget in time."""
        return int(self.hosts * self.cores * self.busy * self.within_s / (self.class_size * self.start_core_s))


def rows() -> Iterator[Row]:
    """What follows from one learner's figures; measuring them is `python -m tests.bench.hub`."""
    for learners in (30, 300, 3000, 10_000):
        school = Growth(learners=learners, at_once=1.0 if learners < 100 else 0.2)
        yield Row(f"hosts of 24 GiB and 8 cores for {learners} learners", school.hosts, "", f"{school.working} at once, at most "
                  f"{min(school.by_memory, school.by_work)} a host; {school.classes_at_once} classes may come in the same minute")


def main(words: list[str]) -> int:
    """Run a class and print what it took."""
    count = int(words[0]) if words else 20
    told, whole = run(count, words[1] if len(words) > 1 else LESSON)
    print(f"{count} learners at once, {os.cpu_count()} cores, load before {whole['load before']:.1f}")
    every = [s for one in told for s in one.answers_s]
    for what, values, unit in (
            ("login to server ready", [one.server_s for one in told], "s"),
            ("login to first widget", [one.widget_s for one in told], "s"),
            ("login to first widget, work of a core", [one.start_core_s for one in told], "s"),
            ("login to whole lesson run", [one.lesson_s for one in told], "s"),
            ("an exercise drawn and marked, waited", every, "s"),
            ("an exercise drawn and marked, work of a core", [s for one in told for s in one.work_s], "s"),
            ("server, PSS", [one.server_mib for one in told], "MiB"), ("kernel, PSS", [one.kernel_mib for one in told], "MiB")):
        ordered = sorted(values)
        print(f"{what:46} median {median(ordered):7.2f}  nine of ten {ordered[int(0.9 * (len(ordered) - 1))]:7.2f}  "
              f"worst {ordered[-1]:7.2f} {unit}")
    seat = median(one.server_mib + one.kernel_mib for one in told)
    print(f"hub {whole['hub_mib']:.0f} MiB, proxy {whole['proxy_mib']:.0f} MiB, a seat {seat:.0f} MiB: "
          f"{int((24 * 1024 - KEPT_BACK_MIB) // seat)} learners on a host of 24 GiB")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
