"""What stands beside a drawing because its symbols do not show it: the schedule of parts."""

from __future__ import annotations

from figures.plant import Plant
from figures.plant.kinds import SENSOR_ROLES
from figures.reading.evidence import listed


def schedule(plant: Plant) -> tuple[str, ...]:
    """Sentences for beside the drawing: they say what the file says, and judge nothing.

    >>> from figures.plant.scheme import Scheme
    >>> schedule(Scheme(condensing=True).plant())[0]
    'Built to condense: B1.'
    """
    said = []

    def row(label: str, tags: list[str]) -> None:
        if tags:
            said.append(f"{label}: {listed(sorted(tags))}.")

    row("Built to condense", [p.tag for p in plant.of_kind("boiler") if p["condensing"]])
    row("Not built to condense", [p.tag for p in plant.of_kind("boiler") if not p["condensing"]])
    heats = [tag for tag in plant.parts if plant.is_dhw(tag)]
    row("A thermostatic mixing valve guards the taps of", [t for t in heats if plant.parts[t]["outlet_mixing_valve"]])
    row("No thermostatic mixing valve at the outlet of", [t for t in heats if not plant.parts[t]["outlet_mixing_valve"]])
    for serves in ("heating", "DHW"):
        row(f"Heat exchanger for {serves}", [p.tag for p in plant.of_kind("heat exchanger") if p["serves"] == serves])
    for role in SENSOR_ROLES:
        row(f"Sensor of the {role} temperature", [p.tag for p in plant.of_kind("temperature sensor") if p["role"] == role])
    row("Springs open without power", [p.tag for p in plant.of_kind("motorised valve") if p["power_off"] == "open"])
    row("Closes without power", [p.tag for p in plant.of_kind("motorised valve") if p["power_off"] == "closed"])
    row("Locked open", [p.tag for p in plant.of_kind("isolation valve") if p["locked_open"]])
    for part in plant.of_kind("emitter"):
        if part["max_supply_c"] is not None:
            said.append(f"{part.tag} may see at most {part.number('max_supply_c'):g} °C.")
    for name, run in zip(plant.run_names, plant.runs):
        if len(run.through) == 2 and all("." not in end and plant.parts[end].kind == "tee" for end in run.through):
            said.append(f"Pipe {name}: {run.length_m / run.bore.inside_m:.1f} inside diameters from tee to tee.")
    return tuple(said)
