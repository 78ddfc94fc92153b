"""pH of a chlorinated carbonate water against PHREEQC, and acid in both directions."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from phreeqpython import PhreeqPython

from dosewright.core.chlorine import acidity

CELSIUS = (5.0, 10.0, 15.0, 25.0, 35.0)


@pytest.fixture(scope="module")
def phreeqc():
    """PHREEQC's own carbonate constants, hypochlorite as a separate element, all activity coefficients set to 1."""
    engine = PhreeqPython(database="phreeqc.dat")
    engine.ip.run_string("""
        SOLUTION_MASTER_SPECIES
          Hy HyO- 1 51.45 35.45
          Inert Inert+ 0 23.0 23.0
        SOLUTION_SPECIES
          Inert+ = Inert+
            log_k 0
            -gamma 1e8 0
          HyO- = HyO-
            log_k 0
            -gamma 1e8 0
          HyO- + H+ = HHyO
            -analytical_expression -10.0686 0.0253 3000.0
          H+ = H+
            -gamma 1e8 0
          CO3-2 = CO3-2
            -gamma 1e8 0
          H2O = OH- + H+
            -analytic 293.29227 0.1360833 -10576.913 -123.73158 0 -6.996455e-5
            -gamma 1e8 0
          CO3-2 + H+ = HCO3-
            -analytic 107.8871 0.03252849 -5151.79 -38.92561 563713.9
            -gamma 1e8 0
          CO3-2 + 2 H+ = CO2 + H2O
            -analytic 464.1965 0.09344813 -26986.16 -165.75951 2248628.9
            -gamma 1e8 0
        END""")
    return engine


@pytest.mark.parametrize("celsius", CELSIUS)
@pytest.mark.parametrize("dose", ["0.2e-3", "1.4e-3", "7e-3"])
def test_ph_after_hypochlorite_against_phreeqc(phreeqc, celsius, dose):
    # A cation without pairs balances the water and the hypochlorite; PHREEQC finds pH from charge.
    carbon, alkalinity = 4.4e-3, 4.0e-3
    phreeqc.ip.run_string(f"""
        SOLUTION 1
          temp {celsius}
          units mol/kgw
          pH 8 charge
          C(4) {carbon}
          Inert {alkalinity + float(dose)}
          Hy {dose}
        SELECTED_OUTPUT
          -reset false
          -high_precision true
          -pH true
        END""")
    expected = phreeqc.ip.get_selected_output_array()[-1][0]
    constants = acidity.carbonate_constants(celsius + 273.15)
    found = acidity.ph_with_hypochlorite(carbon * 1e3, alkalinity * 1e3, float(dose) * 1e3, constants)
    assert found == pytest.approx(expected, abs=0.003)


def test_constants_at_25_degrees_are_the_textbook_ones():
    # Snoeyink and Jenkins, Water Chemistry (1980), from memory: pK1 6.35, pK2 10.33, pKw 14.00.
    first, second, water, _ = acidity.carbonate_constants(298.15)
    assert -np.log10(first * 1e-3) == pytest.approx(6.35, abs=0.005)
    assert -np.log10(second * 1e-3) == pytest.approx(10.33, abs=0.005)
    assert -np.log10(water * 1e-6) == pytest.approx(14.00, abs=0.006)


waters = (st.floats(6.6, 8.6), st.floats(0.2, 8.0), st.floats(278.15, 308.15))


@given(*waters)
def test_carbon_and_alkalinity_belong_together(ph, alkalinity, kelvin):
    constants = acidity.carbonate_constants(kelvin)
    carbon = acidity.inorganic_carbon(ph, alkalinity, constants)
    assert acidity.alkalinity_at(ph, carbon, 0.0, constants) == pytest.approx(alkalinity, rel=1e-10)
    assert acidity.ph_with_hypochlorite(carbon, alkalinity, 0.0, constants) == pytest.approx(ph, abs=1e-9)


@given(*waters, st.floats(0.01, 7.0), st.floats(6.0, 7.5))
def test_the_acid_brings_the_water_to_its_target(ph, alkalinity, kelvin, chlorine, target):
    constants = acidity.carbonate_constants(kelvin)
    carbon = acidity.inorganic_carbon(ph, alkalinity, constants)
    acid = acidity.acid_to_reach(target, carbon, alkalinity, chlorine, constants)
    # Acid lowers the alkalinity by its amount.
    again = acidity.ph_with_hypochlorite(carbon, alkalinity - acid, chlorine, constants)
    assert again == pytest.approx(target, abs=1e-9)


@given(*waters, st.floats(0.01, 6.0), st.floats(0.01, 1.0))
def test_hypochlorite_raises_ph(ph, alkalinity, kelvin, chlorine, more):
    constants = acidity.carbonate_constants(kelvin)
    carbon = acidity.inorganic_carbon(ph, alkalinity, constants)
    low = acidity.ph_with_hypochlorite(carbon, alkalinity, chlorine, constants)
    assert ph < low < acidity.ph_with_hypochlorite(carbon, alkalinity, chlorine + more, constants)


def test_an_array_gives_what_its_elements_give_bit_for_bit():
    spread = np.random.default_rng(3)
    ph, alkalinity = spread.uniform(6.6, 8.6, 301), spread.uniform(0.2, 8, 301)
    kelvin, chlorine = spread.uniform(279, 308, 301), spread.uniform(0.01, 6, 301)

    def after(p, a, k, c):
        constants = acidity.carbonate_constants(k)
        return acidity.ph_with_hypochlorite(acidity.inorganic_carbon(p, a, constants), a, c, constants)

    together = after(ph, alkalinity, kelvin, chlorine)
    alone = [after(float(ph[i]), float(alkalinity[i]), float(kelvin[i]), float(chlorine[i])) for i in range(301)]
    assert np.array_equal(together, np.array(alone))


@pytest.mark.parametrize(
    "bad",
    [
        lambda: acidity.carbonate_constants(277.0),
        lambda: acidity.inorganic_carbon(3.9, 4.0, acidity.carbonate_constants(283.15)),
        lambda: acidity.inorganic_carbon(7.0, 0.0, acidity.carbonate_constants(283.15)),
        lambda: acidity.acid_to_reach(3.0, 4.0, 4.0, 0.1, acidity.carbonate_constants(283.15)),
    ],
)
def test_waters_out_of_range_are_refused(bad):
    with pytest.raises(ValueError, match=r"must|measured"):
        bad()
