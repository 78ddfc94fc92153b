"""Derated flow: from geometry, from one rated point, between rated points."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosewright.core.hydraulics import annulus
from dosewright.core.light import derating, dose, fluence

CM = 0.01


def absorption_of(uvt):
    return dose.absorption_coefficient(np.asarray(uvt), CM)


@given(st.floats(10.0, 500.0), st.floats(10.0, 1000.0), st.floats(1e-4, 0.1), st.floats(1.0, 20.0))
def test_the_derated_flow_delivers_the_target(rate, target, inactivation, tanks):
    if inactivation * target / tanks > 500.0:
        return
    volume = annulus.volume(0.038, 0.0115, 0.6)
    flow = derating.flow_for_mean_dose(rate, volume, dose.mean_dose_needed(target, inactivation, tanks))
    mean = dose.mean_dose(rate, dose.residence_time(volume, flow))
    assert dose.reduction_equivalent_dose(mean, inactivation, tanks) == pytest.approx(target, rel=1e-9)


def test_one_rated_point_at_its_own_conditions_is_unchanged():
    assert derating.flow_from_rated_point(6e-4, 400.0, 400.0, 1.0, 1.0) == 6e-4


def test_one_rated_point_equals_geometry_when_rated_by_it():
    """A point from the chamber model scales to the result of that model: output and sleeve cancel."""
    chamber = (0.45, 0.60, 0.0115, 0.038)
    volume = annulus.volume(0.038, 0.0115, 0.60)
    clear, dim = fluence.chamber_average(18.0, absorption_of([0.95, 0.75]), *chamber)
    rated = derating.flow_for_mean_dose(clear, volume, 400.0)
    scaled = derating.flow_from_rated_point(rated, 400.0, 300.0, dim / clear, 0.7)
    assert scaled == pytest.approx(derating.flow_for_mean_dose(0.7 * dim, volume, 300.0), rel=1e-14)


def test_between_two_points_the_reciprocal_is_straight():
    ends, products = np.array([5.0, 35.0]), np.array([0.2, 0.05])
    middle = derating.interpolated_dose_flow(20.0, ends, products)
    assert type(middle) is float
    assert middle == pytest.approx(2.0 / (1.0 / 0.2 + 1.0 / 0.05), rel=1e-14)
    assert derating.interpolated_dose_flow(5.0, ends, products) == pytest.approx(0.2, rel=1e-14)
    assert derating.interpolated_dose_flow(35.0, ends, products) == pytest.approx(0.05, rel=1e-14)


def test_order_of_points_does_not_matter():
    ends, products = np.array([35.0, 5.0, 12.0]), np.array([0.05, 0.2, 0.11])
    water = np.linspace(5.0, 35.0, 41)
    straight = derating.interpolated_dose_flow(water, ends, products)
    turned = derating.interpolated_dose_flow(water, ends[::-1], products[::-1])
    assert np.array_equal(straight, turned)
    assert np.all(np.diff(straight) < 0.0)
    alone = [derating.interpolated_dose_flow(float(one), ends, products) for one in water]
    assert alone == straight.tolist()
    rows = np.stack([products, 2.0 * products])
    both = derating.interpolated_dose_flow(np.array([20.0, 20.0]), np.stack([ends, ends]), rows)
    assert both.tolist() == pytest.approx([both[0], 2.0 * both[0]], rel=1e-14)
    assert np.array_equal(derating.interpolated_dose_flow(20.0, ends, rows), both)


def test_the_chord_is_on_the_safe_side_and_the_logarithm_is_not():
    """Random household chambers, points at UVT 70 and 95 %: -5.1 to +0.3 % here, 0 to +13 % for the logarithm."""
    draw = np.random.default_rng(8)
    count = 400
    inside = draw.uniform(0.010, 0.0175, count)
    bore = inside + draw.uniform(0.01, 0.1 - inside, count)
    arc = draw.uniform(0.2, 1.2, count)
    chamber = (arc[:, None], arc[:, None], inside[:, None], bore[:, None])
    ends = absorption_of([0.95, 0.70])
    rated = fluence.chamber_average(1.0, ends, *chamber)
    worst_low = worst_high = worst_log = 0.0
    for uvt in (0.75, 0.80, 0.85, 0.90):
        water = absorption_of(uvt)
        exact = fluence.chamber_average(1.0, water, *chamber)[:, 0]
        drawn = derating.interpolated_dose_flow(np.full(count, water), np.tile(ends, (count, 1)), rated)
        along = (water - ends[0]) / (ends[1] - ends[0])
        logarithm = np.exp(np.log(rated[:, 0]) * (1.0 - along) + np.log(rated[:, 1]) * along)
        worst_low = min(worst_low, np.min(drawn / exact) - 1.0)
        worst_high = max(worst_high, np.max(drawn / exact) - 1.0)
        worst_log = max(worst_log, np.max(logarithm / exact) - 1.0)
    assert -0.053 < worst_low < -0.03
    assert worst_high < 0.005
    assert 0.08 < worst_log < 0.135


@pytest.mark.parametrize(
    ("water", "ends", "products", "message"),
    [
        (20.0, [5.0], [0.2], "two rated points"),
        (20.0, [20.0, 20.0], [0.2, 0.1], "one transmittance"),
        (20.0, [5.0, 35.0], [0.1, 0.1], "fall"),
        (20.0, [5.0, 35.0], [0.1, 0.2], "fall"),
        (20.0, [5.0, 35.0], [0.1, 0.0], "above zero"),
        (4.9, [5.0, 35.0], [0.2, 0.1], "between the rated points"),
        (35.1, [5.0, 35.0], [0.2, 0.1], "between the rated points"),
        (np.nan, [5.0, 35.0], [0.2, 0.1], "between the rated points"),
    ],
)
def test_refusals_between_points(water, ends, products, message):
    with pytest.raises(ValueError, match=message):
        derating.interpolated_dose_flow(water, np.array(ends), np.array(products))


def test_other_refusals():
    with pytest.raises(ValueError, match="mean dose"):
        derating.flow_for_mean_dose(100.0, 1e-3, 0.0)
    good = {
        "rated_flow": 6e-4,
        "rated_dose": 400.0,
        "target_dose": 400.0,
        "fluence_rate_ratio": 0.6,
        "output_ratio": 0.8,
    }
    for name in good:
        with pytest.raises(ValueError, match=name.replace("_", " ")):
            derating.flow_from_rated_point(**{**good, name: 0.0})
