"""A plant in the making: parts and runs as a plant file says them, sized as they are written down."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from .kinds import Value
from .sizing import kv_for, pick_size, pipe_loss_m, pump_figures, valve_kv, valve_loss_m

# Pressure that a part may cost at its design flow, kPa: common practice, no source.
DROPS_KPA = {
    "boiler": 12.0,
    "emitter": 15.0,
    "indirect tank": 15.0,
    "heat exchanger": 15.0,
    "check valve": 4.0,
    "isolation valve": 1.0,
    "motorised valve": 6.0,
    "diverting valve": 6.0,
    "mixing valve": 10.0,
    "balancing valve": 6.0,
    "bypass valve": 10.0,
    "air separator": 1.5,
    "strainer": 4.0,
    "flow switch": 1.5,
    "pump": 12.0,
}
MADE_TO_MEASURE = frozenset({"boiler", "emitter", "indirect tank", "heat exchanger"})
"""Kinds whose Kv follows from the flow, not from the steps of valves on sale."""
DEAD_END_SIZE = "NPS 3/4"


class Draft:
    """Parts and runs being written down; `data` is what `tomllib` would read from the finished file."""

    def __init__(self, title: str, pipe: str) -> None:
        self.pipe = pipe
        self.parts: dict[str, dict[str, Value]] = {}
        self.runs: list[dict[str, object]] = []
        self.flows: list[float] = []
        self.design: dict[str, float] = {}
        self.title = title

    @property
    def data(self) -> dict[str, object]:
        """The plant as a plant file's tables."""
        return {"format": 1, "title": self.title, "parts": self.parts, "runs": self.runs, "design": self.design}

    def part(self, tag: str, kind: str, flow: float = 0.0, **keys: Value) -> str:
        """Write down a part; with a flow [L/s] its Kv is chosen to suit. Returns the tag."""
        assert tag not in self.parts, tag
        body: dict[str, Value] = {"kind": kind, **keys}
        if flow > 0.0 and kind in DROPS_KPA:
            body["kv_m3h"] = (kv_for if kind in MADE_TO_MEASURE else valve_kv)(flow, DROPS_KPA[kind])
        self.parts[tag] = body
        return tag

    def tee(self, tag: str) -> str:
        """Write down a tee, once."""
        if tag not in self.parts:
            self.part(tag, "tee")
        return tag

    def run(
        self, through: Iterable[str], flow: float, length_m: float, k: float = 0.0, size: str | None = None
    ) -> int:
        """Write down a run for a design flow [L/s]; its size is chosen unless given. Returns its index."""
        row: dict[str, object] = {
            "through": list(through),
            "size": size or pick_size(flow, self.pipe),
            "length_m": round(length_m, 4),
        }
        if k:
            row["k"] = round(k, 2)
        self.runs.append(row)
        self.flows.append(flow)
        return len(self.runs) - 1

    def dead_end(
        self,
        tee: str,
        tag: str,
        kind: str,
        size: str = DEAD_END_SIZE,
        length_m: float = 0.3,
        through: Sequence[str] = (),
        **keys: float,
    ) -> None:
        """A part that closes a run, on a short pipe from a tee."""
        self.part(tag, kind, **keys)
        self.run((tee, *through, tag), 0.0, length_m, size=size)

    def loss_m(self, indexes: Iterable[int]) -> float:
        """Head lost along runs at their design flows [m], the parts in them included, pumps left out."""
        total = 0.0
        for index in indexes:
            row, flow = self.runs[index], self.flows[index]
            through, size, length, k = row["through"], row["size"], row["length_m"], row.get("k", 0.0)
            assert isinstance(through, list) and isinstance(size, str)
            assert isinstance(length, float) and isinstance(k, float)
            total += pipe_loss_m(flow, size, length, k)
            for place, end in enumerate(through):
                # A part that ends one run and starts the next is counted with the run it starts.
                body = self.parts.get(end)
                if body is None or (place == len(through) - 1 and body["kind"] != "tee"):
                    continue
                kv = body.get("kv_m3h")
                if isinstance(kv, float) and body["kind"] != "pump":
                    total += valve_loss_m(flow, kv)
        return total

    def drive(self, pump: str, flow: float, head_m: float) -> None:
        """Give a pump its curve."""
        self.parts[pump].update(pump_figures(flow, head_m))

    def line(self, at: str, flow: float, length_m: float = 0.0, k: float = 0.0) -> Line:
        """A pipe that starts at `at` and is still open at its far end."""
        return Line(self, at, flow, length_m, k)


class Line:
    """A pipe being laid: parts are strung on it, and each node that it reaches closes a run."""

    def __init__(self, draft: Draft, at: str, flow: float, length_m: float = 0.0, k: float = 0.0) -> None:
        self.draft = draft
        self.at = at
        self.flow = flow
        self.length_m = length_m
        self.k = k
        self.chain: list[str] = []
        self.runs: list[int] = []

    def via(self, tag: str, length_m: float = 0.3) -> Line:
        """String a two-port part on the pipe."""
        self.chain.append(tag)
        self.length_m += length_m
        return self

    def to(self, end: str, length_m: float = 1.0, k: float = 0.0, size: str | None = None) -> Line:
        """Reach a node or part, which closes the run; the next one starts there."""
        run = self.draft.run(
            (self.at, *self.chain, end), self.flow, self.length_m + length_m, self.k + k, size
        )
        self.runs.append(run)
        self.at, self.chain, self.length_m, self.k = end, [], 0.0, 0.0
        return self

    def on(self, port: str) -> Line:
        """Go on from another port of the vessel or valve just reached."""
        self.at = port
        return self
