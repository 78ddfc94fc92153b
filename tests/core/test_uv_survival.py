"""Survival after a dose and the dose for a survival, against mpmath and against each other."""

from __future__ import annotations

import mpmath
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosewright.core.light.survival import DoseResponse, between_points, dose_for_log_survival, log_survival

RESPONSES = [
    DoseResponse("first_order", 0.012),
    DoseResponse("first_order", 0.012, floor=1e-6),
    DoseResponse("shoulder", 0.03, shoulder_dose=80.0),
    DoseResponse("shoulder", 0.03, shoulder_dose=80.0, floor=1e-5),
    DoseResponse("multi_target", 0.03, targets=20.0),
    DoseResponse("two_groups", 0.05, resistant_fraction=1e-3, resistant_rate=0.004),
]
DOSES = [0.0, 1e-3, 1.0, 40.0, 300.0, 2000.0, 10_000.0]


def exactly(dose: float, response: DoseResponse) -> mpmath.mpf:
    """Textbook forms of the survival in many digits."""
    with mpmath.workdps(400):
        k, d = mpmath.mpf(response.rate), mpmath.mpf(dose)
        e = mpmath.exp(-k * d)
        if response.form == "shoulder":
            held = mpmath.exp(k * mpmath.mpf(response.shoulder_dose))
            s = e * held / (1 + (held - 1) * e)
        elif response.form == "multi_target":
            s = 1 - (1 - e) ** mpmath.mpf(response.targets)
        elif response.form == "two_groups":
            b = mpmath.mpf(response.resistant_fraction)
            s = (1 - b) * e + b * mpmath.exp(-mpmath.mpf(response.resistant_rate) * d)
        else:
            s = e
        floor = mpmath.mpf(response.floor or 0)
        return mpmath.log(floor + (1 - floor) * s)


@pytest.mark.parametrize("response", RESPONSES, ids=lambda r: f"{r.form}{'_floor' if r.floor else ''}")
@pytest.mark.parametrize("dose", DOSES)
def test_survival_in_many_digits(response, dose):
    assert float(log_survival(dose, response)) == pytest.approx(float(exactly(dose, response)), rel=1e-11, abs=1e-12)


@given(dose=st.floats(0.01, 3000.0), index=st.sampled_from([0, 2, 4, 5]))
def test_there_and_back(dose, index):
    response = RESPONSES[index]
    log = log_survival(dose, response)
    back = float(dose_for_log_survival(log, response))
    # Within a shoulder the survival hardly falls, and its last digits depend on the dose.
    assert float(log_survival(back, response)) == pytest.approx(float(log), rel=1e-9, abs=1e-13)
    if log < -1e-3:
        assert back == pytest.approx(dose, rel=1e-9)


@given(st.floats(0.0, 2000.0), st.floats(0.1, 500.0))
def test_more_dose_has_fewer_survivors(dose, more):
    for response in RESPONSES:
        assert log_survival(dose + more, response) <= log_survival(dose, response)


def test_limits_of_the_forms_are_first_order():
    plain = DoseResponse("first_order", 0.03)
    for same in (
        DoseResponse("shoulder", 0.03, shoulder_dose=0.0),
        DoseResponse("multi_target", 0.03, targets=1.0),
        DoseResponse("two_groups", 0.03, resistant_fraction=0.3, resistant_rate=0.03),
    ):
        for dose in DOSES:
            assert float(log_survival(dose, same)) == pytest.approx(log_survival(dose, plain), rel=1e-12, abs=1e-15)


def test_below_a_floor_there_is_no_dose():
    floored = DoseResponse("first_order", 0.1, floor=1e-4)
    assert np.isnan(dose_for_log_survival(np.log(0.999e-4), floored))
    assert np.isnan(dose_for_log_survival(np.log(5e-5), floored))
    assert dose_for_log_survival(np.log(2e-4), floored) > 0.0


@pytest.mark.parametrize(
    "response",
    [
        DoseResponse("first_order", 0.0),
        DoseResponse("shoulder", 0.1, shoulder_dose=-1.0),
        DoseResponse("multi_target", 0.1, targets=0.5),
        DoseResponse("two_groups", 0.1, resistant_fraction=0.1, resistant_rate=0.2),
        DoseResponse("two_groups", 0.1, resistant_fraction=0.0, resistant_rate=0.01),
        DoseResponse("first_order", 0.1, floor=1.0),
    ],
)
def test_impossible_responses_are_refused(response):
    with pytest.raises(ValueError, match="must"):
        log_survival(10.0, response)
    with pytest.raises(ValueError, match="must"):
        dose_for_log_survival(-1.0, response)


def test_between_points_is_straight_and_ends():
    doses, logs = (0.0, 25.0, 30.0), (0.0, 1.0, 2.0)
    assert between_points(27.5, doses, logs) == 1.5
    assert between_points(1.5, logs, doses) == 27.5
    assert np.isnan(between_points(30.1, doses, logs))
    assert np.array_equal(between_points(np.array([10.0, 40.0]), doses, logs), [0.4, np.nan], equal_nan=True)
