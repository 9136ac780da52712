"""Flue gas: below which temperature its water vapour condenses on a boiler's cold surface."""

from __future__ import annotations

from math import sqrt

from figures.plant.sizing import ATMOSPHERE_KPA

# IAPWS-IF97 (R7-97), region 4, equation 31: temperature of saturation from pressure. Figures from memory; the test
# compares them with a table that CoolProp printed.
_N = (1167.0521452767, -724213.16703206, -17.073846940092, 12020.824702470, -3232555.0322333, 14.915108613530,
      -4823.2657361591, 405113.40542057, -0.23855557567849, 650.17534844798)


def boils_c(pressure_mpa: float) -> float:
    """Temperature at which water boils, or its vapour condenses [°C], at an absolute pressure from 0.000612 to 22 MPa.

    Source: IAPWS-IF97, region 4, backward equation.  Raises ValueError outside that range.

    >>> round(boils_c(0.101325), 2)
    99.97
    """
    if not 0.000612 <= pressure_mpa <= 22.0:
        raise ValueError(f"{pressure_mpa:g} MPa is out of range; give 0.000612 to 22 MPa")
    n, b = _N, pressure_mpa ** 0.25
    e = b * b + n[2] * b + n[5]
    f = n[0] * b * b + n[3] * b + n[6]
    g = n[1] * b * b + n[4] * b + n[7]
    d = 2.0 * g / (-f - sqrt(f * f - 4.0 * e * g))
    return 0.5 * (n[9] + d - sqrt((n[9] + d) ** 2 - 4.0 * (n[8] + n[9] * d))) - 273.15


def dew_point_c(excess_air: float) -> float:
    """Dew point of the flue gas of pure methane burned with dry air at 101.325 kPa [°C].

    excess_air: share of air above what the burning needs, 0 to 3.  Of one part methane come two parts of water vapour in
    10.524 + 9.524·excess parts of flue gas (the chemistry of CH4 + 2 O2, air with 21 % oxygen).  Moist air adds about 1 K.
    Raises ValueError outside that range.

    >>> [round(dew_point_c(share), 1) for share in (0.0, 0.2, 0.5, 1.0)]     # CoolProp: 59.24, 55.71, 51.43, 46.02
    [59.2, 55.7, 51.4, 46.0]
    """
    if not 0.0 <= excess_air <= 3.0:
        raise ValueError(f"an excess of air of {excess_air:g} is out of range; give 0 to 3")
    return boils_c(ATMOSPHERE_KPA / 1000.0 * 2.0 / (10.524 + 9.524 * excess_air))
