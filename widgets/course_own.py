"""What the lesson on your own boiler room shows: a room that somebody walked, its file, its wires, its first day."""

from __future__ import annotations

import random

from figures.plant import Plant, write_plant
from figures.plant.scheme import Scheme
from widgets.learn.consent import units
from widgets.paper.sheet import sheet
from widgets.show.given import plant_of
from widgets.show.lesson import Said
from widgets.show.table import Table

SIDES = {"output": "output", "input": "input"}
USES = {"used": "connect", "not used": "leave free", "missing": "missing here", "ask": "ask"}


def walked(seed: int) -> dict[str, tuple[str, ...]]:
    """What somebody wrote down in a boiler room: answers for `PlantForm`, the same for the same seed.

    One thing on site is not as it should be: the sensor of the system supply stands at a boiler.

    >>> from widgets import PlantForm
    >>> [finding.rule for finding in PlantForm(walked(3)).reading.findings][0]
    'supply-sensor'
    """
    chance = random.Random(f"loopbook walk {int(seed)}")
    boilers = chance.choice(("1", "2"))
    output = chance.choice((40, 60, 80))
    tank = chance.choice(("system loop", "boiler loop"))
    return {
        "title": (Scheme.random(seed).title,), "boilers": (boilers,), "output_kw": (str(output),),
        "meet": (chance.choice(("closely spaced tees", "hydraulic separator")),), "tank": (tank,),
        "coil_kw": (str(output // 2),), "emitters": (chance.choice(("1", "2")),), "supply_sensor": ("at a boiler",),
    }


def file_of(plant: object) -> Said:
    """The beginning of a plant file: its first lines, its first boiler, and the run that leaves it.

    plant: a Plant, a Scheme, or the path of a plant file.

    >>> print(repr(file_of(Scheme())).splitlines()[0])
    format = 1
    """
    made = plant_of(plant)
    pieces = write_plant(made).strip().split("\n\n")
    boiler = made.of_kind("boiler")[0].tag
    shown = [pieces[0], *(piece for piece in pieces[1:] if piece.startswith(f"[parts.{boiler}]")),
             *(piece for piece in pieces[1:] if piece.startswith("[[runs]]") and f'["{boiler}"' in piece)]
    return _Code("\n\n".join(shown))


class _Code(Said):
    """Text that a notebook shows as it stands in the file."""

    def _repr_markdown_(self) -> str:
        return f"```toml\n{self.text}\n```"


def wires(plant: object) -> Table:
    """Every output and input of the control, and what it goes to on this plant: as on its settings sheet."""
    made = plant_of(plant)
    rows = [[wire.name, SIDES[wire.side], USES[wire.use], ", ".join(wire.parts) or "–", wire.says]
            for wire in sheet(made, units=units()).content.wires]
    return Table(f"{made.title}: where the control's wires go", ["what", "side", "so", "part", "why"], rows)


def open_questions(plant: object) -> Table:
    """What the drawing does not settle, and what to ask: as on the settings sheet."""
    made = plant_of(plant)
    rows = [[one.name, one.value, one.why] for one in sheet(made, units=units()).content.ask]
    return Table(f"{made.title}: ask before anything is set", ["what", "how it stands", "what to ask"],
                 rows or [["nothing", "settled", "the drawing settles everything that it can"]])


def first_day(plant: object) -> Said:
    """The steps of commissioning in their order, each with what is done first on this plant, and its caution.

    >>> repr(first_day(Scheme(title="Lock House"))).splitlines()[0][:16]
    '1. **make safe**'
    """
    lines = []
    for step in sheet(plant_of(plant), units=units()).content.steps:
        caution = f" *{step.caution}*" if step.caution else ""
        lines.append(f"{step.number}. **{step.title}**: {step.checks[0].says}{caution}")
    return Said("\n".join(lines))


def signed_heat(plant: object) -> dict[str, tuple[float, str]]:
    """What the boilers give together and what the coils pass at design, for a sentence: {'boilers': (120.0, 'kW'), …}.

    >>> signed_heat(Scheme(boilers=2, tank="system loop"))["boilers"]
    (200.0, 'kW')
    """
    made = plant_of(plant)
    return {"boilers": (sum(part.number("output_kw") for part in made.of_kind("boiler")), "kW"),
            "coil": (sum(part.number("coil_kw") for part in made.of_kind("indirect tank")), "kW")}


def plant_walked(seed: int) -> Plant:
    """The plant of `walked`, as the form draws it."""
    from widgets.own_plant import PlantForm

    made = PlantForm(walked(seed)).plant
    assert made is not None
    return made
