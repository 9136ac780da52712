"""Liquid water between 0 and 120 °C at 200 kPa absolute: density, viscosity, heat capacity.

The figures are least-squares polynomials in (temperature/60 − 1) through values of the IAPWS-95 formulation and
its viscosity companion (IAPWS R6-95, R12-08) at every 2.5 °C. They stay within 0.001 % of it for density,
viscosity and heat capacity; tests/oracles compares them with `iapws` itself. Pressure
hardly matters: from 100 to 500 kPa the density changes by 0.02 %.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import exp

GRAVITY_MS2 = 9.80665
COLDEST_C, HOTTEST_C = 0.0, 120.0

_DENSITY = (983.238953, -30.8672101, -10.6232726, 2.03278499, -0.908344292, 0.293139082, -0.126289849,
            0.148056183, -0.0807064609)
_LN_VISCOSITY = (-7.67119773, -0.907151525, 0.274938825, -0.0911650817, 0.038359842, -0.0168761882,
                 0.00811478893, -0.00677175208, 0.00312852692)
_HEAT_CAPACITY = (4184.73733, 26.304157, 26.4438482, -1.4389822, 13.9247623, -7.08289601, 2.38873642,
                  -5.48999721, 3.73094979)


@dataclass(frozen=True, slots=True)
class Water:
    """Water at one temperature: density [kg/m³], kinematic viscosity [m²/s], heat capacity [J/(kg K)]."""

    temperature_c: float
    density_kgm3: float
    viscosity_m2s: float
    heat_capacity_jkgk: float

    @property
    def heat_kw_per_lps_k(self) -> float:
        """Heat that one L/s carries for each kelvin [kW/(L/s K)].

        >>> round(water(60.0).heat_kw_per_lps_k, 3)   # computed with IAPWS95: 4.115
        4.115
        """
        return self.density_kgm3 * self.heat_capacity_jkgk * 1e-6


def _polynomial(coefficients: tuple[float, ...], u: float) -> float:
    total = 0.0
    for coefficient in reversed(coefficients):
        total = total * u + coefficient
    return total


@lru_cache(maxsize=512)
def water(temperature_c: float) -> Water:
    """Water at `temperature_c` [°C], 0 to 120. Raises ValueError outside that range, or for no number.

    Source: IAPWS-95 at 200 kPa absolute, as `iapws.IAPWS95(T=…, P=0.2)` prints it.

    >>> w = water(60.0)
    >>> round(w.density_kgm3, 2), round(w.viscosity_m2s * 1e6, 4), round(w.heat_capacity_jkgk, 1)
    (983.24, 0.474, 4184.7)
    """
    if not COLDEST_C <= temperature_c <= HOTTEST_C:
        raise ValueError(f"water_c: {temperature_c:g} °C is out of range; write a figure from {COLDEST_C:g} "
                         f"to {HOTTEST_C:g} °C")
    u = temperature_c / 60.0 - 1.0
    density = _polynomial(_DENSITY, u)
    return Water(temperature_c, density, exp(_polynomial(_LN_VISCOSITY, u)) / density,
                 _polynomial(_HEAT_CAPACITY, u))
