"""The server of a show of answers: three routes on a port of its own. No kernel, no file and no command can be reached from it.

`/` is the learner's page, `/show` the instructor's and the projector's, `/live` tells both what has changed.
"""

from __future__ import annotations

import json
import secrets
import socket
from collections.abc import Callable
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import urlsplit

from tornado.httpserver import HTTPServer
from tornado.ioloop import IOLoop
from tornado.web import Application, RequestHandler

from .answers import NotNow, Session
from .answers_pages import Way, code_page, learner_page, plain_page, show_page, show_step, step
from .answers_questions import BadQuestion, Question, from_bank, typed

DEVICE_COOKIE = "loopbook_device"
SHOW_COOKIE = "loopbook_show"
LARGEST = 16 * 1024
"""The most that a request's head, and its body, may be [bytes]."""
CONNECTIONS_OF_ADDRESS, CONNECTIONS = 48, 900


class Desk:
    """One show and what stands beside it.

    hosts: names under which the server may be asked for, such as '192.168.1.20:8960'.  prepared: questions that wait.
    objectives: codes and texts that may be chosen.  keep: called after each change that may be kept; it raises NotNow where
    that cannot be written.
    """

    def __init__(self, session: Session, way: Way, hosts: set[str], prepared: list[Question] | None = None,
                 objectives: list[tuple[str, str]] | None = None, keep: Callable[[Session], None] | None = None) -> None:
        self.session, self.way, self.hosts = session, way, hosts
        self.prepared, self.objectives, self.keep = prepared or [], objectives or [], keep

    def kept(self) -> None:
        """Keep what may be kept, if the instructor said so."""
        if self.keep is not None:
            self.keep(self.session)


class _Handler(RequestHandler):
    """What every route holds to: who may ask, how fast, and what a page may do in a browser."""

    SUPPORTED_METHODS = ("GET", "POST")

    def initialize(self, desk: Desk) -> None:
        self.desk, self.session = desk, desk.session
        self.nonce = secrets.token_urlsafe(12)
        self.set_header("Content-Security-Policy",
                        f"default-src 'none'; style-src 'nonce-{self.nonce}'; script-src 'nonce-{self.nonce}'; img-src data:; "
                        "connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'")

    def set_default_headers(self) -> None:
        self.clear_header("Server")
        for name, value in (("Cache-Control", "no-store"), ("X-Content-Type-Options", "nosniff"), ("X-Frame-Options", "DENY"),
                            ("Referrer-Policy", "same-origin"), ("Cross-Origin-Resource-Policy", "same-origin"),
                            ("Content-Type", "text/html; charset=utf-8")):
            self.set_header(name, value)

    def prepare(self) -> None:
        if not self.session.admit(self.request.remote_ip or ""):
            self.set_header("Retry-After", "5")
            self.set_header("Connection", "close")
            self.told(429, "Too fast", "This device asks too often. Wait a moment.")
        elif self.request.host.lower() not in self.desk.hosts:
            self.told(421, "Not here", "Type the address as it stands on the big screen.")
        elif self.request.method == "POST" and not self._ours():
            self.told(403, "Not from here", "This form came from another page.")

    def _ours(self) -> bool:
        """A form that was sent from a page of this server, as far as the browser tells."""
        origin, site = self.request.headers.get("Origin"), self.request.headers.get("Sec-Fetch-Site", "same-origin")
        same = origin is None or urlsplit(origin).netloc.lower() == self.request.host.lower()
        return same and site in ("same-origin", "none")

    def told(self, status: int, title: str, says: str) -> None:
        self.set_status(status)
        self.finish(plain_page(title, says, self.nonce))

    def write_error(self, status_code: int, **_: Any) -> None:
        self.nonce = getattr(self, "nonce", secrets.token_urlsafe(12))
        self.finish(plain_page("Not here", "There is nothing here, or it could not be understood.", self.nonce))

    def back(self, where: str) -> None:
        self.redirect(where, status=303)

    def cookie(self, name: str) -> str:
        try:
            found = SimpleCookie(self.request.headers.get("Cookie", "")).get(name)
        except CookieError:     # a cookie that cannot be read is no cookie
            return ""
        return found.value[:100] if found else ""

    def keep_cookie(self, name: str, value: str, same_site: str) -> None:
        self.set_header("Set-Cookie", f"{name}={value}; Path=/; HttpOnly; SameSite={same_site}; Max-Age=43200")

    def word(self, name: str) -> str:
        return self.get_body_argument(name, "")[:4000]

    def figure(self, name: str, unless: int) -> int:
        text = self.word(name).strip()
        return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else unless

    def is_instructor(self) -> bool:
        return self.session.is_secret(self.cookie(SHOW_COOKIE))

    def device(self) -> str:
        found = self.cookie(DEVICE_COOKIE)
        return found if self.session.knows(found) else ""


class Learner(_Handler):
    """`/`: join with the code, answer, see the key."""

    def get(self) -> None:
        device = self.device()
        code = self.get_query_argument("code", "")[:20]
        if device:
            self.back("/") if code else self.finish(learner_page(self.session, device, self.nonce))
        elif code:
            self._join(code)
        else:
            self.finish(code_page("", self.nonce))

    def post(self) -> None:
        device = self.device()
        if not device:
            self._join(self.word("code"))
        elif not self.session.is_token(device, self.word("token")):
            self.told(403, "Not from here", "Go back to the question and choose again.")
        else:
            try:
                self.session.answer(device, self.figure("question", 0), self.figure("choice", -1))
                self.back("/")
            except NotNow as not_now:
                self.set_status(409)
                self.finish(learner_page(self.session, device, self.nonce, str(not_now)))

    def _join(self, code: str) -> None:
        try:
            device = self.session.join(code, self.request.remote_ip or "")
        except NotNow as not_now:
            self.set_status(403)
            self.finish(code_page(str(not_now), self.nonce))
            return
        self.keep_cookie(DEVICE_COOKIE, device, "Lax")
        self.back("/")


class Show(_Handler):
    """`/show`: the projector's page and the instructor's controls; only with the secret."""

    def get(self) -> None:
        given = self.get_query_argument("key", "")[:100]
        if given and self.session.is_secret(given):
            # Away from the address bar, which everybody in the room can read.
            self.keep_cookie(SHOW_COOKIE, given, "Strict")
            self.back("/show")
        elif self.is_instructor():
            self._page()
        else:
            self.told(403, "For the instructor", "Open the address that the instructor's own screen printed.")

    async def post(self) -> None:
        if not self.is_instructor() or not self.session.is_token(self.session.secret, self.word("token")):
            self.told(403, "For the instructor", "Open the address that the instructor's own screen printed.")
            return
        try:
            await self._do(self.word("do"))
            self.desk.kept()
        except (NotNow, BadQuestion) as wrong:
            self.set_status(409)
            self._page(str(wrong))
            return
        self.back("/show")

    async def _do(self, do: str) -> None:
        session = self.session
        if do == "open":
            session.go("open")
        elif do == "closed":
            session.go("closed")
        elif do == "key":
            session.go("key")
        elif do in ("bars", "hide"):
            session.show_bars(do == "bars")
        elif do == "next":
            if not self.desk.prepared:
                raise NotNow("No prepared question is left.")
            session.put(self.desk.prepared.pop(0))
        elif do == "bank":
            objective, seed = self.word("objective"), self.figure("seed", 1)
            session.put(await IOLoop.current().run_in_executor(None, from_bank, objective, seed))
        elif do == "typed":
            session.put(typed(self.word("text"), self.get_body_arguments("option")[:20], self.figure("right", 0)))
        elif do == "hand":
            hands = [text.strip() for text in self.get_body_arguments("hand")[:20]]
            session.by_hand([int(t) if t.isascii() and t.isdigit() and len(t) < 6 else -1 for t in hands])
        else:
            raise NotNow("There is no such button.")

    def _page(self, says: str = "") -> None:
        self.finish(show_page(self.session, self.desk.way, [one.text for one in self.desk.prepared], self.desk.objectives,
                              self.nonce, says))


class Live(_Handler):
    """`/live`: to the instructor the counts, to a device that has joined where the show stands, to others nothing."""

    def get(self) -> None:
        session, told = self.session, {}
        if self.is_instructor():
            counts = session.now.counts if session.rounds else []
            told = {"step": show_step(session), "joined": session.joined, "held_off": session.held_off, "total": sum(counts),
                    "counts": counts}
        elif self.device():
            told = {"step": step(session)}
        self.set_header("Content-Type", "application/json")
        self.finish(json.dumps(told))


class Missing(_Handler):
    """Everything else: not there, but counted like the rest."""

    def prepare(self) -> None:
        super().prepare()
        if not self._finished:
            self.told(404, "Not here", "There is nothing here.")


ROUTES: tuple[tuple[str, type[_Handler]], ...] = ((r"/", Learner), (r"/show", Show), (r"/live", Live))
"""All that the server answers to."""


def application(desk: Desk) -> Application:
    """The three routes. Nothing of who asks for what is logged."""
    return Application([(path, handler, {"desk": desk}) for path, handler in ROUTES], default_handler_class=Missing,
                       default_handler_args={"desk": desk}, log_function=lambda _: None, compress_response=False)


class Server(HTTPServer):
    """Counts connections too: one device cannot hold them all."""

    of_address: int

    def initialize(self, *words: Any, of_address: int = CONNECTIONS_OF_ADDRESS, **named: Any) -> None:
        super().initialize(*words, **named)
        self.of_address = of_address
        self._streams: dict[str, list[Any]] = {}

    def handle_stream(self, stream: Any, address: tuple[Any, ...]) -> None:
        who = str(address[0])
        self._streams = {one: left for one, streams in self._streams.items()
                         if (left := [s for s in streams if not s.closed()])}
        mine = self._streams.setdefault(who, [])
        if len(mine) >= self.of_address or sum(map(len, self._streams.values())) >= CONNECTIONS:
            stream.close()
            return
        mine.append(stream)
        super().handle_stream(stream, address)


def listen(desk: Desk, sockets: list[socket.socket], shared: bool = False) -> Server:
    """Start to answer on sockets that are bound already; the loop that runs them is the caller's.

    shared: one address may hold as many connections as all.
    """
    server = Server(application(desk), max_header_size=LARGEST, max_body_size=LARGEST, max_buffer_size=4 * LARGEST,
                    idle_connection_timeout=20, body_timeout=10, xheaders=False,
                    of_address=CONNECTIONS if shared else CONNECTIONS_OF_ADDRESS)
    server.add_sockets(sockets)
    return server
