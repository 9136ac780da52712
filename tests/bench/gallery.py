"""The gallery in the README: every arrangement with one boiler and with several, `python -m tests.bench.gallery [FOLDER]`."""

from __future__ import annotations

import sys
from pathlib import Path

from figures.drawing import Diagram
from figures.plant.scheme import Scheme

FOLDER = Path(__file__).parents[2] / "lessons" / "pictures" / "gallery"
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


if __name__ == "__main__":
    for path in draw(Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER):
        print(f"{path.name:45} {path.stat().st_size / 1000:6.1f} kB")
