"""The questions a technician answers in front of a drawing, made from a reading.

Each maker takes the reading and gives one item.  The key is the classifier's word; the reasons are its
evidence, told so that a wrong first answer is explained without the right one being named.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping

from figures.plant import write_plant
from figures.reading import Reading
from figures.reading.evidence import listed
from figures.reading.settings import settings

from .items import Hint, Item, Option, Pick
from .places import Spot, coil_spots, has_bypass, meeting_spot, own_pump, tank_valves

Maker = Callable[[Reading, "int | None"], Item]

OPEN = "undetermined"
OPEN_LABEL = "Cannot be told: settle it on site first"


def _item(reading: Reading, seed: int | None, name: str, objective: str, text: str,
          options: Iterable[Option], key: tuple[str, ...], because: str, hints: tuple[Hint, ...], lit: Spot,
          pick: Pick = "one") -> Item:
    if seed is None:
        mark = hashlib.sha256(write_plant(reading.plant).encode()).hexdigest()[:12]
    else:
        mark = str(seed)
    return Item(f"reading/{name}/{mark}", "reading", name, objective, text, tuple(options), key, because,
                hints, reading.plant, lit.parts, lit.pipes, pick, seed=seed)


def _full(reading: Reading, *keys: str) -> str:
    """Everything the classifier says for these keys of the reading."""
    return " ".join(evidence.says for key in keys for evidence in reading.about(key))


def _spot(reading: Reading, *keys: str) -> Spot:
    found = [evidence for key in keys for evidence in reading.about(key)]
    return Spot("", tuple(dict.fromkeys(tag for e in found for tag in e.parts)),
                tuple(dict.fromkeys(name for e in found for name in e.pipes)))


def _options(labels: Mapping[str, str], reasons: Mapping[str, Spot],
             mistakes: Mapping[str, int] | None = None,
             points: Mapping[str, float] | None = None) -> list[Option]:
    """One option a label, each with its reason; `reasons['']` serves those that have none of their own."""
    made = []
    for value, label in labels.items():
        why = reasons.get(value, reasons[""])
        made.append(Option(value, label, (mistakes or {}).get(value), why.says,
                           (points or {}).get(value, 0.0), why.parts, why.pipes))
    return made


# -- the loops ---------------------------------------------------------------------------------------

def arrangement(reading: Reading, seed: int | None = None) -> Item:
    """Single loop or separated loops."""
    key: str = reading.arrangement
    where = meeting_spot(reading)
    labels = {"single loop": "Single loop", "separated loops": "Separated loops", OPEN: OPEN_LABEL}
    mistakes = {"separated loops": 3} if key == "single loop" and has_bypass(reading) else {}
    hint = (Hint("Start at a boiler's outlet and follow the supply until you meet a load."),
            Hint("On the way, look for a vessel with four pipes, or two tees close together with nothing but "
                 "pipe between them."),
            Hint("Does the boilers' water have a way home without passing a load? That would be at what is "
                 "lit up now.", where.parts, where.pipes))
    return _item(reading, seed, "arrangement", "R3", "How are the loops arranged?",
                 _options(labels, {"": where}, mistakes), (key,), _full(reading, "arrangement"), hint,
                 _spot(reading, "arrangement"))


def separation(reading: Reading, seed: int | None = None) -> Item:
    """What separates the loops."""
    kinds = sorted({found.kind for found in reading.separations})
    if reading.arrangement == OPEN:
        key: str = OPEN
    else:
        key = kinds[0] if len(kinds) == 1 else "several kinds" if kinds else "nothing"
    labels = {"closely spaced tees": "Two tees and the common pipe between them",
              "hydraulic separator": "A hydraulic separator (low-loss header)",
              "buffer tank": "A buffer tank",
              "several kinds": "More than one of these", "nothing": "Nothing: there is one loop",
              OPEN: OPEN_LABEL}
    where = meeting_spot(reading)
    reasons = {"": where}
    for kind in ("hydraulic separator", "buffer tank"):
        if not reading.plant.of_kind(kind):
            reasons[kind] = where.saying(f"there is no {kind} on this drawing. {where.sentence()}")
    mistakes = {"closely spaced tees": 3} if key == "nothing" and has_bypass(reading) else {}
    hint = (Hint("Look at the place where the boilers' pipes and the loads' pipes come together."),
            Hint("A vessel there has four pipes. Two tees there usually stand within four inside diameters "
                 "of each other, with no part between them."),
            Hint("What is lit up now decides.", where.parts, where.pipes))
    return _item(reading, seed, "separation", "R4", "What separates the loops?",
                 _options(labels, reasons, mistakes), (key,), _full(reading, "arrangement"), hint,
                 _spot(reading, "arrangement"))


# -- DHW ---------------------------------------------------------------------------------------------

def _coil_mistakes(reading: Reading, boiler: str, none: str, none_mistake: int) -> dict[str, int]:
    """Which mistake usually leads to 'on the boiler loop' and to 'no tank' on this plant."""
    mistakes: dict[str, int] = {}
    if reading.dhw == "system loop":
        mistakes[boiler] = 2 if own_pump(reading) else 1
    if reading.tanks:
        mistakes[none] = none_mistake
    return mistakes


def dhw(reading: Reading, seed: int | None = None) -> Item:
    """Is there an indirect tank, and on which loop."""
    labels = {"none": "There is none", "system loop": "On the system loop",
              "boiler loop": "On the boiler loop", OPEN: OPEN_LABEL}
    coil = coil_spots(reading)
    reasons = {"": coil}
    points = {}
    if reading.tanks:
        reasons["none"] = coil.saying(f"there is. {coil.sentence()}")
        if reading.dhw in ("system loop", "boiler loop"):
            points = {"system loop": 1 / 3, "boiler loop": 1 / 3}   # the tank was found, not its loop
    hint = (Hint("Look for a coil or a plate exchanger that heats DHW, out on the building's pipes too."),
            Hint("Trace the coil's two pipes back to where they join. Where the tank stands, and whether it "
                 "has a pump, tells nothing."),
            Hint(coil.sentence(), coil.parts, coil.pipes))
    text = "Is there an indirect tank (or a heat exchanger for DHW), and on which loop is it?"
    return _item(reading, seed, "dhw", "R7", text,
                 _options(labels, reasons, _coil_mistakes(reading, "boiler loop", "none", 20), points),
                 (reading.dhw,), _full(reading, "dhw"), hint, coil)


def control(reading: Reading, seed: int | None = None) -> Item:
    """The control configuration."""
    labels = {"heating only": "Heating only", "DHW on the system loop": "DHW on the system loop",
              "DHW on the boiler loop": "DHW on the boiler loop", OPEN: OPEN_LABEL}
    coil = coil_spots(reading)
    reasons = {"": coil}
    if reading.tanks:
        reasons["heating only"] = coil.saying(
            f"a control that is told so never answers a DHW call. {coil.sentence()}")
    hint = (Hint("Two things decide: is there DHW to heat, and on which side of the separation is its coil?"),
            Hint("'On the boiler loop' is a name that needs two loops. Without a separation we say system "
                 "loop."),
            Hint(coil.sentence(), coil.parts, coil.pipes))
    return _item(reading, seed, "control", "C1", "What must the boiler control be told about the DHW?",
                 _options(labels, reasons,
                          _coil_mistakes(reading, "DHW on the boiler loop", "heating only", 21)),
                 (reading.control,), _full(reading, "dhw", "control"), hint, _spot(reading, "dhw", "control"))


def dhw_priority(reading: Reading, seed: int | None = None) -> Item:
    """DHW priority."""
    labels = {"not applicable": "Not applicable", "optional": "Optional", "always": "Always",
              OPEN: OPEN_LABEL}
    valves = tank_valves(reading)
    tanks = listed(reading.tanks)
    one = len(reading.tanks) == 1
    if reading.dhw_priority == "not applicable":
        why = coil_spots(reading)
    elif reading.dhw_priority == OPEN:
        why = _spot(reading, "dhw").saying(_full(reading, "dhw"))
    elif reading.dhw == "boiler loop":
        why = _spot(reading, "dhw").saying(
            f"on a DHW call the system pump stops here, so the building gets no heat while {tanks} "
            f"{'calls' if one else 'call'}.")
    elif valves:
        why = Spot(f"{listed(valves)} sends the water either to {tanks} or to the building.",
                   (*reading.tanks, *valves))
    else:
        why = Spot(f"on a DHW call the loop that serves the building runs on, and {tanks} "
                   f"{'is' if one else 'are'} fed like any load on it.", reading.tanks)
    reasons = {"": why}
    if reading.tanks:
        reasons["not applicable"] = why.saying(
            f"{tanks} can call for heat, so the question stands. {why.sentence()}")
    mistakes = {"always": {"optional": 16}, "optional": {"always": 16}}.get(reading.dhw_priority, {})
    hint = (Hint("First: is there DHW at all?"),
            Hint("Then: what becomes of the building's heat while the tank calls?"),
            Hint(why.sentence(), why.parts, why.pipes))
    return _item(reading, seed, "dhw_priority", "C2", "DHW priority on this plant is …",
                 _options(labels, reasons, mistakes), (reading.dhw_priority,), _full(reading, "dhw_priority"),
                 hint, _spot(reading, "dhw_priority"))


# -- the boilers -------------------------------------------------------------------------------------

def _crew(count: int, lead: str | None) -> str:
    boilers = "1 boiler" if count == 1 else f"{count} boilers"
    return f"{boilers}, {lead} leads" if lead else f"{boilers}, lead not settled"


def boilers(reading: Reading, seed: int | None = None) -> Item:
    """How many boilers, and which one leads."""
    count, lead = len(reading.boilers), reading.lead
    first_out = next((e.parts[0] for e in reading.about("return") if e.parts), reading.boilers[0])
    others = [tag for tag in (first_out, *reading.boilers) if tag != lead]
    others = list(dict.fromkeys(others))[:2]
    spot = Spot("", reading.boilers)
    named = lead or others[0]
    vessels = [part.tag for part in reading.plant.of_kind("indirect tank", "buffer tank",
                                                          "hydraulic separator")]
    recount = spot.saying("count the burners once more; the boilers are lit up.")
    if vessels:
        have = "has" if len(vessels) == 1 else "have"
        recount = spot.saying(f"{recount.says} {listed(vessels)} {have} none.")
    crews: list[tuple[int, str | None]] = [(count, lead)]
    crews += [(count, tag) for tag in (*others, None) if tag != lead]
    crews += [(n, named) for n in (count - 1, count + 1, count + 2) if n > 0]
    made = []
    for n, tag in sorted(dict.fromkeys(crews), key=lambda crew: (crew[0], crew[1] or "~")):
        wrong_lead = n == count and tag != lead
        if not wrong_lead:
            why = recount
        elif tag is None:
            why = spot.saying("the count is right; one boiler can be named." if count > 1 else
                              "the count is right; there is no other boiler that could run the sequence.")
        elif lead is None:
            why = Spot("the count is right; look for the lead mark: exactly one boiler may carry it.",
                       reading.boilers)
        else:
            why = Spot(f"the count is right; {tag} does not carry the lead mark.", (tag,))
        nearest = wrong_lead and tag == first_out and count > 1
        made.append(Option(_crew(n, tag), _crew(n, tag), 19 if nearest else None, why.says,
                           0.5 if wrong_lead else 0.0, why.parts))
    marked = Spot("", (lead,) if lead else reading.boilers)
    hint = (Hint("Count the parts with a burner."),
            Hint("The lead is the boiler that is marked to run the sequence, wherever it stands. A sole "
                 "boiler leads, marked or not.", reading.boilers),
            Hint("The boilers are lit up; the mark, where there is one, stands at the lead.", marked.parts))
    return _item(reading, seed, "boilers", "R8", "How many boilers are there, and which one leads?", made,
                 (_crew(count, lead),), _full(reading, "boilers", "lead"), hint,
                 _spot(reading, "boilers", "lead"))


def return_order(reading: Reading, seed: int | None = None) -> Item:
    """Reverse or direct return."""
    labels = {"reverse": "Reverse return", "direct": "Direct return",
              "single boiler": "Does not arise: there is one boiler",
              "not applicable": "Does not arise: each boiler has its own separation", OPEN: OPEN_LABEL}
    spot = _spot(reading, "return")
    if reading.return_order in ("reverse", "direct") and len(spot.parts) == 3:
        first, out, back = spot.parts
        place = "last" if reading.return_order == "reverse" else "first"
        why = spot.saying(f"the water of {first} is the first out to the system, at {out}; follow it home: "
                          f"it is the {place} to come back, at {back}.")
        near = (f"The water of {first} is the first out to the system. Is it the first or the last to come "
                f"back, at {back}?")
    elif reading.return_order == "single boiler":
        why = spot.saying(f"{reading.boilers[0]} has no other boiler to be before or after.")
        near = "How many boilers are there to put in order?"
    else:
        why = spot.saying(_full(reading, "return"))
        near = "Follow the water of each boiler: where does it first meet the water of the others?"
    hint = (Hint("Follow the water of each boiler out to the system, and note in what order they meet the "
                 "shared pipe."),
            Hint("Then follow it home. The same order both ways is direct, the opposite order is reverse."),
            Hint(near, spot.parts, spot.pipes))
    return _item(reading, seed, "return", "R9", "In what order do the boilers get their water back?",
                 _options(labels, {"": why}), (reading.return_order,), _full(reading, "return"), hint, spot)


# -- outdoor reset -----------------------------------------------------------------------------------

def reset(reading: Reading, seed: int | None = None) -> Item:
    """What outdoor reset needs before it may be used."""
    told = settings(reading)
    made = []
    for need in told.reset:
        label = need.says[0].upper() + need.says[1:]
        seen = need.evidence.says
        made.append(Option(need.key, label, None, seen, 0.0, need.evidence.parts, need.evidence.pipes))
    made += [
        Option("tank follows", "The tank is turned down along with the supply", 17,
               "DHW has to stay hot on a mild day too."),
        Option("all condensing", "Every boiler is a condensing one", 18,
               "reset may run a boiler of either kind, each with what it needs.", 0.0, reading.boilers),
        Option("reverse return", "The boilers stand on reverse return", 14,
               "the order in which boilers get water back has nothing to do with the outdoor temperature.")]
    key = tuple(need.key for need in told.reset if need.applies)
    because = " ".join(need.evidence.says for need in told.reset if need.applies)
    parts = tuple(dict.fromkeys(tag for need in told.reset if need.applies for tag in need.evidence.parts))
    count = "1 thing has" if len(key) == 1 else f"{len(key)} things have"
    hint = (Hint("Outdoor reset lowers the supply on a mild day. Who or what could be harmed by that here?"),
            Hint("Look at each boiler (built to condense or not), at each load, and at whatever heats DHW."),
            Hint(f"{count} to be so on this plant.", parts))
    text = ("Outdoor reset lowers the supply on mild days. What has to be so on this plant before it may be "
            "used? Tick everything, settled already or not.")
    return _item(reading, seed, "reset", "C5", text, made, key, because, hint, Spot("", parts), "several")


MAKERS: Mapping[str, Maker] = {
    "arrangement": arrangement, "separation": separation, "dhw": dhw, "control": control,
    "dhw_priority": dhw_priority, "boilers": boilers, "return": return_order, "reset": reset}
"""The maker of each reading question, by the question's name."""
