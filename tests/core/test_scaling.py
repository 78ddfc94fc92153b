"""Langelier's and Ryznar's index: printed example, calcite saturation by PHREEQC, and what must hold."""

import numpy as np
import phreeqpython
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosewright.core.water_and_air import scaling

AMOUNTS = st.floats(1.0, 600.0)
SOLIDS = st.floats(0.02, 2.0)
TEMPERATURES = st.floats(275.0, 360.0)


@pytest.mark.parametrize(("celsius", "saturation", "index"), [(25.0, 8.2, -0.7), (82.0, 7.2, 0.3)])
def test_printed_example(celsius, saturation, index):
    # corrosion-doctors.org, Langelier index calculation: pH 7.5, TDS 320, calcium 150, alkalinity 34 mg/L. [found]
    # Half of the last digit; the example rounds each of four terms to 0.01 and the sum to 0.1.
    found = scaling.saturation_ph(150.0, 34.0, 0.320, celsius + 273.15)
    assert found == pytest.approx(saturation, abs=0.07)
    assert scaling.langelier_index(7.5, found) == pytest.approx(index, abs=0.07)
    assert scaling.ryznar_index(7.5, found) == pytest.approx(2.0 * saturation - 7.5, abs=0.14)


@pytest.mark.parametrize(
    ("term", "printed"), [("warm", 2.09), ("hot", 1.09), ("solids", 0.15), ("calcium", 1.78), ("alkalinity", 1.53)]
)
def test_printed_terms(term, printed):
    # The same page's terms A to D, to the two decimals printed.
    base = scaling.saturation_ph(10.0**0.4, 1.0, 0.010, 298.15)
    terms = {
        "warm": base - 9.3,
        "hot": scaling.saturation_ph(10.0**0.4, 1.0, 0.010, 355.15) - 9.3,
        "solids": scaling.saturation_ph(10.0**0.4, 1.0, 0.320, 298.15) - base,
        "calcium": base - scaling.saturation_ph(150.0, 1.0, 0.010, 298.15),
        "alkalinity": base - scaling.saturation_ph(10.0**0.4, 34.0, 0.010, 298.15),
    }
    assert terms[term] == pytest.approx(printed, abs=0.0051)


@pytest.mark.parametrize("celsius", [5.0, 10.0, 25.0, 40.0])
@pytest.mark.parametrize(("calcium", "alkalinity", "ph"), [(40.0, 60.0, 7.0), (150.0, 150.0, 7.5), (300.0, 250.0, 7.4)])
def test_calcite_saturation_by_phreeqc_is_near(celsius, calcium, alkalinity, ph):
    # An independent route with activities and complexes. The charts' line is known to differ by some tenths.
    solver = phreeqpython.PhreeqPython()
    water = solver.add_solution(
        {
            "pH": ph,
            "temp": celsius,
            "units": "mmol/kgw",
            "Ca": calcium / 100.087,
            "Alkalinity": 2.0 * alkalinity / 100.087,
            "Na": 2.0 * max(0.0, alkalinity - calcium) / 100.087,
            "Cl": 2.0 * max(0.0, calcium - alkalinity) / 100.087,
        }
    )
    solids = (1.22 * alkalinity * 0.5 + 0.8 * calcium) / 1000.0 + 0.05
    index = scaling.langelier_index(ph, scaling.saturation_ph(calcium, alkalinity, solids, celsius + 273.15))
    assert index == pytest.approx(water.si("Calcite"), abs=0.35)


@given(AMOUNTS, AMOUNTS, SOLIDS, TEMPERATURES, st.floats(1.01, 3.0))
def test_more_calcium_or_alkalinity_or_warmth_scales_more(calcium, alkalinity, solids, temperature, more):
    at = scaling.saturation_ph(calcium, alkalinity, solids, temperature)
    assert scaling.saturation_ph(calcium * more, alkalinity, solids, temperature) < at
    assert scaling.saturation_ph(calcium, alkalinity * more, solids, temperature) < at
    assert scaling.saturation_ph(calcium, alkalinity, solids * more, temperature) > at
    assert scaling.saturation_ph(calcium, alkalinity, solids, min(temperature + more, 363.15)) < at


def test_an_array_is_its_single_values():
    calcium = np.array([20.0, 150.0, 400.0])
    together = scaling.saturation_ph(calcium, 120.0, 0.3, 285.0)
    assert together.tolist() == [float(scaling.saturation_ph(one, 120.0, 0.3, 285.0)) for one in calcium.tolist()]


@pytest.mark.parametrize("ask", [(0.0, 34.0, 0.3, 290.0), (1.0, np.nan, 0.3, 290.0), (1.0, 1.0, 0.3, 370.0)])
def test_what_cannot_be_is_refused(ask):
    with pytest.raises(ValueError, match="must"):
        scaling.saturation_ph(*ask)
