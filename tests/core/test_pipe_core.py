"""Velocity, Reynolds number and losses: the reference library, limits, properties."""

import fluids
import numpy as np
import pytest
from fluids.fittings import Hooper2K
from hypothesis import given
from hypothesis import strategies as st

from dosewright.core import constants
from dosewright.core.hydraulics import friction, losses, pipe
from dosewright.core.water_and_air import water
from dosewright.tables.fittings import fittings

FLOW = st.floats(1e-6, 1e-2)
BORE = st.floats(0.005, 0.2)
INCH, FOOT, GALLON_A_MINUTE, PSI = 0.0254, 0.3048, 231 * 0.0254**3 / 60, 6894.757293168362


@given(FLOW, BORE)
def test_velocity_times_area_is_flow(flow, bore):
    assert pipe.velocity(flow, bore) * np.pi * bore**2 / 4 == pytest.approx(flow, rel=1e-14)


def test_velocity_of_the_plumbers_rule():
    """0.4085 x gal/min over the square of the inches, in ft/s (common practice, no source)."""
    speed = pipe.velocity(9.0 * GALLON_A_MINUTE, 0.785 * INCH) / FOOT
    assert speed == pytest.approx(0.4085 * 9.0 / 0.785**2, rel=1e-4)


@given(FLOW, st.floats(0.1, 5.0))
def test_bore_for_velocity_inverts_velocity(flow, limit):
    assert pipe.velocity(flow, pipe.bore_for_velocity(flow, limit)) == pytest.approx(limit, rel=1e-14)


@given(FLOW, BORE, st.floats(2e-7, 2e-6))
def test_reynolds_number(flow, bore, viscosity):
    speed = pipe.velocity(flow, bore)
    assert pipe.reynolds_number(speed, bore, viscosity) == pytest.approx(
        fluids.Reynolds(V=speed, D=bore, nu=viscosity), rel=1e-15
    )


@given(FLOW, BORE, st.floats(0.0, 1000.0), st.floats(0.0, 2e-4), st.floats(274.0, 372.0))
def test_straight_pipe_is_that_of_the_library(flow, bore, length, roughness, temperature):
    density, viscosity = water.density(temperature), water.dynamic_viscosity(temperature)
    speed = pipe.velocity(flow, bore)
    reynolds = pipe.reynolds_number(speed, bore, viscosity / density)
    factor = friction.friction_factor(reynolds, roughness / bore)
    ours = losses.loss_pressure_drop(losses.friction_coefficient(factor, length, bore), density, speed)
    if not 2000.0 <= reynolds < 4000.0:
        theirs = fluids.one_phase_dP(flow * density, density, viscosity, bore, roughness=roughness, L=length)
        assert ours == pytest.approx(theirs, rel=1e-11, abs=1e-12)


HOOPER_NAMES = {
    "elbow_90": "Elbow, 90°, Standard (R/D = 1), Screwed",
    "elbow_90_long_radius": "Elbow, 90°, Long-radius (R/D = 1.5), All types",
    "elbow_45": "Elbow, 45°, Standard (R/D = 1), All types",
    "tee_run": "Tee, Run, Screwed",
    "gate_valve_open": "Valve, Gate, Full line size, Beta = 1",
    "ball_valve_open": "Valve, Ball, Reduced trim, Beta = 0.9",
    "globe_valve_open": "Valve, Globe, Standard",
    "swing_check_valve": "Valve, Check, Swing",
}


@pytest.mark.parametrize("key", HOOPER_NAMES)
def test_two_constants_are_those_of_the_library(key):
    fitting = fittings()[key]
    for bore_in, reynolds in ((0.545, 1500.0), (1.025, 2e4), (4.026, 3e5)):
        ours = losses.two_constant_coefficient(reynolds, bore_in * INCH, fitting.k1, fitting.k_infinity)
        assert ours == pytest.approx(Hooper2K(bore_in, reynolds, name=HOOPER_NAMES[key]), rel=1e-13)


def test_equivalent_length_is_that_length_of_pipe():
    along = losses.friction_coefficient(0.025, 30.0 * 0.02, 0.02)
    assert losses.equivalent_length_coefficient(0.025, 30.0) == pytest.approx(along, rel=1e-15)
    assert fluids.core.K_from_L_equiv(L_D=30.0, fd=0.025) == pytest.approx(along, rel=1e-15)


@pytest.mark.parametrize("kv", [0.5, 6.3, 40.0])
def test_kv_is_a_rated_point(kv):
    """IEC sizing of the reference library: Kv required for the calculated flow and drop."""
    flow, density = 0.0006, 998.2
    drop = losses.device_pressure_drop(flow, kv / 3600.0, 1e5, density / 1000.0)
    needed = flow * 3600.0 * np.sqrt((density / 1000.0) / (drop / 1e5))
    assert needed == pytest.approx(kv, rel=1e-13)
    coefficient = fluids.Kv_to_K(kv, D=0.026)
    through_k = fluids.core.dP_from_K(coefficient, rho=density, V=pipe.velocity(flow, 0.026))
    assert drop == pytest.approx(through_k, rel=2e-3)


def test_cv_of_one_is_a_psi_at_a_gallon_a_minute():
    drop = losses.device_pressure_drop(2.0 * GALLON_A_MINUTE, 1.0 * GALLON_A_MINUTE, PSI)
    assert drop / PSI == pytest.approx(4.0, rel=1e-15)
    assert fluids.Cv_to_Kv(1.0) == pytest.approx(GALLON_A_MINUTE * 3600.0 * np.sqrt(1e5 / PSI), rel=1e-4)


def test_hazen_williams_of_customary_form():
    """4.52 Q^1.85 / (C^1.85 d^4.87) psi a foot, gal/min and inches: NFPA 13 (2019) 27.2.2.1, from memory."""
    for gallons, inches, c in ((5.0, 0.785, 140.0), (20.0, 1.38, 150.0), (60.0, 2.067, 120.0)):
        head = losses.hazen_williams_head_loss(gallons * GALLON_A_MINUTE, inches * INCH, FOOT, c)
        psi = head * 999.0 * constants.STANDARD_GRAVITY / PSI
        assert psi == pytest.approx(4.52 * gallons**1.85 / (c**1.85 * inches**4.87), rel=0.005)


def test_hazen_williams_velocity_form():
    """V = 0.849 C R^0.63 S^0.54 (Fair, Geyer and Okun, eq. 5.33), the formula as its authors left it."""
    bore, length, c, flow = 0.05, 80.0, 130.0, 0.003
    slope = losses.hazen_williams_head_loss(flow, bore, length, c) / length
    speed = 0.849 * c * (bore / 4.0) ** 0.63 * slope**0.54
    assert speed == pytest.approx(pipe.velocity(flow, bore), rel=0.002)


@given(FLOW, BORE, st.floats(0.1, 500.0), st.floats(60.0, 160.0))
def test_hazen_williams_directions(flow, bore, length, c):
    here = losses.hazen_williams_head_loss(flow, bore, length, c)
    assert losses.hazen_williams_head_loss(1.01 * flow, bore, length, c) > here
    assert losses.hazen_williams_head_loss(flow, 1.01 * bore, length, c) < here
    assert losses.hazen_williams_head_loss(flow, bore, 2.0 * length, c) == pytest.approx(2.0 * here, rel=1e-14)
    assert losses.hazen_williams_head_loss(flow, bore, length, 1.01 * c) < here


def test_methods_agree_where_both_are_valid():
    """3 in smooth plastic at 1.5 m/s and 15 degC: both formulas are valid, and differ by a few percent."""
    bore, speed, length, temperature = 0.0779, 1.5, 100.0, 288.15
    flow = speed * pipe.bore_area(bore)
    factor = friction.friction_factor(speed * bore / water.kinematic_viscosity(temperature), 1.5e-6 / bore)
    darcy = factor * length / bore * speed**2 / (2.0 * constants.STANDARD_GRAVITY)
    assert losses.hazen_williams_head_loss(flow, bore, length, 150.0) == pytest.approx(darcy, rel=0.06)


def test_elevation_is_a_column_of_water():
    assert losses.elevation_pressure(1.0 / 0.101972, 1000.0) == pytest.approx(9.80665e3 / 0.101972, rel=1e-15)
    assert losses.elevation_pressure(-3.0, 998.0) == -losses.elevation_pressure(3.0, 998.0)


CASES = [
    (pipe.velocity, {"flow": (1e-5, 1e-3), "bore": (0.01, 0.05)}),
    (pipe.bore_for_velocity, {"flow": (1e-5, 1e-3), "velocity_limit": (0.5, 3.0)}),
    (
        losses.hazen_williams_head_loss,
        {"flow": (0.0, 1e-3), "bore": (0.01, 0.05), "length": (0, 90.0), "coefficient": (90.0, 150.0)},
    ),
    (
        losses.two_constant_coefficient,
        {"reynolds_number": (1.0, 1e6), "bore": (0.01, 0.05), "k1": (0, 900.0), "k_infinity": (0, 5.0)},
    ),
    (losses.device_pressure_drop, {"flow": (0.0, 1e-3), "rated_flow": (1e-5, 1e-3), "rated_pressure_drop": (0.0, 9e4)}),
    (losses.loss_pressure_drop, {"loss_coefficient": (0.0, 9.0), "density": (960.0, 1000.0), "velocity": (0.0, 3.0)}),
]


@pytest.mark.parametrize(("function", "ranges"), CASES, ids=[case[0].__name__ for case in CASES])
def test_one_alone_equals_one_of_many(function, ranges):
    generator = np.random.default_rng(11)
    columns = {name: generator.uniform(low, high, 257) for name, (low, high) in ranges.items()}
    together = function(**columns)
    alone = [
        function(**dict(zip(columns, row, strict=True)))
        for row in zip(*(c.tolist() for c in columns.values()), strict=True)
    ]
    assert together.tolist() == alone


@pytest.mark.parametrize(
    "call",
    [
        lambda: pipe.velocity(1e-4, 0.0),
        lambda: pipe.reynolds_number(1.0, 0.02, 0.0),
        lambda: pipe.bore_for_velocity(1e-4, 0.0),
        lambda: pipe.bore_for_velocity(-1e-4, 1.0),
        lambda: losses.friction_coefficient(0.02, -1.0, 0.02),
        lambda: losses.friction_coefficient(0.02, 1.0, np.array([0.02, -0.02])),
        lambda: losses.equivalent_length_coefficient(0.02, -3.0),
        lambda: losses.two_constant_coefficient(0.0, 0.02, 800.0, 0.4),
        lambda: losses.hazen_williams_head_loss(1e-4, 0.02, 1.0, float("nan")),
        lambda: losses.device_pressure_drop(1e-4, 0.0, 1e5),
        lambda: losses.device_pressure_drop(1e-4, 1e-4, -1.0),
    ],
)
def test_refuses(call):
    with pytest.raises(ValueError, match="must"):
        call()
