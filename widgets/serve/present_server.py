"""The server of presented lessons: Voilà's widgets and kernels, with pages, keys and a memory of ours.

Started by `loopbook present` as a process of its own.  A page may talk to the widgets of its kernel and to nothing
else: Voilà lets no page run code.  Who comes with the presenter's token moves the class's number and the step that is
remembered; who comes with the room's token, a tablet in the room, reads and answers for themselves.
"""

from __future__ import annotations

import hmac
import json
import os
import secrets
import sys
from contextlib import suppress
from functools import cached_property
from logging import ERROR
from pathlib import Path
from threading import Thread
from typing import Any

from jupyter_server.auth.decorator import allow_unauthenticated
from jupyter_server.auth.identity import IdentityProvider, User
from jupyter_server.base.handlers import FileFindHandler, JupyterHandler
from jupyter_server.base.websocket import WebSocketMixin
from tornado import web
from tornado.ioloop import IOLoop
from tornado.template import Loader
from tornado.websocket import WebSocketHandler
from traitlets import Unicode
from voila.app import Voila
from voila.static_file_handler import MultiStaticFileHandler

from widgets.learn.lessons import shipped_lessons

from .present_kept import FILE_NAME, Kept, NotKept, Wrong, sound
from .present_room import Room, RoomFull
from .present_steps import Lesson, NoLesson, lesson
from .study import sockets_fit

SETTINGS = "LOOPBOOK_PRESENT"
"""Where `loopbook present` tells this process what to do: JSON in the environment, for a command line can be read by all."""
LOOK = Path(__file__).resolve().parent / "present_look"
PRESENTER, GUEST = "presenter", "room"
KERNEL = r"(?P<kernel>\w+-\w+-\w+-\w+-\w+)"
EXTENSIONS = ("anywidget", "@jupyter-widgets/jupyterlab-manager", "@voila-dashboards/widgets-manager8")
"""What a page loads beside Voilà itself."""
DRAWN_S = 0.3
"""What was sent first is on the screen after so long, and the rest of the lesson has not delayed it."""
KEPT_BY_BROWSERS_S = 3600
ONLY_FROM_HERE = ("default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval' blob: data:; "
                  "style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; "
                  "font-src 'self' data:; connect-src 'self' ws: data: blob:; frame-ancestors 'self'")


class Seats(IdentityProvider):
    """Two tokens, two kinds of people: who presents, and the room."""

    guest_token = Unicode("").tag(config=True)

    async def get_user_token(self, handler: web.RequestHandler) -> User | None:
        """Who comes with a token; a browser that came before keeps the name that it had."""
        given = self.get_token(handler)
        for kind, token in ((PRESENTER, self.token), (GUEST, self.guest_token)):
            if given and token and hmac.compare_digest(given.encode(), token.encode()):
                known = self.get_user_cookie(handler)
                if isinstance(known, User) and known.username.startswith(f"{kind}-"):
                    return known
                return User(f"{kind}-{secrets.token_hex(8)}", kind)
        return None

    @property
    def login_available(self) -> bool:
        """There is a page that says which address to take."""
        return False


class Page(JupyterHandler):
    """What all pages share: who asks, which lessons there are, and that nothing is fetched from elsewhere."""

    @property
    def app(self) -> Present:
        """The server that this page is of."""
        app = self.settings["present"]
        assert isinstance(app, Present)
        return app

    @property
    def content_security_policy(self) -> str:
        """The browser itself refuses whatever does not come from here."""
        return ONLY_FROM_HERE

    @property
    def kind(self) -> str:
        """'presenter' or 'room'."""
        return PRESENTER if self.current_user.username.startswith(PRESENTER) else GUEST

    @property
    def kept(self) -> Kept:
        """What is remembered for who asks: for the presenter on disk, for the room while the server runs."""
        if self.kind == PRESENTER:
            return self.app.kept
        mine = self.app.guests.setdefault(self.current_user.username, Kept(None))
        mine.data["seed"] = self.app.kept.seed
        return mine

    def show(self, template: str, **words: Any) -> None:
        """Send a page, and with it the cookie that its script has to show when it writes."""
        assert self.xsrf_token
        self.set_header("Content-Type", "text/html; charset=utf-8")
        self.set_header("Cache-Control", "no-store")
        words |= {"kind": self.kind, "kept": self.kept, "version": self.app.version_of_look}
        self.finish(self.app.pages.load(template).generate(**words))

    def write_error(self, status_code: int, **given: Any) -> None:
        """What went wrong in a sentence, on a page of ours."""
        error = given.get("exc_info", (None, None))[1]
        says = getattr(error, "reason", None) or getattr(error, "log_message", None) or self._reason
        self.set_header("Content-Type", "text/html; charset=utf-8")
        self.finish(self.app.pages.load("message.html").generate(status=status_code, says=says, version=self.app.version_of_look))

    def lesson_of(self, name: str) -> Lesson:
        """A lesson by its name; a page that says so where there is none."""
        path = self.app.paths.get(name)
        if path is None:
            raise web.HTTPError(404, reason="There is no such lesson. The contents page lists them all.")
        try:
            return lesson(path)
        except NoLesson as bad:
            raise web.HTTPError(500, reason=str(bad)) from None


class Refused(Page):
    """Where somebody without a token ends up."""

    @allow_unauthenticated
    def get(self) -> None:
        """Say which address to take."""
        self.set_status(403)
        self.set_header("Content-Type", "text/html; charset=utf-8")
        self.finish(self.app.pages.load("message.html").generate(
            status=403, says="This page needs the whole address that “loopbook present” printed, with its token.",
            version=self.app.version_of_look))


class ContentsPage(Page):
    """The lessons, the class's number, the plans."""

    @web.authenticated
    def get(self) -> None:
        """Show it."""
        from .present_plan import chosen_plans, forms

        lessons = [lesson(path) for path in self.app.paths.values()]
        minutes = {one.name: one.minutes for one in lessons}
        self.show("contents.html", lessons=lessons, plans=chosen_plans(minutes), tests=forms())


class LessonPage(Page):
    """A lesson, step by step."""

    @web.authenticated
    async def get(self, name: str) -> None:
        """Put its page together, while its kernel begins to run it."""
        from .present_text import as_html

        shown, kept = self.lesson_of(name), self.kept
        pane = self.get_query_argument("pane", "") == "1"
        try:
            seed = sound(self.get_query_argument("seed", str(kept.seed)))
        except Wrong as wrong:
            raise web.HTTPError(400, reason=f"This address will not do: {wrong}.") from None
        # Whoever presents has one kernel for a lesson whatever the browser, so that a second device shows the same answers.
        who = PRESENTER if self.kind == PRESENTER else self.current_user.username
        names = list(self.app.paths)
        at = names.index(name) if name in names else 0
        beside = {"back": names[at - 1] if at else "", "on": names[at + 1] if at + 1 < len(names) else ""}
        # Who presents goes on to the next lesson; of tablets in the room where one has come, another follows.
        then = None if pane else name if self.kind == GUEST else beside["on"]
        start = kept.page(name)
        if pane:
            start["at"] = {"step": self.get_query_argument("step", ""), "shown": 0}
        try:
            live = await self.app.room.live(who, shown, seed, start["at"].get("step", ""), self.app.lesson_ahead(then))
        except RoomFull as full:
            raise web.HTTPError(503, reason=f"{full}.") from None
        data = {"lesson": name, "seed": seed, "class": kept.seed, "kind": self.kind, "pane": pane, "kernel": live.kernel,
                "start": start, **beside,
                "steps": [{"name": step.name, "title": step.title, "goesOn": step.goes_on, "carry": step.carry}
                          for step in shown.steps]}
        self.show("lesson.html", lesson=shown, seed=seed, pane=pane, as_html=as_html, data=_in_script(data),
                  config=_in_script(self.app.page_config | {"kernelId": live.kernel}), **beside)
        IOLoop.current().call_later(DRAWN_S * 2, self.app.read_ahead, then)


class NotesPage(Page):
    """What to ask, what people say wrongly, what to show: for who presents, not for the screen."""

    @web.authenticated
    def get(self, name: str) -> None:
        """Show it."""
        from .present_text import as_html

        if self.kind != PRESENTER:
            raise web.HTTPError(403, reason="These notes are for who presents.")
        self.show("notes.html", lesson=self.lesson_of(name), as_html=as_html)


class PlanPage(Page):
    """A plan with its times."""

    @web.authenticated
    def get(self, name: str) -> None:
        """Show it."""
        from .present_plan import chosen_plans, forms

        minutes = {path_name: lesson(path).minutes for path_name, path in self.app.paths.items()}
        plan = next((plan for plan in chosen_plans(minutes) if plan.name == name), None)
        if plan is None:
            raise web.HTTPError(404, reason="There is no such plan.")
        self.show("plan.html", plan=plan, tests=forms())


class State(Page):
    """What is remembered, read and written by the pages."""

    @web.authenticated
    def get(self) -> None:
        """The class's number and the lesson that is shown."""
        self.finish({"seed": self.app.kept.seed, "lesson": self.app.kept.lesson})

    @web.authenticated
    def put(self) -> None:
        """Remember what a page says; 'why' tells where it cannot be written down."""
        try:
            news = json.loads(self.request.body)
            if not isinstance(news, dict):
                raise Wrong("no such thing")
            if "seed" in news and self.kind != PRESENTER:
                raise web.HTTPError(403, reason="The class number is set by who presents.")
            self.kept.change(news)
        except NotKept as trouble:
            self.finish({"seed": self.kept.seed, "why": str(trouble)})
            return
        except ValueError as wrong:
            self.set_status(400)
            self.finish({"why": str(wrong) if isinstance(wrong, Wrong) else "not understood"})
            return
        self.finish({"seed": self.kept.seed})


class Alive(Page):
    """Whether a page's kernel is still there: a machine that slept finds it ended, and opens the lesson anew."""

    @web.authenticated
    def get(self, kernel: str) -> None:
        """204 or 404."""
        self.set_status(204 if self.app.room.of_kernel(kernel) else 404)
        self.finish()


class Stays(Page):
    """Voilà's pages end their kernel when they are left; ours stay, so that a lost page finds it again."""

    def check_xsrf_cookie(self) -> None:
        """Nothing is done here, so nothing can be done to anybody."""

    def post(self, kernel: str) -> None:
        """Do nothing."""
        self.set_status(204)
        self.finish()


class Outputs(WebSocketMixin, WebSocketHandler, JupyterHandler):
    """Sends what each cell shows as soon as it does, in the words that Voilà's page understands."""

    async def open(self, kernel: str) -> None:
        """Only for who has come with a token."""
        if await self.identity_provider.get_user(self) is None:  # type: ignore[misc]
            raise web.HTTPError(403)
        super().open()
        self.kernel = kernel

    async def on_message(self, said: str | bytes) -> None:
        """The page is ready for the outputs of its kernel."""
        live = self.settings["present"].room.of_kernel(self.kernel)
        if live is None:
            self.close()
            return
        last = max(live.lesson.code, default=0)
        kept = self.settings["present"].kept.at(live.lesson.name).get("step", "")
        # What the page will show first comes first, where it is there already: the page was lost, or opened again.
        seen = {one.cell for step in live.lesson.steps if step.name == kept for one in step.shown} & set(live.outputs) - {last}
        for place in sorted(seen):
            await self._tell(place, live.outputs[place], last)
        async for place, outputs in live.all_outputs():
            if place not in seen:
                await self._tell(place, outputs, last)
            if place == live.pause:
                IOLoop.current().call_later(DRAWN_S, live.opened.set)

    async def _tell(self, place: int, outputs: list[dict[str, Any]], last: int) -> None:
        await self.write_message(json.dumps({"action": "execution_result", "payload": {
            "output_cell": {"outputs": outputs}, "cell_index": place, "total_cell": last + 1}}))


class Look(web.StaticFileHandler):
    """Our style sheets and scripts."""


class VoilaFiles(MultiStaticFileHandler):
    """Voilà's scripts. A browser keeps them for an hour, so that the next page asks for none of them."""

    def set_extra_headers(self, path: str) -> None:
        """For an hour."""
        self.set_header("Cache-Control", f"private, max-age={KEPT_BY_BROWSERS_S}")


class ExtensionFiles(FileFindHandler):
    """The scripts of the widgets, kept in the same way."""

    def set_headers(self) -> None:
        """For an hour; Jupyter would have each asked for again, though a hash of what is in it stands in its name."""
        super().set_headers()
        self.set_header("Cache-Control", f"private, max-age={KEPT_BY_BROWSERS_S}")


class Present(Voila):
    """Voilà, started with our settings, with pages of ours in place of its own."""

    def initialize(self, argv: Any = None) -> None:
        """Take the settings from the environment, and no configuration of anybody's own Jupyter."""
        told = json.loads(os.environ.pop(SETTINGS))
        self.told = told
        self.config_file_paths: list[str] = []
        self.token, self.ip, self.port, self.port_retries = told["token"], told["host"], told["port"], 0
        self.open_browser, self.root_dir = False, told["home"]
        self.identity_provider_class = Seats
        idle = int(told["idle_s"])
        self.config.MappingKernelManager.cull_idle_timeout = idle
        self.config.MappingKernelManager.cull_interval = max(1, min(60, idle // 2))
        self.config.KernelSpecManager.allowed_kernelspecs = {"python3"}
        if sockets_fit():       # in a folder that Voilà makes; on a port each user of the machine could read what a kernel prints
            self.config.KernelManager.transport = "ipc"
        self.config.Seats.guest_token = told["guest_token"]
        self.log_level = ERROR
        super().initialize([])

    def init_settings(self) -> dict[str, Any]:
        """What all handlers share."""
        settings = dict(super().init_settings())
        folder = self.told["remember"]
        self.kept = Kept(Path(folder) / FILE_NAME if folder else None)
        if self.told.get("seed") is not None:
            try:
                self.kept.change({"seed": self.told["seed"]})
            except NotKept as trouble:
                self.log.error("%s", trouble)
        self.guests: dict[str, Kept] = {}
        self.paths = {path.stem: path for path in shipped_lessons()}
        self.pages = Loader(str(LOOK))
        self.version_of_look = max(int(path.stat().st_mtime) for path in LOOK.iterdir())
        self.room = Room(self.kernel_manager, warm=self.told["warm"], most=self.told["most"], cwd=Path(self.told["home"]))
        settings |= {"present": self, "login_url": "/refused", "websocket_ping_interval": 20}
        return settings

    def init_handlers(self) -> list[Any]:
        """Of Voilà's handlers those that serve widgets and kernels; the pages are ours."""
        theirs = [one for one in super().init_handlers() if one[0].startswith(("/api/kernels/", "/voila/api/themes/"))]
        return [
            (r"/", ContentsPage), (r"/lesson/([A-Za-z0-9_-]+)", LessonPage), (r"/notes/([A-Za-z0-9_-]+)", NotesPage),
            (r"/plan/([a-z0-9-]+)", PlanPage), (r"/present/state", State), (rf"/present/alive/{KERNEL}", Alive),
            (r"/present/look/(.*)", Look, {"path": str(LOOK)}), (r"/refused", Refused),
            (r"/voila/static/(.*)", VoilaFiles, {"paths": self.static_paths, "default_filename": "index.html"}),
            (r"/voila/labextensions/(.*)", ExtensionFiles, {"path": self.labextensions_path}),
            (rf"/voila/execution/{KERNEL}", Outputs), (rf"/voila/api/shutdown/{KERNEL}", Stays), *theirs, (r".*", Nowhere),
        ]

    def lesson_ahead(self, name: str | None) -> Lesson | None:
        """A lesson to be run before anybody opens it; nothing where it cannot be read, which is told when it is opened."""
        with suppress(NoLesson):
            return lesson(self.paths[name]) if name else None
        return None

    def read_ahead(self, name: str | None) -> None:
        """Its texts are HTML by the time that somebody opens it."""
        from .present_text import as_html

        if ahead := self.lesson_ahead(name):
            for step in ahead.steps:
                for one in step.shown:
                    as_html(one.text)

    @cached_property
    def page_config(self) -> dict[str, Any]:
        """What Voilà's script on every page is told."""
        from voila.utils import get_page_config

        config = get_page_config("/", self.app.settings, self.log, self.voila_configuration)
        config["disabledExtensions"] = [*config.get("disabledExtensions", []), "@jupyterlab/mathjax2-extension:plugin",
                                        "@jupyterlab/mathjax-extension:plugin"]
        config["federated_extensions"] = [one for one in config["federated_extensions"] if one["name"] in EXTENSIONS]
        return {**config, "progressiveRendering": "true", "jupyterLabTheme": "light"}

    def listen(self) -> None:
        """Run the lesson that will be shown first as soon as the loop runs, and say that the pages are open."""
        loop = IOLoop.current()
        names = (self.told["lesson"], self.kept.lesson, *self.paths)
        if first := self.lesson_ahead(next(filter(self.paths.__contains__, names), None)):
            loop.add_callback(self.read_ahead, first.name)
            loop.add_callback(self.room.ahead, first, self.kept.seed, self.kept.at(first.name).get("step", ""))
        loop.add_callback(self.room.tend, max(1, min(60, int(self.told["idle_s"]) // 3)))

        def wait_for_the_end() -> None:
            while os.read(0, 1):         # ends when whoever started this ends, however that came about
                pass
            loop.add_callback(loop.stop)

        Thread(target=wait_for_the_end, daemon=True).start()
        loop.add_callback(lambda: print("open", flush=True))
        super().listen()


class Nowhere(Page):
    """An address that leads nowhere."""

    def prepare(self) -> None:  # type: ignore[override]
        """Say so."""
        raise web.HTTPError(404, reason="Nothing stands at this address. The contents page is at /.")


def _in_script(data: object) -> str:
    """JSON that can stand inside a script element, whatever is in it."""
    return json.dumps(data, ensure_ascii=False).replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


if __name__ == "__main__":
    sys.exit(Present.launch_instance([]))
