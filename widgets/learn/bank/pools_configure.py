"""Questions on setting the control: configuration, priority, sensors, outputs, outdoor reset."""

from __future__ import annotations

from dataclasses import replace

from figures.plant.model import tag_of
from figures.plant.scheme import Scheme
from figures.reading.settings import settings

from .case import Case, Draw
from .pool import Answer, Pool
from .pools_read import near_or_pumped

# -- C1 ----------------------------------------------------------------------------------------------------


def _control(c: Case, among: tuple[str, ...]) -> str | None:
    return c.reading.dhw


CONTROL = Pool("C1", "configuration", "What must the control be told about the DHW?", (
    Answer("none", "Heating only", "nothing on the drawing heats DHW", lambda d: d.scheme(control="heating only"), 20),
    Answer("system loop", "DHW on the system loop", "the coil is fed by the loop that serves the building",
           lambda d: d.scheme(control="DHW on the system loop"), 21),
    Answer("boiler loop", "DHW on the boiler loop", "the coil is fed on the boilers' side of a separation",
           lambda d: d.scheme(control="DHW on the boiler loop"), 1),
    Answer("undetermined", "Not to be told: mend it first", "the coil is fed from one loop and returned to another",
           lambda d: d.faulty("load-straddles", "coil-straddles"), 1)),
    _control, about=("dhw", "control"), mistakes=near_or_pumped)

# -- C2 ----------------------------------------------------------------------------------------------------


def _priority(c: Case, among: tuple[str, ...]) -> str | None:
    r = c.reading
    if r.dhw_priority == "always":
        valved = any(c.tags("diverting valve"))
        return None if valved and r.dhw == "boiler loop" else "valve" if valved else "pump"
    return {"optional": "optional", "not applicable": "none"}.get(r.dhw_priority)


PRIORITY = Pool("C2", "configuration", "How is DHW priority set here?", (
    Answer("optional", "As wished, then with a time limit", "the tank is one load among others on the building's loop",
           lambda d: d.scheme(lambda s: s.tank_by != "diverting valve", control="DHW on the system loop"), 16),
    Answer("pump", "Always: the system pump stops", "the coil is on the boiler loop, and the system pump stops for it",
           lambda d: d.scheme(lambda s: s.tank_by != "diverting valve", control="DHW on the boiler loop"), 16),
    Answer("valve", "Always: a valve turns the water", "a diverting valve turns the water from the building to the tank",
           lambda d: d.scheme(lambda s: s.tank_by == "diverting valve", control="DHW on the system loop"), 16),
    Answer("none", "Not at all: there is no DHW", "nothing on the drawing heats DHW",
           lambda d: d.scheme(control="heating only"), 20)),
    _priority, about=("dhw_priority",))

# -- C3 ----------------------------------------------------------------------------------------------------


def _sensor(c: Case, among: tuple[str, ...]) -> str | None:
    if c.reading.arrangement != "separated loops":
        return None
    places = [str(part["at"]) for part in c.plant.of_kind("temperature sensor") if part["role"] == "system supply"]
    if not c.findings("supply-sensor"):
        return "right" if places else None
    if not places:
        return "missing"
    return "boiler" if any(c.plant.parts[tag_of(at)].kind == "boiler" for at in places) else "before"


SENSOR = Pool("C3", "wrong", "Where is the sensor that should tell the temperature of the system supply?", (
    Answer("right", "Where it belongs: leave it", "it stands past the separation, before the first load",
           lambda d: d.scheme(arrangement="separated loops"), 6),
    Answer("boiler", "At a boiler: move it", "it stands at a boiler, and tells that boiler's outlet",
           lambda d: d.faulty("sensor-at-boiler"), 6),
    Answer("before", "Before the loops meet: move it", "it stands in boiler water that no return has joined yet",
           lambda d: d.faulty("sensor-before-separation"), 6),
    Answer("missing", "Nowhere on the drawing: fit one", "there is no sensor for the system supply",
           lambda d: d.faulty("supply-sensor"), 6)),
    _sensor, rules=("supply-sensor",))

ROLES = {"system supply": "The system-supply sensor", "outdoor": "The outdoor sensor", "tank": "The tank's sensor",
         "boiler outlet": "The boiler-outlet sensor"}


def _without_role(role: str):  # type: ignore[no-untyped-def]
    def make(d: Draw) -> Scheme:
        fitted = tuple(r for r in ("system supply", "outdoor", "boiler outlet") if r != role or r == "system supply")
        scheme = d.scheme(lambda s: s.tank != "none", arrangement="separated loops")
        faults = {"tank": ("tank-sensor",), "system supply": ("supply-sensor",)}.get(role, ())
        return replace(scheme, sensors=fitted, faults=faults)
    return make


def _role_absent(c: Case, among: tuple[str, ...]) -> str | None:
    sensors = settings(c.reading).sensors
    absent = [role for role in ROLES if not sensors[role]]
    return absent[0] if len(absent) == 1 and c.reading.tanks else None


SENSORS = Pool(
    "C3", "missing", "The control is to know outdoors, boiler outlet, system supply and tank. Which sensor is missing?", tuple(
        Answer(role, label, f"{label[0].lower()}{label[1:]} is the only one not drawn", _without_role(role), 6)
        for role, label in ROLES.items()), _role_absent, rules=("supply-sensor", "tank-sensor"))

# -- C4 ----------------------------------------------------------------------------------------------------


def _outputs(c: Case) -> dict[str, str]:
    jobs = c.operator.jobs
    found = {}
    for tag, job in jobs.job.items():
        key = {"boiler": "boiler valve" if c.plant.parts[tag].kind == "motorised valve" else "boiler pump",
               "system": "system", "tank": "tank", "zone": "zone"}.get(job)
        if key:
            found[tag] = key
    return found


OUTPUTS = Pool("C4", "name", "Which output of the control works {it}?", (
    Answer("boiler pump", "The boiler-pump output", "it moves one boiler's water",
           lambda d: d.scheme(lambda s: s.boilers_by == "pump" and s.boilers > 1), 7),
    Answer("boiler valve", "The boiler-isolation-valve output", "it closes one boiler while that rests",
           lambda d: d.scheme(lambda s: s.boilers_by == "motorised valve", arrangement="single loop"), 22),
    Answer("system", "The system-pump output", "it moves the water of the whole system loop",
           lambda d: d.scheme(lambda s: s.system_pump != "none"), 8),
    Answer("tank", "The tank's output", "it serves the DHW and nothing else",
           lambda d: d.scheme(lambda s: s.tank_by in ("pump", "motorised valve")), 2),
    Answer("zone", "The output of one zone", "it serves one heating zone and nothing else", lambda d: d.scheme(), 1)),
    sort=_outputs, why=lambda c, it, key: f"{it} is a {c.plant.parts[it].kind}, and the way of the water tells its job.")


def _proof(c: Case, among: tuple[str, ...]) -> str | None:
    bare = {tag for f in c.findings("proof-of-flow") for tag in f.parts}
    cut = {tag for f in c.findings("low-water") for tag in f.parts}
    if bare not in (set(), set(c.reading.boilers)) or cut not in (set(), set(c.reading.boilers)):
        return None
    return {(False, False): "both", (True, False): "flow", (False, True): "low", (True, True): "neither"}[
        bool(bare), bool(cut)]


def _guarded(*names: str):  # type: ignore[no-untyped-def]
    return lambda d: replace(d.scheme(), fittings=("air separator", "fill", *names))


PROOF = Pool("C4", "missing", "Which guards of the burner are missing on the drawing?", (
    Answer("both", "None: both guards are drawn", "a flow switch and a low-water cut-off stand at each boiler",
           _guarded("flow switch", "low-water cut-off"), 21),
    Answer("flow", "The proof of flow is missing", "no flow switch is drawn, but low-water cut-offs are",
           _guarded("low-water cut-off"), 21),
    Answer("low", "The low-water cut-off is missing", "no low-water cut-off is drawn, but flow switches are",
           _guarded("flow switch"), 21),
    Answer("neither", "Both of these guards are missing", "neither a flow switch nor a low-water cut-off is drawn",
           _guarded(), 21)),
    _proof, rules=("proof-of-flow", "low-water"))

# -- C5 ----------------------------------------------------------------------------------------------------


def _reset(c: Case, among: tuple[str, ...]) -> str | None:
    if c.reading.tanks:
        return None
    open_ = [need.key for need in settings(c.reading).reset if need.applies and need.met is not True]
    return "nothing" if not open_ else open_[0] if len(open_) == 1 else None


def _condensing(d: Draw, **more: object) -> Scheme:
    return d.scheme(lambda s: s.condensing and not s.exchangers and s.has("outdoor") and not s.low_temperature,
                    control="heating only")


def _not_condensing(d: Draw) -> Scheme:
    return d.scheme(lambda s: not s.condensing and not s.exchangers and s.has("outdoor") and not s.low_temperature,
                    control="heating only")


def _no_outdoor(d: Draw) -> Scheme:
    scheme = _condensing(d)
    return replace(scheme, sensors=tuple(name for name in scheme.sensors if name != "outdoor"))


RESET = Pool("C5", "missing", "What does outdoor reset still need here before it may be used?", (
    Answer("outdoor sensor", "An outdoor sensor, to begin with", "all else is shown, but no outdoor sensor is drawn",
           _no_outdoor, 6),
    Answer("return guard", "A return guard for the boilers", "the boilers do not condense, and no valve guards the return",
           _not_condensing, 18),
    Answer("own temperature", "A way for one load's own temperature", "one load needs a temperature of its own, not yet assured",
           lambda d: replace(_condensing(d), exchangers=(1,)), 21),
    Answer("nothing", "Nothing more: it may be used", "there is an outdoor sensor, and nobody is harmed by a cool supply",
           _condensing, 18)),
    _reset, why=lambda c, it, key: " ".join(n.evidence.says for n in settings(c.reading).reset if n.applies
                                           or key == "nothing"))

POOLS = (CONTROL, PRIORITY, SENSOR, SENSORS, OUTPUTS, PROOF, RESET)
