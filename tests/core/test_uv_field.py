"""The field by any model: energy balance, reflecting walls, opaque ends, limits and reference values."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate

from dosewright.core.light import fluence, lamp_angles, optics
from dosewright.core.light.field import Field
from dosewright.core.light.optics import SleeveOptics

INDICES = (1.0003, 1.5055, 1.3757)
SLEEVES = {
    "plain": None,
    "isotropic": SleeveOptics(0.0015, 5.0, *INDICES),
    "cosine": SleeveOptics(0.0015, 5.0, *INDICES, "cosine"),
}
A90 = -100.0 * np.log(0.9)


# P, L, H, ri, rs, R cm, UVT %, emission, aq 1/cm; chamber average and E(r, z) at two places, mW/cm2: derived for this
# project by a volume integral of the local field (2e-15) and photon Monte Carlo (2e-4).
REFRACTED = [
    (
        10,
        40,
        40,
        1.05,
        1.2,
        3.6,
        90,
        "isotropic",
        0.0,
        14.3394580129,
        (1.2, 0, 34.2551173169),
        (3.6, 20, 4.299669060704),
    ),
    (
        18,
        45,
        60,
        1.0,
        1.15,
        3.8,
        92,
        "cosine",
        0.1,
        17.26883163903,
        (1.15, 0, 55.75920853626),
        (3.8, 22.5, 6.633127747904),
    ),
    (
        22.5,
        75,
        80,
        1.25,
        1.4,
        5.0,
        80,
        "isotropic",
        0.0,
        9.473384100899,
        (1.4, 0, 35.24294066273),
        (5, 37.5, 2.009105055653),
    ),
    (
        12,
        90,
        90,
        1.45,
        1.6,
        3.1,
        99,
        "cosine",
        0.0,
        9.036862255619,
        (1.6, 0, 13.57549197505),
        (3.1, 45, 3.446266744966),
    ),
]


@pytest.mark.parametrize("row", REFRACTED)
def test_refracted_reference_values(row):
    power, arc, chamber, inner, sleeve, bore, uvt, emission, quartz, mean, *points = row
    glass = SleeveOptics((sleeve - inner) / 100, 100.0 * quartz, *INDICES, emission)
    field = Field(arc / 100, chamber / 100, sleeve / 100, bore / 100, glass)
    absorption = -100.0 * np.log(uvt / 100)
    assert field.average(float(power), absorption) / 10.0 == pytest.approx(mean, rel=1e-8)
    for radius, position, rate in points:
        found = field.point(float(power), absorption, radius / 100, position / 100)
        assert found / 10.0 == pytest.approx(rate, rel=1e-8)


fields = st.builds(
    lambda name, sleeve, ratio, arc, stretch, wall, uvt: (
        Field(
            arc,
            arc * stretch,
            sleeve,
            sleeve * ratio,
            SLEEVES[name],
            1.0 if SLEEVES[name] else 0.9,
            wall_reflectance=wall,
        ),
        -100.0 * np.log(uvt),
    ),
    st.sampled_from(sorted(SLEEVES)),
    st.floats(0.008, 0.02),
    st.floats(1.1, 7.0),
    st.floats(0.1, 1.5),
    st.floats(0.2, 3.0),
    st.one_of(st.none(), st.floats(0.0, 0.9)),
    st.floats(0.2, 1.0),
)


@given(fields)
def test_the_energy_balance_closes(chamber):
    field, absorption = chamber
    rates, balance = field.rates_and_balance(7.0, absorption)
    assert balance.total == pytest.approx(1.0, abs=1e-6)
    assert all(-1e-9 <= share <= 1.0 + 1e-9 for share in balance)
    assert balance.water == pytest.approx(absorption * rates.average * field.volume / 7.0, rel=1e-9, abs=1e-12)
    assert rates.average == pytest.approx(field.average(7.0, absorption), rel=1e-6)


@given(fields)
def test_average_over_lines_is_the_average_over_the_chamber(chamber):
    field, absorption = chamber
    points, weights = np.polynomial.legendre.leggauss(48)
    span = np.log(field.bore_radius / field.sleeve_radius)
    radius = field.sleeve_radius * np.exp(0.5 * (points + 1.0) * span)
    lines = field.line(7.0, absorption, radius)
    section = field.bore_radius**2 - field.sleeve_radius**2
    summed = float(np.sum(weights * span * radius * radius * lines)) / section
    assert summed == pytest.approx(field.average(7.0, absorption), rel=2e-5)


@pytest.mark.parametrize("chamber", [0.3, 0.4, 0.5])
@pytest.mark.parametrize("wall", [None, 0.3])
@pytest.mark.parametrize("name", sorted(SLEEVES))
def test_average_over_points_is_the_average_over_a_line(chamber, wall, name):
    field = Field(0.4, chamber, 0.012, 0.036, SLEEVES[name], wall_reflectance=wall)
    for radius in (0.012, 0.02, 0.036):

        def at(position, radius=radius):
            return field.point(5.0, A90, radius, position)

        turns = [0.5 * chamber - 0.02, 0.2]
        along, _ = integrate.quad(at, 0.0, 0.5 * chamber, points=[x for x in turns if x < 0.5 * chamber], epsrel=1e-7)
        assert along / (0.5 * chamber) == pytest.approx(field.line(5.0, A90, radius), rel=3e-6)


@pytest.mark.parametrize(("chamber", "mean", "at_end"), [(0.38, 0.3, 30.0), (0.30, 2.8, 82.0)])
def test_loss_at_end_plates(chamber, mean, at_end):
    """A 400 mm arc, rs 1.2, R 3.6 cm, UVT 90 %: overestimate in percent without plates, derived for this project."""
    short, free = Field(0.4, chamber, 0.012, 0.036), Field(0.4, 0.8, 0.012, 0.036)
    points, weights = np.polynomial.legendre.leggauss(40)
    radius = 0.024 + 0.012 * points
    places, place_weights = np.polynomial.legendre.leggauss(60)
    rates = free.point(1.0, A90, radius[:, None], 0.5 * chamber * places[None, :])
    open_mean = np.sum(weights * 0.012 * 2.0 * radius * np.sum(0.5 * place_weights * rates, axis=1)) / (
        0.036**2 - 0.012**2
    )
    assert 100.0 * (open_mean / short.average(1.0, A90) - 1.0) == pytest.approx(mean, abs=0.05)
    end = 0.5 * chamber
    excess = free.point(1.0, A90, 0.024, end) / short.point(1.0, A90, 0.024, end) - 1.0
    assert 100.0 * excess == pytest.approx(at_end, abs=0.5)


@pytest.mark.parametrize("name", sorted(SLEEVES))
def test_a_chamber_slightly_shorter_than_the_arc_equals_one_of_its_length(name):
    whole, short = (Field(0.4, 0.4 - less, 0.012, 0.036, SLEEVES[name]) for less in (0.0, 1e-11))
    assert short.average(1.0, A90) == pytest.approx(whole.average(1.0, A90), rel=1e-8)
    assert short.line(1.0, A90, 0.02) == pytest.approx(whole.line(1.0, A90, 0.02), rel=1e-8)
    assert short.point(1.0, A90, 0.02, 0.1) == pytest.approx(whole.point(1.0, A90, 0.02, 0.1), rel=1e-8)


def test_lines_on_fewer_nodes_are_those_on_more():
    draw = np.random.default_rng(3)
    sleeve, arc = draw.uniform(0.01, 0.0175, 400), draw.uniform(0.2, 1.2, 400)
    chamber, bore = arc * draw.uniform(1.0, 2.0, 400), sleeve * draw.uniform(1.7, 6.0, 400)
    radius = sleeve + (bore - sleeve) * draw.uniform(0.0, 1.0, 400)
    absorption = draw.uniform(0.1, 50.0, 400)
    for glass in SLEEVES.values():
        fine = fluence.line_average(1.0, absorption, arc, chamber, sleeve, radius, glass)
        assert Field(arc, chamber, sleeve, bore, glass).line(1.0, absorption, radius) == pytest.approx(fine, rel=1e-6)


def test_radial_model_is_its_closed_form():
    field = Field(0.4, 0.5, 0.012, 0.036, None, 0.9, radial=True)
    assert field.point(10.0, 8.0, 0.02, 0.1) == pytest.approx(9.0 / (2 * np.pi * 0.02 * 0.4) * np.exp(-8.0 * 0.008))
    assert field.point(10.0, 8.0, 0.02, 0.24) == 0.0
    rates, balance = field.rates_and_balance(10.0, 8.0)
    assert balance.water == pytest.approx(0.9 * (1 - np.exp(-8.0 * 0.024)), rel=1e-12)
    assert balance.total == pytest.approx(1.0, abs=1e-12)
    assert rates.average == pytest.approx(balance.water * 10.0 / (8.0 * field.volume), rel=1e-12)
    # In clear water: energy conserving, 2/pi of the infinitely long plain line.
    clear = Field(50.0, 50.0, 0.012, 0.036, None, 1.0, radial=True).point(1.0, 0.0, 0.03, 0.0)
    endless = Field(50.0, 50.0, 0.012, 0.036).point(1.0, 0.0, 0.03, 0.0)
    assert clear / endless == pytest.approx(2.0 / np.pi, rel=1e-3)


def test_a_mirror_adds_light_and_a_black_wall_none():
    black = Field(0.4, 0.5, 0.012, 0.036, SLEEVES["isotropic"])
    none, some, more = (black._replace(wall_reflectance=share) for share in (0.0, 0.2, 0.4))
    assert none.average(1.0, A90) == black.average(1.0, A90)
    assert none.point(1.0, A90, 0.02, 0.0) == black.point(1.0, A90, 0.02, 0.0)
    first, second = (field.average(1.0, A90) - black.average(1.0, A90) for field in (some, more))
    assert first > 0.0
    assert second == pytest.approx(2.0 * first, rel=1e-9)
    # Clear, infinitely long, straight rays: reflected light reaches the sleeve as if it had continued to 2R - rs.
    endless = Field(80.0, 80.0, 0.012, 0.036, wall_reflectance=1.0)
    single = endless._replace(wall_reflectance=None)
    for radius in (0.012, 0.03):
        back = endless.point(1.0, 0.0, radius, 0.0) / single.point(1.0, 0.0, radius, 0.0)
        assert back == pytest.approx(2.0, rel=1e-2)


@given(st.floats(0.05, 1.0), st.floats(0.3, 3.0))
def test_pieces_of_an_arc_add(arc, uvt_steps):
    absorption = 3.0 * uvt_steps
    whole = fluence.fluence_rate(1.0, absorption, arc, 0.012, 0.03, 0.0)
    half = fluence.fluence_rate(0.5, absorption, 0.5 * arc, 0.012, 0.03, 0.25 * arc)
    assert 2.0 * half == pytest.approx(whole, rel=1e-6)


def test_mixed_lengths_equal_single_cases_bit_for_bit():
    arc, chamber = np.full(4, 0.4), np.array([0.3, 0.4, 0.5, 0.39])
    together = Field(arc, chamber, 0.012, 0.036, SLEEVES["cosine"], wall_reflectance=0.2)
    rates, balance = together.rates_and_balance(3.0, A90)
    points = together.point(3.0, A90, 0.02, 0.1)
    for row in range(4):
        one = Field(0.4, float(chamber[row]), 0.012, 0.036, SLEEVES["cosine"], wall_reflectance=0.2)
        single, single_balance = one.rates_and_balance(3.0, A90)
        assert [value[row] for value in rates] == list(single)
        assert [value[row] for value in balance] == list(single_balance)
        assert points[row] == one.point(3.0, A90, 0.02, 0.1)


def test_points_outside_the_plates_are_refused():
    with pytest.raises(ValueError, match="between the end plates"):
        Field(0.4, 0.3, 0.012, 0.036).point(1.0, A90, 0.02, 0.16)


@pytest.mark.parametrize("name", ["isotropic", "cosine"])
def test_share_above_an_angle_is_the_integral_of_the_emission(name):
    rays = optics.RefractedRays(0.012, SLEEVES[name])

    def given(x):
        return float(rays.bundle(lamp_angles.at_x(np.array([x]), np.ones(1))).given[0])

    for start in (0.0, 0.5, 2.0):
        left, _ = integrate.quad(given, start, 30.0, epsrel=1e-11)
        assert float(rays.beyond(np.sinh(start))) == pytest.approx(left, rel=1e-9)
