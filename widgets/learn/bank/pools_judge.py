"""Questions on what is wrong, what is missing, how it is mended, and whether the sheet may be signed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from figures.plant.scheme import Scheme

from .case import Case, Draw
from .pool import Answer, Pool


def _one(c: Case, rules: Mapping[str, str]) -> str | None:
    """What stands for the only one of these rules that fires; 'none' where none does."""
    found = c.broken(rules)
    return "none" if not found else found.pop() if len(found) == 1 else None


# -- J1 ----------------------------------------------------------------------------------------------------

SAFETY_RULES = {"relief-missing": "relief", "relief-isolated": "isolated", "expansion-missing": "expansion",
                "expansion-point": "point", "expansion-isolated": "lock"}


def _safety(c: Case, among: tuple[str, ...]) -> str | None:
    key = _one(c, SAFETY_RULES)
    return None if key == "expansion" and c.tags("expansion tank") else key


SAFETY = Pool("J1", "wrong", "Relief valves and expansion tank: what is wrong, and how is it mended?", (
    Answer("relief", "A relief valve is missing: fit it", "one boiler has no relief valve on its own branch",
           lambda d: d.faulty("relief-missing", "relief-shared"), 12),
    Answer("isolated", "A relief valve can be shut off: free it", "a stop valve stands between a boiler and its relief valve",
           lambda d: d.faulty("relief-isolated"), 22),
    Answer("expansion", "No expansion tank is drawn: fit one", "there is nothing to take up the water that swells",
           lambda d: d.faulty("expansion-missing"), 12),
    Answer("point", "The expansion tank joins badly: move it", "the expansion tank does not join the pump's inlet",
           lambda d: d.faulty("expansion-point", "expansion-at-boiler"), 12),
    Answer("lock", "The tank can be shut off: lock its valve", "a hand valve under the expansion tank is not locked open",
           lambda d: d.faulty("expansion-isolated"), 12),
    Answer("none", "Nothing is wrong with them: leave it", "every boiler can relieve itself, and the tank joins as it should",
           lambda d: d.scheme(), 12)),
    _safety, rules=tuple(SAFETY_RULES))


def _safe_part(c: Case, among: tuple[str, ...]) -> str | None:
    absent = [key for key, gone in (("relief", bool(c.findings("relief-missing"))), ("fill", not c.tags("fill")),
                                    ("expansion", not c.tags("expansion tank"))) if gone]
    return "none" if not absent else absent[0] if len(absent) == 1 else None


def _with_fill(d: Draw, *faults: str) -> Scheme:
    return d.faulty(*faults, where=lambda s: s.has("fill"))


SAFE_PARTS = Pool("J1", "missing", "Which part that guards the pressure is missing?", (
    Answer("relief", "The relief valve of a boiler", "one boiler has no relief valve of its own",
           lambda d: _with_fill(d, "relief-missing"), 12),
    Answer("expansion", "The plant's expansion tank", "no expansion tank joins the plant anywhere",
           lambda d: _with_fill(d, "expansion-missing"), 12),
    Answer("fill", "The place where it is filled", "no fill is drawn, so that lost water is not made up",
           lambda d: d.scheme(lambda s: not s.has("fill")), 12),
    Answer("none", "None: all three are there", "relief valves, expansion tank and fill are all drawn",
           lambda d: d.scheme(lambda s: s.has("fill")), 21)),
    _safe_part, rules=("relief-missing", "expansion-missing"))

# -- J2 ----------------------------------------------------------------------------------------------------

WAY_RULES = {"boiler-isolation": "open", "pump-bypass": "bypass", "valve-fail-position": "fails", "zones-shut": "zones"}


def _ways(c: Case, among: tuple[str, ...]) -> str | None:
    if c.reading.arrangement != "single loop" or len(c.reading.boilers) < 2:
        return None
    key = _one(c, WAY_RULES)
    return "misplaced" if key == "bypass" and c.tags("bypass valve") else key


def _bypassed(s: Scheme) -> bool:
    return s.arrangement == "single loop" and s.boilers > 1 and (s.load_bypass or s.zones_by == "pump")


WAYS = Pool("J2", "wrong", "Shutting boilers and zones off: what is wrong, and how is it mended?", (
    Answer("open", "A boiler stays open: fit its valve", "one boiler has neither a motorised valve nor a pump with a check valve",
           lambda d: d.faulty("boiler-isolation", "boiler-isolation-check", where=_bypassed), 10),
    Answer("bypass", "No bypass at the boilers: fit one", "with all boilers shut the pump has no way round, and no bypass valve "
           "is there", lambda d: d.faulty("pump-bypass", where=lambda s: _bypassed(s) and not s.load_bypass), 13),
    Answer("misplaced", "The bypass is misplaced: move it", "the only bypass valve does not serve when the boilers are shut",
           lambda d: d.faulty("bypass-misplaced", "bypass-reversed",
                              where=lambda s: s.boilers > 1), 13),
    Answer("fails", "A valve fails shut: exchange it", "a boiler's valve closes when its power fails",
           lambda d: d.faulty("valve-fail-position", "valves-fail-closed", where=_bypassed), 22),
    Answer("zones", "No bypass at the zones: check that", "with all zones shut the pump has no way round",
           lambda d: d.scheme(lambda s: s.boilers > 1 and s.zones_by != "pump" and not s.load_bypass and s.bypass != "none",
                              arrangement="single loop"), 13),
    Answer("none", "Nothing is wrong with it: leave it", "with boilers or zones shut the pump still has a way round",
           lambda d: d.scheme(_bypassed), 13)),
    _ways, rules=tuple(WAY_RULES))

# -- J3 ----------------------------------------------------------------------------------------------------


def _ghost(c: Case, among: tuple[str, ...]) -> str | None:
    found = c.findings("ghost-flow")
    if not found:
        return "none" if c.reading.tanks or len(c.reading.boilers) > 1 else None
    if len(found) > 1:
        return None
    cure = "check" if "spring-loaded check valve" in found[0].fix else "valve"
    if found[0].parts[0] in c.reading.tanks:
        return f"tank {cure}"
    return "boiler" if cure == "check" else None


GHOSTS = Pool("J3", "wrong", "Pumps stand still. Does water pass uncalled anywhere, and what is the cure?", (
    Answer("tank valve", "At the tank: a motorised valve", "another pump pushes water forwards through the tank's open branch",
           lambda d: d.faulty("ghost-flow", "tank-valve-missing"), 11),
    Answer("tank check", "At the tank: a sprung check valve", "nothing closes the tank's branch, and no other pump pushes it "
           "forwards", lambda d: d.faulty("tank-check-missing"), 11),
    Answer("boiler", "At a boiler: a sprung check valve", "nothing closes the branch of a boiler whose pump is off",
           lambda d: d.faulty("boiler-check-missing"), 10),
    Answer("none", "Nowhere: each branch is closed", "a valve closes every branch whose pump is off",
           lambda d: d.scheme(lambda s: s.tank != "none" or s.boilers > 1), 10)),
    _ghost, rules=("ghost-flow",))

# -- J4 ----------------------------------------------------------------------------------------------------


def _taps(c: Case, among: tuple[str, ...]) -> str | None:
    if not c.reading.tanks:
        return None
    return {(False, False): "none", (True, False): "valve", (False, True): "sensor", (True, True): "both"}[
        bool(c.findings("mixing-valve")), bool(c.findings("tank-sensor"))]


def _tank_with(*faults: str):  # type: ignore[no-untyped-def]
    return lambda d: replace(d.scheme(lambda s: s.tank != "none"), faults=faults)


TAPS = Pool("J4", "wrong", "The DHW store is to stay hot and the taps safe. What is wrong, and how is it mended?", (
    Answer("valve", "The taps are bare: fit a mixing valve", "no mixing valve guards the taps, while the store has its sensor",
           _tank_with("mixing-valve"), 17),
    Answer("sensor", "The store is unwatched: fit its sensor", "nobody tells how hot the store is, while the taps are guarded",
           _tank_with("tank-sensor"), 17),
    Answer("both", "Sensor and mixing valve: fit both", "neither is the store's heat told nor are the taps guarded",
           _tank_with("mixing-valve", "tank-sensor"), 17),
    Answer("none", "Nothing is wrong there: leave it", "the store's heat is told, and a mixing valve guards the taps",
           _tank_with(), 17)),
    _taps, rules=("mixing-valve", "tank-sensor"))

# -- J5 ----------------------------------------------------------------------------------------------------

TURNED_RULES = {"part-reversed": "reversed", "ports-crossed": "crossed", "common-pipe-blocked": "blocked"}


def _turned(c: Case, among: tuple[str, ...]) -> str | None:
    key = _one(c, TURNED_RULES)
    if key != "reversed":
        return key
    kinds = {c.plant.parts[tag].kind for f in c.findings("part-reversed") for tag in f.parts}
    return kinds.pop() if len(kinds) == 1 else None


TURNED = Pool("J5", "wrong", "Is anything reversed, crossed or blocked, and how is it mended?", (
    Answer("pump", "A pump is reversed: turn it round", "a pump's arrow points against its loop's water",
           lambda d: d.faulty("part-reversed", "boiler-pump-reversed"), 10),
    Answer("check valve", "A check valve is reversed: turn it", "a check valve's arrow points against its loop's water",
           lambda d: d.faulty("check-reversed", "tank-check-reversed"), 11),
    Answer("crossed", "Two pipes are crossed: swap them", "supply and return are swapped on one side of the vessel",
           lambda d: d.faulty("ports-crossed"), 8),
    Answer("blocked", "The common pipe is blocked: clear it", "a valve or pump stands in the pipe that two loops share",
           lambda d: d.faulty("common-pipe-blocked", "common-pipe-valve", "common-pipe-pump"), 9),
    Answer("none", "Nothing of the kind: leave it", "every arrow points with the water, and the loops meet freely",
           lambda d: d.scheme(), 9)),
    _turned, rules=tuple(TURNED_RULES))

# -- P2 ----------------------------------------------------------------------------------------------------


def _worst(c: Case, among: tuple[str, ...]) -> str | None:
    if not c.reading.findings:
        return "note"
    return c.reading.findings[0].severity


SIGN = Pool("P2", "name", "By what the drawing shows, may the sheet be signed?", (
    Answer("must fix", "No: stop, and have it mended first", "something stands against it that must be mended",
           lambda d: d.faulty("relief-missing", "loop-pump", "expansion-missing", "part-reversed", "common-pipe-blocked"), 21),
    Answer("should fix", "Yes, naming what should be mended", "nothing must be mended, but something should be",
           lambda d: d.faulty("mixing-valve", "supply-sensor", "expansion-isolated", "tank-sensor", "lead-boiler"), 21),
    Answer("check local code", "Once the local code was asked", "one thing depends on the local code, and nothing else is wrong",
           lambda d: d.scheme(lambda s: s.zones_by == "motorised valve" and not s.load_bypass), 21),
    Answer("note", "Yes: nothing stands against it", "there are notes at most, and nothing to be mended or asked",
           lambda d: d.scheme(lambda s: s.load_bypass or s.zones_by == "pump"), 21)),
    _worst, why=lambda c, it, key: " ".join(f.says for f in c.reading.findings if f.severity == key) or
    "No rule finds anything that must or should be mended.")

POOLS = (SAFETY, SAFE_PARTS, WAYS, GHOSTS, TAPS, TURNED, SIGN)
