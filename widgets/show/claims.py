"""The form of find the fault: where, what is wrong there, and what was said so far."""

from __future__ import annotations

import traitlets

from figures.plant import Part, Plant
from figures.plant.kinds import KINDS
from figures.plant.units import converted, figure
from widgets.learn.consent import units
from widgets.learn.find import NOTHING

from .look import what_is
from .pieces import Piece, script


class Claims(Piece):
    """What is wrong, and where: two lists, what was said so far, and a box for 'nothing is wrong here'.

    places: {'value', 'label', 'group'}.  words: {'value', 'label'}.  place, word: what is chosen, '' for none.
    asked: place and word as they stood when Add was pressed.  told: what is known of the chosen place.
    claims: {'place', 'label', 'state', 'says', 'removable'}, the state being '', 'found', 'half', 'false alarm', 'noted',
    'again' or 'shown'.  nothing: the box.  at: which claim the last press of Remove or of the claim itself was about.
    The `…_pressed` count presses.

    >>> Claims(words=[{"value": "a", "label": "Set against the flow"}]).claims
    []
    """

    _esm = script("find.js")
    places = traitlets.List(traitlets.Dict()).tag(sync=True)
    words = traitlets.List(traitlets.Dict()).tag(sync=True)
    place = traitlets.Unicode("").tag(sync=True)
    word = traitlets.Unicode("").tag(sync=True)
    asked = traitlets.List(traitlets.Unicode()).tag(sync=True)
    told = traitlets.Unicode("").tag(sync=True)
    claims = traitlets.List(traitlets.Dict()).tag(sync=True)
    nothing = traitlets.Bool(False).tag(sync=True)
    nothing_label = traitlets.Unicode(NOTHING).tag(sync=True)
    locked = traitlets.Bool(False).tag(sync=True)
    state = traitlets.Enum(["", "right", "part", "again", "shown"], "").tag(sync=True)
    says = traitlets.Unicode("").tag(sync=True)
    at = traitlets.Int(-1).tag(sync=True)
    add_pressed = traitlets.Int(0).tag(sync=True)
    remove_pressed = traitlets.Int(0).tag(sync=True)
    look_pressed = traitlets.Int(0).tag(sync=True)


def places_of(plant: Plant) -> list[dict[str, str]]:
    """Every part and pipe for a list, under headings, in the order of the table of kinds."""
    from figures.drawing.skeleton import natural

    made = []
    for kind in KINDS:
        for tag in sorted((part.tag for part in plant.of_kind(kind)), key=natural):
            made.append({"value": tag, "label": f"{tag}, {kind}", "group": kind.capitalize()})
    return made + [{"value": name, "label": f"{name}, pipe", "group": "Pipe"} for name in sorted(plant.run_names, key=natural)]


def told_of(plant: Plant, name: str) -> str:
    """What stands on a part's plate, or of a pipe its length, in the learner's units: what a drawing has no symbol for.

    >>> from figures.plant.scheme import Scheme
    >>> plant = Scheme("single loop", boilers=2).plant()
    >>> told_of(plant, "MV1")
    'MV1: motorised valve — opened and shut by the control. It goes open when its power fails.'
    """
    words = what_is(plant, name)
    part = plant.parts.get(name)
    if part is not None:
        return f"{words} {_plate(plant, part)}".strip()
    if name not in plant.run_names:
        return ""
    run = plant.runs[plant.run_names.index(name)]
    long = f"{run.length_m:g} m" if units() == "si" else figure(run.length_m, "m", "us")
    return f"{words} It is {long} long, {run.length_m / run.bore.inside_m:.1f} of its inside diameters."


def _plate(plant: Plant, part: Part) -> str:
    if part.kind == "boiler":
        return f"It is set to {_warm(part.number('setpoint_c'))}."
    if part.kind == "motorised valve":
        return f"It goes {part['power_off']} when its power fails."
    if part.kind == "isolation valve":
        return "It is locked open." if part["locked_open"] else "Nothing locks it open."
    if part.kind == "emitter" and part["max_supply_c"] is not None:
        return f"It may see at most {_warm(part.number('max_supply_c'))}."
    if part.kind == "mixing valve":
        return f"It is set to {_warm(part.number('set_c'))}."
    if plant.is_dhw(part.tag):
        guard = "A thermostatic mixing valve" if part["outlet_mixing_valve"] else "No mixing valve"
        return f"{guard} stands at its outlet; for DHW its loop is raised to {_warm(plant.design.dhw_setpoint_c)}."
    if part.kind == "temperature sensor":
        return f"It measures: {part['role']}" + (f", at {part['at']}." if part["at"] else ".")
    return f"It guards {part['at']}." if part.what.shape == "instrument" else ""


def _warm(c: float) -> str:
    """A temperature as a plate or a drawing writes it."""
    return f"{c:g} °C" if units() == "si" else f"{converted(c, 'c', 'us'):.0f} °F"
