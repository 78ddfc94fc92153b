"""Hypochlorous acid by other routes: PHREEQC's solver, and charge balance of a dosed water solved to 40 digits."""

import csv
from pathlib import Path

import mpmath
import numpy as np
import pytest
from phreeqpython import PhreeqPython

from dosewright.core.chlorine import hypochlorous

TEMPERATURES = (5.0, 10.0, 12.5, 20.0, 25.0, 35.0)


@pytest.fixture(scope="module")
def phreeqc():
    engine = PhreeqPython(database="phreeqc.dat")
    # Hypochlorite as a separate element (Hy), so that the redox of the database does not change it; the acid constant
    # enters as coefficients of 1, T and 1/T, and a huge ion size keeps its activity coefficient at 1.
    engine.ip.run_string("""
        SOLUTION_MASTER_SPECIES
          Hy HyO- 0 51.45 35.45
        SOLUTION_SPECIES
          HyO- = HyO-
            log_k 0
            -gamma 1e8 0
          HyO- + H+ = HHyO
            -analytical_expression -10.0686 0.0253 3000.0
        END""")
    return engine


@pytest.mark.parametrize("ph", [5.5, 6.5, 7.0, 7.5, 8.0, 8.5, 9.5])
@pytest.mark.parametrize("celsius", TEMPERATURES)
def test_share_against_phreeqc(phreeqc, celsius, ph):
    phreeqc.ip.run_string(f"""
        SOLUTION 1
          temp {celsius}
          units mol/kgw
          pH {ph}
          Hy 1e-6
        SELECTED_OUTPUT
          -reset false
          -high_precision true
          -molalities HyO- HHyO
        END""")
    ion, acid = phreeqc.ip.get_selected_output_array()[-1]
    assert hypochlorous.hypochlorous_acid_share(ph, celsius + 273.15) == pytest.approx(acid / (acid + ion), abs=1e-6)


@pytest.mark.parametrize("celsius", TEMPERATURES)
@pytest.mark.parametrize("dose", ["1e-4", "1e-3", "1e-2"])
def test_share_against_a_charge_balance(celsius, dose):
    """NaOCl in pure water: find the H+ that balances charge, then compare the split of the chlorine at that pH."""
    with mpmath.workdps(40):
        kelvin = mpmath.mpf(str(celsius)) + mpmath.mpf("273.15")
        acid_constant = mpmath.power(10, -(3000 / kelvin - mpmath.mpf("10.0686") + mpmath.mpf("0.0253") * kelvin))
        water, total = mpmath.mpf("1e-14"), mpmath.mpf(dose)

        def excess(hydrogen):
            ion = total * acid_constant / (acid_constant + hydrogen)
            return total + hydrogen - water / hydrogen - ion

        hydrogen = mpmath.findroot(excess, (mpmath.mpf("1e-12"), mpmath.mpf("1e-7")), solver="anderson")
        expected = float(1 - acid_constant / (acid_constant + hydrogen))
        ph = float(-mpmath.log10(hydrogen))
    assert 8.0 < ph < 11.0
    assert hypochlorous.hypochlorous_acid_share(ph, celsius + 273.15) == pytest.approx(expected, rel=1e-11)


@pytest.fixture(scope="module")
def salty():
    """PHREEQC with Davies' equation for hypochlorite ion, its own dielectric constant, and an ideal acid."""
    engine = PhreeqPython(database="phreeqc.dat")
    engine.ip.run_string("""
        SOLUTION_MASTER_SPECIES
          Hy HyO- 0 51.45 35.45
          Plus Plus+ 0 23.0 23.0
          Minus Minus- 0 35.0 35.0
        SOLUTION_SPECIES
          Plus+ = Plus+
            log_k 0
          Minus- = Minus-
            log_k 0
          HyO- = HyO-
            log_k 0
          HyO- + H+ = HHyO
            -analytical_expression -10.0686 0.0253 3000.0
            -gamma 0 0
        END""")
    return engine


@pytest.mark.parametrize("strength", [1e-3, 1e-2, 5e-2, 0.1, 0.3])
@pytest.mark.parametrize("celsius", [5.0, 15.0, 25.0, 35.0])
def test_share_in_salt_water_against_phreeqc(salty, celsius, strength):
    salty.ip.run_string(f"""
        SOLUTION 1
          temp {celsius}
          units mol/kgw
          pH 7.5
          Hy 1e-6
          Plus {strength}
          Minus {strength}
        SELECTED_OUTPUT
          -reset false
          -high_precision true
          -ionic_strength true
          -molalities HyO- HHyO
        END""")
    found, ion, acid = salty.ip.get_selected_output_array()[-1]
    pka = hypochlorous.hypochlorous_acid_pka(celsius + 273.15)
    apparent = hypochlorous.pka_in_salt(pka, found * 1e3, celsius + 273.15)
    assert hypochlorous.share_at_pka(7.5, apparent) == pytest.approx(acid / (acid + ion), abs=5e-4)
    assert apparent < pka


def test_the_two_relations_are_close_where_both_are_valid():
    # 0.030 apart at 5 °C, 0.014 at 25 °C: 2 % of share at most.
    for celsius in (5.0, 15.0, 25.0, 35.0):
        kelvin = celsius + 273.15
        apart = hypochlorous.pka_from_formation(kelvin) - hypochlorous.hypochlorous_acid_pka(kelvin)
        assert abs(apart) < 0.031


def test_formation_relation_at_its_reference():
    with mpmath.workdps(30):
        expected = mpmath.mpf(43100) / (mpmath.mpf("8.314462618") * mpmath.mpf("298.15") * mpmath.log(10))
    assert hypochlorous.pka_from_formation(298.15) == pytest.approx(float(expected), rel=1e-12)
    slope = (hypochlorous.pka_from_formation(303.15) - hypochlorous.pka_from_formation(293.15)) / 10.0
    enthalpy = -slope * 8.314462618 * np.log(10.0) * 293.15 * 303.15
    assert enthalpy == pytest.approx(13.8e3, rel=1e-9)


SHARES = list(
    csv.DictReader((Path(__file__).parents[1] / "reference" / "hypochlorous_share.csv").read_text("utf-8").splitlines())
)


@pytest.mark.parametrize("row", SHARES, ids=lambda row: f"{row['temperature']} pH {row['ph']}")
def test_share_against_values_calculated_elsewhere(row):
    kelvin = float(row["temperature"].split(" ")[0]) + 273.15
    share = hypochlorous.hypochlorous_acid_share(float(row["ph"]), kelvin)
    assert share == pytest.approx(float(row["published"]), abs=5.1e-6)


@pytest.mark.parametrize(
    "bad",
    [
        lambda: hypochlorous.pka_from_formation(272.0),
        lambda: hypochlorous.pka_from_formation(324.0),
        lambda: hypochlorous.pka_in_salt(7.5, 501.0, 298.15),
        lambda: hypochlorous.pka_in_salt(7.5, -1.0, 298.15),
        lambda: hypochlorous.pka_in_salt(7.5, 1.0, 330.0),
        lambda: hypochlorous.ionic_strength_of_water(-1.0),
    ],
)
def test_out_of_range_is_refused(bad):
    with pytest.raises(ValueError, match=r"must|is valid"):
        bad()
