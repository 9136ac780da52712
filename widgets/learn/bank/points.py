"""Questions answered by pointing: 'click the part that …'. The options are tags, which are numbers in no order."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from figures.plant.kinds import KINDS
from figures.plant.model import Part, tag_of
from figures.reading import read
from figures.reading.classify import survey
from figures.reading.evidence import listed

from ..items import Hint, Item, Option
from .case import Case, Draw, NoCase
from .hints import HINTS
from .trace import Trace

TRIES = 60
LEAST_OPTIONS, OFFERED = 3, 4


@dataclass(frozen=True)
class Point:
    """What is asked, the right tag, wrong ones with the misconception that leads there, and why."""

    text: str
    key: str
    wrong: dict[str, int | None]
    because: str
    parts: tuple[str, ...] = ()
    pipes: tuple[str, ...] = ()
    of_wrong: str = "that is not what was asked for: it is a {kind}."


Maker = Callable[[Draw], "tuple[Case, Point | None]"]


def point(objective: str, kind: str, maker: Maker, d: Draw, ident: str) -> Item:
    """The item that a maker's question becomes. Raises NoCase."""
    for _ in range(TRIES):
        case, found = maker(d)
        if found is None or len(found.wrong) < LEAST_OPTIONS - 1:
            continue
        wrong = d.chance.sample(sorted(found.wrong), min(OFFERED - 1, len(found.wrong)))
        options = [Option(found.key, found.key)]
        options += [Option(tag, tag, found.wrong[tag], found.of_wrong.format(kind=case.plant.parts[tag].kind), 0.0, (tag,))
                    for tag in wrong]
        first, second = HINTS[objective]
        parts = tuple(dict.fromkeys((found.key, *found.parts)))
        ladder = (Hint(first), Hint(second), Hint("It is one of those lit up.", tuple(sorted((found.key, *wrong[:1])))))
        return Item(ident, kind, kind, objective, found.text, tuple(options), (found.key,), found.because, ladder,
                    case.plant, parts, found.pipes, difficulty=d.difficulty)
    raise NoCase(f"{objective}: no plant to point at")


def _pick(d: Draw, tags: Iterable[str]) -> str:
    return d.chance.choice(sorted(tags))


# -- what to point at --------------------------------------------------------------------------------------

ASKED = ("boiler", "pump", "emitter", "expansion tank", "relief valve", "fill", "air vent", "air separator", "strainer", "drain",
         "check valve", "motorised valve", "bypass valve", "balancing valve", "flow switch", "indirect tank")


def the_part(d: Draw) -> tuple[Case, Point | None]:
    """R1: the part that does this."""
    c = Case(d.scheme(), d.chance)
    there = sorted({p.kind for p in c.plant.parts.values()} & set(ASKED))
    kind = d.chance.choice(there)
    wrong = {d.chance.choice(c.tags(other)): 8 if other == "indirect tank" else 12 if other == "expansion tank" else 10
             for other in there if other != kind}
    key = d.chance.choice(c.tags(kind))
    says = KINDS[kind].says
    return c, Point(f"Click the part of which this is true: “{says}”.", key, dict(wrong),
                    f"{key} is the {kind}: {says}.", of_wrong="it is the {kind}, which does something else.")


def next_part(d: Draw) -> tuple[Case, Point | None]:
    """R2: what the water meets next."""
    c = Case(d.scheme(lambda s: not s.low_temperature and s.bypass != "pipe"), d.chance)
    trace = Trace(c)
    starts = [tag for tag in trace.after if "." not in tag and c.plant.parts[tag].what.shape == "two ports"]
    chosen = _pick(d, starts)
    ahead = _straight(trace, chosen, back=False)
    if ahead is None:
        return c, None
    behind = _straight(trace, chosen, back=True)
    others = [t for t, p in c.plant.parts.items() if p.what.shape == "two ports" and t not in (chosen, ahead, behind)]
    wrong: dict[str, int | None] = dict.fromkeys(d.chance.sample(sorted(others), min(3, len(others))), 1)
    if behind is not None and behind != ahead:
        wrong[behind] = 5
    return c, Point(f"Water flows through {chosen} as it should. Click the part that it meets next, tees not counted.", ahead,
                    wrong, f"From {chosen} the water comes to {ahead}.", (chosen,),
                    of_wrong="the water does not come to that {kind} next; follow the pipe with the arrows.")


def _straight(trace: Trace, tag: str, back: bool) -> str | None:
    """The next part on a way that does not divide."""
    plant, here = trace.plant, tag
    for _ in range(len(plant.parts)):
        ahead = [end for end in trace.onward(here, back)
                 if plant.parts[tag_of(end)].what.shape != "end"]
        if len(ahead) != 1 or "." in ahead[0]:
            return None
        here = ahead[0]
        if plant.parts[here].kind != "tee":
            return here
    return None


def the_separation(d: Draw) -> tuple[Case, Point | None]:
    """R3: where two loops meet."""
    c = Case(d.scheme(arrangement="separated loops"), d.chance)
    meeting = {tag for s in c.reading.separations for tag in s.parts}
    others = [tag for tag in c.tags("tee", "hydraulic separator", "buffer tank", "indirect tank") if tag not in meeting]
    key = _pick(d, meeting)
    wrong: dict[str, int | None] = {tag: 3 if c.plant.parts[tag].kind == "tee" else 8 for tag in others}
    return c, Point("Click a place where two loops meet.", key, wrong,
                    " ".join(e.says for e in c.reading.about("arrangement")), tuple(sorted(meeting)),
                    of_wrong="at that {kind} only one loop's water passes.")


def the_pump(d: Draw) -> tuple[Case, Point | None]:
    """R5: the pump that moves the water of a part."""
    c = Case(d.scheme(arrangement="separated loops"), d.chance)
    pumps = c.tags("pump")
    loops = [loop for loop in c.reading.loops if sum(tag in loop.parts for tag in pumps) == 1]
    asked = [(tag, loop) for loop in loops for tag in loop.parts
             if c.plant.parts[tag].kind == "boiler" or c.plant.is_load(tag)]
    if not asked:
        return c, None
    it, loop = d.chance.choice(sorted(asked, key=lambda pair: pair[0]))
    key = next(tag for tag in pumps if tag in loop.parts)
    wrong: dict[str, int | None] = {tag: 2 for tag in pumps if tag != key}
    wrong.update((tag, 8) for tag in c.tags("hydraulic separator", "buffer tank"))
    return c, Point(f"Click the part that moves the water round through {it}.", key, wrong,
                    f"{it} lies in one loop with the pump {key}, and no other pump stands in that loop.", (it,), loop.pipes,
                    of_wrong="that {kind} moves no water round there.")


def the_dhw(d: Draw) -> tuple[Case, Point | None]:
    """R6: what heats DHW."""
    c = Case(d.scheme(lambda s: s.tank != "none" and s.emitters + len(s.exchangers) > 1), d.chance)
    if len(c.reading.tanks) != 1:
        return c, None
    key = c.reading.tanks[0]
    others = c.tags("emitter", "heat exchanger", "buffer tank", "hydraulic separator", "expansion tank")
    wrong: dict[str, int | None] = {tag: 20 for tag in others if tag != key}
    return c, Point("Click the part that heats domestic hot water (DHW).", key, wrong,
                    " ".join(e.says for e in c.reading.about("dhw")), of_wrong="that {kind} heats no DHW.")


def the_lead(d: Draw) -> tuple[Case, Point | None]:
    """R8: the lead boiler."""
    c = Case(d.scheme(boilers=(3, 4, 5, 6)), d.chance)
    key = c.reading.lead
    if key is None:
        return c, None
    return c, Point("Click the boiler that runs the sequence.", key, {tag: 19 for tag in c.reading.boilers if tag != key},
                    " ".join(e.says for e in c.reading.about("lead")), of_wrong="that {kind} does not carry the lead mark.")


def first_back(d: Draw) -> tuple[Case, Point | None]:
    """R9: which boiler gets water back first, or last."""
    order_wanted = d.chance.choice(("reverse", "direct"))
    c = Case(d.scheme(lambda s: s.return_order == order_wanted and s.separation != "tees per boiler", boilers=(3, 4, 5, 6)),
             d.chance)
    order = survey(c.plant).order
    if order.order != order_wanted:
        return c, None
    which = d.chance.choice(("first", "last"))
    key = order.back[0 if which == "first" else -1]
    wrong: dict[str, int | None] = {tag: 19 for tag in c.reading.boilers if tag != key}
    wrong[order.back[-1 if which == "first" else 0]] = 15 if order.order == "reverse" else 14
    return c, Point(f"Click the boiler that gets its water back {which}.", key, wrong,
                    f"On their way back the boilers come in this order: {listed(order.back)}.", (order.meet_back,),
                    of_wrong="follow the return from the loads home: that {kind} is not the one.")


def sensor_place(d: Draw) -> tuple[Case, Point | None]:
    """C3: where the system-supply sensor belongs."""
    c = Case(d.scheme(lambda s: s.emitters > 1, arrangement="separated loops"), d.chance)
    bare = {tag: p for tag, p in c.plant.parts.items() if not (p.kind == "temperature sensor" and p["role"] == "system supply")}
    places = [tag for tag in bare if bare[tag].kind in ("tee", "boiler", "pump", "emitter", "indirect tank")]
    d.chance.shuffle(places)
    good: list[str] = []
    bad: list[str] = []
    for tag in sorted(places[:14]):
        sensed = replace(c.plant, parts={**bare, "T1": Part("T1", "temperature sensor", {"role": "system supply", "at": tag})})
        wrong = any(f.rule == "supply-sensor" for f in read(sensed).findings)
        (bad if wrong else good).append(tag)
        if good and len(bad) >= 4:
            break
    if not good or len(bad) < 2:
        return c, None
    key = d.chance.choice(good)
    c.plant = replace(c.plant, parts=bare)
    return c, Point("No sensor tells the system supply yet. Click a place where it may be fixed.", key,
                    dict.fromkeys(bad, 6),
                    f"{key} lies beyond the point where the two loops' waters meet, before the first load.",
                    of_wrong="at that {kind} it would not tell what the building gets.")


def still_pump(d: Draw) -> tuple[Case, Point | None]:
    """F1: which pump stands still on a call, or runs."""
    from figures.physics.operation import sequence

    c = Case(d.scheme(lambda s: s.tank != "none" and (s.zones_by == "pump" or s.boilers_by == "pump")), d.chance)
    if c.reading.dhw not in ("system loop", "boiler loop"):
        return c, None
    call, runs = d.chance.choice(("heat", "dhw")), d.chance.random() < 0.5
    o = c.operator
    running = set(sequence(o.jobs, c.reading, o.right(call)).running)
    pumps = set(c.tags("pump"))
    good = running & pumps if runs else pumps - running
    bad = pumps - good
    if not good:
        return c, None
    key = _pick(d, good)
    said = "DHW" if call == "dhw" else "heat"
    return c, Point(f"The control is set rightly, and only {said} calls. Click a pump that {'runs' if runs else 'stands still'}.",
                    key, dict.fromkeys(bad, 16 if call == "dhw" else 2),
                    f"On a {said} call these pumps run: {listed(sorted(running & pumps))}.", tuple(sorted(running & pumps)),
                    of_wrong=f"that {{kind}} {'stands still' if runs else 'runs'} on this call.")


def last_heat(d: Draw) -> tuple[Case, Point | None]:
    """F4: where the last heat goes."""
    call = d.chance.choice(("heat", "dhw"))
    c = Case(d.scheme(lambda s: s.tank != "none" and s.emitters > 1), d.chance)
    if c.reading.dhw not in ("system loop", "boiler loop"):
        return c, None
    said = c.operator.operate(c.operator.right(call)).afterwards
    into = {tag for tag in said.rpartition(" goes to ")[2].rstrip(".").split(", ") if tag in c.plant.parts}
    loads = [tag for tag in c.plant.parts if c.plant.is_load(tag)]
    rest = [tag for tag in (*loads, *c.tags("expansion tank", "buffer tank")) if tag not in into]
    if not into:
        return c, None
    word = "DHW" if call == "dhw" else "heat"
    return c, Point(f"The control is set rightly. A {word} call ends and the pumps overrun. Click a part that the last heat goes "
                    "into.", _pick(d, into), dict.fromkeys(rest, 16 if call == "heat" else 21), said,
                    of_wrong="that {kind} did not call, or may not see hot water.")


def bare_boiler(d: Draw) -> tuple[Case, Point | None]:
    """J1: the boiler without a relief valve of its own."""
    c = Case(d.faulty("relief-missing", where=lambda s: s.boilers > 2), d.chance)
    found = [tag for f in c.findings("relief-missing") for tag in f.parts]
    if len(found) != 1:
        return c, None
    return c, Point("Click the boiler that has no relief valve of its own.", found[0],
                    {tag: 12 for tag in c.reading.boilers if tag != found[0]}, c.findings("relief-missing")[0].says,
                    of_wrong="that {kind} has one on its own branch.")


def ghost_branch(d: Draw) -> tuple[Case, Point | None]:
    """J3: whose branch stays open."""
    c = Case(d.faulty("boiler-check-missing", where=lambda s: s.boilers > 2), d.chance)
    found = c.findings("ghost-flow")
    if len(found) != 1 or found[0].parts[0] not in c.reading.boilers:
        return c, None
    key = found[0].parts[0]
    return c, Point("One boiler's branch stays open while its pump stands still. Click that boiler.", key,
                    {tag: 10 for tag in c.reading.boilers if tag != key}, found[0].says, found[0].parts, found[0].pipes,
                    of_wrong="the branch of that {kind} is closed while it rests.")


def turned_part(d: Draw) -> tuple[Case, Point | None]:
    """J5: the part that is set against the flow."""
    c = Case(d.faulty("part-reversed", "boiler-pump-reversed", "check-reversed", "tank-check-reversed"), d.chance)
    turned = {tag for f in c.findings("part-reversed") for tag in f.parts}
    if len(turned) != 1:
        return c, None
    key = turned.pop()
    others = [tag for tag in c.tags("pump", "check valve") if tag != key]
    return c, Point("Click the part that is set against the flow.", key,
                    {tag: 11 if c.plant.parts[tag].kind == "check valve" else 10 for tag in others},
                    c.findings("part-reversed")[0].says, of_wrong="the arrow of that {kind} points with the water.")


POINTS: dict[tuple[str, str], Maker] = {
    ("R1", "point"): the_part, ("R2", "point"): next_part, ("R3", "point"): the_separation, ("R5", "point"): the_pump,
    ("R6", "point"): the_dhw, ("R8", "point"): the_lead, ("R9", "first back"): first_back, ("C3", "point"): sensor_place,
    ("F1", "point"): still_pump, ("F4", "point"): last_heat, ("J1", "point"): bare_boiler, ("J3", "point"): ghost_branch,
    ("J5", "point"): turned_part}
"""Makers of questions answered by pointing, by objective and kind."""
