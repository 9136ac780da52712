"""Places on a plant that decide a question, in words that do not yet answer it, and what to light up."""

from __future__ import annotations

from dataclasses import dataclass

from figures.reading import Evidence, Reading, Separation
from figures.reading.evidence import listed


@dataclass(frozen=True, slots=True)
class Spot:
    """A place: what is said of it, and its parts and pipes."""

    says: str
    parts: tuple[str, ...] = ()
    pipes: tuple[str, ...] = ()

    def saying(self, says: str) -> Spot:
        """The same place with other words."""
        return Spot(says, self.parts, self.pipes)

    def sentence(self) -> str:
        """What is said, as a sentence of its own."""
        return self.says[:1].upper() + self.says[1:]


def separations_in_words(reading: Reading) -> str:
    """'the tees A and Z', 'the hydraulic separator HS', several joined by 'and'."""
    words = []
    for found in reading.separations:
        if found.kind == "closely spaced tees":
            words.append(f"the tees {listed(_tees(reading, found))}")
        else:
            words.append(f"the {found.kind} {listed(found.parts)}")
    return listed(words if len(words) < 4 else [*words[:2], f"{len(words) - 2} places like them"])


def _tees(reading: Reading, separation: Separation) -> tuple[str, ...]:
    """The two tees of a separation; what stands in its common pipe comes after them."""
    return tuple(tag for tag in separation.parts if reading.plant.parts[tag].kind == "tee")[:2]


def meeting_spot(reading: Reading) -> Spot:
    """Where two loops meet, or what shows that they do not."""
    if reading.separations:
        spots = reading.separations
        there = [f"the tees {listed(_tees(reading, s))}" if s.kind == "closely spaced tees" else
                 f"the vessel {listed(s.parts)}" for s in spots[:2]]
        more = ", and the places like it" if len(spots) > 2 else ""
        return Spot(f"look at {listed(there)}{more}: there the boilers' water can turn back without passing "
                    "a load.", tuple(dict.fromkeys(t for s in spots for t in s.parts)),
                    tuple(dict.fromkeys(p for s in spots for p in s.pipes)))
    found = reading.about("arrangement")
    bypass = [evidence for evidence in found if evidence.pipes]
    parts = tuple(dict.fromkeys(t for e in (bypass or found) for t in e.parts))
    pipes = tuple(dict.fromkeys(p for e in (bypass or found) for p in e.pipes))
    if reading.arrangement == "undetermined":
        return Spot(" ".join(evidence.says for evidence in found), parts, pipes)
    if bypass:
        return Spot(f"look at the pipe between {listed(bypass[0].parts[:2])}, and ask whose pump moves water "
                    "through it.", parts, pipes)
    return Spot(f"follow the water from {reading.boilers[0]} to the loads and home: nowhere does it meet a "
                "vessel with four pipes, or two tees close together.", parts, pipes)


def has_bypass(reading: Reading) -> bool:
    """True where a pipe or valve on the plant could be taken for a common pipe."""
    wide = not reading.separations and any(evidence.pipes for evidence in reading.about("arrangement"))
    return wide or bool(reading.plant.of_kind("bypass valve"))


def coil_spots(reading: Reading) -> Spot:
    """Where each coil's two pipes go, and the separation that decides."""
    if not reading.tanks:
        loads = tuple(tag for tag in reading.plant.parts if reading.plant.is_load(tag))
        return Spot(reading.about("dhw")[-1].says, loads)
    found = [e for e in reading.about("dhw") if e.parts and e.parts[0] in reading.tanks and e.pipes]
    parts = tuple(dict.fromkeys(t for e in reading.about("dhw") for t in e.parts))
    pipes = tuple(dict.fromkeys(p for e in reading.about("dhw") for p in e.pipes))
    if not found or reading.dhw == "undetermined":
        return Spot(" ".join(e.says for e in reading.about("dhw")), parts, pipes)
    words = " ".join(_coil(reading, evidence) for evidence in found)
    tees = tuple(t for s in reading.separations for t in s.parts)
    return Spot(words[:1].lower() + words[1:], tuple(dict.fromkeys((*parts, *tees))), pipes)


def _coil(reading: Reading, evidence: Evidence) -> str:
    tag, *ends = evidence.parts
    what = "coil of" if reading.plant.parts[tag].kind == "indirect tank" else "heat exchanger"
    if len(ends) == 2:
        joins, they = f"is fed from {ends[0]} and returns to {ends[1]}", "both of them"
    elif ends:
        joins, they = f"is fed from {ends[0]} and returns to it", "it"
    else:
        joins, they = "lies in the ring itself", "it"
    if not reading.separations:
        return f"The {what} {tag} {joins}, and no separation stands between there and the boilers."
    between = separations_in_words(reading)
    loop = reading.loop_of(tag)
    if loop is not None and loop.role == "boiler loop":
        return f"The {what} {tag} {joins}: the boilers' water reaches {they} without crossing {between}."
    if reading.dhw == "boiler loop":
        return (f"The {what} {tag} {joins}: it has a separation of its own, and what heats the building is "
                "behind another.")
    beyond = "which lie" if len(ends) == 2 else "which lies"
    return f"The {what} {tag} {joins}, {beyond} beyond {between}, seen from the boilers."


def own_pump(reading: Reading) -> bool:
    """True where a pump stands on the run of a tank's coil."""
    plant = reading.plant
    for evidence in reading.about("dhw"):
        for name, run in zip(plant.run_names, plant.runs):
            if name in evidence.pipes and any("." not in end and plant.parts[end].kind == "pump"
                                              for end in run.through):
                return True
    return False


def tank_valves(reading: Reading) -> tuple[str, ...]:
    """Diverting valves that give a tank all the water or none."""
    return tuple(dict.fromkeys(tag for e in reading.about("dhw_priority") for tag in e.parts
                               if reading.plant.parts[tag].kind == "diverting valve"))
