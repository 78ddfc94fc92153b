"""Tanks in series for any dose response: against the closed form, quadrature of the gamma distribution, and back."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, stats

from dosewright.core.light import dose
from dosewright.core.light.doses import tank_doses
from dosewright.core.light.survival import DoseResponse, dose_for_log_survival, log_survival

FIRST = DoseResponse("first_order", 0.012)
RESPONSES = [
    DoseResponse("shoulder", 0.03, shoulder_dose=80.0),
    DoseResponse("multi_target", 0.03, targets=20.0),
    DoseResponse("two_groups", 0.05, resistant_fraction=1e-3, resistant_rate=0.005),
    DoseResponse("first_order", 0.03, floor=1e-4),
]
RESPONSE = pytest.mark.parametrize("response", RESPONSES, ids=lambda one: f"{one.form}{'_floor' if one.floor else ''}")


@pytest.mark.parametrize("tanks", [0.5, 0.7, 1.0, 3.0, 20.0, 500.0])
@pytest.mark.parametrize("target", [0.001, 5.0, 100.0, 400.0])
def test_first_order_is_the_closed_form(tanks, target):
    exact = dose.mean_dose_needed(target, FIRST.rate, tanks)
    if exact > 900.0 * target:
        assert np.isnan(tank_doses.mean_dose_needed(target, FIRST, tanks)) or exact < 1100.0 * target
        return
    assert tank_doses.mean_dose_needed(target, FIRST, tanks) == pytest.approx(exact, rel=1e-6)
    red = tank_doses.reduction_equivalent_dose(exact, FIRST, tanks)
    assert red == pytest.approx(target, rel=1e-6)


@RESPONSE
@pytest.mark.parametrize("tanks", [1.0, 3.0, 12.5])
def test_red_by_quadrature_of_the_gamma_distribution(response, tanks):
    mean = 350.0
    spread = stats.gamma(tanks, scale=mean / tanks)

    def surviving(share):
        return np.exp(log_survival(spread.ppf(share), response))

    alive, _ = integrate.quad(surviving, 0.0, 1.0, epsabs=0.0, epsrel=1e-10, limit=500, points=[1e-4, 1e-2, 0.1, 0.5])
    expected = float(dose_for_log_survival(np.log(alive), response))
    assert tank_doses.reduction_equivalent_dose(mean, response, tanks) == pytest.approx(expected, rel=1e-6)


@RESPONSE
@pytest.mark.parametrize("tanks", [0.8, 3.0, 50.0])
@pytest.mark.parametrize("target", [60.0, 150.0])  # below, survival on the shoulder is 1 to the last digit
def test_there_and_back(response, tanks, target):
    mean = tank_doses.mean_dose_needed(target, response, tanks)
    assert tank_doses.reduction_equivalent_dose(mean, response, tanks) == pytest.approx(target, rel=1e-8)
    if response.convex:
        assert mean > target


def test_no_mean_dose_above_a_thousand_times_the_target():
    assert np.isnan(tank_doses.mean_dose_needed(900.0, FIRST, 1.0))


@RESPONSE
def test_array_equals_single_bit_for_bit(response):
    targets, tanks = np.array([60.0, 90.0, 150.0]), np.array([1.0, 3.0, 0.9])
    together = tank_doses.mean_dose_needed(targets, response, tanks)
    for row in range(3):
        assert together[row] == tank_doses.mean_dose_needed(float(targets[row]), response, float(tanks[row]))
