"""Absorption, dose, tanks in series: printed values, inverses and limits."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosewright.core.hydraulics import annulus
from dosewright.core.light import dose

SHARES = st.floats(0.01, 1.0)
DOSES = st.floats(1e-3, 5e3)
RATES = st.floats(1e-4, 0.2)
TANKS = st.floats(0.5, 200.0)


@pytest.mark.parametrize(("uvt", "per_cm"), [(0.95, 0.05129), (0.85, 0.16252), (0.70, 0.35667)])
def test_absorption_coefficient(uvt, per_cm):
    """ln 10 times the absorbances 0.02228, 0.07058 and 0.15490 per cm (arithmetic)."""
    assert dose.absorption_coefficient(uvt, 0.01) == pytest.approx(100.0 * per_cm, abs=5e-4)


def test_clear_water_absorbs_nothing():
    assert str(dose.absorption_coefficient(1.0, 0.01)) == "0.0"


@given(SHARES, st.floats(0.002, 0.1))
def test_transmittance_and_path_length(share, path):
    coefficient = dose.absorption_coefficient(share, path)
    assert dose.transmittance(coefficient, path) == pytest.approx(share, rel=1e-13)
    assert dose.transmittance(coefficient, 2.0 * path) == pytest.approx(share * share, rel=1e-12)


@given(DOSES, RATES, TANKS)
def test_tanks_in_series_there_and_back(mean, rate, tanks):
    red = dose.reduction_equivalent_dose(mean, rate, tanks)
    assert 0.0 < red <= mean
    if rate * red / tanks < 600.0:
        assert dose.mean_dose_needed(red, rate, tanks) == pytest.approx(mean, rel=1e-10)


@given(DOSES, RATES)
def test_more_tanks_approach_plug_flow(mean, rate):
    reds = dose.reduction_equivalent_dose(mean, rate, np.array([1.0, 2.0, 5.0, 20.0, 1e9]))
    assert np.all(np.diff(reds) >= 0.0)
    assert reds[-1] == pytest.approx(mean, rel=1e-5)


def test_survival_of_one_mixed_tank_is_one_over_one_plus_k_d():
    rate, mean = 0.012, 524.58
    survival = 10.0 ** -dose.log_inactivation(dose.reduction_equivalent_dose(mean, rate, 1.0), rate)
    assert survival == pytest.approx(1.0 / (1.0 + rate * mean), rel=1e-12)


def test_equal_tanks_multiply_their_survival():
    rate, mean = 0.012, 524.58
    log = dose.log_inactivation(dose.reduction_equivalent_dose(mean, rate, 3.0), rate)
    assert log == pytest.approx(3.0 * np.log10(1.0 + rate * mean / 3.0), rel=1e-13)


def test_residence_and_mean_dose():
    volume = annulus.volume(0.038, 0.0115, 0.6)
    assert volume == pytest.approx(np.pi * (3.8**2 - 1.15**2) * 60.0 * 1e-6, rel=1e-14)
    time = dose.residence_time(volume, 25e-3 / 60.0)
    assert dose.mean_dose(100.0, time) == pytest.approx(100.0 * volume * 60.0 / 25e-3, rel=1e-14)


def test_annulus_velocity_and_reynolds_number():
    """10 L/min through radii 1.25 and 4.5 cm: 2.8 cm/s, and about 1,800 at 20 degC."""
    flow, viscosity = 1e-2 / 60.0, 1.0034e-6
    velocity = annulus.mean_velocity(flow, 0.045, 0.0125)
    reynolds = annulus.reynolds_number(flow, 0.045, 0.0125, viscosity)
    assert velocity == pytest.approx(0.028, abs=5e-4)
    assert reynolds == pytest.approx(velocity * 2.0 * (0.045 - 0.0125) / viscosity, rel=1e-14)
    assert reynolds == pytest.approx(1800.0, abs=50.0)


@pytest.mark.parametrize(
    "call",
    [
        lambda: dose.absorption_coefficient(0.0, 0.01),
        lambda: dose.absorption_coefficient(1.01, 0.01),
        lambda: dose.absorption_coefficient(np.array([0.9, np.nan]), 0.01),
        lambda: dose.absorption_coefficient(0.9, 0.0),
        lambda: dose.residence_time(1e-3, 0.0),
        lambda: dose.reduction_equivalent_dose(400.0, 0.0, 3.0),
        lambda: dose.reduction_equivalent_dose(400.0, 0.01, 0.0),
        lambda: dose.reduction_equivalent_dose(-1.0, 0.01, 3.0),
        lambda: dose.mean_dose_needed(1e6, 0.01, 1.0),
        lambda: dose.mean_dose_needed(-1.0, 0.01, 1.0),
    ],
)
def test_refusals(call):
    with pytest.raises(ValueError, match=r"must|infinite"):
        call()


def test_array_equals_single_bit_for_bit():
    draw = np.random.default_rng(1)
    mean, rate, tanks = draw.uniform(1, 4000, 333), draw.uniform(1e-3, 0.1, 333), draw.uniform(1, 30, 333)
    reds = dose.reduction_equivalent_dose(mean, rate, tanks)
    needed = dose.mean_dose_needed(reds, rate, tanks)
    uvt = draw.uniform(0.3, 1.0, 333)
    absorption = dose.absorption_coefficient(uvt, 0.01)
    for index in range(0, 333, 7):
        case = [float(value[index]) for value in (mean, rate, tanks)]
        red = dose.reduction_equivalent_dose(*case)
        assert red == reds[index]
        assert dose.mean_dose_needed(red, case[1], case[2]) == needed[index]
        assert dose.absorption_coefficient(float(uvt[index]), 0.01) == absorption[index]
