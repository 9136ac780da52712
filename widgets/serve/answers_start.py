"""`loopbook answers`: chooses an address with the instructor, prepares questions, and serves the show until Ctrl+C."""

from __future__ import annotations

import argparse
import asyncio
import ipaddress
import json
import os
import signal
import socket
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import IO

from figures.plant.refusal import plain_text

from .answers import Limits, NotNow, Session
from .answers_questions import BadQuestion, Question, about_plant, from_bank, typed

LOOPBACK = "127.0.0.1"
FIRST_PORT = 8960
PORTS_TRIED = 40


class NoShow(Exception):
    """The show cannot start. The message is one line for the instructor."""


def addresses() -> list[tuple[str, str]]:
    """The IPv4 addresses of this machine with what each is, those that a class may reach first and loopback last.

    >>> addresses()[-1]
    ('127.0.0.1', 'this machine only')
    """
    found = dict.fromkeys([*_of_interfaces(), *_by_route(), *_by_name()])
    reachable = [one for one in found if not ipaddress.ip_address(one).is_loopback]
    reachable.sort(key=lambda one: (not ipaddress.ip_address(one).is_private, one))
    return [*((one, "devices in the same network" if ipaddress.ip_address(one).is_private else
               "a public address: perhaps the whole internet") for one in reachable), (LOOPBACK, "this machine only")]


def _of_interfaces() -> Iterator[str]:
    if not sys.platform.startswith("linux"):
        return
    import fcntl
    import struct
    of_interface = 0x8915       # SIOCGIFADDR, linux/sockios.h
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        for _, name in socket.if_nameindex():
            try:
                told = fcntl.ioctl(asking, of_interface, struct.pack("256s", name.encode()[:15]))
            except OSError:     # an interface without an IPv4 address
                continue
            yield socket.inet_ntoa(told[20:24])


def _by_route() -> Iterator[str]:
    """The address from which this machine would reach another; connecting a datagram socket sends nothing."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            asking.connect(("192.0.2.1", 9))     # an address for examples, RFC 5737
        except OSError:     # no network at all
            return
        yield str(asking.getsockname()[0])


def _by_name() -> Iterator[str]:
    try:
        yield from (str(row[4][0]) for row in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET))
    except OSError:     # a machine whose own name nobody knows
        return


def choose(given: str | None, ask: Callable[[str], str] | None, say: Callable[[str], None]) -> str:
    """The address to listen on. given: what the instructor named.  ask: asks on a terminal; None where there is none.

    Raises NoShow for an address that is none of this machine's.
    """
    known = addresses()
    if given is not None:
        try:
            wanted = str(ipaddress.IPv4Address(given))
        except ValueError:
            raise NoShow(f"--address {given[:40]}: is no IPv4 address; this machine has {_listed(known)}") from None
        if wanted not in dict(known) and not ipaddress.ip_address(wanted).is_loopback:
            raise NoShow(f"--address {wanted}: is none of this machine's; it has {_listed(known)}")
        return wanted
    if ask is None:
        if len(known) > 1:
            say(f"Bound to {LOOPBACK}: phones cannot reach it, hands can be counted. Other addresses: {_listed(known[:-1])}; "
                "name one with --address.")
        return LOOPBACK
    say("Where may answers come from?")
    for n, (address, what) in enumerate(known, 1):
        say(f"  {n}  {address:15}  {what}")
    say(f"Phones need an address in their own network; {LOOPBACK} lets nobody in but this machine.")
    while True:
        said = ask(f"Number [{len(known)}]: ").strip() or str(len(known))
        if said.isascii() and said.isdigit() and 1 <= int(said) <= len(known):
            return known[int(said) - 1][0]
        say(f"Write a number from 1 to {len(known)}.")


def _listed(known: list[tuple[str, str]]) -> str:
    return ", ".join(address for address, _ in known)


def bind(address: str, port: int | None) -> socket.socket:
    """A socket on the address: the port asked for, or the first free one from 8960 on. Raises NoShow."""
    wanted = [port] if port is not None else range(FIRST_PORT, FIRST_PORT + PORTS_TRIED)
    for one in wanted:
        bound = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        if os.name == "posix":
            bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            bound.bind((address, one))
            bound.listen(128)
        except OSError as error:
            bound.close()
            why = (error.strerror or str(error)).lower()
            continue
        bound.setblocking(False)
        return bound
    raise NoShow(f"{address}: no port from {wanted[0]} to {wanted[-1]} can be used ({why}); name another with --port")


def way_to(address: str, port: int, code: str) -> tuple[str, str]:
    """The address to type, and a QR code of it with the session's code, as a picture's data address."""
    import segno

    where = f"http://{address}:{port}/"
    picture = segno.make(f"{where}?code={code}", error="m").svg_data_uri(scale=6, border=2, light="#ffffff", nl=False)
    return where, picture


def prepared(options: argparse.Namespace) -> list[Question]:
    """The questions that the flags ask for: the typed one, then of each plant or of the bank. Raises BadQuestion."""
    found: list[Question] = []
    if options.text is not None or options.option:
        found.append(typed(options.text or "", options.option, options.right))
    wanted = [code.strip().upper() for code in options.objective]
    for file in options.plant:
        from figures.plant import BadPlant, read_plant
        try:
            of_plant = list(about_plant(read_plant(file), options.seed))
        except BadPlant as bad:
            raise BadQuestion("\n".join(bad.lines())) from None
        fit = [one for one in of_plant if not wanted or one.objective in wanted]
        if not fit:
            raise BadQuestion(f"{file}: the bank has no such question about this plant; leave out --objective")
        found += fit[:options.questions]
    if not options.plant:
        found += [from_bank(code, options.seed + n) for code in wanted for n in range(options.questions)]
    return found


class Keeper:
    """Writes questions and counts into a new file of the instructor's own. Raises NoShow where it is there already."""

    def __init__(self, path: Path) -> None:
        self.path = path
        try:
            self.file: IO[str] = os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8")
        except FileExistsError:
            raise NoShow(f"--keep {path}: is there already; name a new file") from None
        except OSError as error:
            raise NoShow(f"--keep {path}: {(error.strerror or str(error)).lower()}") from None

    def __call__(self, session: Session) -> None:
        """Write all of it anew. Raises NotNow where that cannot be; the next time it is tried again."""
        try:
            self.file.seek(0)
            for row in session.kept():
                self.file.write(json.dumps(row, ensure_ascii=False) + "\n")
            self.file.truncate()
            self.file.flush()
        except OSError as error:
            raise NotNow(f"Questions and counts cannot be written to {self.path}: {(error.strerror or str(error)).lower()}; make "
                         "room there.") from None


def answers(options: argparse.Namespace) -> int:
    """Serve a show until it is stopped. Returns the exit: 0, or 2 with one line on stderr where it cannot start."""
    try:
        if options.list:
            for address, what in addresses():
                print(f"{address:15}  {what}")
            return 0
        questions = prepared(options)
        ask = input if sys.stdin.isatty() and sys.stdout.isatty() else None
        address = choose(options.address, ask, print)
        bound = bind(address, options.port)
        keep = Keeper(Path(options.keep)) if options.keep else None
    except (NoShow, BadQuestion) as wrong:
        return _refused(wrong)
    except (EOFError, KeyboardInterrupt):
        print("\nStopped before anything was open.")
        return 0
    try:
        asyncio.run(_serve(options, questions, bound, keep))
    except NotNow as not_kept:
        return _refused(not_kept)
    print("Stopped. " + (f"Questions and counts are in {options.keep}." if keep else "Nothing was kept."))
    return 0


def _refused(wrong: Exception) -> int:
    for line in str(wrong).splitlines():
        print(plain_text(f"loopbook answers: {line}"), file=sys.stderr)
    return 2


async def _serve(options: argparse.Namespace, questions: list[Question], bound: socket.socket, keep: Keeper | None) -> None:
    from widgets.learn import OBJECTIVES

    from .answers_pages import Way
    from .answers_server import Desk, listen

    address, port = bound.getsockname()
    session = Session(Limits.shared() if options.one_address else Limits())
    where, picture = way_to(address, port, session.code)
    local = ipaddress.ip_address(address).is_loopback
    hosts = {f"{address}:{port}", *([f"localhost:{port}"] if local else []), *([address] if port == 80 else [])}
    desk = Desk(session, Way(where, "" if local else picture), hosts, questions,
                [(code, one.text) for code, one in OBJECTIVES.items()], keep)
    server = listen(desk, [bound], options.one_address)
    mine = f"{where}show?key={session.secret}"
    print(f"Learners: {where}   code {session.code[:3]} {session.code[3:]}")
    if local:
        print("Only this machine can reach that address: count hands on the projector's page, or start again with --address.")
    print(f"Yours, for the projector and the controls; do not show it to the class:\n  {mine}")
    print("Answers are held in memory" + (f"; questions and counts go to {options.keep}" if keep else " and gone when you stop")
          + ". To stop: Ctrl+C.", flush=True)
    if not options.no_browser:
        from .study import open_browser
        open_browser(mine)
    stopped = asyncio.Event()
    loop = asyncio.get_running_loop()
    for signalled in (signal.SIGINT, signal.SIGTERM):
        try:
            loop.add_signal_handler(signalled, stopped.set)
        except RuntimeError:     # Windows has no such handlers; there Ctrl+C ends the loop itself
            continue
    try:
        await stopped.wait()
    finally:
        server.stop()
        await server.close_all_connections()
        if keep is not None:
            keep(session)
