"""The dew point of flue gas against figures that other libraries printed."""

from __future__ import annotations

import pytest

from figures.physics.flue import boils_c, dew_point_c

# CoolProp 8.0.0: PropsSI('T', 'P', 2/(10.524 + 9.524·e)·101325, 'Q', 0, 'Water') − 273.15
DEW_POINTS_C = {0.0: 59.24, 0.10: 57.39, 0.15: 56.53, 0.20: 55.71, 0.25: 54.92, 0.30: 54.17, 0.50: 51.43, 1.0: 46.02}


@pytest.mark.parametrize("excess", DEW_POINTS_C)
def test_dew_points_are_those_of_coolprop(excess: float) -> None:
    """To the last digit that was printed."""
    assert dew_point_c(excess) == pytest.approx(DEW_POINTS_C[excess], abs=0.006)


@pytest.mark.parametrize("pressure_mpa", [0.001, 0.0123, 0.101325, 1.0, 10.0])
def test_water_boils_where_iapws_says(pressure_mpa: float) -> None:
    """Against the same formulation in the library `iapws`."""
    iapws = pytest.importorskip("iapws")
    assert boils_c(pressure_mpa) == pytest.approx(iapws.IAPWS97(P=pressure_mpa, x=0.0).T - 273.15, abs=1e-6)


def test_what_no_flue_gas_can_be_is_refused() -> None:
    """Less air than the burning needs makes soot and poison, and has no dew point here; limits themselves are taken."""
    for share in (-0.01, 3.01):
        with pytest.raises(ValueError, match=f"an excess of air of {share:g} is out of range; give 0 to 3"):
            dew_point_c(share)
    for pressure_mpa in (0.000611, 22.1):
        with pytest.raises(ValueError, match=f"{pressure_mpa:g} MPa is out of range; give 0.000612 to 22 MPa"):
            boils_c(pressure_mpa)
    assert dew_point_c(3.0) < 36.0 < dew_point_c(0.0)
    assert boils_c(0.000612) == pytest.approx(0.0, abs=0.02)          # the triple point, 611.657 Pa and 0.01 °C
    assert boils_c(22.0) == pytest.approx(373.7, abs=0.1)             # just under the critical point, 22.064 MPa and 373.946 °C
