"""Saturation pressure and dew point: against psychrolib over the range, IAPWS, printed charts, and physical limits."""

import csv
from pathlib import Path

import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosewright.core.water_and_air import moist_air
from dosewright.quantities import KINDS, read

psychrolib.SetUnitSystem(psychrolib.SI)
ZERO = 273.15
ROWS = list(csv.DictReader((Path(__file__).parents[1] / "reference" / "moist_air.csv").read_text("utf-8").splitlines()))
TEMPERATURES = st.floats(233.15, 333.15)
HUMIDITIES = st.floats(0.01, 1.0)


def kelvin(text):
    value, unit = read(text, KINDS["temperature"], None)
    return float(unit.to_si(value))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['quantity']}-{row['air_temperature']}")
def test_published_value(row):
    air, share = kelvin(row["air_temperature"]), float(row["relative_humidity"])
    found = moist_air.saturation_pressure(air)
    if row["quantity"] == "dew_point":
        found = moist_air.dew_point(air, share)
        found = KINDS["temperature"].lookup[row["unit"]].from_si(found)
    assert found == pytest.approx(float(row["value"]), abs=float(row["tolerance"]))


@pytest.mark.parametrize("celsius", [-99.0, -40.0, -0.5, 0.0, 0.005, 0.02, 5.0, 25.0, 60.0, 120.0, 199.0])
def test_saturation_pressure_is_that_of_psychrolib(celsius):
    found = moist_air.saturation_pressure(celsius + ZERO)
    assert found == pytest.approx(psychrolib.GetSatVapPres(celsius), rel=1e-13)


@given(st.floats(-40.0, 60.0), HUMIDITIES)
def test_dew_point_is_that_of_psychrolib(celsius, share):
    expected = psychrolib.GetTDewPointFromRelHum(celsius, share) + ZERO
    assert moist_air.dew_point(celsius + ZERO, share) == pytest.approx(expected, abs=2e-3)


@given(TEMPERATURES, HUMIDITIES)
def test_the_vapour_saturates_at_the_dew_point(air, share):
    dew = moist_air.dew_point(air, share)
    vapour = share * moist_air.saturation_pressure(air)
    # At the triple point both curves leave a gap of 1e-4.
    assert moist_air.saturation_pressure(dew) == pytest.approx(vapour, rel=2e-4 if abs(dew - 273.16) < 1e-2 else 1e-9)
    assert dew <= air


@given(TEMPERATURES, HUMIDITIES, HUMIDITIES)
def test_more_humidity_never_lowers_the_dew_point(air, one, other):
    low, high = sorted((one, other))
    assert moist_air.dew_point(air, low) <= moist_air.dew_point(air, high)


@given(TEMPERATURES)
def test_saturated_air_is_at_its_dew_point(air):
    assert moist_air.dew_point(air, 1.0) == pytest.approx(air, abs=2e-3 if abs(air - 273.16) < 0.1 else 1e-9)


def test_an_array_is_its_single_values():
    air = np.array([250.0, 272.0, 273.155, 290.0, 310.0])
    share = np.array([0.4, 1.0, 0.9999, 0.02, 0.8])
    together = moist_air.dew_point(air, share)
    assert together.tolist() == [
        float(moist_air.dew_point(a, b)) for a, b in zip(air.tolist(), share.tolist(), strict=True)
    ]


@pytest.mark.parametrize(("air", "share"), [(173.0, 0.5), (474.0, 0.5), (290.0, 0.0), (290.0, 1.01), (174.0, 0.1)])
def test_values_outside_the_formulas_are_refused(air, share):
    with pytest.raises(ValueError, match=r"must be within|is below"):
        moist_air.dew_point(air, share)
