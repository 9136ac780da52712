"""Plants for tests, written the way one sketches them: runs only, the kind told by the tag's first letters."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

from figures.plant import Plant
from figures.plant.check import plant_from_data
from figures.plant.model import tag_of

KIND_BY_LETTERS = {
    "B": "boiler", "P": "pump", "C": "check valve", "HV": "isolation valve", "MV": "motorised valve",
    "ZV": "motorised valve", "BAL": "balancing valve", "BV": "bypass valve", "E": "emitter", "IT": "indirect tank",
    "HX": "heat exchanger", "AS": "air separator", "ST": "strainer", "FS": "flow switch", "RV": "relief valve",
    "XT": "expansion tank", "FV": "fill", "AV": "air vent", "DR": "drain", "HS": "hydraulic separator",
    "BT": "buffer tank", "DV": "diverting valve", "MX": "mixing valve",
}
GIVEN: dict[str, dict[str, object]] = {
    "ZV": {"power_off": "closed"}, "IT": {"outlet_mixing_valve": True}, "HX": {"serves": "DHW", "outlet_mixing_valve": True}}


def _letters(tag: str) -> str:
    """The longest beginning of a tag that tells a kind."""
    return next((tag[:n] for n in (3, 2, 1) if tag[:n] in KIND_BY_LETTERS), "")


def sketch(runs: str, *, sensors: str = "", given: Mapping[str, Mapping[str, object]] | None = None,
           design: Mapping[str, object] | None = None) -> Plant:
    """A checked plant from lines such as 'A > PS > E1 > Z : 25', metres of each run behind the colon (2 unless said). A line may pass tees; it is cut there.

    sensors: 'SE1 system supply; IT tank'.  given: tag → keys that the file would say. B1 leads unless said.  design: the table of that name.
    """
    rows: list[dict[str, object]] = []
    parts: dict[str, dict[str, object]] = {}
    for line in filter(str.strip, runs.splitlines()):
        text, _, metres = line.partition(":")
        through = [end.strip() for end in text.split(">")]
        for end in through:
            letters = _letters(tag_of(end))
            parts[tag_of(end)] = {"kind": KIND_BY_LETTERS.get(letters, "tee"), **GIVEN.get(letters, {})}
        stops = [n for n, end in enumerate(through) if n in (0, len(through) - 1)
                 or parts[tag_of(end)]["kind"] in ("tee", "hydraulic separator", "buffer tank", "diverting valve")]
        for start, stop in pairwise(stops):
            rows.append({"through": through[start:stop + 1], "size": "NPS 2", "length_m": float(metres or 2.0)})
    if "B1" in parts:
        parts["B1"]["lead"] = True
    for n, place in enumerate(filter(None, (s.strip() for s in sensors.split(";")))):
        at, role = place.split(" ", 1)
        parts[f"sensor{n}"] = {"kind": "temperature sensor", "role": role, "at": at}
    for tag, keys in (given or {}).items():
        parts.setdefault(tag, {}).update(keys)
    return plant_from_data({"format": 1, "title": "Sketch", "parts": parts, "runs": rows, "design": dict(design or {})})


CLOSE = 0.15   # metres: three inside diameters of NPS 2
