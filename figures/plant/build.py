"""From a scheme to a plant: boilers, headers, where the loops meet, and the instruments.

What the water does beyond the boilers stands in `figures.plant.loads`. Tags follow one plan (B1, PB1, A, Z,
PS, E1 …) because people like to read them; the reading does not look at them.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from .draft import Draft, Line
from .loads import Loads
from .sizing import (
    expansion_litres,
    flow_lps,
    kv_for,
    larger_size,
    pick_size,
    relief_kpa,
    run_litres,
    spacing_m,
)

if TYPE_CHECKING:
    from .scheme import Scheme

PITCH_M = 1.2
"""From one boiler to the next along a header."""
BYPASS_SHARE = 0.15
"""Of the system's flow, through a plain bypass pipe with its balancing valve set: common practice, no source."""
RELIEF_SIZES = ((60.0, "NPS 3/4"), (150.0, "NPS 1"), (350.0, "NPS 1-1/4"), (1e9, "NPS 1-1/2"))
EMITTER_L_KW = 8.0
"""Water in emitters and their pipes beyond the boiler room, L per kW: common practice, no source."""


class Builder(Loads):
    """Writes one scheme down. Use `built`."""

    def __init__(self, scheme: Scheme) -> None:
        super().__init__(scheme, Draft(scheme.title, scheme.pipe))
        self.header_runs: list[int] = []
        self.boiler_runs: dict[int, list[int]] = {}
        self.main_runs: list[int] = []
        s = scheme
        own = flow_lps(sum(s.outputs_kw), s.boiler_difference_k)
        self.boiler_flow = self.system_flow if s.arrangement == "single loop" else own

    # -- boilers and their headers ---------------------------------------------------------------------

    def _share(self, i: int) -> float:
        return self.boiler_flow * self.s.outputs_kw[i - 1] / sum(self.s.outputs_kw)

    def _boiler(self, i: int) -> Line:
        """Boiler i with what stands at it, up to where its supply pipe is still open."""
        s, d, flow = self.s, self.d, self._share(i)
        output = s.outputs_kw[i - 1]
        keys: dict[str, float | bool] = {"output_kw": output, "setpoint_c": s.supply_c}
        if s.condensing:
            keys |= {
                "condensing": True,
                "min_flow_lps": round(0.3 * flow, 2),
                "water_l": round(0.25 * output, 0),
            }
        else:
            keys["water_l"] = round(1.1 * output, 0)
        if i == s.lead:
            keys["lead"] = True
        d.part(f"B{i}", "boiler", flow, **keys)
        d.tee(f"TR{i}")
        size = next(name for most, name in RELIEF_SIZES if output <= most)
        d.dead_end(f"TR{i}", f"RV{i}", "relief valve", size, 0.2, set_kpa=relief_kpa(s.height_m))
        line = d.line(f"B{i}", flow).to(f"TR{i}", 0.3)
        if s.has("low-water cut-off"):
            d.part(f"LW{i}", "low-water cut-off", at=f"B{i}")
        if s.has("high limit"):
            d.part(f"HL{i}", "high limit", at=f"B{i}")
        if s.has("boiler outlet"):
            d.part(f"TB{i}", "temperature sensor", role="boiler outlet", at=f"TR{i}")
        if s.has("boiler inlet"):
            d.part(f"TI{i}", "temperature sensor", role="boiler inlet", at=f"B{i}")
        # Of several, each has a line of its own, which ends at the header; a sole boiler's goes on as the main.
        self.boiler_runs[i] = line.runs if s.boilers > 1 else line.runs[:]
        return self._outlet(line, i)

    def _mover(self, line: Line, i: int) -> None:
        self.d.part(f"PB{i}", "pump", line.flow)
        line.via(f"PB{i}")
        if self.s.boilers > 1:
            self.d.part(f"CB{i}", "check valve", line.flow)
            line.via(f"CB{i}")

    def _outlet(self, line: Line, i: int) -> Line:
        s, d = self.s, self.d
        if s.has("isolation valves"):
            line.via(d.part(f"HV{i}", "isolation valve", line.flow))
        if s.has("flow switch"):
            line.via(d.part(f"FS{i}", "flow switch", line.flow))
        if s.boilers_by == "motorised valve":
            line.via(d.part(f"MV{i}", "motorised valve", line.flow, power_off="open"))
        elif s.boilers_by == "pump" and s.boiler_pump_on == "outlet":
            self._mover(line, i)
        return line

    def _inlet(self, line: Line, i: int) -> Line:
        s, d = self.s, self.d
        if s.has("isolation valves"):
            line.via(d.part(f"HW{i}", "isolation valve", line.flow))
        if s.boilers_by == "pump" and s.boiler_pump_on == "inlet":
            self._mover(line, i)
        return line

    def supply_from_boilers(self) -> Line:
        """All boilers and both headers; the supply main is still open at its far end."""
        s, d, n = self.s, self.d, self.s.boilers
        if n == 1:
            line = self._boiler(1)
            line.length_m, line.k = line.length_m + 1.0, 3.0
            return line
        header = pick_size(self.boiler_flow, s.pipe)
        bend = 0 if s.header_ends == "elbow" else 1
        for i in range(1, n + 1):
            at = i if i > 1 or bend else 2
            self._boiler(i).to(f"S{at}", 1.5 + (PITCH_M if at != i else 0.0), 3.0)
            d.tee(f"S{at}")
        for i in range(1 if bend else 2, n):
            self.header_runs.append(d.run((f"S{i}", f"S{i + 1}"), self.boiler_flow, PITCH_M, size=header))
        self._return_header(header, bend)
        if s.header_ends == "vented":
            d.dead_end("S1", "AVH", "air vent")
        return d.line(f"S{n}", self.boiler_flow, 1.0)

    def _return_header(self, header: str, bend: int) -> None:
        s, d, n = self.s, self.d, self.s.boilers
        order = list(range(1, n + 1)) if s.return_order == "reverse" else list(range(n, 0, -1))
        self.first_return = f"R{order[0]}"
        self.first_return_m = 1.0 + (PITCH_M * n if s.return_order == "reverse" else 0.0)
        last = order[-1]
        tees = order if bend else order[:-1]
        for a, b in pairwise(tees):
            self.header_runs.append(d.run((f"R{a}", f"R{b}"), self.boiler_flow, PITCH_M, size=header))
        for i in order:
            at = i if i in tees else order[-2]
            d.tee(f"R{at}")
            line = self._inlet(d.line(f"R{at}", self._share(i), 1.5 + (PITCH_M if at != i else 0.0), 3.0), i)
            self.boiler_runs[i] += line.to(f"B{i}", 0.2).runs
        if s.header_ends == "vented":
            d.dead_end(f"R{last}", "DRH", "drain")

    def return_to_boilers(self, line: Line, since: int = 0) -> None:
        """Bring the return main home. since: how many of its runs lie on the loads' side."""
        if self.s.boilers == 1:
            line.length_m, line.k = line.length_m + 1.0, 3.0
            self._inlet(line, 1).to("B1", 0.2)
        else:
            line.to(self.first_return, self.first_return_m)
        self.main_runs += line.runs[since:]

    def boilers_head_m(self) -> float:
        """Head lost round the boilers' side, by the worst boiler."""
        return self.d.loss_m(self._round_boilers())

    def _round_boilers(self) -> set[int]:
        worst = max(self.boiler_runs.values(), key=self.d.loss_m)
        return {*worst, *self.header_runs, *self.main_runs}

    # -- where the loops meet --------------------------------------------------------------------------

    def single_loop(self) -> None:
        """One loop: boilers, a bypass across them where they can be shut, pump, loads."""
        s, d = self.s, self.d
        line = self._vent(self.supply_from_boilers())
        if s.bypass == "valve":
            line.to("Y1", 0.5)
        elif s.bypass == "pipe":
            line.to("W1", 0.5)
        self.main_runs = line.runs[:]
        line = self.system(line)
        since = len(line.runs)
        if s.bypass == "valve":
            line.to("Y2", 0.5)
            # With every boiler shut the pump's water comes round here, less than the design flow.
            flow = 0.8 * self.system_flow
            d.run(("Y2", d.part("BV", "bypass valve", flow, set_kpa=20.0), "Y1"), flow, 1.0)
        elif s.bypass == "pipe":
            line.to("W2", 0.5)
            flow = BYPASS_SHARE * self.system_flow
            d.run(("W2", d.part("BAL", "balancing valve", flow), "W1"), flow, 1.5)
        for tee in ("Y1", "Y2") if s.bypass == "valve" else ("W1", "W2") if s.bypass == "pipe" else ():
            d.tee(tee)
        self.return_to_boilers(self._drain(line), since + 1 if s.bypass != "none" else since)
        self.set_pumps(self._round_boilers())
        if s.bypass == "valve":
            d.parts["BV"]["set_kpa"] = self._bypass_setting_kpa(self.boilers_head_m())
        elif s.bypass == "pipe":
            # Balanced against the boilers, or more return would come round by it than is meant to.
            d.parts["BAL"]["kv_m3h"] = kv_for(BYPASS_SHARE * self.system_flow, 9.64 * self.boilers_head_m())

    def _bypass_setting_kpa(self, head_m: float) -> float:
        """A bypass across the boilers stays shut while they are open: a third above their own loss."""
        return max(15.0, round(head_m * 9.81 * 1.3 / 5.0) * 5.0)

    def two_loops(self) -> None:
        """Boilers on one side of tees or a vessel, the building on the other."""
        s, d = self.s, self.d
        line = self.supply_from_boilers()
        if s.boilers_by == "motorised valve":
            line.via(d.part("PR", "pump", self.boiler_flow))
        line = self._vent(line)
        if s.tank == "boiler loop":
            self.tank_on_boiler_loop(line)
        # Little pipe between a tank's tees and the separation, so that the boilers' flow hardly pushes through it.
        near_m = 0.4 if s.tank == "boiler loop" else 1.5
        here, there = ("a", "b") if not s.vessel_turned else ("b", "a")
        if s.separation == "closely spaced tees":
            supply, back = "A", "Z"
            common = pick_size(max(self.boiler_flow, self.system_flow), s.pipe)
            line.to(d.tee("A"), near_m)
            d.tee("Z")
            d.run(
                ("A", "Z"),
                abs(self.boiler_flow - self.system_flow),
                spacing_m(s.spacing_diameters, common),
                size=common,
            )
        else:
            vessel = "HS" if s.separation == "hydraulic separator" else "BT"
            supply, back = f"{vessel}.{there}_supply", f"{vessel}.{there}_return"
            most = max(self.boiler_flow, self.system_flow)
            litres = max(10.0, round(25.0 * most / 5.0) * 5.0)
            if vessel == "BT":
                litres = max(200.0, round(sum(s.outputs_kw) * 4.0 / 50.0) * 50.0)
            d.part(vessel, s.separation or "", volume_l=litres)
            line.to(f"{vessel}.{here}_supply", near_m)
        self.main_runs = line.runs[:]
        home = d.line(
            "Z" if s.separation == "closely spaced tees" else f"{vessel}.{here}_return", self.boiler_flow
        )
        if s.tank == "boiler loop":
            self.tank_back_to_boiler_loop(home)
        self.return_to_boilers(self._drain(home))
        self.system(d.line(supply, self.system_flow)).to(back, 1.5)
        self.set_pumps(set())

    def tees_per_boiler(self) -> None:
        """The building's main runs past the boilers; each hangs on two tees of its own."""
        s, d, n = self.s, self.d, self.s.boilers
        d.tee(f"Z{n}")
        line = self._drain(self.system(d.line(f"Z{n}", self.system_flow)))
        for i in range(1, n + 1):
            d.tee(f"A{i}")
            d.tee(f"Z{i}")
            line.to(f"A{i}", 1.0)
            common = larger_size(pick_size(self.system_flow, s.pipe), pick_size(self._share(i), s.pipe))
            line.to(f"Z{i}", spacing_m(s.spacing_diameters, common), size=common)
            self._boiler(i).to(f"Z{i}", 2.0, 3.0)
            back = self._inlet(d.line(f"A{i}", self._share(i), 2.0, 3.0), i).to(f"B{i}", 0.2)
            self.boiler_runs[i] += back.runs
        self.set_pumps(set())

    def tees_per_load(self) -> None:
        """A ring of the boilers; each load hangs on two tees of its own."""
        s, d = self.s, self.d
        line = self.supply_from_boilers()
        if s.boilers_by == "motorised valve":
            line.via(d.part("PR", "pump", self.boiler_flow))
        line = self._vent(line)
        self.ring_of_loads(line)
        self.return_to_boilers(self._drain(line))
        self.set_pumps(set())

    def _vent(self, line: Line) -> Line:
        if self.s.has("air vent"):
            self.d.tee("X1")
            line.to("X1", 0.5)
            self.d.dead_end("X1", "AV", "air vent")
        return line

    def _drain(self, line: Line) -> Line:
        if self.s.has("drain"):
            self.d.tee("X2")
            line.to("X2", 0.5)
            self.d.dead_end("X2", "DR", "drain")
        return line

    # -- what is left when all pipes are laid ----------------------------------------------------------

    def finish(self) -> None:
        """Boiler pumps, expansion tank, outdoor sensor and design figures."""
        s, d = self.s, self.d
        if s.boilers_by == "pump":
            shared = {*self.header_runs, *self.main_runs}
            if s.arrangement == "single loop":
                shared |= self.shared
            for i, runs in self.boiler_runs.items():
                d.drive(f"PB{i}", self._share(i), d.loss_m(shared | set(runs)) + self.loads_head_m)
        if "PR" in d.parts:
            d.drive("PR", self.boiler_flow, self.boilers_head_m())
        if "PT" in d.parts and s.tank == "boiler loop":
            # The tank pump alone draws its water through the boilers.
            self.drive_tank_pump(self.boilers_head_m() * min(1.0, self.tank_flow / self.boiler_flow) ** 2)
        if s.has("outdoor"):
            d.part("TO", "temperature sensor", role="outdoor")
        water = sum(float(p.get("water_l", 0.0)) for p in d.parts.values() if p["kind"] == "boiler")
        water += sum(float(p["volume_l"]) for t, p in d.parts.items() if t in ("HS", "BT"))
        water += sum(run_litres(run) for run in d.runs) + EMITTER_L_KW * sum(s.loads_kw)
        d.parts["XT"]["volume_l"] = expansion_litres(water, s.height_m, max(s.supply_c, 80.0))
        d.design = {
            "supply_c": s.supply_c,
            "return_c": s.return_c,
            "dhw_setpoint_c": max(75.0, min(85.0, s.supply_c)),
        }


def built(scheme: Scheme) -> Draft:
    """The scheme as parts and runs, sized, not yet checked and without its faults."""
    builder = Builder(scheme)
    if scheme.arrangement == "single loop":
        builder.single_loop()
    elif scheme.separation == "tees per boiler":
        builder.tees_per_boiler()
    elif scheme.separation == "tees per load":
        builder.tees_per_load()
    else:
        builder.two_loops()
    builder.finish()
    return builder.d
