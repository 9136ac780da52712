"""The questions from which a plant is put together: one table, asked by the form and by `loopbook make --ask`.

>>> given = settled({"boilers": ("2",), "meet": ("closely spaced tees",), "tank": ("boiler loop",)})
>>> given["lead"], draft(given).scheme.expected()["control"]
(('B1',), 'DHW on the boiler loop')
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal

from figures.plant.possible import FITTINGS, MOST_BOILERS, MOST_EMITTERS
from figures.plant.units import Units

from .drafting import Answers, draft, edited, fits, numbers, one

__all__ = ["QUESTIONS", "Question", "draft", "settled", "shown", "unfit"]

Options = tuple[tuple[str, str], ...]
YES_NO: Options = (("yes", "Yes"), ("no", "No"))
TEES = ("closely spaced tees", "tees per boiler", "tees per load")


@dataclass(frozen=True)
class Question:
    """One question about a boiler room.

    kind: 'one' or 'several' of the options, or something 'written'.  options, default, applies: from the answers
    before it.  ending: of a figure, by which its unit is known ('kw', 'c').
    """

    key: str
    section: str
    text: str
    kind: Literal["one", "several", "written"]
    options: Callable[[Answers], Options] = lambda a: ()
    default: Callable[[Answers], tuple[str, ...]] | None = None
    applies: Callable[[Answers], bool] = lambda a: True
    help: str = ""
    ending: str = ""

    def first(self, answers: Answers) -> tuple[str, ...]:
        """The answer that is taken until another is given."""
        if self.default is not None:
            return self.default(answers)
        options = self.options(answers)
        return (options[0][0],) if self.kind == "one" and options else ()


def _single(a: Answers) -> bool:
    return one(a, "meet", "single loop") == "single loop"


def _several(a: Answers) -> bool:
    return one(a, "boilers", "1") not in ("", "1")


def _tank(a: Answers) -> bool:
    return one(a, "tank", "none") != "none"


def _numbered(stem: str, key: str) -> Callable[[Answers], Options]:
    def named(a: Answers) -> Options:
        count = int(one(a, key, "1"))
        return tuple((f"{stem}{i}", f"{stem}{i}") for i in range(1, count + 1))
    return named


def _counts(most: int) -> Callable[[Answers], Options]:
    return lambda a: tuple((str(n), str(n)) for n in range(1, most + 1))


def _fitting(key: str, *pairs: tuple[str, str]) -> Callable[[Answers], Options]:
    """Those of the options that can be made on the plant answered so far."""
    return lambda a: tuple(pair for pair in pairs if fits(a, key, pair[0]))


def _meet(a: Answers) -> Options:
    found = [("single loop", "Nowhere: the same water passes boilers and loads (single loop)"),
             ("closely spaced tees", "Two tees close together, nothing but pipe between them"),
             ("tees far apart", "Two tees more than four inside diameters apart, a pump on each side"),
             ("hydraulic separator", "A hydraulic separator (low-loss header)"), ("buffer tank", "A four-pipe buffer tank")]
    if _several(a):
        found.append(("tees per boiler", "Each boiler on two tees of its own in the building's main"))
    found.append(("tees per load", "The building, and the tank, each on two tees of its own in the boilers' main"))
    return tuple(found)


def _boilers_by(a: Answers) -> Options:
    if not _single(a):
        return (("pump", "A pump each" + (", with a check valve" if _several(a) else "")),
                ("motorised valve", "A motorised valve each, and one pump for all"))
    found = [("motorised valve", "A motorised valve each"), ("none", "Nothing, or hand valves only")]
    if _several(a):
        found.append(("pump", "A pump with a check valve each; no other pump moves the water"))
    return tuple(found)


def _tanks(a: Answers) -> Options:
    found = [("none", "There is none, and no heat exchanger that heats DHW")]
    if _single(a):
        return (*found, ("system loop", "Yes: its coil lies in the one loop"))
    found.append(("system loop", "Both pipes of its coil join the building's side (system loop)"))
    if one(a, "meet") != "tees per boiler":
        found.append(("boiler loop", "Both pipes of its coil join the boilers' side (boiler loop)"))
        crossing = (("fed from the boilers", "Fed from the boilers' side, its return joins the building's side"),
                    ("back to the boilers", "Fed from the building's side, its return joins the boilers' side"))
        found += [pair for pair in crossing if fits(a, "tank", pair[0])]
    return tuple(found)


def _tank_by(a: Answers) -> Options:
    alone = one(a, "meet") == "tees per load" and one(a, "tank") == "boiler loop"
    if alone or one(a, "tank") == "fed from the boilers" or one(a, "tank_joins") == "own tees":
        return (("pump", "A pump with a check valve"),)
    valves = (("motorised valve", "A motorised valve"), ("diverting valve", "A diverting valve"))
    if one(a, "tank") == "boiler loop":
        return (("pump", "A pump with a check valve"), *valves)
    if one(a, "zones_by") == "pump":
        return (("pump", "A pump with a check valve"),)
    if one(a, "tank") == "back to the boilers":
        return valves[:1]
    return (*(valves[:1] if one(a, "meet") == "tees per load" else valves),
            ("pushed pump", "A pump with a check valve, beside loads that another pump feeds"),
            ("nothing", "Nothing: water passes the coil whenever the pump runs"))


def _zones_by(a: Answers) -> Options:
    found = [("motorised valve", "A motorised valve each")]
    if not (_single(a) and one(a, "boilers_by") == "pump"):
        found.append(("pump", "A pump with a check valve each; no other pump feeds them"))
    if one(a, "emitters", "1") == "1" and not _tank(a):
        found.append(("none", "Nothing: they are always open"))
    return tuple(found)


def _has_system_pump(a: Answers) -> bool:
    return one(a, "zones_by") != "pump" and not (_single(a) and one(a, "boilers_by") == "pump")


def _by_bypass(a: Answers) -> bool:
    return _single(a) and (one(a, "boilers_by") == "motorised valve" or (one(a, "boilers_by") == "none" and _several(a)))


def _tags(*kinds: str) -> Callable[[Answers], Options]:
    """Tags of these kinds on the plant answered so far."""
    def named(a: Answers) -> Options:
        try:
            scheme = draft({k: v for k, v in a.items() if k not in ("missing", "reversed")}).scheme
            parts = edited(scheme, {k: v for k, v in a.items() if k not in ("missing", "reversed")}, "si")["parts"]
        except ValueError:
            return ()
        found = [(tag, f"{tag}: {' '.join(filter(None, (body.get('role'), body['kind'], _whose(tag, body, parts))))}")
                 for tag, body in parts.items() if body["kind"] in kinds]
        return tuple(sorted(found, key=lambda pair: kinds.index(parts[pair[0]]["kind"])))
    return named


def _whose(tag: str, body: Mapping[str, object], parts: Mapping[str, object]) -> str:
    """Where a part of a made plant stands, for those who have no drawing before them; its tags are known here."""
    at = body.get("at")
    if body["kind"] == "temperature sensor":
        return f"at {at}" if at and str(at) not in ("IT", "DX") else ""
    if tag in ("PT", "CT", "VT"):
        return "of the tank"
    if tag == "PS":
        return "of the building"
    stem, number = tag.rstrip("0123456789"), tag[len(tag.rstrip("0123456789")):]
    if at or (stem in ("RV", "PB", "CB", "MV", "FS") and f"B{number}" in parts):
        return f"of {at or f'B{number}'}"
    zone = next((f"{kind}{number}" for kind in ("E", "HX") if f"{kind}{number}" in parts), "")
    return f"of {zone}" if stem in ("ZV", "PZ", "CZ") and zone else ""


B, M, A, H, Z, T, S, G, D = ("The boilers", "Where the loops meet", "Round the boilers", "Hot water for the taps", "The building",
                             "How the tank is fed", "Safety and sensors", "Design temperatures", "What is otherwise on site")
QUESTIONS: tuple[Question, ...] = (
    Question("title", B, "What is the plant called?", "written", default=lambda a: ("My boiler room",)),
    Question("boilers", B, "How many boilers are there?", "one", _counts(MOST_BOILERS)),
    Question("output_kw", B, "What heat does each boiler give?", "written", default=lambda a: ("",), ending="kw",
             help="One figure for all, or one for each with spaces between. Left empty: 100 kW (341 000 Btu/h) each."),
    Question("condensing", B, "Are the boilers built to condense?", "one", lambda a: YES_NO[::-1]),
    Question("meet", M, "Where does the boilers' water meet the building's?", "one", _meet,
             help="Follow the supply from a boiler until its water can turn back without passing a load."),
    Question("common", M, "What stands in the pipe between the two tees?", "one", _fitting(
        "common", ("nothing", "Nothing but pipe"), ("check valve", "A check valve"), ("hand valve", "A hand valve"),
        ("pump", "A pump")), applies=lambda a: one(a, "meet") in TEES),
    Question("boilers_by", A, "What drives or closes each boiler?", "one", _boilers_by,
             applies=lambda a: one(a, "meet") != "tees per boiler"),
    Question("power_off", A, "Where do the boilers' motorised valves go without power?", "one",
             lambda a: (("open", "They spring open"), ("closed", "They spring shut")),
             applies=lambda a: one(a, "boilers_by") == "motorised valve"),
    Question("lead", A, "Which boiler leads?", "one", lambda a: (*_numbered("B", "boilers")(a), ("none", "None is marked")),
             applies=_several),
    Question("return_order", A, "Whose water comes back first?", "one", lambda a: (
        ("reverse", "That of the boiler which is last out to the building (reverse return)"),
        ("direct", "That of the boiler which is first out to the building (direct return)")),
        applies=lambda a: _several(a) and one(a, "meet") != "tees per boiler"),
    Question("tank", H, "Is there an indirect tank, or a heat exchanger for DHW?", "one", _tanks,
             help="Trace both pipes of the coil to where they join. Where the tank stands tells nothing."),
    Question("dhw_by", H, "What heats the DHW?", "one", lambda a: (
        ("indirect tank", "The coil of an indirect tank"), ("heat exchanger", "A heat exchanger")), applies=_tank),
    Question("coil_kw", H, "What heat does it pass?", "written", default=lambda a: ("",), applies=_tank, ending="kw",
             help="Left empty: chosen to suit the boilers."),
    Question("taps", H, "Is there a thermostatic mixing valve on the hot outlet?", "one", lambda a: YES_NO, applies=_tank),
    Question("emitters", Z, "How many zones of the building have a branch of their own?", "one", _counts(MOST_EMITTERS)),
    Question("load_kw", Z, "What heat does each zone want?", "written", default=lambda a: ("",), ending="kw",
             help="One figure for all, or one for each. Left empty: shared out from the boilers."),
    Question("zones_by", Z, "What drives or closes each zone?", "one", _zones_by),
    Question("floors", Z, "Which zones are heated floors behind a mixing valve?", "several", _numbered("E", "emitters"),
             applies=lambda a: one(a, "meet") != "tees per load"),
    Question("bare_floors", Z, "Which zones are heated floors without a mixing valve?", "several", lambda a: tuple(
        pair for pair in _numbered("E", "emitters")(a) if pair[0] not in a.get("floors", ()))),
    Question("exchangers", Z, "Which zones are heat exchangers for heating?", "several", lambda a: tuple(
        pair for pair in _numbered("E", "emitters")(a) if pair[0] not in (*a.get("floors", ()), *a.get("bare_floors", ())))),
    Question("system_pump", Z, "Where is the pump of the building?", "one", lambda a: (
        ("supply", "In the supply"), ("return", "In the return")), applies=_has_system_pump),
    Question("load_bypass", Z, "Is there a bypass valve across the zones, for when all are shut?", "one",
             lambda a: YES_NO if a.get("floors") and one(a, "emitters") == "1" and not _several(a) else YES_NO[::-1],
             applies=lambda a: _has_system_pump(a) and one(a, "meet") != "tees per load"),
    Question("bypass", Z, "Is there a bypass across the boilers, for when all their valves are shut?", "one", _fitting(
        "bypass", ("valve", "A bypass valve from the return to the supply"), ("pipe", "An open pipe"), ("none", "None"),
        ("across the loads", "None there; one across the loads instead")), applies=_by_bypass),
    Question("tank_joins", T, "How does the tank join?", "one", lambda a: (
        ("branch", "As a branch beside the others"), ("own tees", "On two closely spaced tees of its own")),
        applies=lambda a: one(a, "tank") in ("system loop", "boiler loop") and not _single(a)
        and one(a, "meet") != "tees per load" and (one(a, "tank") == "boiler loop" or _has_system_pump(a))),
    Question("tank_by", T, "What sends water through the coil?", "one", _tank_by, applies=_tank),
    Question("relief", S, "Where do the relief valves stand?", "one", _fitting(
        "relief", ("own", "One on each boiler"), ("shared", "One on the header for all")), applies=_several),
    Question("shut_relief", S, "Which relief valves can be shut off by a valve before them?", "several", _tags("relief valve")),
    Question("expansion", S, "Where does the expansion tank join?", "one", _fitting(
        "expansion", ("inlet", "At the inlet of the building's pumps"), ("outlet", "At the outlet of a pump"),
        ("boiler", "Between a boiler and its pump"), ("check valve", "Behind a check valve"),
        ("hand valve", "At the inlet, behind a hand valve that is not locked"), ("none", "There is none"))),
    Question("supply_sensor", S, "Where is the sensor of the system supply?", "one", lambda a: (
        (("beyond", "In the building's supply"), ("none", "There is none")) if _single(a) else _fitting(
            "supply_sensor", ("beyond", "Beyond the place where the waters meet"), ("before", "Before that place"),
            ("at a boiler", "On a boiler"), ("return", "In the return"), ("none", "There is none"))(a))),
    Question("sensors", S, "Which other sensors are there?", "several", lambda a: tuple(
        (role, role[0].upper() + role[1:]) for role in ("outdoor", "system return", "boiler outlet", "boiler inlet")),
        default=lambda a: ("outdoor",)),
    Question("fittings", S, "What else is fitted?", "several", lambda a: tuple(
        (name, name[0].upper() + name[1:]) for name in FITTINGS if name != "expansion valve"),
        default=lambda a: ("air separator", "fill")),
    Question("supply_c", G, "What is the design supply temperature?", "written", default=lambda a: ("",), ending="c",
             help="Left empty: 80 °C (176 °F)."),
    Question("return_c", G, "What is the design return temperature?", "written", default=lambda a: ("",), ending="c",
             help="Left empty: 65 °C (149 °F)."),
    Question("outdoor_c", G, "What is the design outdoor temperature?", "written", default=lambda a: ("",), ending="c",
             help="Left empty: −12 °C (10 °F)."),
    Question("crossed", D, "Are supply and return swapped on one side?", "one", _fitting(
        "crossed", ("no", "No"), ("vessel", "Yes, at the vessel"), ("tees", "Yes, at the tees")),
        applies=lambda a: not _single(a) and one(a, "meet") != "tees far apart" and one(a, "common", "nothing") == "nothing"
        and one(a, "tank") not in ("fed from the boilers", "back to the boilers")),
    Question("reversed", D, "Which of these are set against the flow?", "several", _tags("pump", "check valve")),
    Question("missing", D, "Which of these are not there on site?", "several", _tags(
        "relief valve", "check valve", "motorised valve", "pump", "temperature sensor", "flow switch", "low-water cut-off"),
        help="The drawing shows them; tick what you do not find."),
)


def settled(answers: Mapping[str, tuple[str, ...]]) -> dict[str, tuple[str, ...]]:
    """Answers to every question that applies, in order: those given where they still fit, else the first ones.

    Raises ValueError for a key that no question has.
    """
    unknown = set(answers) - {question.key for question in QUESTIONS}
    if unknown:
        raise ValueError(f"no question '{min(unknown)}'; there are {', '.join(question.key for question in QUESTIONS)}")
    made: dict[str, tuple[str, ...]] = {}
    for question in QUESTIONS:
        if not question.applies(made):
            continue
        given = answers.get(question.key)
        if given is not None and question.kind != "written":
            known = {value for value, _ in question.options(made)}
            kept = tuple(value for value in given if value in known)
            given = kept if question.kind == "several" or kept else None
        made[question.key] = given if given is not None else question.first(made)
    return made


def unfit(question: Question, words: str) -> str | None:
    """What is wrong with a written answer by itself; None where nothing is."""
    try:
        if question.ending:
            numbers({question.key: (words,)}, question.key)
        else:
            draft(settled({question.key: (words,)}))
    except ValueError as wrong:
        return str(wrong)
    return None


def shown(question: Question, units: Units) -> str:
    """The question with the unit in which its figure is written."""
    if not question.ending:
        return question.text
    from figures.plant.units import unit_name

    return f"{question.text} [{unit_name(question.ending, units)}]"


