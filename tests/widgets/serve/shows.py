"""A show of answers on a real socket, and phones that ask it as a browser without JavaScript would."""

from __future__ import annotations

import asyncio
import http.client
import re
import socket
import threading
from urllib.parse import urlencode

from widgets.serve.answers import Limits, Session
from widgets.serve.answers_pages import Way
from widgets.serve.answers_questions import typed
from widgets.serve.answers_server import Desk, listen
from widgets.serve.answers_start import bind

QUESTION = typed("Does a pump that is off block the water?", ["Yes", "No", "Only <b>hot</b> water"], right=2)


class Show:
    """A server in a thread of its own, on a free port of this machine."""

    def __init__(self, limits: Limits | None = None, **desk) -> None:
        self.socket = bind("127.0.0.1", 0)
        self.port = self.socket.getsockname()[1]
        self.session = Session(limits)
        self.host = f"127.0.0.1:{self.port}"
        self.desk = Desk(self.session, Way(f"http://{self.host}/"), {self.host}, **desk)
        self._up, self._loop = threading.Event(), asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def _run(self) -> None:
        async def serve() -> None:
            server = listen(self.desk, [self.socket])
            self._stop = asyncio.Event()
            self._up.set()
            await self._stop.wait()
            server.stop()
            await server.close_all_connections()
        self._loop.run_until_complete(serve())
        self._loop.close()

    def __enter__(self) -> Show:
        self._thread.start()
        assert self._up.wait(10)
        return self

    def __exit__(self, *_: object) -> None:
        self._loop.call_soon_threadsafe(self._stop.set)
        self._thread.join(10)

    @property
    def address(self) -> str:
        return f"http://{self.host}/"


class Device:
    """Keeps its cookies, follows redirects, and speaks from an address of its own, as phones in one network do."""

    def __init__(self, show: Show, number: int = 1) -> None:
        self.show, self.at, self.cookies = show, f"127.0.1.{number}", ""

    def ask(self, method: str, path: str, fields: dict | list | None = None, body: bytes | None = None,
            follow: bool = True, **headers: str) -> tuple[int, str]:
        """The status and the page."""
        source = (self.at, 0)
        try:
            connection = http.client.HTTPConnection("127.0.0.1", self.show.port, timeout=20, source_address=source)
            connection.connect()
        except OSError:     # where this machine is 127.0.0.1 alone
            connection = http.client.HTTPConnection("127.0.0.1", self.show.port, timeout=20)
        sent = {"Cookie": self.cookies} if self.cookies else {}
        if fields is not None:
            body = urlencode(fields).encode()
        if body is not None:
            sent["Content-Type"] = "application/x-www-form-urlencoded"
        connection.request(method, path, body, sent | {name.replace("_", "-"): value for name, value in headers.items()})
        answer = connection.getresponse()
        page = answer.read().decode()
        if cookie := answer.getheader("Set-Cookie"):
            self.cookies = cookie.partition(";")[0]
        connection.close()
        where = answer.getheader("Location")
        return self.ask("GET", where) if where and follow else (answer.status, page)

    def join(self) -> tuple[int, str]:
        """With the code of the show."""
        return self.ask("POST", "/", {"code": self.show.session.code})

    def answer(self, choice: int, page: str) -> tuple[int, str]:
        """Press one of the buttons of a page."""
        hidden = dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', page))
        return self.ask("POST", "/", {**hidden, "choice": str(choice)})

    def instruct(self, do: str, **fields: str | list[str]) -> tuple[int, str]:
        """Press one of the instructor's buttons."""
        if not self.cookies:
            self.ask("GET", f"/show?key={self.show.session.secret}")
        session = self.show.session
        pairs = [("do", do), ("token", session.token(session.secret))]
        for name, value in fields.items():
            pairs += [(name, one) for one in ([value] if isinstance(value, str) else value)]
        return self.ask("POST", "/show", pairs)


def raw(show: Show, sent: bytes) -> bytes:
    """What comes back to bytes that no browser would send; nothing where the server hangs up."""
    got = b""
    with socket.create_connection(("127.0.0.1", show.port), 10) as wire:
        try:
            wire.sendall(sent)
            wire.shutdown(socket.SHUT_WR)
            while part := wire.recv(65536):
                got += part
        except OSError as hung_up:      # reset, a broken pipe, or gone before this end was shut
            if isinstance(hung_up, TimeoutError):
                raise
    return got
