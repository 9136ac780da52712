"""`loopbook hub`: what its words ask for, and what is said."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from figures.plant.refusal import plain_text

from .hub import PROXY, BadHub, Host, closed_to_learners, host_config, kubernetes, not_compiled, put, room_for, unit

if TYPE_CHECKING:
    from .hub_class import Told

DONE, TO_MEND = 0, 2


def hub(options: argparse.Namespace) -> int:
    """Do one thing of `loopbook hub`. Returns the exit: 0, or 2 where the words will not do or something is to be mended."""
    if sys.platform == "win32":
        print("loopbook hub: needs a system with users of its own, such as Linux", file=sys.stderr)
        return TO_MEND
    try:
        return {"host": _host, "kubernetes": _kubernetes, "hand-out": _hand_out, "collect": _collect,
                "check": _check}[options.do](options)
    except BadHub as bad:
        print(plain_text(f"loopbook hub {options.do}: {bad}"), file=sys.stderr)
        return TO_MEND


def _host(options: argparse.Namespace) -> int:
    folder = Path(options.out).resolve()
    host = Host(options.learner, options.group, options.address, options.port, options.certificate, options.key,
                options.plain_http, options.domain, options.most, options.memory_mib, options.idle_minutes, options.state,
                options.sockets, options.python or sys.executable, options.proxy)
    config = str(folder / "jupyterhub_config.py")
    if not Path(host.python).is_file():
        raise BadHub(f"--python {host.python}: is not there")
    for path in (Path(host.python), Path(__file__)):
        if closed := closed_to_learners(path):
            raise BadHub(f"{closed}, so learners could not run {path}; install Loopbook where all may read, "
                         "/usr/local/loopbook say, and call it from there, or name another --python")
    for path in put(folder, {"jupyterhub_config.py": host_config(host, config), "loopbook-hub.service": unit(host, config)},
                    options.force):
        print(path)
    print(f"At most {host.most or room_for()} learners at once. Start it as root: jupyterhub -f {config}")
    if f"'{PROXY}'" in host_config(host):
        print(f"{PROXY} was not found on this machine: npm install -g {PROXY}", file=sys.stderr)
    if compiled := not_compiled():
        print(f"{compiled}: nothing is compiled there, and learners cannot: each start would take about twice as long. "
              f"As root, once: {sys.executable} -m compileall -q {compiled}", file=sys.stderr)
    if not host.domain:
        print("Learners share one name in the browser: a learner who means harm could lure another to a page of theirs there. "
              "--domain gives each a name of their own.")
    return DONE


def _kubernetes(options: argparse.Namespace) -> int:
    files = kubernetes(options.image, options.host, tag=options.tag, most=options.most or 500, volume=options.volume,
                       limit=options.memory, idle_minutes=options.idle_minutes)
    for path in put(Path(options.out), files, options.force):
        print(path)
    print("The authenticator is left for you to choose: until then nobody can log in.")
    return DONE


def _hand_out(options: argparse.Namespace) -> int:
    from .hub_class import hand_out, learners
    return _say(hand_out(map(Path, options.source), learners(options.learner, options.group), place=options.place,
                         most_bytes=options.most_mib << 20))


def _collect(options: argparse.Namespace) -> int:
    from .hub_class import collect, learners
    return _say(collect(options.what, learners(options.learner, options.group), Path(options.to),
                        most_bytes=options.most_mib << 20))


def _check(options: argparse.Namespace) -> int:
    from .hub_class import homes, learners
    return _say(homes(learners(options.learner, options.group), options.mend))


def _say(told: Iterable[Told]) -> int:
    exit_code = DONE
    for one in told:
        for line in one.lines:
            print(plain_text(f"{one.learner}: {line}"), file=sys.stdout if one.ok else sys.stderr)
        exit_code = exit_code if one.ok else TO_MEND
    return exit_code
