"""The drawings in the README: what it reads, what follows, what is wrong, and every arrangement with one boiler and with
several, `python -m tests.bench.gallery`."""

from __future__ import annotations

from pathlib import Path

from figures.drawing import Diagram
from figures.physics.operation import Operator
from figures.plant.scheme import Scheme
from figures.reading import read

PICTURES = Path(__file__).parents[2] / "lessons" / "pictures"
FOLDER, STORY_FOLDER = PICTURES / "gallery", PICTURES / "story"
SINGLE = "single loop"
TEES, SEPARATOR, BUFFER, OWN, LOADS = ("closely spaced tees", "hydraulic separator", "buffer tank", "tees per boiler",
                                       "tees per load")
ARRANGEMENTS: dict[str, tuple[Scheme, ...]] = {             # boilers on tees of their own are two or more
    SINGLE: (Scheme(SINGLE), Scheme(SINGLE, boilers=2, tank="system loop")),
    TEES: (Scheme(separation=TEES), Scheme(separation=TEES, boilers=3, tank="boiler loop")),
    SEPARATOR: (Scheme(separation=SEPARATOR), Scheme(separation=SEPARATOR, boilers=2, tank="system loop")),
    BUFFER: (Scheme(separation=BUFFER), Scheme(separation=BUFFER, boilers=2, emitters=2)),
    OWN: (Scheme(separation=OWN, boilers=2),),
    LOADS: (Scheme(separation=LOADS, emitters=2), Scheme(separation=LOADS, boilers=2, emitters=2)),
}


def draw(folder: Path) -> list[Path]:
    """Draw them all as SVG; the same each time."""
    folder.mkdir(parents=True, exist_ok=True)
    made = []
    for name, schemes in ARRANGEMENTS.items():
        for scheme in schemes:
            boilers = "one-boiler" if scheme.boilers == 1 else "several-boilers"
            title = f"{name[0].upper()}{name[1:]}, {boilers.replace('-', ' ')}"
            path = folder / f"{name.replace(' ', '-')}-{boilers}.svg"
            made.append(Diagram(scheme.plant(), title=title).save(path))
    return made


READ = Scheme(separation=TEES, boilers=2, tank="boiler loop", emitters=2)
SET = Scheme(separation=SEPARATOR, tank="system loop", emitters=1)
WRONG = Scheme(separation=TEES, boilers=2, tank="system loop",
               faults=("relief-missing", "sensor-before-separation", "ghost-flow"))


def story(folder: Path) -> tuple[list[Path], dict[str, float]]:
    """A plant that is read, one that is set rightly and wrongly, and one in which something is wrong, as SVG; and the heat
    that the tank gets in the second and the third [kW]."""
    folder.mkdir(parents=True, exist_ok=True)
    plant = READ.plant()
    lit = [name for row in read(plant).evidence if row.about in ("arrangement", "dhw") for name in (*row.parts, *row.pipes)]
    made = [Diagram(plant, title="What decides the reading is lit up").save(
        folder / "read.svg", highlight=lit, layers=("tags", "tints", "evidence"))]
    operator, tank_kw = Operator(SET.plant()), {}
    for name, configuration, title in (("set-rightly", "DHW on the system loop", "Hot water is called, set rightly"),
                                       ("set-wrongly", "DHW on the boiler loop", "Hot water is called, set wrongly")):
        found = operator.operate(operator.setting(configuration, "dhw"))
        tank_kw[name] = sum(row.given_kw for row in found.loads if operator.plant.is_dhw(row.part))
        warm = {tag: row["outlet_c"] for tag, row in found.solution.parts.items()
                if operator.plant.parts[tag].kind == "boiler" or operator.plant.is_load(tag)}
        flows = {run: found.solution.flow.run_lps(n) for n, run in enumerate(operator.plant.run_names)}
        made.append(Diagram(operator.plant, title=title).save(
            folder / f"{name}.svg", layers=("tags", "figures", "temperatures"), flows=flows, temperatures=warm))
    wrong = WRONG.plant()
    made.append(Diagram(wrong, title="What is wrong, and what is missing").save(
        folder / "wrong.svg", findings=read(wrong).findings, missing=True, layers=("tags", "findings")))
    return made, tank_kw


if __name__ == "__main__":
    pictures, tank_kw = story(STORY_FOLDER)
    for path in [*draw(FOLDER), *pictures]:
        print(f"{path.name:45} {path.stat().st_size / 1000:6.1f} kB")
    print(", ".join(f"{name}: the tank gets {kw:.0f} kW" for name, kw in tank_kw.items()))
