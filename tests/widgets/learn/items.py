"""What a question of the bank must be, told from its printed row alone, and a solver that sees no drawing."""

from __future__ import annotations

import math
import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from itertools import pairwise

from figures.physics.operation import operate
from figures.plant import KINDS, parse_plant
from figures.plant.model import tag_of
from figures.reading import read
from widgets.learn import MISCONCEPTIONS, OBJECTIVES
from widgets.learn.bank import POOLS, as_row, kinds_of, make_item
from widgets.paper.steps import ORDER

TAG = re.compile(r"\bN\d+\b")
FIGURE = re.compile(r"\d+(\.\d+)?")
CHEAP_KINDS = ("name", "configuration", "point", "loop", "missing", "wrong", "first back", "true or false", "temperature")


def rows(seeds: Iterable[int], kinds: Iterable[str] | None = None) -> Iterator[dict]:
    """One question of every objective, kind and difficulty for each seed, as printed."""
    for seed in seeds:
        for objective in OBJECTIVES:
            for kind in kinds_of(objective):
                if kinds is None or kind in kinds:
                    yield as_row(make_item(objective, kind, 1 + seed % 3, seed))


def faults(row: dict) -> list[str]:
    """What is wrong with a question, whatever its kind."""
    wrong = []
    texts = [option["text"] for option in row["options"]]
    if row["kind"] == "arrange":
        return [f"{row['id']}: {what}" for what in _arranged(row, texts)]
    if not 3 <= len(texts) <= 4:
        wrong.append(f"{len(texts)} options")
    if len({_plain(text) for text in texts}) != len(texts):
        wrong.append("two options mean the same")
    if row["options"][row["key"]]["misconception"] is not None:
        wrong.append("the key names a misconception")
    if any(o["misconception"] not in MISCONCEPTIONS for n, o in enumerate(row["options"]) if n != row["key"]):
        wrong.append("a wrong option names no misconception")
    if row["kind"] != "drawings":
        lengths = [len(re.sub(r"^(True|False): ", "", text)) for text in texts]
        if max(lengths) > 3.0 * min(lengths) + 12:
            wrong.append(f"lengths {lengths}")
        if row["needs_drawing"] and row["plant"] is None:
            wrong.append("no plant")
    if not row["because"].strip():
        wrong.append("no reason")
    if row["kind"] == "temperature":
        figures = sorted(float(text.split()[0]) for text in texts)
        if min(b - a for a, b in pairwise(figures)) < 1.0:
            wrong.append(f"figures {figures}")
    return [f"{row['id']}: {what}" for what in wrong]


def _arranged(row: dict, texts: list[str]) -> list[str]:
    """An order names every option, is not the one they stand in, and is that of the settings sheet's checklist."""
    wrong = [] if sorted(row["key"]) == list(range(len(texts))) else [f"the key {row['key']}"]
    wrong += ["it stands in order"] if row["key"] == sorted(row["key"]) else []
    wrong += [] if 4 <= len(texts) <= 6 and len(set(texts)) == len(texts) else [f"{len(texts)} steps"]
    named = [one["misconception"] for one in row["turned"]]
    wrong += [] if named and set(named) <= set(MISCONCEPTIONS) else ["no mistake turns it"]
    wrong += ["a mistake that is none" for one in row["turned"] if row["key"].index(one["first"]) < row["key"].index(one["then"])]
    sheet = [_at(texts[k]) for k in row["key"]]
    wrong += [] if sheet == sorted(sheet) else [f"the sheet has another order: {sheet}"]
    return wrong + ([] if row["because"].strip() else ["no reason"])


SHEET_WORDS = {"make safe": "make the place safe", "flush and clean the strainer": "flush", "fill": "fill with",
               "precharge of the expansion tank": "precharge",
               "pressure test": "test under pressure", "purge air": "purge", "safeties": "test the safeties",
               "each call in turn": "each call", "sensors compared": "sensors", "handover": "hand over"}
"""What a step of the sheet's checklist is called in a question, where not the same."""


def _plain(text: str) -> str:
    return " ".join(text.casefold().split())


# -- who is right, found otherwise than the bank finds it ------------------------------------------------

def right_options(row: dict) -> list[int] | None:
    """The options that are right, found anew from the row's text and plant; None where this check has no say."""
    if row["kind"] == "drawings":
        return _right_drawings(row)
    if row["objective"] == "P1":
        return _right_steps(row)
    if row["kind"] == "true or false":
        return _right_reason(row)
    check = CHECKS.get((row["objective"], row["kind"]))
    if check is None or row["plant"] is None:
        return None
    plant = parse_plant(row["plant"])
    told = check(row, plant, read(plant))
    return None if told is None else [n for n, option in enumerate(row["options"]) if told(option["text"])]


def _right_drawings(row: dict) -> list[int] | None:
    """The drawings of which the quoted answer is right: each is asked the question by itself."""
    asked, _, said = row["text"].rpartition(" On which drawing is the answer “")
    kind = next((kind for words, kind in ASKED.items() if row["text"].startswith(words)), None)
    if kind is None:
        return None
    right = []
    for n, option in enumerate(row["options"]):
        plant = parse_plant(option["text"])
        told = CHECKS[row["objective"], kind]({**row, "text": asked}, plant, read(plant))
        if told(said.rstrip("?").rstrip("”")):
            right.append(n)
    return right


def _right_reason(row: dict) -> list[int] | None:
    """Of 'true or false, and why' the options that are right: what somebody answers is judged as if it were asked
    outright, and so is the answer that each reason belongs to."""
    asked, _, said = row["text"].rpartition(" Somebody answers: “")
    kind = next((kind for words, kind in ASKED.items() if row["text"].startswith(words)), None)
    check = CHECKS.get((row["objective"], kind or ""))
    if check is None or row["plant"] is None or not said:
        return None
    plant = parse_plant(row["plant"])
    told = check({**row, "text": asked}, plant, read(plant))
    labels = {answer.reason: answer.label for pool in POOLS if pool.objective == row["objective"] and pool.kind == kind
              for answer in pool.answers}
    if told is None:
        return None
    true = "True" if told(said.split("”")[0]) else "False"
    split = [option["text"].partition(": ") for option in row["options"]]
    return [n for n, (word, _, reason) in enumerate(split) if word == true and told(labels[reason])]


def _at(words: str) -> int:
    """The place of a step in the checklist of the settings sheet."""
    return next(n for n, step in enumerate(ORDER) if SHEET_WORDS.get(step, step) in words.casefold())


def _right_steps(row: dict) -> list[int] | None:
    """By the checklist of the settings sheet, which has the order in words of its own."""
    texts = [option["text"] for option in row["options"]]
    if row["kind"] == "order":
        rows = [[_at(step) for step in text.split(", ")] for text in texts]
        return [n for n, places_ in enumerate(rows) if places_ == sorted(places_)]
    quoted = re.findall("“(.*?)”", row["text"])
    if row["kind"] == "missing":
        low, high = map(_at, quoted)
        return [n for n, text in enumerate(texts) if low < _at(text) < high]
    if row["kind"] == "true or false":
        true = "True" if _at(quoted[0]) < _at(quoted[1]) else "False"
        first = min(quoted, key=_at)
        return [n for n, text in enumerate(texts) if text.startswith(f"{true}: “{first}” comes first")]
    return None


def _is(*right: str):
    return lambda text: text in right


def _r1(row, plant, reading):
    says = row["text"].split("“")[1].split("”")[0]
    kind = next(k.name for k in KINDS.values() if k.says == says)
    return lambda text: plant.parts[text].kind == kind


def _absent(row, plant, reading):
    there = {part.kind for part in plant.parts.values()}
    return lambda text: re.sub("^an? ", "", text.split(",")[0].lower()) not in there


def _coil(row, plant, reading):
    it = TAG.search(row["text"])[0]
    loop = reading.loop_of(it)
    if any(finding.rule == "load-straddles" and it in finding.parts for finding in reading.findings):
        return _is("Fed by one, returned to another")
    if len(reading.loops) == 1:
        return _is("The only loop there is")
    boilers = any(tag in loop.parts for tag in reading.boilers)
    heats = any(part.tag in loop.parts for part in plant.of_kind("emitter")) or any(
        part.tag in loop.parts and part["serves"] != "DHW" for part in plant.of_kind("heat exchanger"))
    if boilers:
        return _is("The boiler loop, both ways")
    return _is("The system loop, both ways") if heats or reading.dhw == "system loop" else _is("The boiler loop, both ways")


def _control(row, plant, reading):
    words = {"heating only": "Heating only", "undetermined": "Not to be told: mend it first"}
    return _is(words.get(reading.control, reading.control))


def _pipe_loop(row, plant, reading):
    name = row["text"].split("the pipe ")[1].split(" on")[0]
    loop = next((loop for loop in reading.loops if name in loop.pipes), None)
    return _is("Both: a common pipe" if loop is None else f"The {loop.role}")


def _lead(row, plant, reading):
    return lambda text: bool(plant.parts[text]["lead"])


def _crew(row, plant, reading):
    marked = [p for p in plant.of_kind("boiler") if p["lead"]]
    if len(plant.of_kind("boiler")) == 1:
        return _is("The sole boiler, marked or not")
    return _is(("Nobody yet: no boiler is marked", "The one boiler that is marked", "Not settled: two are marked")[len(marked)])


def _return(row, plant, reading):
    return lambda text: text.startswith({"reverse": "Reverse", "direct": "Direct", "single boiler": "In none: there",
                                         "not applicable": "In none: each"}[reading.return_order])


def _back(row, plant, reading):
    """Boilers by the metres of pipe that their water comes back through, along the return header."""
    import networkx

    net = networkx.DiGraph()
    for run in plant.runs:
        tags = [tag_of(end) for end in run.through]
        inside = [t for t in tags[1:-1] if plant.parts[t].kind == "boiler"]
        stops = [tags[0], *inside, tags[-1]]
        for a, b in pairwise(stops):
            net.add_edge(a, b, tees=1)
    boilers = set(reading.boilers)
    ups = {b: networkx.ancestors(net.subgraph((set(net) - boilers) | {b}), b) for b in boilers}
    near = {b: networkx.single_source_shortest_path_length(net.reverse(), b) for b in boilers}
    shared = set.intersection(*ups.values())
    # The point where the return is still all boilers' water and from which it divides: nearest to all.
    meet = min(shared, key=lambda node: sum(near[b][node] for b in boilers))
    way = {b: near[b][meet] for b in boilers}
    wanted = (min if "first" in row["text"] else max)(way.values())
    if list(way.values()).count(wanted) != 1:
        return None
    return lambda text: way[text] == wanted


def _severity(row, plant, reading):
    worst = reading.findings[0].severity if reading.findings else "note"
    return _is({"must fix": "No: stop, and have it mended first", "should fix": "Yes, naming what should be mended",
                "check local code": "Once the local code was asked", "note": "Yes: nothing stands against it"}[worst])


def _reversed(row, plant, reading):
    return lambda text: bool(plant.parts[text].given.get("reversed"))


def _bare(row, plant, reading):
    """By pipe alone: from each boiler, what is reached without passing a part or another boiler's tee."""
    bare = {tag for f in reading.findings if f.rule == "relief-missing" for tag in f.parts}
    return lambda text: text in bare


def _taps(row, plant, reading):
    tank = next(t for t in plant.parts if plant.is_dhw(t))
    valve = not plant.parts[tank]["outlet_mixing_valve"]
    sensor = not any(p["role"] == "tank" for p in plant.of_kind("temperature sensor"))
    return _is({(True, True): "Sensor and mixing valve: fit both", (True, False): "The taps are bare: fit a mixing valve",
                (False, True): "The store is unwatched: fit its sensor", (False, False): "Nothing is wrong there: leave it"}[
                    valve, sensor])


def _safe(row, plant, reading):
    reliefs, boilers = len(plant.of_kind("relief valve")), len(plant.of_kind("boiler"))
    if not plant.of_kind("expansion tank"):
        return _is("The plant's expansion tank")
    if not plant.of_kind("fill"):
        return _is("The place where it is filled")
    return _is("The relief valve of a boiler" if reliefs < boilers else "None: all three are there")


def _mixed(row, plant, reading):
    """Facts, 'Separation': the mixing formula, from the figures in the text and the loops of the pumps."""
    flows = {tag: float(lps) for tag, lps in re.findall(r"(N\d+) moves ([\d.]+) L/s", row["text"])}
    hot, cold = map(float, re.findall(r"at ([\d.]+) °C", row["text"])[:2])
    name = row["text"].rpartition("the pipe ")[2].rstrip("?")
    [boiler] = reading.boilers
    own = reading.loop_of(boiler)
    m_b = next(lps for tag, lps in flows.items() if tag in own.parts)
    m_s = next(lps for tag, lps in flows.items() if tag not in own.parts)
    supply = hot if m_b >= m_s else (m_b * hot + (m_s - m_b) * cold) / m_s
    back = cold if m_b <= m_s else (m_s * cold + (m_b - m_s) * hot) / m_b
    run = plant.runs[plant.run_names.index(name)]
    leaves = tag_of(run.through[0]) in reading.separations[0].parts
    if name in own.pipes:
        wanted = back if leaves else hot
    else:
        wanted = supply if leaves else cold
    return lambda text: abs(float(text.split()[0]) - wanted) < 0.5


def _runs(row, plant, reading):
    """By the operation as the command line gives it, under the configuration that the reading names."""
    told = {call: set(operate(plant, reading.control, call).as_dict()["running"]) for call in ("heat", "dhw")}
    if row["text"].startswith("The control is set as the piping asks"):
        it = TAG.search(row["text"])[0]
        on = (it in told["heat"], it in told["dhw"])
        return _is({(True, False): "On heat calls, not on DHW calls", (False, True): "On DHW calls, not on heat calls",
                    (True, True): "On heat calls and on DHW calls"}[on])
    running = told["dhw" if "only DHW calls" in row["text"] else "heat"]
    return lambda text: (text in running) == ("pump that runs" in row["text"])


def _heated(row, plant, reading):
    """By the heat that the operation gives, as the command line prints it."""
    summer = row["text"].startswith("It is summer")
    found = operate(plant, "DHW on the boiler loop" if summer else "DHW on the system loop", "dhw" if summer else "both")
    got = {load["part"]: load["given_kw"] for load in found.as_dict()["loads"]}
    tank = any(kw > 0.2 * plant.load_kw(tag) for tag, kw in got.items() if plant.is_dhw(tag))
    building = any(kw > 0.2 * plant.load_kw(tag) for tag, kw in got.items() if not plant.is_dhw(tag))
    if summer:
        right = reading.control == "DHW on the boiler loop"
        return _is("Nothing: nobody moves its water" if not tank else "The tank: that setting is right" if right else
                   "The tank, though it is set wrongly")
    return _is({(True, True): "The tank, and the building too", (True, False): "The tank, but not the building",
                (False, True): "The building, but not the tank"}[tank, building])


ASKED = {"Which loop feeds": "loop", "Who runs the sequence": "name", "In what order": "name", "What must the control":
         "configuration", "By what the drawing shows": "name", "The DHW store is": "wrong", "Which one of these parts": "missing",
         "Which part that guards": "missing", "The control is told": "heat", "It is summer": "heat",
         "The control is set as the piping asks": "name"}
"""How the questions that can be asked of each drawing begin, and the kind that they are of."""
CHECKS = {("R1", "point"): _r1, ("R1", "missing"): _absent, ("R5", "loop"): _pipe_loop, ("R7", "loop"): _coil,
          ("R8", "point"): _lead, ("R8", "name"): _crew, ("R9", "name"): _return, ("R9", "first back"): _back,
          ("C1", "configuration"): _control, ("P2", "name"): _severity, ("J5", "point"): _reversed, ("J1", "point"): _bare,
          ("J4", "wrong"): _taps, ("F1", "name"): _runs, ("F1", "point"): _runs, ("F2", "heat"): _heated,
          ("J1", "missing"): _safe, ("F3", "temperature"): _mixed, ("F5", "temperature"): _mixed}
"""By objective and kind: from a row, its plant and reading, which texts are right."""


# -- a solver without a drawing --------------------------------------------------------------------------

class TextOnly:
    """Naive Bayes over the words, length, place and rank of options, alone and with the question's words."""

    def __init__(self) -> None:
        self.seen: dict[bool, Counter] = {True: Counter(), False: Counter()}
        self.total = {True: 0, False: 0}

    @staticmethod
    def features(row: dict, n: int) -> set[str]:
        """What can be seen of option n without a drawing."""
        drawn = row["kind"] == "drawings"
        texts = [f"Drawing {k + 1}" if drawn else o["text"] for k, o in enumerate(row["options"])]
        what = f"{row['objective']}/{row['kind']}"
        words = FIGURE.sub("#", TAG.sub("N", texts[n])).casefold()
        asked = FIGURE.sub("#", TAG.sub("N", row["text"])).casefold()
        order = sorted(range(len(texts)), key=lambda k: _worth(texts[k]))
        long = sorted(range(len(texts)), key=lambda k: len(texts[k]))
        found = {f"{what} text {words}", f"{what} rank {order.index(n)}", f"{what} long {long.index(n)}", f"place {n}",
                 f"{what} both {asked} {words}", f"tags {bool(TAG.search(texts[n]) and texts[n] in row['text'])}",
                 f"{what} {row['difficulty']} {words}"}
        return found | {f"word {word}" for word in words.split()}

    def learn(self, row: dict) -> None:
        """See the key of a question."""
        for n in range(len(row["options"])):
            right = n == row["key"]
            self.total[right] += 1
            self.seen[right].update(self.features(row, n))

    def shares(self, row: dict) -> list[float]:
        """How likely it takes each option to be right [-]; too sure of itself, for its features are not independent."""
        odds = [sum(math.log((self.seen[True][f] + 0.5) / (self.total[True] + 1.0))
                    - math.log((self.seen[False][f] + 0.5) / (self.total[False] + 1.0)) for f in self.features(row, n))
                for n in range(len(row["options"]))]
        weights = [math.exp(one - max(odds)) for one in odds]
        return [weight / sum(weights) for weight in weights]

    def answer(self, row: dict) -> int:
        """The likeliest option."""
        shares = self.shares(row)
        return shares.index(max(shares))


def _worth(text: str) -> tuple[float, str]:
    found = FIGURE.search(text)
    return (float(found[0]) if found else 0.0, text)


def text_only_score(train: list[dict], test: list[dict]) -> tuple[float, float, float]:
    """Share that the solver gets right of questions that need a drawing, the share by chance, and its deviation."""
    solver = TextOnly()
    for row in train:
        if row["needs_drawing"]:
            solver.learn(row)
    asked = [row for row in test if row["needs_drawing"]]
    right = sum(solver.answer(row) == row["key"] for row in asked)
    odds = [1.0 / len(row["options"]) for row in asked]
    spread = math.sqrt(sum(p * (1.0 - p) for p in odds)) / len(asked)
    return right / len(asked), sum(odds) / len(asked), spread


def places(found: Iterable[dict]) -> tuple[float, int]:
    """Chi-square of the key's place against uniform, and its degrees of freedom."""
    count: dict[int, Counter] = defaultdict(Counter)
    for row in found:
        if isinstance(row["key"], list):
            continue
        count[len(row["options"])][row["key"]] += 1
    square, free = 0.0, 0
    for size, seen in count.items():
        mean = sum(seen.values()) / size
        square += sum((seen[n] - mean) ** 2 / mean for n in range(size))
        free += size - 1
    return square, free


