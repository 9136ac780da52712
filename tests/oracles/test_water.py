"""Water's properties against `iapws` (IAPWS-95 with its viscosity companion) and the table of the check values."""

import pytest
from iapws import IAPWS95

from figures.physics.water import water

# °C: density kg/m³, kinematic viscosity mm²/s, heat capacity J/(kg K) at 200 kPa absolute; computed with
# iapws.IAPWS95(T=t+273.15, P=0.2), with which CoolProp agrees to every digit shown.
TABLE = {10: (999.750, 1.3061, 4194.8), 20: (998.252, 1.0033, 4183.7), 30: (995.693, 0.8007, 4179.6),
         40: (992.260, 0.6578, 4179.2), 50: (988.078, 0.5531, 4181.1), 60: (983.239, 0.4740, 4184.7),
         70: (977.808, 0.4127, 4189.9), 80: (971.835, 0.3643, 4196.5), 82: (970.578, 0.3559, 4198.1),
         90: (965.355, 0.3255, 4205.0)}


@pytest.mark.parametrize("t_c", TABLE)
def test_water_agrees_with_the_table(t_c: int) -> None:
    """Within 0.05 %, figures of the table in its own rounding."""
    density, viscosity, heat_capacity = TABLE[t_c]
    found = water(float(t_c))
    assert found.density_kgm3 == pytest.approx(density, rel=5e-6)
    assert found.viscosity_m2s * 1e6 == pytest.approx(viscosity, rel=3e-4)
    assert found.heat_capacity_jkgk == pytest.approx(heat_capacity, rel=3e-5)


@pytest.mark.parametrize("t_c", [0.01, 4.0, 13.7, 37.3, 61.2, 99.9, 111.0, 120.0])
def test_water_agrees_with_iapws_between_the_fitted_points(t_c: float) -> None:
    """Density, heat capacity and viscosity within 0.002 %."""
    outside, found = IAPWS95(T=t_c + 273.15, P=0.2), water(t_c)
    assert found.density_kgm3 == pytest.approx(outside.rho, rel=2e-5)
    assert found.heat_capacity_jkgk == pytest.approx(outside.cp * 1000.0, rel=2e-5)
    assert found.viscosity_m2s == pytest.approx(outside.nu, rel=2e-5)


@pytest.mark.parametrize("t_c", [-0.1, 120.1, float("nan")])
def test_water_out_of_range_is_refused_with_what_to_write(t_c: float) -> None:
    """Ice, steam and no number are refused."""
    with pytest.raises(ValueError, match="write a figure from 0 to 120"):
        water(t_c)


@pytest.mark.parametrize(("t_c", "kw"), [(20.0, 4.176), (60.0, 4.115), (82.0, 4.075)])
def test_heat_carried_by_a_litre_a_second(t_c: float, kw: float) -> None:
    """ρ·cp in kW per L/s and kelvin: computed with IAPWS95."""
    assert water(t_c).heat_kw_per_lps_k == pytest.approx(kw, abs=6e-4)
