"""Hypochlorous acid by other routes: PHREEQC's solver, and charge balance of a dosed water solved to 40 digits."""

import mpmath
import pytest
from phreeqpython import PhreeqPython

from dosewright.core import hypochlorous

TEMPERATURES = (5.0, 10.0, 12.5, 20.0, 25.0, 35.0)


@pytest.fixture(scope="module")
def phreeqc():
    engine = PhreeqPython(database="phreeqc.dat")
    # Hypochlorite as an element of its own (Hy), so that the redox of the database leaves it alone; the acid constant
    # enters as coefficients of 1, T and 1/T, and a huge ion size holds its activity coefficient at 1.
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
