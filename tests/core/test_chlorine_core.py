"""Mass balance, limits, direction of change, and arrays against single values."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosewright.core import measures
from dosewright.core.chlorine import chlorine, dechlorination, hypochlorous
from dosewright.core.hydraulics import vessels

volumes = st.floats(1e-3, 1e3)
concentrations = st.floats(1e-4, 2.0)
strengths = st.floats(0.01, 250.0)
factors = st.floats(0.1, 10.0)
LEAST = np.array([0.0, 50.0, 250.0])
STEP = np.array([1.0, 5.0, 10.0])


@given(volumes, concentrations, strengths)
def test_chlorine_in_equals_chlorine_out(volume, concentration, strength):
    product = chlorine.product_quantity(volume, concentration, strength)
    assert chlorine.chlorine_produced(product, strength, volume) == pytest.approx(concentration, rel=1e-12)
    assert product * strength == pytest.approx(volume * concentration, rel=1e-12)


@given(volumes, concentrations, strengths, factors)
def test_product_is_linear_in_volume_and_dose_and_inverse_in_strength(volume, concentration, strength, factor):
    product = chlorine.product_quantity(volume, concentration, strength)
    assert chlorine.product_quantity(volume * factor, concentration, strength) == pytest.approx(
        product * factor, rel=1e-12
    )
    assert chlorine.product_quantity(volume, concentration * factor, strength) == pytest.approx(
        product * factor, rel=1e-12
    )
    assert chlorine.product_quantity(volume, concentration, strength * factor) == pytest.approx(
        product / factor, rel=1e-12
    )


@given(st.floats(0.01, 0.15), st.floats(1000.0, 1250.0))
def test_strength_conversions_invert_each_other(share, density):
    available = chlorine.available_chlorine(share, density)
    assert chlorine.sodium_hypochlorite_share(available, density) == pytest.approx(share, rel=1e-12)
    assert available < share * density  # a mole of NaOCl is heavier than its equivalent mole of Cl2
    trade = chlorine.trade_share(available)
    assert trade == available / 1000.0
    assert chlorine.available_chlorine_from_trade_share(trade) == pytest.approx(available, rel=1e-12)


def test_density_line_passes_through_its_two_ends():
    ends = (998.2, 1157.0, 120.0)
    strongest = chlorine.sodium_hypochlorite_share(120.0, 1157.0)
    assert chlorine.hypochlorite_density(strongest, *ends) == pytest.approx(1157.0, rel=1e-12)
    assert chlorine.hypochlorite_density(1e-12, *ends) == pytest.approx(998.2, rel=1e-9)
    share = 0.0525
    density = chlorine.hypochlorite_density(share, *ends)
    available = chlorine.available_chlorine(share, density)
    assert density == pytest.approx(998.2 + (1157.0 - 998.2) / 120.0 * available, rel=1e-12)
    with pytest.raises(ValueError, match="give the density"):
        chlorine.hypochlorite_density(strongest * 1.001, *ends)


@given(st.floats(5.0, 13.9), st.floats(0.001, 0.1), st.floats(278.15, 308.15))
def test_hypochlorous_acid_falls_as_ph_rises(ph, rise, temperature):
    lower = hypochlorous.hypochlorous_acid_share(ph, temperature)
    higher = hypochlorous.hypochlorous_acid_share(ph + rise, temperature)
    assert 0.0 < higher < lower < 1.0


@given(st.floats(5.0, 14.0), st.floats(278.15, 307.0), st.floats(0.01, 1.0))
def test_hypochlorous_acid_falls_as_water_warms(ph, temperature, rise):
    assert hypochlorous.hypochlorous_acid_share(ph, temperature + rise) < hypochlorous.hypochlorous_acid_share(
        ph, temperature
    )


@given(st.floats(278.15, 308.15), st.floats(-2.0, 2.0))
def test_hypochlorous_acid_is_half_at_its_pka_and_symmetric_about_it(temperature, distance):
    pka = hypochlorous.hypochlorous_acid_pka(temperature)
    assert hypochlorous.hypochlorous_acid_share(pka, temperature) == 0.5
    below = hypochlorous.hypochlorous_acid_share(pka - distance, temperature)
    above = hypochlorous.hypochlorous_acid_share(pka + distance, temperature)
    assert below + above == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize("celsius", [0.0, 4.0, 4.99, 35.01, 40.0, float("nan")])
def test_water_outside_the_measured_range_is_refused(celsius):
    with pytest.raises(ValueError, match="5 to 35 °C"):
        hypochlorous.hypochlorous_acid_pka(celsius + 273.15)


@pytest.mark.parametrize("fahrenheit", [41.0, 95.0])
def test_ends_of_the_range_survive_conversion(fahrenheit):
    assert 7.4 < hypochlorous.hypochlorous_acid_pka((fahrenheit + 459.67) * 5 / 9) < 7.8


@pytest.mark.parametrize("ph", [4.9, 14.1, float("nan")])
def test_ph_outside_the_two_species_range_is_refused(ph):
    with pytest.raises(ValueError, match="pH"):
        hypochlorous.hypochlorous_acid_share(ph, 283.15)


@given(st.floats(0.01, 3.0), st.floats(0.01, 0.99), st.floats(0.01, 100.0))
def test_annulus_and_its_core_make_the_whole(outer, ratio, length):
    inner = outer * ratio
    whole = vessels.annulus_volume(outer, inner, length) + vessels.cylinder_volume(inner, length)
    assert whole == pytest.approx(vessels.cylinder_volume(outer, length), rel=1e-12)


def test_cylinder_of_known_volume():
    assert vessels.cylinder_volume(2.0, 1.0) == np.pi
    assert vessels.annulus_volume(3.0, 1.0, 2.0) == pytest.approx(4.0 * np.pi, rel=1e-15)


def test_standing_water_and_fill():
    assert vessels.standing_water(60.0, 12.5) == 47.5
    assert vessels.standing_water(60.0, -0.5) == 60.5  # a flowing well under a cap
    assert vessels.water_held(0.08, 0.25) == 0.02
    with pytest.raises(ValueError, match="above the bottom"):
        vessels.standing_water(12.0, 12.0)
    with pytest.raises(ValueError, match="fill"):
        vessels.water_held(0.08, 1.01)
    with pytest.raises(ValueError, match="inner diameter"):
        vessels.annulus_volume(0.1, 0.1, 1.0)


@pytest.mark.parametrize("bad", [0.0, -1.0, float("inf"), float("nan")])
def test_impossible_sizes_and_amounts_are_refused(bad):
    with pytest.raises(ValueError, match="diameter"):
        vessels.cylinder_volume(bad, 1.0)
    with pytest.raises(ValueError, match="volume"):
        chlorine.product_quantity(np.array([1.0, bad]), 0.1, 50.0)
    with pytest.raises(ValueError, match="strength"):
        chlorine.product_quantity(1.0, 0.1, bad)
    with pytest.raises(ValueError, match="time"):
        chlorine.concentration_time(0.1, bad)


@given(volumes, concentrations, st.floats(1e-6, 1e-4))
def test_washing_out_by_flush_volume_leaves_the_residual(volume, concentration, residual):
    water = dechlorination.flush_volume(volume, concentration, residual)
    assert concentration * np.exp(-water / volume) == pytest.approx(residual, rel=1e-9)
    assert dechlorination.flush_volume(volume, residual, residual) == 0.0
    assert dechlorination.flush_volume(volume, residual, concentration) == 0.0


def test_flush_volume_against_many_small_refills():
    volume, start, end = 0.5, 0.1, 0.004
    water = dechlorination.flush_volume(volume, start, end)
    steps = 200_000
    part = water / steps / volume
    assert start * (1.0 - part) ** steps == pytest.approx(end, rel=1e-4)


@given(st.floats(0.0, 5000.0), st.floats(0.0, 100.0))
def test_rounding_goes_up_by_less_than_a_step_and_never_back(amount, more):
    rounded = measures.round_up_to_step(amount, LEAST, STEP)
    step = STEP[np.searchsorted(LEAST, amount, side="right") - 1]
    assert amount - 1e-8 <= rounded <= amount + step
    assert measures.round_up_to_step(amount + more, LEAST, STEP) >= rounded


@pytest.mark.parametrize(("amount", "mark"), [(0.2, 1), (49.0, 49), (49.2, 50), (50.0, 50), (50.1, 55), (250.1, 260)])
def test_rounding_gives_its_marks(amount, mark):
    assert measures.round_up_to_step(amount, LEAST, STEP) == mark


def test_a_conversion_error_does_not_cost_a_step():
    assert measures.round_up_to_step(0.3 * 100.0 + 4e-15, LEAST, STEP) == 30.0


def test_rounding_refuses_disordered_steps_and_negative_amounts():
    with pytest.raises(ValueError, match="rise from 0"):
        measures.round_up_to_step(1.0, np.array([0.0, 5.0, 5.0]), STEP)
    with pytest.raises(ValueError, match="amount"):
        measures.round_up_to_step(-1.0, LEAST, STEP)


def cases():
    spread = np.random.default_rng(20260101)

    def between(low, high):
        return spread.uniform(low, high, 1001)

    ph, kelvin, share = between(5, 12), between(278.15, 308.15), between(0.01, 0.1)
    volume, dose, strength = between(0.01, 5), between(0.01, 0.5), between(20, 150)
    yield hypochlorous.hypochlorous_acid_share, (ph, kelvin)
    yield hypochlorous.hypochlorous_acid_pka, (kelvin,)
    yield chlorine.product_quantity, (volume, dose, strength)
    yield chlorine.chlorine_produced, (volume, strength, dose)
    yield chlorine.available_chlorine, (share, 1000 + strength)
    yield chlorine.available_chlorine_from_trade_share, (share,)
    yield chlorine.trade_share, (strength,)
    yield hypochlorous.speciation_known, (ph - 1, kelvin - 4)
    yield chlorine.sodium_hypochlorite_share, (strength, 1000 + strength)
    yield lambda w: chlorine.hypochlorite_density(w, 998.2, 1157.0, 120.0), (share,)
    yield chlorine.concentration_time, (dose, volume)
    yield dechlorination.stoichiometric_ratio, (share, volume)
    yield dechlorination.neutraliser_mass, (volume, dose, share)
    yield dechlorination.flush_volume, (volume, dose, share)
    yield vessels.cylinder_volume, (share, volume)
    yield vessels.annulus_volume, (share + 0.2, share, volume)
    yield vessels.standing_water, (volume + 6, volume)
    yield vessels.water_held, (volume, share)
    yield lambda amount: measures.round_up_to_step(amount, LEAST, STEP), (strength * 4,)


@pytest.mark.parametrize(("function", "columns"), list(cases()))
def test_an_array_gives_what_its_elements_give_bit_for_bit(function, columns):
    together = function(*columns)
    alone = np.array([function(*(float(column[i]) for column in columns)) for i in range(1001)])
    assert np.array_equal(together, alone)
    assert np.array_equal(function(*(column[:7] for column in columns)), together[:7])
