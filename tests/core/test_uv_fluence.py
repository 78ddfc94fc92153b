"""Fluence rate: closed-form limits, energy, scaling, convergence, refusals, and arrays against single cases."""

import mpmath
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dosewright.core.hydraulics import annulus
from dosewright.core.light import dose, fluence, lamp_angles, lamp_integrals, optics
from dosewright.core.light.optics import SleeveOptics

SLEEVE = SleeveOptics(0.0015, 6.0, 1.0003, 1.5055, 1.3757)
LOSSLESS = SleeveOptics(0.0015, 0.0, 1.0, 1.0, 1.0)
BOTH = pytest.mark.parametrize("sleeve", [None, SLEEVE], ids=["line_source", "refracted_line"])


def random_chambers(count, seed, longest=1.2, stretch=1.0, dimmest=0.6):
    """Absorption, arc, chamber, sleeve radius, bore radius; narrow gaps, clear water and no end gap among them."""
    draw = np.random.default_rng(seed)
    some = draw.random((3, count)) < 0.3
    sleeve = draw.uniform(0.008, 0.0175, count)
    ratio = np.where(some[0], draw.uniform(0.58, 0.9, count), draw.uniform(0.1, 0.58, count))
    arc = np.exp(draw.uniform(np.log(0.2 / stretch), np.log(longest), count))
    chamber = arc * np.where(some[1], 1.0, 1.0 + stretch * draw.random(count))
    uvt = np.where(some[2], draw.uniform(0.99, 0.9999, count), draw.uniform(dimmest, 0.99, count))
    return -100.0 * np.log(uvt), arc, chamber, sleeve, sleeve / ratio


@st.composite
def chambers(draw):
    def number(low, high):
        return draw(st.floats(low, high))

    sleeve = number(0.008, 0.02)
    arc = number(0.1, 1.5)
    return number(0.02, 60.0), arc, arc * number(1.0, 2.0), sleeve, sleeve * number(1.1, 10.0)


def set_nodes(monkeypatch, whole, cut, single, newton):
    nodes = lamp_angles.Nodes(lamp_angles.gauss_legendre(whole), lamp_angles.gauss_legendre(cut))
    for name in ("STRAIGHT_NODES", "BENT_NODES", "WIDE_NODES"):
        monkeypatch.setattr(lamp_integrals, name, nodes)
    points, weights = lamp_angles.gauss_legendre(single)
    monkeypatch.setattr(lamp_integrals, "_POINTS", points)
    monkeypatch.setattr(lamp_integrals, "_WEIGHTS", weights)
    monkeypatch.setattr(lamp_integrals, "STEPS", newton)
    monkeypatch.setattr(lamp_integrals, "_STEPS_OF_AVERAGE", newton)


# The household range, and the wider one stated in the docstring.
@pytest.mark.parametrize(
    ("longest", "stretch", "dimmest", "tolerance"),
    [(1.2, 1.0, 0.6, 1e-8), (3.0, 9.0, 0.01, 1e-6)],
    ids=["house", "far"],
)
@BOTH
def test_more_nodes_change_nothing(monkeypatch, sleeve, longest, stretch, dimmest, tolerance):
    absorption, arc, chamber, inside, bore = cases = random_chambers(6000, 3, longest, stretch, dimmest)
    radius = inside + (bore - inside) * np.random.default_rng(4).random(inside.size)

    def everything():
        rates = fluence.chamber_fluence_rates(1.0, *cases, sleeve)
        return (
            fluence.chamber_average(1.0, *cases, sleeve),
            fluence.line_average(1.0, absorption, arc, chamber, inside, radius, sleeve),
            fluence.fluence_rate(1.0, absorption, arc, inside, radius, 0.3 * arc, sleeve),
            rates.average,
            rates.at_sleeve,
            np.where(absorption * (bore - inside) < 30.0, rates.at_wall, 1.0),
        )

    coarse = everything()
    set_nodes(monkeypatch, 40, 24, 64, 9)
    for few, many in zip(coarse, everything(), strict=True):
        np.testing.assert_allclose(few, many, rtol=tolerance, atol=0.0)


@BOTH
def test_a_bore_many_times_as_wide_as_its_sleeve_has_more_nodes(monkeypatch, sleeve):
    absorption, arc, chamber, inside, _ = random_chambers(2000, 5, 3.0, 9.0, 0.01)
    bore = inside * np.exp(np.random.default_rng(6).uniform(np.log(5.0), np.log(200.0), inside.size))
    cases = (absorption, arc, chamber, inside, bore)
    few = (fluence.chamber_average(1.0, *cases, sleeve), *fluence.chamber_shares(*cases, sleeve))
    for row in (0, 1, 2, int(np.argmin(bore / inside)), int(np.argmax(bore / inside))):
        assert few[0][row] == fluence.chamber_average(1.0, *(float(value[row]) for value in cases), sleeve)
    np.testing.assert_allclose(sum(few[-4:]), 1.0, rtol=1e-6)
    set_nodes(monkeypatch, 300, 300, 64, 9)
    many = (fluence.chamber_average(1.0, *cases, sleeve), *fluence.chamber_shares(*cases, sleeve))
    np.testing.assert_allclose(few[0], many[0], rtol=1e-6)
    for one, other in zip(few[-4:], many[-4:], strict=True):
        np.testing.assert_allclose(one, other, rtol=0.0, atol=1e-6)


def test_past_the_arc_ends_to_a_millionth_of_mid_arc(monkeypatch):
    absorption, arc, chamber, inside, bore = random_chambers(6000, 5, 3.0, 9.0, 0.01)
    past = 0.5 * (arc + (chamber - arc) * np.random.default_rng(6).random(arc.size))
    middle = fluence.fluence_rate(1.0, absorption, arc, inside, bore)
    coarse = fluence.fluence_rate(1.0, absorption, arc, inside, bore, past)
    set_nodes(monkeypatch, 40, 24, 128, 9)
    fine = fluence.fluence_rate(1.0, absorption, arc, inside, bore, past)
    assert np.all((fine >= 0.0) & (fine < middle))
    assert np.all(abs(coarse - fine) <= 1e-6 * middle)


@given(chambers(), st.floats(-1.5, 1.5), st.floats(0.0, 1.0))
def test_clear_water_has_a_closed_form(chamber, position, depth):
    _, arc, _, inside, bore = chamber
    radius = inside + depth * (bore - inside)
    exact = (np.arctan((0.5 * arc - position) / radius) + np.arctan((0.5 * arc + position) / radius)) / (
        4.0 * np.pi * arc * radius
    )
    assert fluence.fluence_rate(1.0, 0.0, arc, inside, radius, position) == pytest.approx(exact, rel=1e-9)


@given(chambers(), st.floats(-1.0, 1.0))
def test_at_the_sleeve_water_has_not_dimmed_the_light(chamber, position):
    absorption, arc, _, inside, _ = chamber
    dim = fluence.fluence_rate(1.0, absorption, arc, inside, inside, position, SLEEVE)
    assert dim == fluence.fluence_rate(1.0, 0.0, arc, inside, inside, position, SLEEVE)


@pytest.mark.parametrize("thickness", [0.0, 0.2, 0.5, 1.0, 2.0])
def test_infinitely_long_lamp_is_the_bickley_function(thickness):
    radius, inside, arc = 0.04, 0.012, 60.0
    bickley = mpmath.quad(lambda x: mpmath.exp(-thickness * mpmath.cosh(x)) / mpmath.cosh(x), [0, 2, 40])
    value = fluence.fluence_rate(1.0, thickness / (radius - inside), arc, inside, radius)
    assert value == pytest.approx(float(bickley) / (2.0 * np.pi * radius * arc), rel=1e-3 if thickness == 0.0 else 1e-9)


def test_infinitely_long_lamp_in_clear_water():
    assert fluence.fluence_rate(1.0, 0.0, 1e6, 0.01, 0.04) == pytest.approx(1.0 / (4.0 * 0.04 * 1e6), rel=1e-7)


def test_half_the_light_at_the_end_of_a_long_arc():
    middle, end = fluence.fluence_rate(1.0, 200.0, 1.2, 0.012, 0.02, np.array([0.0, 0.6]))
    assert end == pytest.approx(0.5 * middle, rel=1e-9)


@pytest.mark.parametrize("sleeve", [None, LOSSLESS], ids=["line_source", "refracted_line without refraction"])
def test_dark_water_absorbs_all_the_light(sleeve):
    arc, chamber, inside, bore = 0.4, 0.5, 0.012, 0.1
    near, far = 0.5 * (chamber - arc), 0.5 * (chamber + arc)
    entering = (np.hypot(far, inside) - np.hypot(near, inside)) / arc
    average = fluence.chamber_average(25.0, 1e9, arc, chamber, inside, bore, sleeve)
    share = fluence.absorbed_share(average, 1e9, annulus.volume(bore, inside, chamber), 25.0)
    assert share == pytest.approx(entering, rel=1e-6)


@given(chambers())
def test_straight_refracted_rays_are_the_plain_line(chamber):
    plain = fluence.chamber_average(7.0, *chamber)
    assert fluence.chamber_average(7.0, *chamber, LOSSLESS) == pytest.approx(plain, rel=1e-9)


@BOTH
@given(chambers(), st.floats(0.01, 100.0), st.floats(0.1, 10.0))
def test_scaling(sleeve, chamber, power, scale):
    absorption, *lengths = chamber
    wider = (absorption / scale, *(scale * length for length in lengths))
    scaled = sleeve and sleeve._replace(wall=sleeve.wall * scale, absorption=sleeve.absorption / scale)
    base = fluence.chamber_average(1.0, *chamber, sleeve)
    assert fluence.chamber_average(power, *chamber, sleeve) == power * base
    assert fluence.chamber_average(1.0, *wider, scaled) == pytest.approx(base / (scale * scale), rel=1e-10)


@BOTH
@given(chambers(), st.floats(1.01, 3.0))
def test_falling_and_log_convex_in_absorption(sleeve, chamber, step):
    absorption, *rest = chamber
    averages = fluence.chamber_average(1.0, absorption + absorption * (step - 1.0) * np.arange(3.0), *rest, sleeve)
    assert averages[0] > averages[1] > averages[2] > 0.0
    assert averages[1] * averages[1] <= averages[0] * averages[2] * (1.0 + 1e-9)


@BOTH
@given(chambers())
def test_water_absorbs_at_most_the_output_of_the_lamp(sleeve, chamber):
    absorption, _, length, inside, bore = chamber
    average = fluence.chamber_average(3.0, *chamber, sleeve)
    share = fluence.absorbed_share(average, absorption, annulus.volume(bore, inside, length), 3.0)
    assert 0.0 < share < 1.0


@BOTH
def test_series_for_clear_water_joins_smoothly(sleeve):
    """Mean fluence rate of nearly clear water, from 0 across the change to the series."""
    rest = (0.4, 0.5, 0.012, 0.036)
    clear = fluence.chamber_average(1.0, 0.0, *rest, sleeve)
    assert np.isfinite(clear)
    absorption = np.array([1e-300, 1e-12, 1e-6, 1e-3, 0.0411, 0.0412, 0.05])
    averages = fluence.chamber_average(1.0, absorption, *rest, sleeve)
    assert averages[:2].tolist() == pytest.approx([clear, clear], rel=1e-12)
    slope = (averages[3] - clear) / 1e-3
    assert averages[2] == pytest.approx(clear + slope * 1e-6, rel=1e-12)
    assert np.all(np.diff(averages[2:]) < 0.0)
    assert averages[5] == pytest.approx(averages[4] + slope * 1e-4, rel=1e-8)


def test_longer_chamber_changes_little_but_never_brightens():
    lengths = 0.4 * np.array([1.0, 1.2, 1.5, 2.0, 4.0])
    rates = fluence.chamber_average(1.0, 10.0, 0.4, lengths, 0.012, 0.036) * lengths
    assert np.all(np.diff(rates) > 0.0)
    assert rates[-1] < 1.2 * rates[0]


def test_overestimate_of_the_plain_line():
    """Ratios of the two models for an infinitely long lamp, calculated separately (three printed digits)."""
    bare = SleeveOptics(0.0015, 0.0, 1.0003, 1.5055, 1.3757)
    for inside, bore, uvt, ratio in [
        (0.0125, 0.030, 0.70, 0.818),
        (0.0125, 0.030, 0.90, 0.738),
        (0.0125, 0.045, 0.98, 0.698),
        (0.015, 0.100, 0.70, 0.920),
        (0.015, 0.100, 0.90, 0.847),
    ]:
        case = (float(dose.absorption_coefficient(uvt, 0.01)), 100.0, 100.0, inside, bore)
        computed = fluence.chamber_average(1.0, *case, bare) / fluence.chamber_average(1.0, *case)
        assert computed == pytest.approx(ratio, abs=0.001)


@BOTH
def test_array_equals_single_bit_for_bit(sleeve):
    cases = random_chambers(1100, 11)
    absorption, arc, chamber, inside, bore = cases
    radius = 0.5 * (inside + bore)
    rates = fluence.chamber_fluence_rates(4.0, *cases, sleeve)
    together = (
        fluence.chamber_average(4.0, *cases, sleeve),
        rates.average,
        rates.at_sleeve,
        rates.at_wall,
        fluence.line_average(4.0, absorption, arc, chamber, inside, radius, sleeve),
        fluence.fluence_rate(4.0, absorption, arc, inside, radius, 0.4 * chamber, sleeve),
    )
    for index in [*range(0, 1100, 53), 255, 256, 767, 768, 1099]:
        case = [float(value[index]) for value in cases]
        a, length, whole, rs, _ = case
        alone = fluence.chamber_fluence_rates(4.0, *case, sleeve)
        single = (
            fluence.chamber_average(4.0, *case, sleeve),
            *alone,
            fluence.line_average(4.0, a, length, whole, rs, float(radius[index]), sleeve),
            fluence.fluence_rate(4.0, a, length, rs, float(radius[index]), 0.4 * whole, sleeve),
        )
        assert all(type(value) is float for value in single)
        assert single == tuple(value[index] for value in together)


def test_how_far_rays_are_bent_decides_where_the_nodes_lie(monkeypatch):
    """Indices on both sides of the change of nodes, in one batch, alone, and with many nodes."""
    index = np.array([1.0, 1.1, np.nextafter(optics.BENT, 1.0), optics.BENT, 1.3, 1.6])
    case = (7.0, 0.9, 1.1, 0.012, 0.045)
    together = fluence.chamber_average(1.0, *case, SleeveOptics(0.0015, 6.0, 1.0, index[::-1], index))
    for row, value in enumerate(together.tolist()):
        alone = SleeveOptics(0.0015, 6.0, 1.0, float(index[-1 - row]), float(index[row]))
        assert value == fluence.chamber_average(1.0, *case, alone)
    set_nodes(monkeypatch, 64, 64, 64, 9)
    fine = fluence.chamber_average(1.0, *case, SleeveOptics(0.0015, 6.0, 1.0, index[::-1], index))
    np.testing.assert_allclose(together, fine, rtol=1e-9)


@BOTH
def test_floats_among_arrays_change_no_bit(sleeve):
    absorption = np.linspace(0.0, 60.0, 301)
    full = np.ones_like(absorption)
    curve = fluence.chamber_average(4.0, absorption, 0.4, 0.5, 0.012, 0.036, sleeve)
    spelt = fluence.chamber_average(4.0 * full, absorption, 0.4 * full, 0.5 * full, 0.012 * full, 0.036 * full, sleeve)
    assert np.array_equal(curve, spelt)
    grid = fluence.chamber_average(4.0, absorption[:, None], 0.4, 0.5, 0.012, np.array([0.036, 0.05]), sleeve)
    assert grid.shape == (301, 2)
    assert np.array_equal(grid[:, 0], curve)


@pytest.mark.parametrize("varied", range(10))
def test_one_array_among_floats_changes_no_bit(varied):
    """Each argument in turn is the only array, as in an interval over one uncertain input."""
    plain = [10.0, 0.4, 0.5, 0.012, 0.036, *SLEEVE[:5]]
    arguments: list = [*plain]
    arguments[varied] = plain[varied] * np.array([1.0, 1.003, 1.0004])

    def everything(values):
        chamber, sleeve = values[:5], SleeveOptics(*values[5:])
        absorption, arc, length, inside, bore = chamber
        return (
            fluence.chamber_average(1.0, *chamber, sleeve),
            *fluence.chamber_fluence_rates(1.0, *chamber, sleeve),
            *fluence.chamber_shares(*chamber, sleeve),
            fluence.line_average(1.0, absorption, arc, length, inside, bore, sleeve),
            fluence.fluence_rate(1.0, absorption, arc, inside, bore, 0.1, sleeve),
        )

    together = everything(arguments)
    for row, value in enumerate(arguments[varied].tolist()):
        alone = [*plain]
        alone[varied] = value
        assert [np.broadcast_to(one, 3)[row] for one in together] == list(everything(alone))


@pytest.mark.parametrize(
    ("name", "value", "message"),
    [
        ("power", -1.0, "power"),
        ("power", np.nan, "power"),
        ("absorption", -0.1, "absorption"),
        ("absorption", np.inf, "absorption"),
        ("arc_length", 0.0, "arc length"),
        ("arc_length", 0.51, "chamber length must be at least the arc length"),
        ("chamber_length", np.inf, "chamber length"),
        ("sleeve_radius", 0.0, "sleeve radius"),
        ("sleeve_radius", 0.036, "wider than the sleeve"),
        ("sleeve_radius", 0.001, "sleeve wall"),
        ("bore_radius", np.nan, "wider than the sleeve"),
        ("sleeve", SLEEVE._replace(n_water=0.99), "refractive indices"),
        ("sleeve", SLEEVE._replace(absorption=-1.0), "quartz absorption"),
        ("sleeve", SLEEVE._replace(emission="spherical"), "emission"),
    ],
)
def test_refusals(name, value, message):
    asked = {
        "power": 10.0,
        "absorption": 10.0,
        "arc_length": 0.4,
        "chamber_length": 0.5,
        "sleeve_radius": 0.012,
        "bore_radius": 0.036,
        "sleeve": SLEEVE,
    }
    assert fluence.chamber_average(**asked) > 0.0
    with pytest.raises(ValueError, match=message):
        fluence.chamber_average(**{**asked, name: value})
    if isinstance(value, float):
        with pytest.raises(ValueError, match=message):
            fluence.chamber_average(**{**asked, name: np.array([asked[name], value])})


def test_points_inside_the_sleeve_or_not_finite_are_refused():
    with pytest.raises(ValueError, match="radius must be at least"):
        fluence.fluence_rate(1.0, 10.0, 0.4, 0.012, 0.0119)
    with pytest.raises(ValueError, match="radius must be at least"):
        fluence.line_average(1.0, 10.0, 0.4, 0.5, 0.012, 0.0119)
    with pytest.raises(ValueError, match="position"):
        fluence.fluence_rate(1.0, 10.0, 0.4, 0.012, 0.02, np.nan)


@settings(max_examples=40)
@given(st.integers(1, 70), st.integers(1, 5))
def test_folded_sum_is_a_sum_and_independent_of_its_neighbours(count, cases):
    terms = np.random.default_rng(count).standard_normal((2, count, cases))
    folded = lamp_integrals.sum_over_nodes(terms)
    np.testing.assert_allclose(folded, terms.sum(axis=1), rtol=0.0, atol=1e-13 * count)
    for case in range(cases):
        assert np.array_equal(lamp_integrals.sum_over_nodes(terms[:, :, case : case + 1])[:, 0], folded[:, case])
