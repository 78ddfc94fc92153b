"""Worked examples and tables printed by agencies and handbooks, each to the printed digits.

A row with the verdict `errs` is wrong in print or contradicts its stated dose: there the test checks that
the calculated value differs from the print and equals the corrected figure.
"""

import csv
import json
from pathlib import Path

import pytest

from dosewright.core.chlorine import chlorine, dechlorination, hypochlorous
from dosewright.core.hydraulics import vessels

REFERENCE = Path(__file__).parents[1] / "reference" / "chlorine.csv"
ROWS = list(csv.DictReader(REFERENCE.read_text(encoding="utf-8").splitlines()))

# Literal factors, separate from the project's table of units.
FACTORS = {
    "in": 0.0254, "ft": 0.3048, "m": 1.0,
    "m3": 1.0, "L": 1e-3, "mL": 1e-6, "gal": 231 * 0.0254**3, "imp gal": 4.54609e-3,
    "qt": 57.75 * 0.0254**3, "pt": 28.875 * 0.0254**3, "cup": 14.4375 * 0.0254**3, "fl oz": 231 / 128 * 0.0254**3,
    "kg": 1.0, "g": 1e-3, "lb": 0.45359237, "oz": 0.45359237 / 16,
    "mg/L": 1e-3, "g/L": 1.0, "kg/m3": 1.0, "g/mol": 1e-3, "%": 0.01, "1": 1.0, "h": 3600.0, "mg.h/L": 3.6,
}  # fmt: skip

CALCULATIONS = {
    "casing_volume": vessels.cylinder_volume,
    "twice_casing_volume": lambda diameter, length: 2.0 * vessels.cylinder_volume(diameter, length),
    "product": chlorine.product_quantity,
    "casing_product": lambda diameter, length, concentration, strength: chlorine.product_quantity(
        vessels.cylinder_volume(diameter, length), concentration, strength
    ),
    "produced": chlorine.chlorine_produced,
    "casing_produced": lambda quantity, strength, diameter, length: chlorine.chlorine_produced(
        quantity, strength, vessels.cylinder_volume(diameter, length)
    ),
    "weight_from_trade": lambda trade_share, density: chlorine.sodium_hypochlorite_share(
        chlorine.available_chlorine_from_trade_share(trade_share), density
    ),
    "hypochlorite_per_chlorine": lambda: chlorine.SODIUM_HYPOCHLORITE / chlorine.CHLORINE,
    "stoichiometric_ratio": dechlorination.stoichiometric_ratio,
    "pka": hypochlorous.hypochlorous_acid_pka,
    "hypochlorite_ion_share": lambda ph, temperature: 1.0 - hypochlorous.hypochlorous_acid_share(ph, temperature),
}


def si(value):
    if not isinstance(value, str):
        return float(value)
    number, unit = value.split(" ", 1)
    return float(number) + 273.15 if unit == "degC" else float(number) * FACTORS[unit]


def computed(row):
    arguments = {name: si(value) for name, value in json.loads(row["arguments"]).items()}
    return CALCULATIONS[row["function"]](**arguments) / FACTORS[row["unit"]]


@pytest.mark.parametrize("row", [row for row in ROWS if row["verdict"] == "agrees"], ids=lambda row: row["id"])
def test_equals_the_printed_value(row):
    assert abs(computed(row) - float(row["published"])) <= float(row["tolerance"])


@pytest.mark.parametrize("row", [row for row in ROWS if row["verdict"] == "errs"], ids=lambda row: row["id"])
def test_wrong_printed_value_and_its_correction(row):
    value = computed(row)
    last_digit = 10.0 ** -len(row["corrected"].partition(".")[2])
    assert abs(value - float(row["published"])) > float(row["tolerance"])
    assert abs(value - float(row["corrected"])) <= 0.5 * last_digit + 1e-9


def test_every_row_names_its_source_and_status():
    for row in ROWS:
        assert row["source"], row["id"]
        assert row["status"] in {"found", "memory", "computed"}, row["id"]
        assert row["tolerance_basis"], row["id"]
        assert row["note"] or row["verdict"] == "agrees", row["id"]


def test_maine_example_without_its_shortcuts():
    strength = chlorine.available_chlorine(0.06, 1080.0)
    product = chlorine.product_quantity(si("5000 gal"), si("100 mg/L"), strength)
    assert product / si("1 gal") == pytest.approx(8.10, abs=0.005)
