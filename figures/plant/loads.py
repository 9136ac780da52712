"""From a scheme to a plant: everything beyond the boilers. Expansion tank, system pump, zones, tank."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .draft import Draft, Line
from .sizing import flow_lps, pick_size, spacing_m

if TYPE_CHECKING:
    from .scheme import Scheme

LOW_SUPPLY_C, LOW_RETURN_C, LOW_MOST_C = 40.0, 32.0, 45.0
"""Design temperatures of a low-temperature zone (a heated floor) and the hottest supply it may see."""
TANK_DIFFERENCE_K = 15.0


class Loads:
    """The building's side of a plant being written down."""

    def __init__(self, scheme: Scheme, draft: Draft) -> None:
        self.s = s = scheme
        self.d = draft
        self.zone_flows = {
            i: flow_lps(kw, s.difference_k if i not in s.low_temperature else s.supply_c - LOW_RETURN_C)
            for i, kw in enumerate(s.loads_kw, 1)
        }
        self.tank_flow = flow_lps(s.coil_kw, TANK_DIFFERENCE_K) if s.tank != "none" else 0.0
        zones = sum(self.zone_flows.values())
        self.system_flow = zones
        if s.tank == "system loop" and s.tank_joins == "branch":
            self.system_flow = (
                max(zones, self.tank_flow) if s.tank_by == "diverting valve" else zones + self.tank_flow
            )
        self.lines: tuple[Line, ...] = ()
        self.branches: dict[str, list[int]] = {}
        self.circuits: dict[str, list[int]] = {}
        self.low_circuits: dict[int, list[int]] = {}
        self.loads_head_m = 0.0
        self.tank_runs: list[int] = []

    # -- one branch ------------------------------------------------------------------------------------

    def _zone(self, line: Line, i: int, closed_by: str) -> None:
        """Zone i strung on a line: valve or pump, and its emitter (behind a mixing valve if it must stay cool)."""
        s, d, flow = self.s, self.d, self.zone_flows[i]
        line.flow = flow
        line.length_m, line.k = line.length_m + 15.0 + 4.0 * (i % 3), line.k + 8.0 + i % 3
        # On a ring that nothing divides, a valve between boiler and load would count as the boiler's own.
        last = closed_by == "motorised valve" and s.undivided and s.system_pump != "supply"
        if closed_by == "motorised valve" and not last:
            line.via(d.part(f"ZV{i}", "motorised valve", flow, power_off="closed"))
        elif closed_by == "pump" and i in s.low_temperature:
            line.via(d.part(f"CZ{i}", "check valve", flow))
        elif closed_by == "pump":
            line.via(d.part(f"PZ{i}", "pump", flow)).via(d.part(f"CZ{i}", "check valve", flow))
        if i in s.low_temperature:
            self._low_zone(line, i)
            return
        line.via(self._heater(i, flow, s.supply_c, s.return_c))
        if last:
            line.via(d.part(f"ZV{i}", "motorised valve", flow, power_off="closed"))
        if s.has("balancing valves"):
            line.via(d.part(f"BL{i}", "balancing valve", flow))

    def _heater(self, i: int, flow: float, supply_c: float, return_c: float, **keys: float) -> str:
        given: dict[str, float] = {
            "load_kw": self.s.loads_kw[i - 1],
            "supply_c": supply_c,
            "return_c": return_c,
            **keys,
        }
        if i in self.s.exchangers:
            return self.d.part(f"HX{i}", "heat exchanger", flow, serves="heating", **given)
        return self.d.part(f"E{i}", "emitter", flow, **given)

    def _low_zone(self, line: Line, i: int) -> None:
        """Thermostatic mixing valve, the zone's own pump, and the cooled water back to both."""
        s, d, flow = self.s, self.d, self.zone_flows[i]
        mixed = flow_lps(s.loads_kw[i - 1], LOW_SUPPLY_C - LOW_RETURN_C)
        d.part(f"MX{i}", "mixing valve", mixed, set_c=LOW_SUPPLY_C)
        line.to(f"MX{i}.hot", 0.0).on(f"MX{i}.mixed")
        line.flow = mixed
        before = len(line.runs)
        line.via(d.part(f"PL{i}", "pump", mixed)).via(
            self._heater(i, mixed, LOW_SUPPLY_C, LOW_RETURN_C, max_supply_c=LOW_MOST_C)
        )
        line.to(d.tee(f"K{i}"), 6.0, 4.0)
        own = [line.runs.pop(before), d.run((f"K{i}", f"MX{i}.cold"), mixed - flow, 0.5)]
        self.low_circuits[i] = own
        line.flow = flow
        line.length_m, line.k = 6.0, 4.0

    def _tank(self, line: Line, closed_by: str | None) -> None:
        """The tank's coil strung on a line, after its valve or pump."""
        s, d, flow = self.s, self.d, self.tank_flow
        line.flow = flow
        line.length_m, line.k = line.length_m + 4.0, line.k + 5.0
        if closed_by == "motorised valve":
            line.via(d.part("VT", "motorised valve", flow, power_off="closed"))
        elif closed_by == "pump":
            line.via(d.part("PT", "pump", flow)).via(d.part("CT", "check valve", flow))
        if s.dhw_by == "heat exchanger":
            tag = d.part(
                "DX",
                "heat exchanger",
                flow,
                serves="DHW",
                load_kw=s.coil_kw,
                supply_c=75.0,
                return_c=60.0,
                outlet_mixing_valve=True,
            )
        else:
            litres = max(100.0, round(s.coil_kw * 5.0 / 50.0) * 50.0)
            tag = d.part(
                "IT", "indirect tank", flow, coil_kw=s.coil_kw, volume_l=litres, outlet_mixing_valve=True
            )
        line.via(tag)
        d.part("TT", "temperature sensor", role="tank", at=tag)

    # -- the building's main ---------------------------------------------------------------------------

    def _expansion(self, tee: str) -> None:
        s, d = self.s, self.d
        d.tee(tee)
        d.part("XT", "expansion tank")
        through = [tee]
        if s.has("expansion valve"):
            through.append(d.part("HVX", "isolation valve", locked_open=True))
        d.run((*through, "XT"), 0.0, 0.5, size="NPS 1")
        if s.has("fill"):
            d.dead_end(tee, "FV", "fill", length_m=0.5)

    def _sensor(self, line: Line, number: str = "1", tag: str = "TS") -> None:
        d = self.d
        line.to(d.tee(f"SE{number}"), 0.5)
        d.part(tag, "temperature sensor", role="system supply", at=f"SE{number}")

    def system(self, line: Line) -> Line:
        """From where the building's water sets out to where it comes back; the last pipe is still open."""
        s, d = self.s, self.d
        supply = line
        if s.has("air separator"):
            line.via(d.part("AS", "air separator", line.flow))
        if s.expansion_on == "supply":
            self._expansion("ET1")
            line.to("ET1", 0.5)
        if s.system_pump == "supply":
            line.via(d.part("PS", "pump", line.flow))
        if s.has("system supply"):
            self._sensor(line)
        if s.tank == "system loop" and s.tank_joins == "own tees":
            self._tank_on_own_tees(line)
        if s.tank == "system loop" and s.tank_by == "diverting valve":
            d.part("DV", "diverting valve", self.system_flow)
            line.to("DV.common", 0.5).on("DV.a")
            tank = d.line("DV.b", self.tank_flow)
            self._tank(tank, None)
            tank.to(d.tee("N0"), 1.0)
            self.branches["tank"] = tank.runs
        zones = [f"{i}" for i in self.zone_flows]
        if s.tank == "system loop" and s.tank_joins == "branch" and s.tank_by != "diverting valve":
            zones.append("tank")
        line.flow = sum(self._branch_flow(name) for name in zones)
        if s.load_bypass:
            line.to(d.tee("U1"), 0.5)
        line = self._zones(line, zones, "")
        if s.load_bypass:
            line.to(d.tee("U2"), 0.5)
            # With every zone shut the pump stands above its design head and moves less than its design flow.
            flow = 0.7 * line.flow
            d.run(("U1", d.part("BVL", "bypass valve", flow, set_kpa=30.0), "U2"), flow, 1.0)
        if s.tank == "system loop" and s.tank_by == "diverting valve":
            line.to("N0", 0.5)
        line.flow = self.system_flow
        if s.has("strainer"):
            line.via(d.part("ST", "strainer", line.flow))
        if s.expansion_on == "return":
            self._expansion("ET1")
            line.to("ET1", 0.5)
        if s.system_pump == "return":
            line.via(d.part("PS", "pump", line.flow))
        if s.has("system return") and s.expansion_on == "return":
            d.part("TU", "temperature sensor", role="system return", at="ET1")
        self.lines = (supply, line)
        return line

    @property
    def shared(self) -> set[int]:
        """The runs that the water of every zone passes."""
        return {run for line in self.lines for run in line.runs}

    def _branch_flow(self, name: str) -> float:
        return self.tank_flow if name == "tank" else self.zone_flows[int(name)]

    def _string(self, line: Line, name: str) -> None:
        """One branch, strung on a line, closed in the way that the scheme says."""
        if name == "tank":
            self._tank(line, self.s.tank_by)
        else:
            self._zone(line, int(name), self.s.zones_by)

    def _zones(self, line: Line, names: list[str], group: str) -> Line:
        """One branch goes straight on; several hang between two mains, the last two at their ends."""
        d, total = self.d, line.flow
        if len(names) == 1:
            self._string(line, names[0])
            self.branches.setdefault(names[0], [])
            return line
        tees = len(names) - 1 if self.s.header_ends == "elbow" else len(names)
        line.to(d.tee(f"M{group}1"), 1.5)
        d.tee(f"N{group}1")
        left = total
        mains: list[int] = []
        for place, name in enumerate(names, 1):
            at = min(place, tees)
            branch = d.line(f"M{group}{at}", self._branch_flow(name))
            self._string(branch, name)
            branch.to(f"N{group}{at}", 1.0)
            self.branches[name] = [*branch.runs, *mains]
            left -= self._branch_flow(name)
            if place < tees:
                mains.append(d.run((f"M{group}{place}", d.tee(f"M{group}{place + 1}")), left, 2.0))
                mains.append(d.run((d.tee(f"N{group}{place + 1}"), f"N{group}{place}"), left, 2.0))
        return d.line(f"N{group}1", total, 1.0)

    # -- tanks that do not hang beside the zones -------------------------------------------------------

    def _own_tees(self, line: Line, main_flow: float) -> None:
        """The tank on two closely spaced tees of its own in the pipe being laid."""
        s, d = self.s, self.d
        size = pick_size(max(main_flow, self.tank_flow), s.pipe)
        d.tee("DA")
        d.tee("DZ")
        line.to("DA", 1.0).to("DZ", spacing_m(s.spacing_diameters, size), size=size)
        tank = d.line("DA", self.tank_flow)
        self._tank(tank, "pump")
        self.tank_runs = tank.to("DZ", 1.0).runs

    def _tank_on_own_tees(self, line: Line) -> None:
        self._own_tees(line, self.system_flow)

    def tank_on_boiler_loop(self, line: Line) -> None:
        """Where the boilers' supply main meets the tank."""
        s, d = self.s, self.d
        if s.tank_joins == "own tees":
            self._own_tees(line, line.flow)
        elif s.tank_by == "diverting valve":
            d.part("DV", "diverting valve", line.flow)
            line.to("DV.common", 1.0).on("DV.a")
            tank = d.line("DV.b", self.tank_flow)
            self._tank(tank, None)
            self.tank_runs = tank.to(d.tee("D2"), 1.0).runs
        else:
            line.to(d.tee("D1"), 1.0)
            tank = d.line("D1", self.tank_flow)
            self._tank(tank, s.tank_by)
            self.tank_runs = tank.to(d.tee("D2"), 1.0).runs
            if s.tank_by == "motorised valve":
                # Two two-way valves in place of a diverting valve: one shuts as the other opens.
                line.via(d.part("VH", "motorised valve", line.flow, power_off="open"))

    def tank_back_to_boiler_loop(self, line: Line) -> None:
        """Where the tank's water joins the boilers' return main."""
        if self.s.tank_joins != "own tees":
            line.to("D2", 0.4)

    def ring_of_loads(self, line: Line) -> None:
        """Each load on two tees of its own, one after the other along the boilers' ring."""
        s, d = self.s, self.d
        zones = sorted(self.zone_flows)
        several = len(zones) > 1
        if several:
            if s.has("air separator"):
                line.via(d.part("AS", "air separator", line.flow))
            self._expansion("ET1")
            line.to("ET1", 0.5)
        size = pick_size(max(line.flow, *self.zone_flows.values(), self.tank_flow), s.pipe)
        for i in zones:
            number = str(i)
            names = [number, "tank"] if i == 1 and s.tank == "system loop" else [number]
            d.tee(f"A{i}")
            d.tee(f"Z{i}")
            line.to(f"A{i}", 1.0).to(f"Z{i}", spacing_m(s.spacing_diameters, size), size=size)
            branch = d.line(f"A{i}", sum(self._branch_flow(name) for name in names))
            if not several:
                if s.has("air separator"):
                    branch.via(d.part("AS", "air separator", branch.flow))
                self._expansion("ET1")
                branch.to("ET1", 0.5)
            pump = ""
            if s.zones_by != "pump":
                pump = d.part(f"PS{number}" if several else "PS", "pump", branch.flow)
                branch.via(pump)
            self._sensor(branch, number, f"TS{number}" if several else "TS")
            back = self._zones(branch, names, "" if not several else f"{number}_").to(f"Z{i}", 1.0)
            shared = sorted({*branch.runs, *back.runs})
            if pump:
                self.circuits[pump] = shared
            for name in names:
                self.branches[name] = sorted({*self.branches.get(name, ()), *shared})
        if s.tank == "boiler loop":
            self._own_tees(line, line.flow)

    # -- pumps -----------------------------------------------------------------------------------------

    def set_pumps(self, beyond: set[int]) -> None:
        """Give the building's pumps their curves. beyond: the boilers' runs, on a single loop."""
        s, d, main = self.s, self.d, self.shared
        worst = max((d.loss_m(set(runs) - main) for runs in self.branches.values()), default=0.0)
        if "PS" in d.parts and s.separation != "tees per load":
            d.drive("PS", self.system_flow, d.loss_m(main | beyond) + worst)
        elif s.arrangement == "single loop" and s.boilers_by == "pump":
            self.loads_head_m = worst
        for pump, runs in self.circuits.items():
            inner = max(
                d.loss_m(set(own) - set(runs)) for own in self.branches.values() if set(runs) <= set(own)
            )
            d.drive(pump, max(d.flows[run] for run in runs), d.loss_m(runs) + inner)
        for name, own in self.branches.items():
            pump = "PT" if name == "tank" else f"PZ{name}"
            if pump in d.parts:
                d.drive(pump, self._branch_flow(name), d.loss_m({*own, *main, *beyond}))
        for i, own in self.low_circuits.items():
            rest = {*self.branches[str(i)], *main, *beyond} if s.zones_by == "pump" else set()
            d.drive(f"PL{i}", d.flows[own[0]], d.loss_m({*own, *rest}))
        if "PT" in d.parts and s.tank == "system loop" and s.tank_joins == "own tees":
            self.drive_tank_pump(0.0)
        if "BVL" in d.parts:
            d.parts["BVL"]["set_kpa"] = max(20.0, round((d.loss_m(main) + worst) * 9.81 * 1.1 / 5.0) * 5.0)

    def drive_tank_pump(self, beyond_m: float) -> None:
        """The curve of a tank pump with its own circuit, and `beyond_m` of head besides."""
        self.d.drive("PT", self.tank_flow, self.d.loss_m(self.tank_runs) + beyond_m)
