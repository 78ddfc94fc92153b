"""Amounts of product as chlorine/shock says them in measures a person has."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosewright.engine.run import run

WHOLE = {
    "vessels": [{"kind": "water_heater", "volume": "190 L"}],
    "product": {"kind": "liquid", "sodium_hypochlorite": "6 %", "density": "1.08 kg/L"},
    "free_chlorine": "100 mg/L",
    "chlorine_demand": "4 mg/L",
}


def ask(**changes):
    return run("chlorine/shock", {**WHOLE, **changes})


def number(text):
    return sum(float(part) if "/" not in part else float(part[0]) / float(part[2]) for part in text.split(" "))


MILLILITRES = {
    "L": 1000, "mL": 1, "gallon": 3785.411784, "quart": 946.352946, "pint": 473.176473, "cup": 236.5882365,
    "fluid ounce": 29.5735295625, "tablespoon": 14.78676478125, "teaspoon": 4.92892159375,
}  # fmt: skip
GRAMS = {"kg": 1000, "g": 1, "pound": 453.59237, "ounce": 28.349523125}


def counted_out(text, sizes):
    total = 0.0
    for part in text.split(" + "):
        digits, unit = re.fullmatch(r"([\d./ ]+) (\D+?)s?", part).groups()
        total += number(digits) * sizes[unit]
    return total


@given(st.floats(0.3, 300_000.0))
def test_the_words_of_a_measure_add_up_to_its_amount(litres):
    volume = {"kind": "plain_volume", "volume": f"{litres!r} L"}
    for amount in ask(vessels=[volume]).measures:
        assert counted_out(amount.measure, MILLILITRES) == pytest.approx(amount.product_volume, rel=1e-9)
    granules = {"kind": "granules", "available_chlorine": "65 %", "bulk_density": "0.9 kg/L"}
    metric, trade, kitchen = ask(vessels=[volume], product=granules).measures
    assert counted_out(metric.measure, GRAMS) == pytest.approx(metric.product_mass, rel=1e-9)
    assert counted_out(trade.measure, GRAMS) == pytest.approx(trade.product_mass, rel=1e-9)
    assert counted_out(kitchen.measure, MILLILITRES) == pytest.approx(kitchen.product_volume, rel=1e-9)
    assert kitchen.product_mass == pytest.approx(kitchen.product_volume * 0.9, rel=1e-12)


def test_granules_are_measured_by_volume_only_with_a_bulk_density():
    granules = {"kind": "granules", "available_chlorine": "65 %"}
    given = ask(product=granules)
    assert [amount.system for amount in given.measures] == ["metric", "trade"]
    assert given.product_volume is None
    assert given.product_mass == pytest.approx(given.volume * 104 / 650, rel=1e-12)


@pytest.mark.parametrize(
    ("amount", "system", "words"),
    [
        ("236.6 mL", "us_kitchen", "1 cup + 1 tablespoon"),
        ("236.5 mL", "us_kitchen", "1 cup"),
        ("5 gal", "us_kitchen", "5 gallons"),
        ("1.1 mL", "us_kitchen", "1/4 teaspoon"),
        ("690 mL", "us_kitchen", "2 3/4 cups + 3 tablespoons"),
        ("12.2 mL", "metric", "13 mL"),
        ("1001 mL", "metric", "1.05 L"),
        ("470 mL", "trade", "1 pint"),
        ("475 mL", "trade", "1 pint + 1 fluid ounce"),
    ],
)
def test_measures_in_words(amount, system, words):
    # A product of 100 g/L to 100 mg/L takes a thousandth of the water.
    number_of, unit = amount.split(" ")
    water = f"{float(number_of)} L" if unit == "mL" else f"{float(number_of) * 1000} gal"
    given = ask(
        vessels=[{"kind": "plain_volume", "volume": water}],
        product={"kind": "liquid", "trade_strength": "10 %"},
        rule="none",
        free_chlorine="100 mg/L",
        chlorine_demand="0 mg/L",
    )
    assert next(a.measure for a in given.measures if a.system == system) == words


def test_a_tiny_amount_is_still_measured_out():
    amounts = ask(vessels=[{"kind": "pressure_tank", "volume": "10 mL", "fill": "0.0000001 %"}])
    for amount in amounts.measures:
        assert amount.product_volume > 0.0
        assert amount.free_chlorine > 0.0
        assert counted_out(amount.measure, MILLILITRES) > 0.0
