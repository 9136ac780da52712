"""Plants in which two pumps set the flows of two loops, solved: what mixes where they meet."""

from __future__ import annotations

from dataclasses import dataclass

from figures.physics import NoSolution, State
from figures.plant.scheme import Scheme

from .case import Case, Draw, NoCase

TRIES = 80
APART_SHARE = 0.15
"""Least difference of the two flows [share of the larger]: less could not be told from equal on a site."""


@dataclass(frozen=True)
class Mixing:
    """Flows [L/s] and temperatures [°C] where a boiler loop and a system loop meet, as solved.

    pumps: of the boiler loop, of the system loop.  pipes: place → name of a pipe there: 'boiler out',
    'boiler back', 'system out', 'system back'.
    """

    case: Case
    pumps: tuple[str, str]
    boiler_lps: float
    system_lps: float
    boiler_c: float
    boiler_back_c: float
    system_c: float
    system_back_c: float
    pipes: dict[str, str]
    flows: dict[str, float]

    @property
    def warmed(self) -> bool:
        """The boiler loop carries more, so that its return is warmed; else the supply is diluted."""
        return self.boiler_lps > self.system_lps


def _scheme(d: Draw, **fields: object) -> Scheme:
    return d.scheme(lambda s: s.separation in ("closely spaced tees", "hydraulic separator") and s.boilers_by == "pump"
                    and s.system_pump == "supply" and not s.low_temperature
                    and all(getattr(s, name) == value for name, value in fields.items()),
                    arrangement="separated loops", boilers=1, control="heating only")


def _pipes(c: Case, boiler: str) -> dict[str, str] | None:
    """Pipes at the separation, each named only where it joins the separation itself."""
    meeting = set(c.reading.separations[0].parts)
    loop = c.reading.loop_of(boiler)
    found: dict[str, str] = {}
    for name, run in zip(c.plant.run_names, c.plant.runs):
        first, last = run.through[0].partition(".")[0], run.through[-1].partition(".")[0]
        if (first in meeting) == (last in meeting):
            continue
        shape = c.plant.parts[last if first in meeting else first].what.shape
        if shape in ("end", "instrument"):
            continue
        own = loop is not None and name in loop.pipes
        place = ("boiler " if own else "system ") + ("back" if own == (first in meeting) else "out")
        if place in found:
            return None
        found[place] = name
    return found if len(found) == 4 else None


def mixing(d: Draw, warmed: bool, **fields: object) -> Mixing:
    """A solved plant of which that is so. Raises NoCase."""
    for n in range(TRIES):
        if n % 4 == 0:
            case = Case(_scheme(d, **fields), d.chance)
            r = case.reading
        boiler, pumps = r.boilers[0], case.tags("pump")
        own = [tag for tag in pumps if (loop := r.loop_of(tag)) and boiler in loop.parts]
        others = [tag for tag in pumps if tag not in own]
        pipes = _pipes(case, boiler) if len(r.separations) == 1 else None
        if len(own) != 1 or len(others) != 1 or pipes is None:
            continue
        fast, slow = d.chance.uniform(0.8, 1.2), d.chance.uniform(0.3, 0.75)
        speed = dict(zip((own[0], others[0]), (fast, slow) if warmed else (slow, fast)))
        try:
            found = _solved(case, State(speed=speed))
        except NoSolution:
            continue
        mix = _told(case, found, boiler, (own[0], others[0]), pipes)
        if mix is not None and mix.warmed == warmed:
            return mix
    raise NoCase("no plant whose flows differ enough")


def _solved(case: Case, state: State):  # type: ignore[no-untyped-def]
    from figures.physics import solve

    return solve(case.operator.prepared, state)


def _told(case: Case, found, boiler: str, pumps: tuple[str, str],  # type: ignore[no-untyped-def]
          pipes: dict[str, str]) -> Mixing | None:
    m_b, m_s = (abs(found.lps(tag)) for tag in pumps)
    row, drawn = found.parts[boiler], found.parts[pumps[1]]["inlet_c"]
    if min(m_b, m_s) < 0.05 or abs(m_b - m_s) < APART_SHARE * max(m_b, m_s) or None in (row["inlet_c"], drawn):
        return None
    given = sum(found.heat.heat_kw[tag] for tag in case.plant.parts if case.plant.is_load(tag))
    back = drawn - given / (m_s * found.flow.water.heat_kw_per_lps_k)
    flows = {name: round(found.flow.run_lps(n), 2) + 0.0 for n, name in enumerate(case.plant.run_names)}
    return Mixing(case, pumps, m_b, m_s, row["outlet_c"], row["inlet_c"], drawn, back, pipes, flows)
