"""Questions on reading a plant: parts, pipes, separations, loops, the tank, the boilers, their return."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from figures.plant.scheme import Scheme

from ..places import own_pump
from .case import Case, Draw
from .pool import Answer, Pool
from .trace import bypass_of, sides

# -- R1, parts ---------------------------------------------------------------------------------------------

FITTED = {"strainer": "which catches dirt", "drain": "which lets the water out", "fill": "where water is let in",
          "air separator": "which takes air out of the water", "air vent": "which lets collected air out",
          "flow switch": "which proves that water flows", "low-water cut-off": "which guards a boiler run dry",
          "high limit": "which stops a burner too hot"}


def _article(kind: str) -> str:
    return f"{'an' if kind[0] in 'aeiou' else 'a'} {kind}"


def _absent_maker(kind: str):  # type: ignore[no-untyped-def]
    def make(d: Draw) -> Scheme:
        scheme = d.scheme()
        return replace(scheme, header_ends="elbow", fittings=tuple(k for k in FITTED if k in d.among and k != kind))
    return make


def _absent(c: Case, among: tuple[str, ...]) -> str | None:
    absent = [kind for kind in among if not c.tags(kind)]
    return absent[0] if len(absent) == 1 else None


PARTS = Pool("R1", "missing", "Which one of these parts is missing on this drawing?", tuple(
    Answer(kind, f"{_article(kind).capitalize()}, {does}", f"{_article(kind)} is the one that is not drawn",
           _absent_maker(kind), 21) for kind, does in FITTED.items()), _absent,
    why=lambda c, it, key: f"There is no {key} on this drawing.")

# -- R2, supply and return ----------------------------------------------------------------------------------


def _plain(d: Draw) -> Scheme:
    return d.scheme(lambda s: not s.low_temperature and s.bypass != "pipe")


PIPES = Pool("R2", "loop", "What is the pipe {it} for?", (
    Answer("supply", "Supply, on its way to a load", "hot water passes it before it meets a load", _plain, 5),
    Answer("return", "Return, on its way to a boiler", "its water has left a load and not yet met a boiler", _plain, 5),
    Answer("dead end", "A dead end, where no water flows", "it ends at a part that closes it", _plain, 12),
    Answer("between", "A way across, from supply to return", "it joins supply and return without a load", _plain, 3)),
    sort=sides, drawings=False)

# -- R3, the separation ------------------------------------------------------------------------------------


def _separation(c: Case, among: tuple[str, ...]) -> str | None:
    found, r = c.reading.separations, c.reading
    if r.arrangement == "undetermined":
        return None
    if not found:
        return "nothing"
    if len(found) == 1:
        return found[0].kind
    if any(s.kind != "closely spaced tees" for s in found):
        return None
    fired = [loop for loop in r.loops if loop.role == "boiler loop"]
    if len(fired) == len(r.boilers) == len(found):
        return "per boiler"
    served = [loop for loop in r.loops if any(c.plant.is_load(tag) for tag in loop.parts)]
    return "per load" if len(served) == len(found) and len(fired) == 1 else None


def _sep(name: str, **fields: object):  # type: ignore[no-untyped-def]
    return lambda d: d.scheme(lambda s: s.separation == name and s.tank_joins != "own tees" and
                              all(getattr(s, key) >= value for key, value in fields.items()),
                              arrangement="separated loops")


def _single(d: Draw) -> Scheme:
    return d.scheme(arrangement="single loop")


def _tees_per_load(d: Draw) -> Scheme:
    return d.scheme(lambda s: s.separation == "tees per load" and s.emitters > 1, arrangement="separated loops")


SEPARATIONS = Pool("R3", "name", "What separates the loops here?", (
    Answer("closely spaced tees", "One pair of closely spaced tees", "two tees share one short pipe between the loops",
           _sep("closely spaced tees"), 3),
    Answer("hydraulic separator", "A hydraulic separator", "both loops join one small vessel with four pipes",
           _sep("hydraulic separator"), 8),
    Answer("buffer tank", "A buffer tank with four pipes", "both loops join one vessel that also stores heat",
           _sep("buffer tank"), 8),
    Answer("per boiler", "A pair of tees at each boiler", "each boiler has a pair of tees of its own",
           _sep("tees per boiler"), 3),
    Answer("per load", "A pair of tees at each load", "each load circuit has a pair of tees of its own", _tees_per_load, 3),
    Answer("nothing", "Nothing: it is a single loop", "the same water passes the boilers and the loads", _single, 20)),
    _separation, about=("arrangement",))

# -- R4, separation or bypass ------------------------------------------------------------------------------


def _bypassed(d: Draw) -> Scheme:
    return d.scheme(lambda s: s.bypass != "none" and s.boilers_by == "motorised valve", arrangement="single loop")


def _load_bypass(d: Draw) -> Scheme:
    return d.scheme(lambda s: s.load_bypass)


def _pairs(c: Case) -> dict[str, str]:
    """Pipes that a short pipe could be: those across, and one ordinary pipe of a header."""
    found: dict[str, str] = {}
    for s in c.reading.separations:
        if s.kind == "closely spaced tees" and len(s.pipes) == 1:
            wide = bool(c.findings("tee-spacing"))
            if not wide or (s.spacing_diameters or 0.0) > 4.0:
                found[s.pipes[0]] = "wide" if wide else "common"
    return found | bypass_of(c)


SHORT_PIPES = Pool("R4", "name", "What is the pipe {it}?", (
    Answer("common", "The common pipe of a separation", "both loops' pumps move water through it, and its tees stand close",
           _sep("closely spaced tees"), 3),
    Answer("wide", "A common pipe, its tees too wide", "both loops' pumps move water through it, and its tees stand far apart",
           lambda d: d.faulty("tee-spacing"), 4),
    Answer("boilers", "A bypass across the boilers", "it lets the pump's water round when the boilers are shut", _bypassed, 13),
    Answer("loads", "A bypass across the loads", "it lets the pump's water round when the zones are shut", _load_bypass, 13)),
    sort=_pairs, about=("arrangement",), rules=("tee-spacing",), drawings=False)


def _met(c: Case, among: tuple[str, ...]) -> str | None:
    r = c.reading
    if r.arrangement == "single loop":
        crossed = set(bypass_of(c).values())
        return "bypass" if crossed == {"boilers"} else "bare" if not crossed and not c.tags("bypass valve") else None
    if len(r.separations) != 1 or r.separations[0].kind != "closely spaced tees":
        return None
    return "wide" if c.findings("tee-spacing") else "close"


MEETING = Pool("R4", "name", "Where, if anywhere, do two loops meet here?", (
    Answer("close", "At two tees, close enough", "two tees meet the rule of four inside diameters", _sep("closely spaced tees"),
           4),
    Answer("wide", "At two tees, too far apart", "two tees stand more than four inside diameters apart",
           lambda d: d.faulty("tee-spacing", where=lambda s: s.separation == "closely spaced tees"
                              and s.tank_joins != "own tees"), 4),
    Answer("bypass", "Nowhere: that pipe is a bypass", "the short way between supply and return is only a bypass",
           lambda d: d.scheme(lambda s: s.bypass != "none" and s.boilers_by == "motorised valve" and not s.load_bypass,
                              arrangement="single loop"), 3),
    Answer("bare", "Nowhere: there is one plain loop", "no pipe, valve or vessel joins supply and return at all",
           lambda d: d.scheme(lambda s: s.bypass == "none" and not s.load_bypass, arrangement="single loop"), 3)),
    _met, about=("arrangement",), rules=("tee-spacing",))

# -- R5, pumps and loops -----------------------------------------------------------------------------------


def _pipe_loops(c: Case) -> dict[str, str]:
    found: dict[str, str] = {name: loop.role for loop in c.reading.loops for name in loop.pipes
             if loop.role != "system loop" or any(c.plant.is_load(tag) for tag in loop.parts)}
    if len(c.reading.separations) == 1:
        found.update(dict.fromkeys(c.reading.separations[0].pipes, "common"))
    return found


PIPE_LOOPS = Pool("R5", "loop", "Which loop is the pipe {it} on?", (
    Answer("boiler loop", "The boiler loop", "it lies on the boilers' side of a separation", lambda d: d.scheme(
        arrangement="separated loops"), 1),
    Answer("system loop", "The system loop", "it lies on the loads' side of a separation", lambda d: d.scheme(
        arrangement="separated loops"), 1),
    Answer("single loop", "The single loop", "no separation parts the boilers from the loads", _single, 3),
    Answer("common", "Both: a common pipe", "it is the short pipe where two loops meet", _sep("closely spaced tees"), 5)),
    sort=_pipe_loops, about=("arrangement",), drawings=False)


def _unpumped(c: Case, among: tuple[str, ...]) -> str | None:
    if c.reading.arrangement != "separated loops":
        return None
    bare = c.findings("loop-pump")
    if not bare:
        return "none"
    tags = {tag for f in bare for tag in f.parts}
    if tags <= set(c.reading.boilers):
        return "boiler"
    if tags <= set(c.reading.tanks):
        return "tank"
    return "system" if not tags & {*c.reading.boilers, *c.reading.tanks} else None


UNPUMPED = Pool("R5", "missing", "Is a pump missing that some water needs to go round?", (
    Answer("none", "No: every way round has one", "every way round a loop meets a pump", lambda d: d.scheme(
        arrangement="separated loops"), 8),
    Answer("boiler", "Yes: round through a boiler", "water can go round through a boiler and meet no pump",
           lambda d: d.faulty("loop-pump"), 8),
    Answer("system", "Yes: round through a heating load", "water can go round through a heating load and meet no pump",
           lambda d: d.faulty("loop-pump-system", "loop-pump-zone", where=lambda s: s.tank == "none"), 8),
    Answer("tank", "Yes: round through the tank's coil", "water can go round through the coil and meet no pump",
           lambda d: d.faulty("loop-pump-tank"), 10)),
    _unpumped, about=("loops",), rules=("loop-pump",))

# -- R6, R7, the tank --------------------------------------------------------------------------------------


def _heats_dhw(c: Case, among: tuple[str, ...]) -> str | None:
    kinds = {c.plant.parts[tag].kind for tag in c.reading.tanks}
    for_heating = any(not c.plant.is_dhw(tag) for tag in c.tags("heat exchanger"))
    if not kinds:
        return "exchanger, heating" if for_heating else "none"
    return kinds.pop() if not for_heating and len(kinds) == 1 else None


DHW_BY = Pool("R6", "name", "What heats the domestic hot water (DHW) here?", (
    Answer("indirect tank", "The coil of an indirect tank", "a tank with a coil is drawn",
           lambda d: d.scheme(lambda s: s.tank != "none" and s.dhw_by == "indirect tank" and not s.exchangers), 20),
    Answer("heat exchanger", "A heat exchanger without a tank", "an exchanger that serves DHW is drawn",
           lambda d: replace(d.scheme(lambda s: s.tank != "none" and not s.exchangers), dhw_by="heat exchanger"), 20),
    Answer("exchanger, heating", "Nothing: the exchanger is for heating", "the exchanger drawn serves heating alone",
           lambda d: replace(d.scheme(lambda s: not s.low_temperature, control="heating only"), exchangers=(1,)), 20),
    Answer("none", "Nothing: neither tank nor exchanger", "neither a coil nor an exchanger is drawn",
           lambda d: d.scheme(lambda s: not s.exchangers, control="heating only"), 20)),
    _heats_dhw, about=("dhw",))


def _coils(c: Case) -> dict[str, str]:
    r = c.reading
    if len(r.tanks) != 1:
        return {}
    key = {"system loop": "single" if r.arrangement == "single loop" else "system", "boiler loop": "boiler",
           "undetermined": "both" if c.findings("load-straddles") else ""}.get(r.dhw, "")
    return {r.tanks[0]: key} if key else {}


def near_or_pumped(c: Case, right: str) -> Mapping[str, int]:
    """What makes somebody put a tank on the boiler loop: its own pump, or else its place."""
    boiler = 2 if own_pump(c.reading) else 1
    return {"boiler": boiler, "boiler loop": boiler}


COILS = Pool("R7", "loop", "Which loop feeds the coil of {it}?", (
    Answer("single", "The only loop there is", "no separation stands between the boilers and the loads",
           lambda d: d.scheme(lambda s: s.tank != "none", arrangement="single loop"), 3),
    Answer("system", "The system loop, both ways", "both its pipes join beyond the separation, with the loads",
           lambda d: d.scheme(control="DHW on the system loop", arrangement="separated loops"), 21),
    Answer("boiler", "The boiler loop, both ways", "both its pipes join on the boilers' side, apart from the loads",
           lambda d: d.scheme(control="DHW on the boiler loop"), 1),
    Answer("both", "Fed by one, returned to another", "its two pipes join two different loops",
           lambda d: d.faulty("load-straddles", "coil-straddles"), 1)),
    sort=_coils, about=("dhw",), rules=("load-straddles",), mistakes=near_or_pumped)

# -- R8, R9, the boilers -----------------------------------------------------------------------------------


def _leads(c: Case, among: tuple[str, ...]) -> str | None:
    marked = sum(bool(c.plant.parts[tag]["lead"]) for tag in c.reading.boilers)
    if len(c.reading.boilers) == 1:
        return "sole"
    return {0: "nobody", 1: "marked", 2: "two"}.get(marked)


LEADS = Pool("R8", "name", "Who runs the sequence of the boilers here?", (
    Answer("sole", "The sole boiler, marked or not", "there is one boiler, and it leads, marked or not",
           lambda d: d.scheme(boilers=1), 19),
    Answer("marked", "The one boiler that is marked", "there are several boilers, and exactly one is marked",
           lambda d: d.scheme(lambda s: s.boilers > 1), 19),
    Answer("nobody", "Nobody yet: no boiler is marked", "there are several boilers, and none of them is marked",
           lambda d: d.faulty("lead-boiler"), 19),
    Answer("two", "Not settled: two are marked", "two boilers are marked, and they would fight",
           lambda d: d.faulty("two-leads"), 19)),
    _leads, about=("boilers", "lead"), rules=("lead-boiler",))


def _returns(c: Case, among: tuple[str, ...]) -> str | None:
    return None if c.reading.return_order == "undetermined" else c.reading.return_order


RETURNS = Pool("R9", "name", "In what order do the boilers get their water back?", (
    Answer("reverse", "Reverse: first out, last back", "the boiler first out is the last to get water back",
           lambda d: d.scheme(lambda s: s.boilers > 1 and s.return_order == "reverse"
                              and s.separation != "tees per boiler"), 15),
    Answer("direct", "Direct: first out, first back", "the boiler first out is the first to get water back",
           lambda d: d.scheme(lambda s: s.boilers > 1 and s.return_order == "direct"
                              and s.separation != "tees per boiler"), 14),
    Answer("single boiler", "In none: there is one boiler", "there is no second boiler to compare with",
           lambda d: d.scheme(boilers=1), 19),
    Answer("not applicable", "In none: each is separated", "each boiler has a separation of its own",
           lambda d: d.scheme(lambda s: s.separation == "tees per boiler"), 14)),
    _returns, about=("return",))

POOLS = (PARTS, PIPES, SEPARATIONS, SHORT_PIPES, MEETING, PIPE_LOOPS, UNPUMPED, DHW_BY, COILS, LEADS, RETURNS)
