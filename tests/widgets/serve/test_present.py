"""`present`: how a lesson is cut into steps, what is remembered, who may do what, and the clear lines it gives up with."""

import asyncio
import errno
import json
import os
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
import websocket

from widgets.learn.lessons import shipped_lessons
from widgets.serve import present as p
from widgets.serve import present_room
from widgets.serve.present_kept import Kept, NotKept, Wrong
from widgets.serve.present_plan import chosen_plans, forms
from widgets.serve.present_room import Live, Room, RoomFull
from widgets.serve.present_steps import MOST_TEXT, PROOF, Lesson, NoLesson, lesson
from widgets.serve.present_text import as_html

LESSONS = shipped_lessons()
every_lesson = pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)


def book(*cells: str) -> dict[str, Any]:
    """A notebook of text cells (a line that begins with '# ' or '.') and code cells."""
    made = []
    for at, source in enumerate(cells):
        kind = "markdown" if source.startswith(("#", ".")) else "code"
        made.append({"cell_type": kind, "id": f"cell-{at}", "source": source.lstrip("."), "metadata": {}})
    return {"cells": made, "metadata": {"loopbook": {"title": "T", "minutes": 5}}}


def cut(place: Path, *cells: str) -> Lesson:
    """These cells as a lesson."""
    path = place / "lesson.ipynb"
    path.write_text(json.dumps(book(*cells)), "utf-8")
    return lesson(path)


# -- steps -------------------------------------------------------------------------------------------------


@every_lesson
def test_every_lesson_is_shown_whole_and_in_order(path: Path) -> None:
    """Each cell that shows something stands on one step, in the order of the notebook; proofs and notes on none."""
    shown = lesson(path)
    cells = json.loads(path.read_text("utf-8"))["cells"]
    order = [one.cell for step in shown.steps for one in step.shown]
    assert order == sorted(order)
    drawn = [one.cell for step in shown.steps for one in step.shown if one.role != "text"]
    assert len(drawn) == len(set(drawn)) and set(drawn) <= set(shown.code)
    assert not any(PROOF in cells[place]["metadata"].get("tags", []) for place in shown.code)
    text = " ".join(one.text for step in shown.steps for one in step.shown)
    assert "For the instructor" not in text and "Ask:" in shown.notes and "<details" not in shown.notes
    assert shown.able_to and shown.minutes and len({step.name for step in shown.steps}) == len(shown.steps) > 8


@every_lesson
def test_a_step_fits_a_screen_and_gives_no_answer_away(path: Path) -> None:
    """One thing to look at, little text beside it, and a sentence about what is to be seen waits until it is asked for."""
    for step in lesson(path).steps[1:]:
        roles = [one.role for one in step.shown]
        assert sum(role in ("drawing", "show", "task", "card") for role in roles) <= 1, step.name
        assert roles.count("question") <= 1, step.name
        assert all(one.held for one in step.shown if one.role == "said"), step.name
        assert step.letters <= MOST_TEXT or sum(one.role == "text" for one in step.shown) == 1, step.name
        assert step.title, step.name


def test_a_question_takes_along_the_drawing_of_its_own_plant_and_of_no_other(tmp_path: Path) -> None:
    """Followed through names, and forgotten when a name is given to another plant."""
    shown = cut(tmp_path, "# T", "one = made(1)\nlook_at(one)", "# A", "predict('Which?', a, b, because=str(says(one, 'x')))",
                "# B", "one = made(2)\npredict('Which?', read(one).dhw)", "# C", "says(made(1), 'The first again.')",
                "# D", "two = made(3)\nlook_at(two)\n", "says(two, 'Here.')", "# E", "says(three, 'Never drawn.')")
    assert [step.carry for step in shown.steps] == [None, 1, None, 1, None, None]
    assert [[one.role for one in side] for side in shown.steps[1].sides] == [["carried"], ["text", "question"]]


def test_figures_of_another_moment_are_not_taken_along(tmp_path: Path) -> None:
    """A plain drawing of the plant goes before one that was turned and lit up since."""
    shown = cut(tmp_path, "# T", "look_at(plant)", "# A", "explore(plant)", "# B", "tells(plant, 'So many.')")
    assert shown.steps[2].carry == 1


def test_what_no_name_is_known_for_is_shown_at_once(tmp_path: Path) -> None:
    """A widget of tomorrow is something to look at; an assignment alone shows nothing."""
    shown = cut(tmp_path, "# T", "seed = 1", "new_thing(seed)", ".Then text.", "table = x()\ntable", "your_workbook()")
    assert [[one.role for one in step.shown] for step in shown.steps] == [["text", "show"], ["text", "show"]]
    assert list(shown.code) == [1, 2, 4, 5]


def test_what_is_run_before_a_page_opens_is_its_first_drawing_or_that_of_the_step_it_was_left_at(tmp_path: Path) -> None:
    """Cell 3 of the whole; a step of text alone leads to the next that shows something; a step after the last shows nothing."""
    made = cut(tmp_path, "# One", "x = 1", ".text", "look_at(x)", "# Two", ".text", "# Three", "predict('?')", "# Four", ".text")
    assert made.first_shown() == made.first_shown("no such step") == 3
    assert [made.first_shown(step.name) for step in made.steps] == [3, 7, 7, None]


def test_long_text_goes_on_on_the_next_step(tmp_path: Path) -> None:
    """Cut between paragraphs, under the same title."""
    shown = cut(tmp_path, "# T", "# Long\n" + "\n\n".join(["word " * 60] * 5))
    assert [(step.title, step.goes_on) for step in shown.steps] == [("T", False), ("Long", False), ("Long", True), ("Long", True)]


def test_a_notebook_that_is_none_is_told_in_one_line(tmp_path: Path) -> None:
    """Which, and how to mend."""
    (tmp_path / "bad.ipynb").write_text("{}", "utf-8")
    with pytest.raises(NoLesson, match=r"bad\.ipynb: this is no notebook; install"):
        lesson(tmp_path / "bad.ipynb")


def test_marks_of_html_in_text_are_shown_and_not_obeyed() -> None:
    """A lesson from elsewhere cannot run anything on the page."""
    html = as_html("A <script>x</script> [go](javascript:x) **b**")
    assert "<script" not in html and 'href="javascript' not in html and "<strong>b</strong>" in html


# -- what is remembered --------------------------------------------------------------------------------------


def test_seed_step_and_lines_are_found_again(tmp_path: Path) -> None:
    """By another browser, another day, in a folder with spaces and umlauts."""
    path = tmp_path / "Schüler Übung" / "present.json"
    ink = {"guess": [{"c": 1, "t": 0, "p": [0.1, 0.2]}]}
    Kept(path).change({"seed": 42, "lesson": "01-start-here", "at": {"step": "guess", "shown": 2}, "ink": ink})
    again = Kept(path)
    assert (again.seed, again.lesson) == (42, "01-start-here")
    assert again.page("01-start-here")["at"] == {"step": "guess", "shown": 2} and again.page("01-start-here")["ink"] == ink
    path.write_text("{", "utf-8")
    assert Kept(path).seed == 1


@pytest.mark.parametrize("news", [
    {"seed": -1}, {"seed": True}, {"seed": "1; import os"}, {"seed": 1_000_000}, {"lesson": "../../etc/passwd"},
    {"lesson": "a", "at": {"step": 5}}, {"lesson": "a", "ink": {"x": "y" * 500_000}},
])
def test_what_makes_no_sense_is_not_remembered(news: dict[str, Any]) -> None:
    """Nothing of it is taken over."""
    kept = Kept(None)
    before = json.dumps(kept.data)
    with pytest.raises(Wrong):
        kept.change(news)
    assert json.dumps(kept.data) == before


def test_a_full_disk_leaves_the_old_memory_whole_and_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """And the class goes on: what cannot be written holds while the server runs."""
    path = tmp_path / "present.json"
    Kept(path).change({"seed": 3})
    kept = Kept(path)

    def full(self: Path, text: str, **_: Any) -> None:
        open(self, "w").close()
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(Path, "write_text", full)
    with pytest.raises(NotKept, match=r"present\.json: no space left on device; .*until `loopbook present` ends"):
        kept.change({"seed": 4})
    monkeypatch.undo()
    assert kept.seed == 4 and Kept(path).seed == 3
    assert [one.name for one in tmp_path.iterdir()] == ["present.json"]


# -- plans ---------------------------------------------------------------------------------------------------


def test_the_plans_fit_their_time_and_the_lessons() -> None:
    """90 minutes and a day, tests included, from the lessons' own minutes and under their own titles."""
    lessons = {path.stem: lesson(path) for path in LESSONS}
    short, day = chosen_plans({name: one.minutes for name, one in lessons.items()})
    assert short.minutes <= 90 and day.minutes <= 390
    for plan in (short, day):
        at = 0
        for block in plan.blocks:
            assert block.begins == at and 0 < block.minutes <= (block.of or 60)
            assert not block.lesson or block.what == lessons[block.lesson].title
            at += block.minutes
        assert [block.what for block in plan.blocks if "Test" in block.what] == ["Test before", "Test after"]


def test_the_forms_before_and_after_share_no_plant_and_are_not_the_same() -> None:
    """Two seeds of the bank, each always the same."""
    from widgets.learn.bank import paper_items

    before, after = ([*paper_items(seed, 4)] for seed in (901, 902))
    assert [one.command.split()[3] for one in forms()] == ["901", "902"]
    assert [(one.text, one.key) for one in before] == [(one.text, one.key) for one in paper_items(901, 4)]
    assert not {str(one.plant) for one in before if one.plant} & {str(one.plant) for one in after if one.plant}


# -- kernels of a room ------------------------------------------------------------------------------------------


class Kernels(dict[str, None]):
    """Kernels that only have names."""

    def __init__(self, *names: str) -> None:
        super().__init__(dict.fromkeys(names))
        self._kernel_connections = dict.fromkeys(names, 0)

    async def shutdown_kernel(self, name: str, now: bool = False) -> None:
        del self[name]


def test_the_kernel_seen_longest_ago_ends_first_and_a_watched_one_never() -> None:
    """One browser holds three; where all that fit are watched, who comes is told."""
    kernels = Kernels("a", "b", "c")
    room = Room(kernels, warm=0, most=3, cwd=Path())
    some = lesson(LESSONS[0])

    async def run() -> None:
        room.lives = [Live(name, some, n, "me", seen=n) for n, name in enumerate("abc")]
        await room._make_room("me")
        assert sorted(kernels) == ["b", "c"]
        room.lives = [Live(name, some, 1, name, seen=1.0) for name in "bc"]
        room.most = 2
        kernels._kernel_connections.update(b=1, c=1)
        with pytest.raises(RoomFull, match="2 lessons are open"):
            await room._make_room("you")
        kernels._kernel_connections["b"] = 0
        await room._make_room("you")
        assert sorted(kernels) == ["c"]

    asyncio.run(run())


def test_a_lesson_run_ahead_is_the_first_comers_and_makes_way(monkeypatch: pytest.MonkeyPatch) -> None:
    """Who opens it has it at once, the next is run; nobody's ends first; two at most wait; nothing counts as idle meanwhile."""
    kernels, first, second, third = Kernels(), *(lesson(path) for path in LESSONS[:3])
    touched: list[str] = []
    room = Room(kernels, warm=1, most=4, cwd=Path())
    begun: list[tuple[str, int]] = []

    async def begin(who: str, what: Any, seed: int, _step: str) -> Live:
        begun.append((what.name, seed))
        await asyncio.sleep(0)
        live = Live(f"k{len(begun)}", what, seed, who)
        kernels[live.kernel] = None
        kernels._kernel_connections[live.kernel] = 0
        room.lives.append(live)
        return live

    async def run() -> None:
        await room.ahead(first, 7)
        mine = await room.live("me", first, 7, then=second)              # waits for the one that is being begun
        assert (mine.kernel, mine.who, begun) == ("k1", "me", [(first.name, 7)])
        assert (await room.live("you", first, 7)).kernel == "k2", "what is mine is not yours"
        await asyncio.sleep(0.05)
        assert begun[-1] == (second.name, 7), "the next lesson, with the class's number"
        await room.ahead(third, 7)
        await room.ahead(third, 7)
        await asyncio.sleep(0.01)
        assert [live.lesson.name for live in room.lives if not live.who] == [second.name, third.name]
        await room.live("they", first, 8)
        assert second.name not in {live.lesson.name for live in room.lives}, "nobody's make way for who comes"
        kernels._kernel_connections["k1"] = 1
        tending = asyncio.create_task(room.tend(0.01))
        await asyncio.sleep(0.05)
        tending.cancel()
        assert set(touched) >= {"k4"}

    monkeypatch.setattr(room, "_begin", begin)
    monkeypatch.setattr(room, "fill", lambda: None)
    monkeypatch.setattr(room, "_touch", touched.append)
    monkeypatch.setattr(present_room, "CALM_S", 0.01)
    asyncio.run(run())


# -- clear lines -----------------------------------------------------------------------------------------------


def test_an_unknown_lesson_names_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    """Exit 2, one line, before anything is started."""
    assert p.present("wich-configuration", browser=False) == 2
    assert capsys.readouterr().err == ("loopbook present: 'wich-configuration' names no lesson; did you mean "
                                       "'12-which-configuration'?\n")


def test_a_port_in_use_and_a_host_of_another_machine_are_said_in_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    """Exit 2, and the mend."""
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        assert p.present(None, browser=False, port=port) == 2
    says = f"loopbook present: port {port}: another program uses it; leave --port out, and a free one is found\n"
    assert capsys.readouterr().err == says
    assert p.present(None, browser=False, host="192.0.2.7") == 2
    assert "is none of this machine's addresses" in capsys.readouterr().err


# -- the server ------------------------------------------------------------------------------------------------


class Served:
    """The server as its own process, in a folder with a space and an umlaut, without a UTF-8 locale."""

    def __init__(self, home: Path) -> None:
        os.environ["LOOPBOOK_DATA"] = str(home)
        before = {name: os.environ.get(name) for name in ("LC_ALL", "PYTHONUTF8")}
        os.environ["LC_ALL"] = "C"
        try:
            self.process, self.port, self.tokens = p.start(None, "127.0.0.1", seed=5, idle_s=4, warm=1)
        finally:
            for name, value in before.items():
                if value is None:
                    os.environ.pop(name, None)
                else:
                    os.environ[name] = value

    def ask(self, path: str, token: str = "", body: dict[str, Any] | None = None) -> Any:
        headers = {"Authorization": f"token {token}"} if token else {}
        request = urllib.request.Request(f"http://127.0.0.1:{self.port}{path}", headers=headers, method="PUT" if body else "GET",
                                         data=json.dumps(body).encode() if body else None)
        with urllib.request.build_opener(urllib.request.ProxyHandler({})).open(request, timeout=30) as answer:
            return answer.read().decode()

    def refused(self, path: str, token: str = "", body: dict[str, Any] | None = None) -> tuple[int, str]:
        try:
            self.ask(path, token, body)
        except urllib.error.HTTPError as error:
            return error.code, error.read().decode()
        raise AssertionError(f"{path} was given")


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    before = os.environ.get("LOOPBOOK_DATA")
    one = Served(tmp_path_factory.mktemp("dätä of mine"))
    yield one
    p._stop(one.process)
    if before is None:
        del os.environ["LOOPBOOK_DATA"]
    else:
        os.environ["LOOPBOOK_DATA"] = before


def test_nobody_without_a_token_sees_anything(served: Served) -> None:
    """Pages, memory and kernels; who has no token is told which address to take."""
    for path in ("/", "/lesson/01-start-here", "/notes/01-start-here", "/present/state"):
        code, page = served.refused(path, "wrong")
        assert code == 403 and "needs the whole address" in page
    with pytest.raises(websocket.WebSocketBadStatusException, match="403"):
        websocket.create_connection(f"ws://127.0.0.1:{served.port}/api/kernels/1-2-3-4-5/channels", timeout=10)


def test_the_room_reads_and_does_not_lead(served: Served) -> None:
    """Tablets see the lessons and the class's number; notes and the number itself are for who presents."""
    mine, room = served.tokens
    assert "Start here" in served.ask("/", room) and "notes for who teaches it" not in served.ask("/", room)
    assert served.refused("/notes/01-start-here", room)[0] == 403
    assert served.refused("/present/state", room, {"seed": 9})[0] == 403
    assert json.loads(served.ask("/present/state", room))["seed"] == 5
    assert "Usual wrong answers" in served.ask("/notes/01-start-here", mine)
    assert json.loads(served.ask("/present/state", mine, {"seed": 9})) == {"seed": 9}
    assert served.refused("/present/state", mine, {"seed": "x"})[0] == 400
    assert json.loads((Path(os.environ["LOOPBOOK_DATA"]) / "present.json").read_text("utf-8"))["seed"] == 9


def test_an_address_that_leads_nowhere_says_so(served: Served) -> None:
    """A page of ours, and nothing of what was asked for in it."""
    code, page = served.refused("/lesson/no-such", served.tokens[0])
    assert code == 404 and "There is no such lesson" in page
    code, page = served.refused("/<script>", served.tokens[0])
    assert code == 404 and "<script>" not in page
    assert served.refused("/present/look/../present_kept.py", served.tokens[0])[0] in (403, 404)


def test_a_page_talks_to_widgets_only_and_idle_kernels_end(served: Served) -> None:
    """The outputs come; a page cannot run code; four seconds after the last page is gone the kernel is, too."""
    token = served.tokens[0]
    page = served.ask("/lesson/01-start-here?seed=7", token)
    assert "https://" not in page and "look_at(" not in page
    kernel = json.loads(page.partition('id="present-data" type="application/json">')[2].partition("</script>")[0])["kernel"]
    at = f"ws://127.0.0.1:{served.port}"
    line = websocket.create_connection(f"{at}/voila/execution/{kernel}?token={token}", timeout=60)
    line.send(json.dumps({"action": "execute", "payload": {"kernel_id": kernel}}))
    told: list[Any] = []
    while not told or told[-1]["cell_index"] + 1 < told[-1]["total_cell"]:
        told.append(json.loads(line.recv())["payload"])
    line.close()
    kinds = {kind for one in told for output in one["output_cell"]["outputs"] for kind in output["data"]}
    assert "application/vnd.jupyter.widget-view+json" in kinds and "text/markdown" in kinds
    assert not any("could not be shown" in json.dumps(one) for one in told)

    line = websocket.create_connection(f"{at}/api/kernels/{kernel}/channels?token={token}", timeout=2)
    mark = Path(os.environ["LOOPBOOK_DATA"]) / "ran"
    code = {"code": f"open({str(mark)!r}, 'w').close()", "silent": False, "store_history": False, "user_expressions": {},
            "allow_stdin": False}
    line.send(json.dumps({"header": {"msg_id": "1", "msg_type": "execute_request", "username": "", "version": "5.3",
                                     "session": "s", "date": "2027-01-01T00:00:00Z"},
                          "parent_header": {}, "metadata": {}, "channel": "shell", "content": code}))
    time.sleep(0.5)
    line.close()
    assert not mark.exists()
    until = time.monotonic() + 40
    while time.monotonic() < until:
        try:
            served.ask(f"/present/alive/{kernel}", token)
        except urllib.error.HTTPError as error:
            assert error.code == 404
            break
        time.sleep(0.3)
    else:
        raise AssertionError("an idle kernel stayed")


def test_what_a_kernel_prints_passes_no_port(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Every user of the machine could listen there: the sockets lie in a folder that only the presenter can enter."""
    monkeypatch.setenv("LOOPBOOK_DATA", str(tmp_path))
    with TemporaryDirectory() as place:                                       # a path of pytest's would be too long for a socket
        monkeypatch.setenv("TMPDIR", place)
        server, port, (token, _) = p.start(None, "127.0.0.1", warm=0)
        request = urllib.request.Request(f"http://127.0.0.1:{port}/lesson/01-start-here?token={token}")
        urllib.request.build_opener(urllib.request.ProxyHandler({})).open(request, timeout=60).close()
        found = list(Path(place).rglob("kernel-*.json"))
        assert [json.loads(path.read_text("utf-8"))["transport"] for path in found] == ["ipc"]
        assert found[0].parent.stat().st_mode & 0o777 == 0o700
        p._stop(server)
        assert not list(Path(place).rglob("kernel-*")), "they go with the server"


def test_the_server_ends_with_whoever_started_it(served: Served) -> None:
    """Also where that one is killed: its end of the pipe closes."""
    assert served.process.stdin is not None
    served.process.stdin.close()
    assert served.process.wait(20) == 0


def test_a_home_that_cannot_be_written_is_told_and_taught_from_all_the_same(tmp_path: Path) -> None:
    """What is remembered then holds until the end; said before the page opens."""
    (tmp_path / "file").write_text("", "utf-8")
    code = ("import sys; from widgets.serve import present as p; s, port, t = p.start(None, '127.0.0.1', idle_s=5, warm=0); "
            "p._stop(s); print('up')")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=90,
                          env=os.environ | {"LOOPBOOK_DATA": str(tmp_path / "file" / "in it")})
    assert done.stdout == "up\n", done.stderr
    assert "the step and the class number hold until this ends" in done.stderr
