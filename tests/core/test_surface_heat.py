"""Cold surfaces: the heat balance, other routes to film and thickness, printed examples, and what must hold."""

import fluids
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq
from scipy.special import lambertw

from dosewright.core.water_and_air import surface_heat

WATER, AIR = st.floats(274.0, 290.0), st.floats(290.5, 312.0)
DIAMETERS, THICKNESSES = st.floats(0.008, 0.3), st.floats(0.0005, 0.1)
CONDUCTIVITIES, EMITTANCES = st.floats(0.02, 0.08), st.floats(0.05, 1.0)
HEIGHTS = st.none() | st.floats(0.2, 2.0)


def test_horizontal_cylinder_example():
    # Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, example 9.4 [from memory]: a bare pipe of 0.1 m at
    # 165 degC in air of 23 degC, 7.78 W/(m²·K). Brought into this range by similarity: same Rayleigh number.
    kinematic, conductivity, prandtl = surface_heat._air(293.15)
    rayleigh = 5.073e6
    drop = 10.0
    size = (rayleigh * kinematic**2 / (9.80665 * drop / 293.15 * prandtl)) ** (1.0 / 3.0)
    found = surface_heat.natural_convection_coefficient(288.15, 298.15, size)
    assert found * size / conductivity == pytest.approx(23.3, rel=0.01)  # Nusselt number printed


def test_vertical_surface_example():
    # The same book, example 9.2 [from memory]: Rayleigh number 1.813e9 and Prandtl number 0.690, Nusselt number 147.
    kinematic, conductivity, prandtl = surface_heat._air(293.15)
    size = (1.813e9 * kinematic**2 / (9.80665 * 10.0 / 293.15 * prandtl)) ** (1.0 / 3.0)
    found = surface_heat.natural_convection_coefficient(288.15, 298.15, size, vertical=True)
    assert found * size / conductivity == pytest.approx(147.0, rel=0.01)


@pytest.mark.parametrize("height", [0.0, 1500.0, 4000.0, 9000.0])
def test_air_is_that_of_the_standard_atmosphere(height):
    # fluids' own U.S. Standard Atmosphere; its temperature range represents that of a cellar.
    standard = fluids.ATMOSPHERE_1976(height)
    kinematic, conductivity, _ = surface_heat._air(standard.T)
    assert conductivity == pytest.approx(standard.k, rel=1e-4)
    assert kinematic * 101325.0 / (287.05287 * standard.T) == pytest.approx(standard.mu, rel=1e-4)


def test_radiation_is_the_law_of_stefan_and_boltzmann():
    args = (283.0, 295.0, 0.05)
    radiant = surface_heat.air_film_coefficient(*args, 0.9) - surface_heat.air_film_coefficient(*args, 0.0)
    assert radiant * 12.0 == pytest.approx(0.9 * 5.670374e-8 * (295.0**4 - 283.0**4), rel=1e-6)


@given(WATER, AIR, DIAMETERS, THICKNESSES, CONDUCTIVITIES, EMITTANCES, HEIGHTS)
def test_what_passes_the_film_passes_the_insulation(water, air, diameter, thickness, conductivity, emittance, height):
    surface = surface_heat.surface_temperature(water, air, diameter, thickness, conductivity, emittance, height)
    outer = diameter + 2.0 * thickness
    film = surface_heat.air_film_coefficient(surface, air, outer, emittance, height)
    into = film * np.pi * outer * (air - surface)
    through = 2.0 * np.pi * conductivity * (surface - water) / np.log(outer / diameter)
    assert into == pytest.approx(through, rel=1e-6, abs=1e-9)
    assert water <= surface <= air


@given(WATER, AIR, DIAMETERS, THICKNESSES, CONDUCTIVITIES, EMITTANCES, HEIGHTS)
def test_a_bracketing_root_finder_agrees(water, air, diameter, thickness, conductivity, emittance, height):
    def balance(surface):
        outer = diameter + 2.0 * thickness
        film = surface_heat.air_film_coefficient(surface, air, outer, emittance, height)
        return film * outer * (air - surface) - 2.0 * conductivity * (surface - water) / np.log(outer / diameter)

    found = surface_heat.surface_temperature(water, air, diameter, thickness, conductivity, emittance, height)
    assert found == pytest.approx(brentq(balance, water, air, xtol=1e-12), abs=1e-8)


@given(WATER, AIR, DIAMETERS, THICKNESSES, THICKNESSES, CONDUCTIVITIES, EMITTANCES)
def test_thicker_insulation_never_cools_the_surface(water, air, diameter, one, other, conductivity, emittance):
    thin, thick = (
        surface_heat.surface_temperature(water, air, diameter, thickness, conductivity, emittance)
        for thickness in sorted((one, other))
    )
    assert thin <= thick + 1e-9


def test_bare_and_thick_limits():
    assert surface_heat.surface_temperature(280.0, 295.0, 0.05, 0.0, 0.04, 0.9) == 280.0
    assert surface_heat.surface_temperature(280.0, 295.0, 0.05, 50.0, 0.04, 0.9) == pytest.approx(295.0, abs=0.1)
    assert surface_heat.surface_temperature(290.0, 290.0, 0.05, 0.01, 0.04, 0.9) == 290.0


@given(WATER, AIR, DIAMETERS, st.floats(0.05, 0.9), CONDUCTIVITIES, EMITTANCES, HEIGHTS)
def test_the_thickness_found_gives_the_temperature_wanted(water, air, diameter, share, conductivity, emittance, height):
    wanted = water + share * (air - water)
    thickness = surface_heat.insulation_thickness(wanted, water, air, diameter, conductivity, emittance, height)
    if np.isnan(thickness):
        far = surface_heat.surface_temperature(water, air, diameter, 0.5, conductivity, emittance, height)
        assert far < wanted
        return
    found = surface_heat.surface_temperature(water, air, diameter, thickness, conductivity, emittance, height)
    assert found == pytest.approx(wanted, abs=1e-7)


@given(WATER, AIR, DIAMETERS, st.floats(0.05, 0.9), CONDUCTIVITIES, st.floats(4.0, 12.0))
def test_with_a_fixed_film_the_thickness_has_a_closed_form(water, air, diameter, share, conductivity, film):
    wanted = water + share * (air - water)
    c = 2.0 * conductivity / film * (wanted - water) / (air - wanted) / diameter
    closed = 0.5 * diameter * (np.exp(lambertw(c).real) - 1.0)
    found = surface_heat.insulation_thickness(wanted, water, air, diameter, conductivity, 0.9, film=film)
    if closed < 0.49:
        assert found == pytest.approx(closed, rel=1e-9)


def test_needed_none_and_too_much():
    thickness = surface_heat.insulation_thickness
    assert thickness(279.0, 280.0, 295.0, 0.05, 0.04, 0.9) == 0.0
    assert np.isnan(thickness(295.0, 280.0, 295.0, 0.05, 0.04, 0.9))
    assert np.isnan(thickness(294.99, 280.0, 295.0, 0.05, 0.04, 0.9))
    many = np.array([279.0, 285.0, 294.0, 294.99, 296.0])
    together = thickness(many, 280.0, 295.0, 0.05, 0.04, 0.9)
    single = [float(thickness(one, 280.0, 295.0, 0.05, 0.04, 0.9)) for one in many.tolist()]
    np.testing.assert_array_equal(together, single)


@pytest.mark.parametrize(
    "ask",
    [
        (280.0, 295.0, 0.0, 0.01, 0.04, 0.9),
        (280.0, 295.0, 0.05, -0.01, 0.04, 0.9),
        (280.0, 295.0, 0.05, 0.01, 0.0, 0.9),
        (280.0, 295.0, 0.05, 0.01, 0.04, 1.2),
        (280.0, 400.0, 0.05, 0.01, 0.04, 0.9),
    ],
)
def test_what_cannot_be_is_refused(ask):
    with pytest.raises(ValueError, match="must"):
        surface_heat.surface_temperature(*ask)
