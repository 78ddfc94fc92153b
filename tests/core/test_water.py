"""Water properties against an independent library, the reference formulations, and their own limits."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from iapws import IAPWS95
from iapws._iapws import _Liquid, _Viscosity

from dosewright.core.water_and_air import water

FUNCTIONS = [water.density, water.dynamic_viscosity, water.kinematic_viscosity]
TEMPERATURES = np.linspace(273.15, 373.15, 101)
WITHIN = st.floats(273.15, 373.15)


def test_same_release_in_another_library():
    for temperature in TEMPERATURES.tolist():
        other = _Liquid(temperature)
        assert water.density(temperature) == pytest.approx(other["rho"], rel=1e-13)
        assert water.dynamic_viscosity(temperature) == pytest.approx(other["mu"], rel=1e-13)


@pytest.mark.parametrize("temperature", [273.16, 278.15, 283.15, 293.15, 303.15, 333.15, 372.0])
def test_full_formulations(temperature):
    exact = IAPWS95(T=temperature, P=0.1)
    viscosity = _Viscosity(exact.rho, temperature)
    assert water.density(temperature) == pytest.approx(exact.rho, rel=1e-7)
    assert water.dynamic_viscosity(temperature) == pytest.approx(viscosity, rel=5e-5)
    assert water.kinematic_viscosity(temperature) == pytest.approx(viscosity / exact.rho, rel=5e-5)


@pytest.mark.parametrize("temperature", [278.15, 293.15, 333.15])
def test_house_pressure_hardly_matters(temperature):
    pressed = IAPWS95(T=temperature, P=0.7)
    assert water.density(temperature) == pytest.approx(pressed.rho, rel=3.2e-4)


def test_density_is_highest_near_four_degrees():
    temperatures = np.linspace(274.15, 283.15, 901)
    assert temperatures[np.argmax(water.density(temperatures))] == pytest.approx(277.13, abs=0.02)


@given(WITHIN, WITHIN)
def test_viscosity_falls_with_temperature(one, other):
    low, high = sorted((one, other))
    if high - low > 1e-6:
        assert water.dynamic_viscosity(low) > water.dynamic_viscosity(high)
        assert water.kinematic_viscosity(low) > water.kinematic_viscosity(high)


@given(WITHIN)
def test_kinematic_is_the_ratio(temperature):
    ratio = water.dynamic_viscosity(temperature) / water.density(temperature)
    assert water.kinematic_viscosity(temperature) == pytest.approx(ratio, rel=1e-15)


@pytest.mark.parametrize("function", FUNCTIONS)
def test_one_alone_equals_one_of_many(function):
    many = function(TEMPERATURES)
    assert many.tolist() == [function(one) for one in TEMPERATURES.tolist()]
    assert function(TEMPERATURES[::3]).tolist() == many[::3].tolist()


@pytest.mark.parametrize("function", FUNCTIONS)
@pytest.mark.parametrize("outside", [273.1499, 373.1501, 20.0, -1.0, float("nan"), float("inf")])
def test_refuses_outside(function, outside):
    with pytest.raises(ValueError, match=r"273\.15 K to 373\.15 K"):
        function(outside)
    with pytest.raises(ValueError, match="water temperature"):
        function(np.array([293.15, outside]))


@pytest.mark.parametrize("function", FUNCTIONS)
def test_accepts_the_ends_of_the_range(function):
    assert function(273.15) > 0
    assert function(373.15) > 0
