"""Uneven doses: RED, percentiles and their limits, compared with scipy and another quadrature."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from dosewright.core.hydraulics import annulus
from dosewright.core.light import dose
from dosewright.core.light.doses import dose_distribution as spread_of
from dosewright.core.light.doses import dose_shares, equivalent_dose, laminar_dose
from dosewright.core.light.doses import laminar_draws as laminar
from dosewright.core.light.doses.dose_distribution import Distribution
from dosewright.core.light.doses.laminar_draws import laminar_draws
from dosewright.core.light.field import Field
from dosewright.core.light.optics import SleeveOptics
from dosewright.core.light.survival import DoseResponse

SLEEVE = SleeveOptics(0.0015, 5.0, 1.0003, 1.5055, 1.3757)
FIRST = DoseResponse("first_order", 0.012)
# (P W, L, H, rs, R cm, UVT %, flow L/min, k cm2/mJ) and RED mJ/cm2: plain line, unmixed laminar annulus, derived for
# this project by adaptive quadrature over r, z and the lamp to 1e-8.
LAMINAR = [
    ((10, 40, 40, 1.2, 3.6, 90, 5, 0.12), 201.949803204),
    ((22.5, 75, 80, 1.4, 5.0, 80, 5, 0.12), 403.922059868),
    ((30, 28, 28, 1.7, 9.5, 66, 8, 0.2), 71.3317378888),
    ((12, 90, 90, 1.6, 3.1, 99, 20, 0.05), 60.5185587536),
]


def plain(case):
    power, arc, chamber, sleeve, bore, uvt, flow, rate = case
    field = Field(arc / 100, chamber / 100, sleeve / 100, bore / 100)
    return field, float(power), -100.0 * np.log(uvt / 100), flow / 60_000, DoseResponse("first_order", rate / 10)


@pytest.mark.parametrize(("case", "red"), LAMINAR)
def test_laminar_red_of_the_reference(case, red):
    found, least = laminar_dose.laminar_dose(*plain(case))
    assert found / 10.0 == pytest.approx(red, rel=1e-6)
    assert least < found


@pytest.mark.parametrize("sleeve", [None, SLEEVE], ids=["plain", "refracted"])
def test_laminar_red_by_adaptive_quadrature(sleeve):
    field = Field(0.45, 0.60, 0.0125, 0.04, sleeve)
    power, absorption, flow, rate = 12.0, 12.0, 2e-4, 0.01
    area = np.pi * (field.bore_radius**2 - field.sleeve_radius**2)

    def alive(radius):
        speed = annulus.laminar_profile(radius, field.bore_radius, field.sleeve_radius) * flow / area
        got = field.line(power, absorption, radius) * field.chamber_length / speed
        return 2.0 * np.pi * radius * speed / flow * np.exp(-rate * got)

    survival, _ = integrate.quad(alive, 0.0125, 0.04, epsabs=0.0, epsrel=1e-10, limit=300)
    found, _ = laminar_dose.laminar_dose(field, power, absorption, flow, DoseResponse("first_order", rate))
    assert found == pytest.approx(-np.log(survival) / rate, rel=1e-6)


chambers = st.builds(
    lambda sleeve, ratio, arc, stretch, uvt: (
        Field(arc, arc * stretch, sleeve, sleeve * ratio, None),
        -100.0 * np.log(uvt),
    ),
    st.floats(0.008, 0.02),
    st.floats(1.2, 6.0),
    st.floats(0.2, 1.5),
    st.floats(1.0, 2.0),
    st.floats(0.6, 0.999),
)


@given(chambers, st.floats(0.0005, 0.2))
def test_streamlines_average_to_the_mean_dose_and_red_is_below_it(chamber, rate):
    field, absorption = chamber
    spread = spread_of.in_laminar_flow(field, 20.0, absorption, 2e-4)
    mean = field.average(20.0, absorption) * field.volume / 2e-4
    assert float(np.sum(spread.shares)) == pytest.approx(1.0, rel=1e-9)
    assert float(np.sum(spread.shares * spread.doses)) == pytest.approx(mean, rel=1e-6)
    red = float(equivalent_dose.reduction_equivalent_dose(spread, DoseResponse("first_order", rate))[0])
    assert float(np.min(spread.doses)) <= red * (1 + 1e-12)
    assert red <= mean * (1 + 1e-9)


@given(chambers, st.floats(0.001, 0.05))
def test_red_falls_with_the_rate_and_gives_the_flow_back(chamber, rate):
    field, absorption = chamber
    slow, fast = DoseResponse("first_order", rate), DoseResponse("first_order", 2.0 * rate)
    red, _ = laminar_dose.laminar_dose(field, 20.0, absorption, 2e-4, slow)
    assert laminar_dose.laminar_dose(field, 20.0, absorption, 2e-4, fast)[0] < red
    again = laminar_dose.flow_for_laminar_dose(field, 20.0, absorption, red, slow)
    assert again == pytest.approx(2e-4, rel=1e-6)


def test_laminar_profile_is_mean_one_zero_at_the_walls_and_peaks_where_it_should():
    for ratio, peak in ((0.6, 1.504), (0.3, 1.522), (0.15, 1.549)):  # peaks derived for this project, four digits

        def flux(radius, inner=ratio):
            return 2.0 * radius * annulus.laminar_profile(radius, 1.0, inner)

        through, _ = integrate.quad(flux, ratio, 1.0, epsrel=1e-12)
        assert through / (1.0 - ratio**2) == pytest.approx(1.0, rel=1e-10)
        assert annulus.laminar_profile(ratio, 1.0, ratio) == pytest.approx(0.0, abs=1e-12)
        slope = (1.0 - ratio**2) / np.log(1.0 / ratio)
        assert annulus.laminar_profile(np.sqrt(slope / 2.0), 1.0, ratio) == pytest.approx(peak, abs=5e-4)
    thin = annulus.laminar_profile(np.array([0.9985]), 1.0, 0.997)
    assert thin[0] == pytest.approx(1.5, rel=2e-3)  # two plates
    with pytest.raises(ValueError, match="thousandth"):
        annulus.laminar_profile(0.9995, 1.0, 0.9995)


@pytest.mark.parametrize("tanks", [0.5, 1.0, 2.5, 10.0, 100.0, 1000.0])
def test_tanks_are_a_gamma_distribution(tanks):
    spread = spread_of.in_tanks(80.0, tanks)
    assert float(np.sum(spread.doses * spread.shares)) == pytest.approx(80.0, rel=1e-12)
    red = equivalent_dose.reduction_equivalent_dose(spread, FIRST)
    assert float(red[0]) == pytest.approx(dose.reduction_equivalent_dose(80.0, 0.012, tanks), rel=1e-11)
    fine = spread_of.in_tanks(80.0, tanks, spread_of.FINE)
    exact = stats.gamma(tanks, scale=80.0 / tanks)
    for share in (0.05, 0.25, 0.5, 0.9):
        assert float(dose_shares.percentile(fine, share)[0]) == pytest.approx(exact.ppf(share), rel=1e-3)
        assert float(dose_shares.share_below(fine, exact.ppf(share))[0]) == pytest.approx(share, abs=1e-3)


def test_tanks_with_a_shoulder_by_quadrature():
    response = DoseResponse("shoulder", 0.03, shoulder_dose=60.0)
    exact = stats.gamma(3.0, scale=40.0)

    def alive(got):
        k, held = 0.03, np.exp(0.03 * 60.0)
        return exact.pdf(got) * np.exp(-k * got) * held / (1.0 + (held - 1.0) * np.exp(-k * got))

    survival, _ = integrate.quad(alive, 0.0, np.inf, epsabs=0.0, epsrel=1e-10)
    found = equivalent_dose.log_mean_survival(spread_of.in_tanks(120.0, 3.0), response)
    assert float(found[0]) == pytest.approx(np.log(survival), rel=1e-9)


def test_a_shoulder_can_raise_the_red_above_the_mean():
    # Half the flow at 2, half at 14 mJ/cm2, 20 targets, k 0.25 cm2/mJ: mean 8, RED 11.04 (derived for this project).
    two = Distribution(np.array([[20.0], [140.0]]), np.array([[0.5], [0.5]]), continuous=False)
    red = equivalent_dose.reduction_equivalent_dose(two, DoseResponse("multi_target", 0.025, targets=20.0))
    assert float(red[0]) / 10.0 == pytest.approx(11.04, abs=5e-3)


def test_one_dose_is_its_own_red_for_any_response():
    for response in (FIRST, DoseResponse("shoulder", 0.03, shoulder_dose=60.0), DoseResponse("multi_target", 0.02)):
        red = equivalent_dose.reduction_equivalent_dose(spread_of.single_dose(123.0), response)
        assert float(red[0]) == pytest.approx(123.0, rel=1e-12)


def test_red_keeps_its_digits_where_survival_underflows():
    deep = equivalent_dose.reduction_equivalent_dose(spread_of.single_dose(1e5), FIRST)  # survival exp(-1200)
    assert float(deep[0]) == pytest.approx(1e5, rel=1e-14)


def test_residence_times():
    times, shares = np.array([4.0, 6.0, 9.0]), np.array([1.0, 2.0, 1.0])
    spread = spread_of.from_residence_times(50.0, times, shares)
    assert spread.doses[:, 0].tolist() == [200.0, 300.0, 450.0]
    assert spread.shares[:, 0].tolist() == [0.25, 0.5, 0.25]
    survival = np.sum([0.25, 0.5, 0.25] * np.exp(-0.012 * np.array([200.0, 300.0, 450.0])))
    red = float(equivalent_dose.reduction_equivalent_dose(spread, FIRST)[0])
    assert red == pytest.approx(-np.log(survival) / 0.012, rel=1e-12)
    assert float(dose_shares.percentile(spread, 0.25)[0]) == 200.0
    assert float(dose_shares.percentile(spread, 0.5)[0]) == 300.0
    assert float(dose_shares.share_below(spread, 301.0)[0]) == 0.75
    for wrong in ((times, shares[:2]), (times - 5.0, shares), (times, -shares), (times, 0.0 * shares)):
        with pytest.raises(ValueError, match="must"):
            spread_of.from_residence_times(50.0, *wrong)


def test_laminar_percentiles_by_counting_many_streamlines():
    field, absorption = Field(0.4, 0.4, 0.012, 0.036), 10.5
    radius = np.linspace(0.012, 0.036, 12_002)[1:-1]
    speed = annulus.laminar_profile(radius, 0.036, 0.012)
    got = field.line(10.0, absorption, radius) * field.volume / speed / 1e-4
    order = np.argsort(got)
    below = np.cumsum((radius * speed)[order]) / np.sum(radius * speed)
    spread = spread_of.in_laminar_flow(field, 10.0, absorption, 1e-4, spread_of.FINE)
    for share in (0.05, 0.25, 0.5, 0.75, 0.9):
        counted = np.interp(share, below, got[order])
        assert float(dose_shares.percentile(spread, share)[0]) == pytest.approx(counted, rel=3e-3)


def test_array_equals_single_bit_for_bit():
    draw = np.random.default_rng(7)
    sleeve = draw.uniform(0.01, 0.0175, 300)
    arc = draw.uniform(0.2, 1.2, 300)
    field = Field(arc, arc * draw.uniform(1.0, 2.0, 300), sleeve, sleeve * draw.uniform(1.7, 6.0, 300), SLEEVE)
    absorption = draw.uniform(0.5, 40.0, 300)
    together = laminar_dose.laminar_dose(field, 20.0, absorption, 1e-4, FIRST)
    flows = laminar_dose.flow_for_laminar_dose(field, 20.0, absorption, 400.0, FIRST)
    for row in (0, 1, 255, 256, 299):
        one = Field(*(float(value[row]) for value in field[:4]), SLEEVE)
        single = laminar_dose.laminar_dose(one, 20.0, float(absorption[row]), 1e-4, FIRST)
        assert (together[0][row], together[1][row]) == single
        assert flows[row] == laminar_dose.flow_for_laminar_dose(one, 20.0, float(absorption[row]), 400.0, FIRST)


@pytest.mark.parametrize("sleeve", [None, SLEEVE], ids=["straight", "refracted"])
@pytest.mark.parametrize(
    "response",
    [DoseResponse("first_order", 0.012), DoseResponse("multi_target", 0.02, targets=20.0)],
    ids=lambda r: r.form,
)
def test_many_waters_of_one_chamber_are_those_of_each(sleeve, response):
    field = Field(0.54, 0.6, 0.0115, 0.038, sleeve)
    draw = np.random.default_rng(7)
    water = -100.0 * np.log(draw.uniform(0.3, 0.999, 400))
    power, flow = draw.uniform(5.0, 12.0, 400), draw.uniform(1e-4, 5e-4, 400)
    many = laminar_draws(field, power, water, flow, 400.0, response)
    red = laminar_dose.laminar_dose(field, power, water, flow, response)[0]
    assert many.reduction_equivalent_dose == pytest.approx(red, rel=1e-7)
    assert many.flow == pytest.approx(
        laminar_dose.flow_for_laminar_dose(field, power, water, 400.0, response), rel=5e-7
    )
    alone = laminar_draws(field, power, np.full(400, 12.0), flow, 400.0, response)
    assert alone.reduction_equivalent_dose == pytest.approx(
        laminar_dose.laminar_dose(field, power, 12.0, flow, response)[0], rel=1e-12
    )


def test_a_water_on_a_knot_is_no_gap():
    field = Field(0.54, 0.6, 0.0115, 0.038)
    response = DoseResponse("first_order", 0.012)
    ends = np.log(8.0 + 0.54 * np.array([10.0, 30.0]))
    assert laminar._knots_needed(field, np.array([10.0, 30.0]), 0.0) == (12, 1)
    knots = np.mean(ends) + 0.5 * np.ptp(ends) * np.cos(np.pi * (np.arange(12) + 0.5) / 12)
    water = np.concatenate([[10.0, 30.0], (np.exp(knots) - 8.0) / 0.54])
    many = laminar_draws(field, 9.0, water, 3e-4, 400.0, response)
    assert many.reduction_equivalent_dose == pytest.approx(
        laminar_dose.laminar_dose(field, 9.0, water, 3e-4, response)[0], rel=1e-9
    )


RESPONSES = [
    DoseResponse("first_order", 0.012),
    DoseResponse("first_order", 0.05, floor=1e-5),
    DoseResponse("shoulder", 0.02, shoulder_dose=80.0),
    DoseResponse("two_groups", 0.03, 0.0, 1.0, 0.001, 0.005),
]


@pytest.mark.parametrize("response", RESPONSES, ids=lambda one: f"{one.form} {one.floor}")
@pytest.mark.parametrize("model", ["refracted", "cosine", "line", "radial"])
def test_waters_and_sleeves_of_any_chamber_are_interpolated_to_a_millionth(model, response):
    draw = np.random.default_rng(11)
    interpolated = set()
    for depth, low, slit in [(0.05, 0.0, 1.05), (0.1, 0.0, 1.2), (0.5, 1.0, 1.6), (2.0, 0.0, 3.0), (4.0, 0.0, 8.0)]:
        sleeve, arc, wall = draw.uniform(0.008, 0.02), draw.uniform(0.1, 1.8), draw.uniform(0.0005, 0.003)
        water = low + depth / (sleeve * (slit - 1.0)) * np.concatenate([[0.0, 1.0], draw.random(18)])
        quartz = draw.choice([0.0, 0.05, 0.6]) / wall * draw.random(20)
        emission = "cosine" if model == "cosine" else "isotropic"
        glass = SLEEVE._replace(wall=wall, absorption=quartz, emission=emission)
        bent = model in {"refracted", "cosine"}
        optics = (glass, 1.0) if bent else (None, draw.uniform(0.8, 1.0, 20))
        shine = draw.choice([None, 0.5])
        field = Field(arc, arc * draw.choice([1.0, 2.0, 0.7]), sleeve, sleeve * slit, *optics, model == "radial", shine)
        power, flow = draw.uniform(5.0, 10.0, 20), draw.uniform(1e-4, 2e-4, 20)
        interpolated.add(laminar._knots_needed(field, water, quartz if bent else 0.0))
        many = laminar_draws(field, power, water, flow, 400.0, response)
        red = laminar_dose.laminar_dose(field, power, water, flow, response)[0]
        assert many.reduction_equivalent_dose == pytest.approx(red, rel=1e-6, nan_ok=True)
        flows = laminar_dose.flow_for_laminar_dose(field, power, water, 400.0, response)
        assert many.flow == pytest.approx(flows, rel=1e-6, nan_ok=True)
    assert len(interpolated - {None}) > 2
