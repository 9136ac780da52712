"""The words of the commands that a spoilt file goes through, and the pages that a function makes of it."""

from __future__ import annotations

import os
import random
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from zlib import crc32

from tests.bench.spoil import FIT, HOSTILE

TOP = Path(__file__).parents[2]
SAMPLES = sorted((TOP / "tests" / "plants").glob("*.toml"))
SMALL = sorted(SAMPLES, key=lambda path: path.stat().st_size)[:8]
CALLS = ("heat", "dhw", "both")
CONFIGURATIONS = ("heating only", "DHW on the system loop", "DHW on the boiler loop")
KEYS = ("arrangement", "separations", "loops", "dhw", "control", "dhw_priority", "boilers", "lead", "return")
LAYERS = ("tags", "tints", "figures", "temperatures", "evidence", "findings")
NAMES = ("=1+1.toml", "<x-bad onload=a()>.toml", "a\nb.toml", "\u202egnp.toml", "\x1b[31m.toml", "\udcff.toml", "..toml",
         " .toml", "'\"&.toml", "%s{0}.toml", "no ending", "x" * 240 + ".toml", "-.toml", "a;=1+1.toml", "#let x.toml")
FEW = 3
"""Questions of a blueprint that is printed; of a longer one it is read, and the paper refused because it is there already."""


@dataclass(frozen=True)
class Call:
    """A command. stdin: what it is given there.  act: a function in place of the command line, which then only names it.
    patience: how often two seconds it may take, for what prints papers.  plain: typesetting is left out."""

    words: tuple[str, ...]
    stdin: bytes = b""
    act: Callable[[], int] | None = None
    patience: float = 1.0
    typeset: bool = True


def calls(kind: str, chance: random.Random, given: Path, out: Path, data: bytes) -> list[Call]:
    """What a spoilt file of a kind goes through. given: the folder it stands in.  out: where files may be written."""
    return {"plant": _plant, "labels": _labels, "blueprint": _blueprint, "record": _record, "answers": _answers}[kind](
        chance, given, out, data)


def _plant(chance: random.Random, given: Path, out: Path, data: bytes) -> list[Call]:
    file, tags = _named(given / "plant.toml", data), _tags(data)

    def tag() -> str:
        return chance.choice(tags) if tags and chance.random() < 0.95 else _word(chance)[:60]

    def flags(*names: str) -> list[str]:
        return [word for name in names for word in (name, tag())]

    units = ("--units", chance.choice(("si", "us")))
    call = ("--as", chance.choice(CONFIGURATIONS), "--call", chance.choice(CALLS), *(("--priority",) * chance.randrange(2)),
            *(("--boilers", str(chance.choice((1, 2, 9)))) if chance.random() < 0.2 else ()),
            *(("--arrangement", chance.choice(("single loop", "separated loops"))) if chance.random() < 0.2 else ()))
    off = flags(*chance.sample(("--off", "--shut", "--divert", "--idle"), chance.randrange(3)))
    setting = [f"{name}={tag()}={chance.choice(('0', '0.01', '0.5', '1', '2', '-1', '1e9', 'nan'))}"
               for name in chance.sample(("--speed", "--position", "--load"), chance.randrange(2))]
    look = ("--size", chance.choice(("screen", "projector", "phone", "a4", "letter")),
            "--ink", chance.choice(("colour", "black")), "--hide", chance.choice(LAYERS), "--evidence", chance.choice(KEYS),
            *flags("--highlight"))
    every: list[tuple[float, Call]] = [
        (3, Call(("read", str(file), "--json"))), (2, Call(("read", str(file), *units))),
        (0.7, Call(("read", "-", "--json"), data)),
        (0.5, Call(("read", str(chance.choice(SMALL)), str(file), str(given), f"{given}/none", "--json"))),
        (2, Call(("draw", str(file), "--out", f"{out}/d.svg", "--findings"))),
        (1, Call(("draw", str(file), "--out", f"{out}/b.svg", "--blank", "--missing"))),
        (1.5, Call(("draw", str(file), "--out", f"{out}/v.svg", "--json", *look))), (0.7, Call(("draw", str(file)))),
        (0.08, Call(("draw", str(file), "--out", f"{out}/d.{chance.choice(('png', 'pdf'))}", *look))),
        (0.3, Call(("draw", str(file), str(chance.choice(SMALL)), str(file), "--out", f"{out}/"))),
        (2, Call(("solve", str(file), "--json"))), (2, Call(("solve", str(file), *units, *off, *setting))),
        (0.5, Call(("solve", str(file), "--json", "--water-c", chance.choice(("-5", "0", "4", "95", "150", "1e9"))))),
        (2, Call(("operate", str(file), *call, "--json"))), (2, Call(("operate", str(file), *call, *units))),
        (1.5, Call(("sheet", str(file), "--out", f"{out}/s.html", *units))), (0.7, Call(("sheet", str(file), *units))),
        (0.4, Call(("sheet", str(file), "--out", f"{out}/s.txt"))), (0.7, Call(("sheet", str(file), "--json"))),
        (0.08, Call(("sheet", str(file), "--out", f"{out}/s.pdf", "--paper", chance.choice(("a4", "letter"))))),
        (0.5, Call(("paper", "--plant", str(file), "--json", "--questions", "4"))),
        (0.4, Call(("paper", "--plant", str(file), "--questions", "60"))),
        (0.03, Call(("paper", "--plant", str(file), "--questions", "2", "--out", f"{out}/p"), patience=3)),
        (0.03, Call(("answers", "--plant", str(file), "--address", "192.0.2.1", "--no-browser"))),
        (0.5, Call(("answers pages", str(file)), act=lambda: show_pages(file, out))),
        (0.5, Call(("lesson pages", str(file)), act=lambda: lesson_pages(file, out))),
    ]
    chosen = chance.choices([call for _, call in every], [weight for weight, _ in every], k=chance.choice((1, 1, 1, 2)))
    return chosen[:1] if chosen[0] is chosen[-1] else chosen


def _named(file: Path, data: bytes) -> Path:
    """One file in twenty once more, under a name that a page, a table or a terminal would stumble over."""
    name, rest = divmod(crc32(data), 20)
    if rest:
        return file
    copy = file.with_name(NAMES[name % len(NAMES)])
    copy.write_bytes(data)
    return copy


def _word(chance: random.Random) -> str:
    """A word as it may stand on a command line, which holds no NUL."""
    return chance.choice(("", *FIT, *HOSTILE)).replace("\0", "")


def _tags(data: bytes) -> list[str]:
    return [line[7:-1].decode("utf-8", "replace").replace("\0", "") for line in data.split(b"\n") if line.startswith(b"[parts.")]


def _labels(chance: random.Random, given: Path, out: Path, data: bytes) -> list[Call]:
    flag, plant = ("--labels", str(given / "labels.toml")), str(chance.choice(SMALL))
    every = [(4, Call(("sheet", plant, *flag, "--out", f"{out}/l.html"))),
             (4, Call(("draw", plant, *flag, "--out", f"{out}/l.svg"))),
             (2, Call(("sheet", plant, *flag))), (1, Call(("sheet", plant, *flag, "--json"))), (1, Call(("draw", plant, *flag))),
             (0.2, Call(("sheet", plant, *flag, "--out", f"{out}/l.pdf"))),
             (0.2, Call(("draw", plant, *flag, "--out", f"{out}/l.pdf"))),
             (1, Call(("lesson labels", *flag), act=lambda: lesson_labels(given / "labels.toml", out)))]
    return [chance.choices([call for _, call in every], [weight for weight, _ in every])[0]]


def _blueprint(chance: random.Random, given: Path, out: Path, data: bytes) -> list[Call]:
    from widgets.learn.exam_form import read_blueprint

    words = ("paper", "--blueprint", str(given / "blueprint.toml"), "--copies", "1", "--seed", str(chance.getrandbits(31)),
             "--out")
    try:
        count = len(read_blueprint(given / "blueprint.toml").slots())
    except Exception:       # the command has to put it into words
        return [Call((*words, f"{out}/p"))]
    if count <= FEW and chance.random() < 0.06:
        return [Call((*words, f"{out}/p"), patience=1.0 + count)]
    (out / "full" / "key").mkdir(parents=True, exist_ok=True)
    (out / "full" / "key" / "key.json").write_text("{}")
    return [Call((*words, f"{out}/full"))]


def _record(chance: random.Random, given: Path, out: Path, data: bytes) -> list[Call]:
    folder = ("--folder", str(given), *(("--learner", chance.choice((_word(chance), "Kim"))) if chance.random() < 0.3 else ()))
    form = chance.choice(("csv", "jsonl"))
    new = ("--out", f"{out}/r.{form}")
    everyone = ("--everyone",) * chance.randrange(2)
    every = [(3, Call(("record", "show", *folder))),
             (2, Call(("record", "export", *folder, *new, "--format", form, *everyone))),
             (2, Call(("record", "export", *folder, "--format", form, *everyone))),
             (1, Call(("record", "back-up", *folder, "--out", chance.choice((f"{out}/copy.db", str(out)))))),
             (1, Call(("record", "forget", *folder, "--yes"))),
             (1, Call(("progress page", str(given)), act=lambda: progress_page(given, out)))]
    chosen = chance.choices([call for _, call in every], [weight for weight, _ in every], k=chance.choice((1, 2)))
    return chosen if len(chosen) == 1 or chosen[0] is not chosen[1] else chosen[:1]


def _answers(chance: random.Random, given: Path, out: Path, data: bytes) -> list[Call]:
    typeset = chance.random() < 0.05
    key, size = ("--key", str(given / "key" / "key.json")), ("--size", chance.choice(("a4", "letter")))
    forms = sorted(path for path in (given / "answers").rglob("*") if not path.is_symlink())     # who names a link means it
    one = chance.choice(forms) if forms else given
    words = chance.choice((
        ("mark", str(given), "--out", str(out), "--force", *size), ("mark", str(given / "answers"), "--out", str(out), "--force"),
        ("mark", str(given / "answers"), *key, "--out", str(out / "r")), ("mark", str(one), *key, "--out", str(out)),
        ("mark", str(given), "--force")))
    return [Call(words, typeset=typeset)]


# -- pages that no command writes ---------------------------------------------------------------------------

def show_pages(file: Path, out: Path) -> int:
    """The pages of a show of answers about a plant: the learner's and the projector's, open and with the key."""
    from figures.plant import BadPlant, read_plant
    from widgets.learn.bank.given import questions_about
    from widgets.serve.answers import Session
    from widgets.serve.answers_pages import Way, learner_page, show_page
    from widgets.serve.answers_questions import of_item, suits

    try:
        items = [item for item in questions_about(read_plant(file), 1) if suits(item)]
    except BadPlant:
        return 2
    if not items:
        return 0
    question = of_item(items[os.stat(file).st_size % len(items)])
    session = Session()
    device = session.join(session.code, "192.0.2.7")
    session.put(question)
    session.answer(device, 1, 0)
    pages = [learner_page(session, device, "n0nce")]
    session.go("key")
    way = Way("http://192.0.2.1:8960/")
    pages += [learner_page(session, device, "n0nce"), show_page(session, way, [question.text], [], "n0nce")]
    for n, page in enumerate(pages):
        (out / f"show-{n}.htm").write_text(page, "utf-8")
    return 0


def lesson_pages(file: Path, out: Path) -> int:
    """What a lesson shows of a plant: the drawing that tells nothing yet, its findings as saved, the sheet in its frame."""
    import ipywidgets

    from figures.drawing import Diagram
    from figures.plant import BadPlant, read_plant
    from widgets.paper.sheet import sheet
    from widgets.show.canvas import unread
    from widgets.show.findings import show_findings

    try:
        plant = read_plant(file)
    except BadPlant:
        return 2
    (out / "unread.svg").write_text(unread(Diagram(plant))[0], "utf-8")
    (out / "findings.htm").write_text(show_findings(plant).html(), "utf-8")
    (out / "framed.htm").write_text(sheet(plant)._repr_html_(), "utf-8")
    ipywidgets.Widget.close_all()
    return 0


def lesson_labels(file: Path, out: Path) -> int:
    """What an exercise shows with an instructor's words beside ours."""
    from figures.drawing import Diagram
    from figures.plant import read_plant
    from widgets.paper.labels import BadLabels, read_labels
    from widgets.paper.sheet import sheet
    from widgets.show.canvas import unread

    try:
        labels = read_labels(file)
    except BadLabels:
        return 2
    plant = read_plant(SMALL[0])
    (out / "unread.svg").write_text(unread(Diagram(plant, words=labels))[0], "utf-8")
    (out / "framed.htm").write_text(sheet(plant, labels=labels)._repr_html_(), "utf-8")
    return 0


def progress_page(folder: Path, out: Path) -> int:
    """What the page of a learner's progress shows of their record."""
    from datetime import UTC, datetime

    from widgets.learn import Record, RecordTrouble
    from widgets.learn.progress import progress_of
    from widgets.show.progress import lessons_there, page_of

    now = datetime.now(UTC)
    try:
        found = progress_of(Record(folder), now)
    except RecordTrouble:
        return 2
    if not found.empty:
        (out / "progress.htm").write_text(page_of(found, now, lessons_there()), "utf-8")
    return 0
