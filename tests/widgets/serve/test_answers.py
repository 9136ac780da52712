"""The show of answers: a class at once, a flood, strangers, and what is kept."""

import io
import json
import re
import stat
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from tests.widgets.serve.shows import QUESTION, Device, Show, raw
from widgets.command import main
from widgets.serve import answers_start as start
from widgets.serve.answers import Limits, NotNow, Session
from widgets.serve.answers_questions import BadQuestion, from_bank, suits, typed
from widgets.serve.answers_server import LARGEST, ROUTES

TOP = Path(__file__).parents[3]
SOUND = TOP / "tests" / "plants" / "tees-one-boiler.toml"


@pytest.fixture
def show():
    """A show with one question open."""
    with Show() as running:
        running.session.put(QUESTION)
        yield running


def test_forty_phones_answer_at_once_while_one_of_them_floods():
    """Every phone is heard, the flood is held off, and the counts are what the phones said."""
    with Show() as show:
        said: dict[int, int] = {}
        flood: list[int] = []
        slowest: list[float] = []
        over = threading.Event()

        def phone(number: int) -> None:
            device = Device(show, number)
            began = time.monotonic()
            assert device.join()[0] == 200
            slowest.append(time.monotonic() - began)
            joined.wait()
            put.wait()
            status, page = device.ask("GET", "/")
            assert status == 200
            status, page = device.answer(number % 3, page)
            assert status == 200 and "✓ Your answer is" in page
            if number % 2:      # every second one changes its mind
                status, page = device.answer((number + 1) % 3, page)
                assert status == 200
            said[number] = (number + number % 2) % 3

        def flooding() -> None:
            device = Device(show, 200)
            while not over.is_set() or len(flood) < 120:
                flood.append(device.ask("GET", "/")[0])

        joined, put = threading.Barrier(41), threading.Barrier(41)
        phones = [threading.Thread(target=phone, args=(number,)) for number in range(1, 41)]
        hoses = [threading.Thread(target=flooding) for _ in range(3)]
        flooded = time.monotonic()
        for one in (*hoses, *phones):
            one.start()
        joined.wait(60)
        show.session.put(QUESTION)
        put.wait(60)
        for one in phones:
            one.join(60)
        over.set()
        for one in hoses:
            one.join(60)
        burst, per_s = show.session.limits.of_address
        assert sorted(said) == list(range(1, 41))
        assert show.session.now.counts == [sum(choice == n for choice in said.values()) for n in range(3)]
        assert show.session.joined == 40
        assert set(flood) == {200, 429}
        assert flood.count(200) <= burst + per_s * (time.monotonic() - flooded)
        assert show.session.held_off == flood.count(429)
        assert max(slowest) < 20


def test_one_answer_a_device_that_can_be_changed_until_the_question_is_closed(show):
    """Also an answer to a question that has gone by is refused, and says so."""
    device = Device(show)
    _, page = device.join()
    device.answer(0, page)
    status, page = device.answer(2, page)
    assert (status, show.session.now.counts) == (200, [0, 0, 1])
    show.session.go("closed")
    status, told = device.answer(1, page)
    assert status == 409 and "That question is closed." in told
    show.session.put(QUESTION)
    status, told = device.answer(1, page)
    assert status == 409 and show.session.now.counts == [0, 0, 0]


def test_a_learner_sees_the_key_their_own_answer_and_the_mistake_behind_it():
    """From the item of the bank; before the key is shown the page holds none of it."""
    with Show() as show:
        question = from_bank("R7", 5)
        wrong = next(n for n, option in enumerate(question.options) if n != question.right and option.mistake)
        show.session.put(question)
        device = Device(show)
        _, page = device.join()
        _, page = device.answer(wrong, page)
        assert "Often thought" not in page and "✓ Right is" not in page
        show.session.go("closed")
        show.session.go("key")
        _, page = device.ask("GET", "/")
        assert "✓ Right is" in page and "✗ You said" in page and "Often thought: “" in page
        _, projected = Device(show, 2).ask("GET", f"/show?key={show.session.secret}", follow=False)
        instructor = Device(show, 3)
        instructor.ask("GET", f"/show?key={show.session.secret}")
        _, projected = instructor.ask("GET", "/show")
        assert "Often thought: “" in projected and 'value="1"' in projected


def test_codes_are_not_to_be_guessed_and_one_address_holds_few_devices(show):
    """After a few wrong codes nobody gets in from there, not even with the right one; a fifth device neither."""
    guesser = Device(show, 9)
    wrong = "000000" if show.session.code != "000000" else "111111"
    statuses = [guesser.ask("POST", "/", {"code": wrong}) for _ in range(9)]
    assert "That is not the code" in statuses[0][1] and "Too many tries" in statuses[8][1]
    assert "Too many tries" in guesser.join()[1]
    assert [Device(show, 10).join()[0] for _ in range(5)] == [200, 200, 200, 200, 403]
    shared = Session(Limits.shared())
    assert len({shared.join(shared.code, "10.0.0.1") for _ in range(40)}) == 40


def test_only_who_has_the_secret_controls_the_show(show):
    """Without it, with a device's cookie, without the form's token, from another page or another name: nothing happens."""
    session = show.session
    stranger = Device(show, 20)
    assert stranger.ask("GET", "/show")[0] == 403
    assert stranger.ask("GET", "/show?key=" + "x" * 32)[0] == 403
    stranger.join()
    assert stranger.ask("POST", "/show", {"do": "closed", "token": session.token(session.secret)})[0] == 403
    assert json.loads(stranger.ask("GET", "/live")[1]) == {"step": "1-open"}
    assert json.loads(Device(show, 21).ask("GET", "/live")[1]) == {}
    mine = Device(show, 22)
    mine.ask("GET", f"/show?key={session.secret}")
    fields = {"do": "closed", "token": session.token(session.secret)}
    assert mine.ask("POST", "/show", {"do": "closed"})[0] == 403
    assert mine.ask("POST", "/show", fields, Origin="http://example.org")[0] == 403
    assert mine.ask("POST", "/show", fields, Origin="null")[0] == 403
    assert mine.ask("POST", "/show", fields, Sec_Fetch_Site="cross-site")[0] == 403
    assert mine.ask("POST", "/show", fields, Host="rebound.example:80")[0] == 421
    assert session.state == "open"
    assert mine.ask("POST", "/show", fields, Origin=f"http://{show.host}")[0] == 200
    assert session.state == "closed"
    assert session.secret not in mine.ask("GET", "/show")[1]


def test_an_answer_needs_the_token_of_its_own_device(show):
    """Another page cannot answer for a device, and no device for another."""
    one, other = Device(show, 30), Device(show, 31)
    one.join()
    _, page = other.join()
    assert one.answer(0, page)[0] == 403
    assert one.ask("POST", "/", {"choice": "0", "question": "1"})[0] == 403
    assert show.session.now.counts == [0, 0, 0]


def test_hostile_input_is_refused_or_shown_as_text(show):
    """Numbers that are none, pages that are none, heads and bodies too large, bytes that are no text."""
    device = Device(show, 40)
    device.join()
    for choice in ("3", "-1", "1e3", "²", "9" * 400, "0; drop", ""):
        hidden = {"question": "1", "token": show.session.token(device.cookies.partition("=")[2])}
        assert device.ask("POST", "/", {**hidden, "choice": choice})[0] in (409, 429)
    instructor = Device(show, 41)
    status, shown = instructor.instruct("typed", text="<script>alert(1)</script>\x1b[31m", right="1",
                                        option=['"><img src=x onerror=alert(1)>', "b", "", "", "", ""])
    assert status == 200 and "<script>alert" not in shown and "<img src=x" not in shown and "\x1b" not in shown
    assert "&lt;script&gt;" in shown
    learner = device.ask("GET", "/")[1]
    assert "<script>alert" not in learner and "<img src=x" not in learner
    assert instructor.instruct("typed", text="One answer", option=["a"])[0] == 409
    assert instructor.instruct("bank", objective="R7'; --", seed="5")[0] == 409
    assert instructor.instruct("hand", hand=["1", "x"])[0] == 409
    assert instructor.instruct("format the disk")[0] == 409
    assert device.ask("POST", "/", body=b"code=" + b"1" * (LARGEST + 1))[0] in (400, 413)
    assert device.ask("POST", "/", body=b"code=%ff%fe")[0] in (400, 403, 409)
    assert Device(show, 42).ask("GET", "/", Cookie='a="b; =; ;;loopbook_device=%00; $x=[]')[0] == 200
    assert Device(show, 42).ask("GET", "/", Cookie="a=\x01")[0] == 400
    assert b"200 OK" not in raw(show, b"GET / HTTP/1.1\r\nHost: " + b"y" * 2 * LARGEST + b"\r\n\r\n")
    for path in ("/api/kernels", "/../widgets/command.py", "/static/x.js", "/show/", "//", "/lab"):
        assert Device(show, 44).ask("GET", path)[0] == 404
    for method in ("PUT", "DELETE", "OPTIONS", "TRACE"):
        assert Device(show, 45).ask(method, "/")[0] == 405
    assert b"200 OK" not in raw(show, b"\x00\xff\x00 nonsense\r\n\r\n")
    assert Device(show, 46).join()[0] == 200, "and the show goes on"


def test_pages_may_fetch_nothing_and_be_framed_nowhere(show):
    """The policy is in each page's head, and every script and style has its number."""
    import http.client
    wire = http.client.HTTPConnection("127.0.0.1", show.port)
    wire.request("GET", "/")
    answer = wire.getresponse()
    page, policy = answer.read().decode(), answer.getheader("Content-Security-Policy")
    assert policy.startswith("default-src 'none'") and "frame-ancestors 'none'" in policy
    [nonce] = set(re.findall(r"nonce-([\w-]+)'", policy))
    assert re.findall(r"<(?:script|style)[^>]*>", page) == [f'<style nonce="{nonce}">', f'<script nonce="{nonce}">']
    assert answer.getheader("Server") is None and answer.getheader("Cache-Control") == "no-store"
    wire.close()


def test_there_are_three_routes_and_no_way_to_a_kernel():
    """Neither the server nor what makes its questions opens anything of Jupyter."""
    assert [path for path, _ in ROUTES] == ["/", "/show", "/live"]
    code = """
import json, sys
import widgets.serve.answers_start, widgets.serve.answers_server, widgets.serve.study
from widgets.serve.answers_questions import from_bank
from_bank("R7", 5)
kernels = ("jupyter", "ipykernel", "IPython", "ipywidgets", "anywidget", "traitlets", "zmq", "notebook", "nbformat", "nbclient")
print(json.dumps(sorted(m for m in sys.modules if m.partition(".")[0].startswith(kernels))))
"""
    done = subprocess.run([sys.executable, "-c", code], cwd=TOP, capture_output=True, text=True, timeout=120, check=True)
    assert json.loads(done.stdout) == []


def test_hands_in_the_room_are_counted_without_any_device():
    """Where the network lets nobody through, the tally is typed."""
    with Show() as show:
        instructor = Device(show)
        instructor.instruct("typed", text="Which?", option=["A", "B"], right="2")
        status, page = instructor.instruct("hand", hand=["4", "11"])
        assert status == 200 and show.session.now.counts == [4, 11]
        assert "11 · 73 %" in page


def test_nothing_is_kept_unless_the_instructor_says_so(tmp_path):
    """A new file of the instructor's own with questions and counts; nothing in it tells of a device."""
    with pytest.raises(start.NoShow, match="is there already"):
        (tmp_path / "there").write_text("mine")
        start.Keeper(tmp_path / "there")
    assert (tmp_path / "there").read_text() == "mine"
    keeper = start.Keeper(tmp_path / "kept.jsonl")
    with Show(keep=keeper) as show:
        instructor, device = Device(show, 1), Device(show, 2)
        instructor.instruct("typed", text="Which?", option=["A", "B"], right="2")
        _, page = device.join()
        device.answer(1, page)
        instructor.instruct("closed")
        row = json.loads((tmp_path / "kept.jsonl").read_text())
        assert row == {"question": "Which?", "options": ["A", "B"], "counts": [0, 1], "by_hand": [0, 0], "right": 1}
    assert stat.S_IMODE((tmp_path / "kept.jsonl").stat().st_mode) == 0o600


def test_every_button_of_the_instructor_does_what_it_says():
    """Bars hidden and shown, closed and opened again, the key, the next question; each learner is told how theirs stood."""
    with Show(prepared=[typed("And now?", ["Left", "Right"])]) as show:
        instructor, right, silent = (Device(show, n) for n in (1, 2, 3))
        assert instructor.instruct("typed", text="Which?", option=["A", "B"], right="2")[0] == 200
        _, page = right.join()
        silent.join()
        right.answer(1, page)
        assert 'data-step="1-open-hidden"' in instructor.instruct("hide")[1]
        assert 'data-step="1-open"' in instructor.instruct("bars")[1]
        for do, state in (("closed", "closed"), ("open", "open"), ("closed", "closed"), ("key", "key")):
            assert instructor.instruct(do)[0] == 200 and show.session.state == state
        assert "That was your answer." in right.ask("GET", "/")[1] and "You gave no answer." in silent.ask("GET", "/")[1]
        assert "And now?" in instructor.instruct("next")[1] and show.session.state == "open"
        assert "No prepared question is left." in instructor.instruct("next")[1]
        assert "There is no such button." in instructor.instruct("self-destruct")[1]
        assert "Write the question." in instructor.instruct("typed", text=" ", option=["A", "B"])[1]


def test_counts_that_cannot_be_kept_are_told_of_and_kept_once_there_is_room(tmp_path):
    """A disk that is full stops no show."""
    keeper = start.Keeper(tmp_path / "kept.jsonl")
    with open("/dev/full", "wb", buffering=0) as full, Show(keep=keeper) as show:
        mine, keeper.file = keeper.file, io.TextIOWrapper(full, write_through=True)
        instructor = Device(show)
        status, page = instructor.instruct("typed", text="Which?", option=["A", "B"])
        assert status == 409 and "kept.jsonl: no space left on device; make room there." in page
        assert show.session.state == "open"
        keeper.file = mine
        assert instructor.instruct("closed")[0] == 200
        assert json.loads((tmp_path / "kept.jsonl").read_text())["question"] == "Which?"


def test_the_address_is_the_instructors_choice():
    """Only one of this machine's; without a terminal and a choice it is this machine alone, and that is said."""
    said: list[str] = []
    assert start.choose("127.0.0.1", None, said.append) == "127.0.0.1"
    assert start.choose(None, None, said.append) == "127.0.0.1"
    known = [address for address, _ in start.addresses()]
    asked = iter(["0", "x", "1"])
    assert start.choose(None, lambda _: next(asked), said.append) == known[0]
    assert all(any(address in line for line in said) for address in known)
    for wrong in ("0.0.0.0", "203.0.113.99", "localhost", "::"):
        with pytest.raises(start.NoShow):
            start.choose(wrong, None, said.append)


@pytest.mark.parametrize("words, says", [
    (["--objective", "R99"], "no objective"),
    (["--text", "Which?", "--option", "A"], "2 to 6 answers"),
    (["--text", "Which?", "--option", "A", "--option", "B", "--right", "3"], "marked as right"),
    (["--address", "203.0.113.99"], "none of this machine's"),
    (["--plant", "nowhere.toml"], "nowhere.toml"),
    (["--plant", str(SOUND), "--objective", "F3"], "tees-one-boiler.toml: the bank has no such question about this plant; leave"),
    (["--keep", str(TOP)], "is there already; name a new file"),
    (["--keep", str(TOP / "none" / "kept.jsonl")], "no such file or directory"),
])
def test_a_show_that_cannot_start_says_why(words, says, capsys):
    """One line, exit 2, and no server."""
    assert main(["answers", "--no-browser", *words]) == 2
    printed = capsys.readouterr()
    assert says in printed.err and printed.err.count("\n") == 1


def test_a_port_that_is_taken_is_told_with_what_to_do(capsys):
    """One line; no port is tried but the one asked for."""
    with start.bind("127.0.0.1", 0) as other:
        port = other.getsockname()[1]
        assert main(["answers", "--no-browser", "--port", str(port)]) == 2
    assert f"127.0.0.1: no port from {port} to {port} can be used (address already in use); name another with --port" \
        in capsys.readouterr().err


@pytest.mark.parametrize("objective", ["R1", "R7", "C1", "F3", "J4", "P2"])
def test_questions_of_the_bank_can_be_put(objective):
    """For any number there is one with two to six answers, one of them right; about a plant it comes with its drawing."""
    for seed in (1, 17, 400):
        question = from_bank(objective, seed)
        assert 2 <= len(question.options) <= 6 and question.right is not None and question.because
        assert question == from_bank(objective, seed)
        assert bool(question.drawing) == bool(question.words)


def test_an_instructors_own_plant_is_asked_about():
    """What the bank can ask of it, by objective."""
    from figures import Scheme
    from widgets.learn.bank import make_item
    from widgets.serve.answers_questions import about_plant
    asked = list(about_plant(Scheme.random(11).plant()))
    assert len(asked) > 10 and all(one.right is not None for one in asked)
    with pytest.raises(BadQuestion, match="same"):
        typed("Which?", ["A", " A "])
    assert not suits(make_item("R7", "drawings", 1, 1))


def test_a_session_refuses_what_is_out_of_turn():
    """Before the first question there is nothing to close; a key that was shown cannot be unseen."""
    session = Session()
    for do in (lambda: session.go("closed"), lambda: session.by_hand([1])):
        with pytest.raises(NotNow, match="no question yet"):
            do()
    session.put(typed("Which?", ["A", "B"]))
    with pytest.raises(NotNow, match="no key"):
        session.go("key")
    session.put(QUESTION)
    session.go("key")
    with pytest.raises(NotNow, match="cannot be opened again"):
        session.go("open")
